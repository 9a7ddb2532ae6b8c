// What a person or the controller may leave alone: waits without an end, a run that resumes by itself, a tube
// that cools unseen.
#include "compiler/physics/constants.hpp"
#include "compiler/plant/allowance.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/prove/interlock.hpp"
#include "compiler/prove/sweep_limits.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::prove {
namespace {

using timeline::EndingKind;

/// What comes up in the tube for as long as nobody comes, and no line brings as such; empty: nothing.
std::string comes_up(const Scene& s, std::size_t span) {
    const plant::State state = s.over(span);
    const timeline::State& discrete = s.discrete(span);
    if (discrete.tube_open) return {}; // `opening_tube` asks for more
    for (const timeline::Evolved& e : s.timeline.evolved) {
        const check::Index index = s.model.gas_named(s.timeline.species[e.species]);
        if (index == check::none || !s.gives_off(e, state, discrete)) continue;
        const check::Hazards& hazards = s.model.gases[index].hazards;
        if ((hazards.flammable && s.fuel(state, discrete) >= flammable_rest) ||
            (hazards.toxic && s.toxic(state, discrete)))
            return fmt::format("the load gives off {}", s.timeline.species[e.species]);
    }
    if (const std::optional<Hazards::Made> made = s.made(state, discrete))
        return fmt::format("{} comes up from {}", made->gas, made->of);
    return {};
}

void waits_for_people(Scene& s) {
    bool applied = false, holds = true;
    std::size_t where = 0;
    if (!s.uses(check::Hazard::flammable) && !s.any_toxic()) return;
    const auto tell = [&](std::size_t span, const std::string& what) -> Diagnostic& {
        if (holds) where = span;
        holds = false;
        return s.out.error(Code::wait_without_end, s.source(span), what + " for as long as the person takes")
            .with_label(fmt::format("at {} of the run", to_clock(s.walk.at_s(span))))
            .cause("an operator wait has no end of its own, and nobody may come");
    };
    for (std::size_t i = 0; i < s.spans(); ++i) {
        if (s.timeline.spans[i].ending.kind != EndingKind::person) continue;
        if (!applied) where = i;
        applied = true;
        bool open = false;
        for (timeline::Index l = 0; l < s.rig.lines.size(); ++l) {
            if (s.gas(l) == nullptr || !s.may_be_open(l, i)) continue;
            const check::Hazards& hazards = s.gas(l)->hazards;
            if (!hazards.flammable && !hazards.toxic) continue;
            open = true;
            tell(i, fmt::format("`{}` stays open", s.rig.lines[l].name))
                .remedy("switch to an inert gas and clear the tube first" +
                        (hazards.flammable ? ":  dwell until " + sweep_limits(s.model).fuel_gone : ""))
                .also(s.rig.lines[l].source, fmt::format("carries {}, which is {}", s.gas(l)->name,
                                                         hazards.flammable ? "flammable" : "toxic"));
        }
        if (const std::string what = open ? std::string() : comes_up(s, i); !what.empty())
            tell(i, what).remedy(
                "wait while the tube is too cold for it, before heating or behind the cooling, or when "
                "the tube is clear");
    }
    if (applied)
        s.row("wait_without_end", "No operator waits with flammable or toxic gas open", holds,
              holds ? "no flammable or toxic gas comes in or up while a person is waited for" : "",
              s.walk.at_s(where), s.source(where));
}

void soak_bands(Scene& s) {
    if (s.controller == nullptr) return;
    const std::optional<double> longest = s.controller->longest_wait;
    std::optional<std::size_t> applied, broken;
    std::string_view what;
    for (std::size_t i = 0; i < s.spans() && !broken; ++i) {
        // A natural cooling whose end the controller sees by itself is keyed with one too.
        const timeline::Ending& ending = s.timeline.spans[i].ending;
        if (ending.kind != EndingKind::band && !(ending.kind == EndingKind::passes && ending.band > 0))
            continue;
        const std::string_view hazard = s.unattended(s.over(i), s.discrete(i));
        if (hazard.empty()) continue;
        if (!applied) applied = i;
        if (!longest) broken = i, what = hazard;
    }
    if (!applied) return;
    if (broken)
        s.out
            .error(Code::wait_without_end, s.source(*broken),
                   fmt::format("this soak band may wait for ever in {}: `{}` has no longest wait", what,
                               s.controller->name))
            .with_label(fmt::format("at {} of the run", to_clock(s.walk.at_s(*broken))))
            .also(s.controller->source, "the controller")
            .cause("a heater or a sensor that fails keeps the measured temperature outside the band")
            .remedy("set a longest wait on the controller and declare it:  longest_wait 2 h")
            .remedy("or hold for a fixed time, without `within`");
    const std::size_t at = broken.value_or(*applied);
    s.row("wait_without_end", "Soak bands in a hazardous state end by themselves", !broken,
          longest ? "longest wait " + to_text(*longest, Kind::time) : "", s.walk.at_s(at), s.source(at));
}

/// Seconds that one wait in a band may take beside the time that it counts. A natural cooling counts none.
double waits(const timeline::Timeline& timeline, std::size_t span) {
    const timeline::Span& s = timeline.spans[span];
    if (s.ending.kind == EndingKind::passes) return s.ending.band > 0 ? s.duration.hi : 0;
    if (s.ending.kind != EndingKind::band) return 0;
    // Over a range of parameters the longest time belongs to the greatest of them; each end of the range is
    // judged alone as well.
    const double counted =
        timeline.endings_most.empty() ? s.ending.duration : timeline.endings_most[span].duration;
    return std::max(0.0, s.duration.hi - counted);
}

/// A ramp in place of the step before a band, behind which the controller waits long enough; empty where none
/// is sure.
std::string followed(const Scene& s, std::size_t band, double longest) {
    if (band == 0 || s.timeline.zones.size() != 1 || !s.timeline.laws_most.empty()) return {};
    const timeline::Law& step = laws_of(s.timeline, band - 1, 0).most;
    if (step.kind != timeline::LawKind::jump || !(step.to > step.from)) return {};
    // K/min that can be written, from what every furnace inside the data and the tube stand down.
    const double most = std::floor(std::min(s.plant.certain_heating_rate(step.from, step.to),
                                            plant::tube_allowance(s.model, s.rig, step.from, step.to)) *
                                   600) /
                        10;
    for (const double rate : {most, std::floor(most * 5) / 10}) {
        if (rate < 0.5) break;
        const timeline::Law line{timeline::LawKind::line, step.from, step.to, rate / 60};
        const timeline::Law hold{timeline::LawKind::hold, step.to, step.to, 0};
        timeline::Ending along;
        along.duration = (step.to - step.from) / (rate / 60);
        const plant::Passage there =
            s.plant.pass(s.walk.entry(band - 1), {&line, &s.discrete(band - 1)}, along);
        plant::Drive waits_there{&hold, &s.discrete(band)};
        const timeline::Ending& ending = s.timeline.spans[band].ending;
        waits_there.band = ending.band;
        const plant::Passage waited = s.plant.pass(there.exit, waits_there, ending);
        if (there.reachable && waited.reachable && waited.duration.hi - ending.duration <= longest)
            return fmt::format("ramp to {} at {} K/min", to_text(step.to, Kind::temperature), rate);
    }
    return {};
}

/// Where the controller gives up before the slowest furnace inside the data is in the band, what is said of the
/// run is not so. Dwells that follow one another in one state may be one segment, so their waits are added.
void breaks_off(Scene& s) {
    if (s.controller == nullptr || !s.controller->longest_wait) return;
    const double longest = *s.controller->longest_wait;
    const auto holds_on = [&](std::size_t span) {
        const timeline::Span &one = s.timeline.spans[span - 1], &next = s.timeline.spans[span];
        bool still = one.state == next.state && one.ending.kind == EndingKind::band &&
                     next.ending.kind == EndingKind::band && one.ending.band == next.ending.band;
        for (std::size_t z = 0; still && z < s.timeline.zones.size(); ++z)
            still = laws_of(s.timeline, span, z).least.kind == timeline::LawKind::hold &&
                    laws_of(s.timeline, span - 1, z).least.kind == timeline::LawKind::hold;
        return still;
    };
    double waited = 0, worst = 0;
    std::size_t first = 0, at = 0;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        if (i == 0 || !holds_on(i)) waited = 0, first = i;
        waited += waits(s.timeline, i);
        if (waited > worst) worst = waited, at = first;
    }
    if (!(worst > longest)) return;
    s.row("wait_without_end", "The controller waits long enough for its soak bands", false,
          fmt::format("may wait {}, longest wait {}", to_text(worst, Kind::time, 3),
                      to_text(longest, Kind::time)),
          s.walk.at_s(at), s.source(at));
    Diagnostic& d = s.out.error(
        Code::wait_without_end, s.source(at),
        fmt::format("this soak band may wait {} for its temperature; `{}` breaks the programme off after {}",
                    to_text(worst, Kind::time, 3), s.controller->name, to_text(longest, Kind::time)));
    d.with_label(fmt::format("at {} of the run", to_clock(s.walk.at_s(at))));
    d.also(s.controller->source, "the controller");
    d.cause("so slow may a furnace be inside the declared heat_up, holding_power, cool_down and mains");
    d.remedy(fmt::format("let it wait longer and declare it:  longest_wait {} h", std::ceil(worst / 3600)));
    if (const std::string ramp = followed(s, at, longest); !ramp.empty())
        d.remedy("or come to it by a ramp that the furnace follows:  " + ramp);
    d.remedy("or hold for a fixed time, without `within`");
}

/// Fuel in a gas that cannot burn cold, above its lower limit in a tube hot enough to light it, whose inert gas
/// does not surely flow without power: the cooling tube draws air in, and a controller that resumes opens the
/// line into it.
bool lean_and_drawn_in(const Scene& s, std::size_t span) {
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l) {
        const check::Gas* gas = s.gas(l);
        if (gas == nullptr || gas->hazards.flammable || !s.may_be_open(l, span)) continue;
        if (!(fuel_in(s.model, *gas) > 1)) continue;
        const double ignites = ignites_at(s.model, *gas);
        if (s.plant.signal({timeline::SignalKind::temperature, timeline::none}, s.over(span), s.discrete(span))
                .hi < ignites)
            continue;
        const Abort& off = s.aborts(s.discrete(span));
        bool flows = false;
        for (timeline::Index k = 0; k < off.discrete.between.size(); ++k)
            flows = flows || ((k == l || s.inert_without_fuel(k)) && off.discrete.between[k].lo > 0);
        if (!flows) return true;
    }
    return false;
}

/// Back from a failure the controller drives the cooled furnace at full power to where its programme stands: as
/// a step of the set-point from the room does, which elaboration refuses in a recipe.
void heats_again(Scene& s) {
    if (s.rig.tube.material == check::none) return;
    const double from = s.rig.ambient_temperature.lo();
    double to = from;
    std::size_t at = 0;
    for (std::size_t i = 0; i < s.spans(); ++i)
        for (std::size_t z = 0; z < s.timeline.zones.size(); ++z) {
            const Laws laws = laws_of(s.timeline, i, z);
            const double set = laws.least.kind == timeline::LawKind::off ? laws.to().hi : laws.highest();
            if (set > to) to = set, at = i;
        }
    const check::Figure* row = nullptr;
    const double allowed = plant::tube_allowance(s.model, s.rig, from, to, &row);
    if (!(to > from) || std::isinf(allowed)) return;
    double fastest = 0;
    for (int i = 0; i <= 8; ++i)
        fastest = std::max(fastest, s.plant.capacity(from + (to - from) * i / 8).heating.hi);
    if (fastest <= allowed || to - from <= allowed * 60) return;
    s.row("power_return", "After a power failure the tube is not heated too fast", false,
          fmt::format("up to {}, the tube allows {}", to_text(fastest, Kind::rate, 3),
                      to_text(allowed, Kind::rate)),
          s.walk.at_s(at), s.source(at))
        .warned = true;
    s.out
        .warning(Code::power_return, s.source(at),
                 fmt::format("when power comes back `{}` heats the cooled tube to {} at up to {}, and the tube "
                             "allows {}",
                             s.controller->name, to_text(to, Kind::temperature),
                             to_text(fastest, Kind::rate, 3), to_text(allowed, Kind::rate)))
        .with_label(fmt::format("at {} of the run", to_clock(s.walk.at_s(at))))
        .also(s.controller->source, s.controller->after_power_failure == program::Controller::Power::resume
                                        ? "resumes"
                                        : "undeclared counts as resume")
        .cause(fmt::format("the rate is declared at {}; the controller goes on where it stood, at full power",
                           s.place(row->source)))
        .remedy("set the controller to stay off and declare it:  after_power_failure stop");
}

void power_return(Scene& s) {
    if (s.controller == nullptr) return;
    using Power = program::Controller::Power;
    const auto reason = [&](std::size_t span) -> std::string_view {
        if (const std::string_view hazard = s.unattended(s.over(span), s.discrete(span)); !hazard.empty())
            return hazard;
        return lean_and_drawn_in(s, span) ? "fuel that burns in a hot tube" : std::string_view{};
    };
    // Without a pump or such a gas no step can be one of these.
    bool possible = s.rig.pump.present || !s.timeline.evolved.empty();
    for (std::size_t l = 0; l < s.rig.lines.size() && l < s.timeline.lines.size(); ++l)
        if (const check::Index gas = s.rig.lines[l].gas; s.timeline.lines[l].used && gas != check::none)
            possible = possible || s.model.gases[gas].hazards.flammable || s.model.gases[gas].hazards.toxic ||
                       fuel_in(s.model, s.model.gases[gas]) > 1;
    std::optional<std::size_t> at;
    for (std::size_t i = 0; possible && i < s.spans() && !at; ++i)
        if (!reason(i).empty()) at = i;
    const Power power = s.controller->after_power_failure;
    const bool holds = power == Power::stop;
    if (!at) {
        if (!holds) heats_again(s);
        return;
    }
    s.row("power_return", "After a power failure the run stays off", holds,
          holds ? "the controller stops" : "the controller resumes", s.walk.at_s(*at), s.entered_by(*at));
    if (holds) return;
    s.out
        .error(Code::power_return, s.entered_by(*at),
               fmt::format("{} on `{}`, which {} when power comes back", reason(*at), s.controller->name,
                           power == Power::resume ? "resumes by itself" : "does not say what it does"))
        .with_label(fmt::format("at {} of the run", to_clock(s.walk.at_s(*at))))
        .also(s.controller->source, power == Power::resume ? "resumes" : "undeclared counts as resume")
        .cause("by then the tube has cooled, air may have come in, and nobody has looked")
        .remedy("set the controller to stay off and declare it:  after_power_failure stop");
}

void low_temperature_cutoff(Scene& s) {
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l) {
        if (!s.timeline.lines[l].used) continue;
        const std::optional<Cutoff> cutoff = cold_cutoff(s.model, s.rig, l, s.plant);
        if (!cutoff) continue;
        const auto& [best, needed, by] = *cutoff;
        const std::string& name = s.rig.lines[l].name;
        const athanor::Span at = s.opened_at(l);
        const bool holds = cutoff->holds();
        Row& row = s.row(
            "no_low_temperature_cutoff", fmt::format("An interlock shuts {} in a tube too cold", name), holds,
            by != nullptr ? fmt::format("trips below {}, needed {}", to_text(best, Kind::temperature),
                                        to_text(needed, Kind::temperature))
                          : std::string(),
            0, at);
        row.needs_interlock = by == nullptr;
        row.warned = by != nullptr && !holds;
        const std::string remedy = fmt::format("interlock {} is open and temperature < {} degC closes {}{}",
                                               name, shortest(std::ceil(needed - physics::zero_celsius + 1)),
                                               name, opens_inert(s.model, s.rig, s.timeline));
        if (by == nullptr) row.decides = remedy;
        if (holds) continue;
        const std::string need = to_text(needed, Kind::temperature, 5);
        Diagnostic& d = s.out.warning(
            Code::no_low_temperature_cutoff, at,
            by == nullptr
                ? fmt::format("no interlock closes `{}` by itself when the tube falls below {}", name, need)
                : fmt::format("the interlock of `{}` trips below {}; it must trip below {} at least", name,
                              to_text(best, Kind::temperature), need));
        const double safety = s.gas(l)->safety_temperature.hi();
        d.cause(fmt::format("safety temperature of {} {} plus {} of the sensor's tolerance", s.gas(l)->name,
                            to_text(safety, Kind::temperature), to_text(needed - safety, Kind::difference)));
        d.cause("when only the heater fails, no valve falls");
        d.also(by != nullptr ? by->source : s.rig.lines[l].source,
               by != nullptr ? "the interlock" : fmt::format("line `{}`", name));
        d.remedy("fit one, independent of the controller, and declare it in the rig:  " + remedy);
    }
}

} // namespace

void check_supervision(Scene& scene) {
    waits_for_people(scene);
    soak_bands(scene);
    breaks_off(scene);
    power_return(scene);
    low_temperature_cutoff(scene);
}

} // namespace athanor::prove
