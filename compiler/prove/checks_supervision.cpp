// What a person or the controller may leave alone: waits without an end, a run that resumes by itself, a tube
// that cools unseen.
#include "compiler/physics/constants.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/prove/interlock.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <cmath>

namespace athanor::prove {
namespace {

using timeline::EndingKind;

void waits_for_people(Scene& s) {
    bool applied = false, holds = true;
    std::size_t where = 0;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        if (s.timeline.spans[i].ending.kind != EndingKind::person ||
            !(s.uses(check::Hazard::flammable) || s.uses(check::Hazard::toxic)))
            continue;
        if (!applied) where = i;
        applied = true;
        for (timeline::Index l = 0; l < s.rig.lines.size(); ++l) {
            if (s.gas(l) == nullptr || !s.may_be_open(l, i)) continue;
            const check::Hazards& hazards = s.gas(l)->hazards;
            if (!hazards.flammable && !hazards.toxic) continue;
            if (holds) where = i;
            holds = false;
            s.out
                .error(Code::wait_without_end, s.source(i),
                       fmt::format("`{}` stays open for as long as the person takes", s.rig.lines[l].name))
                .with_label(fmt::format("at {} of the run", to_clock(s.walk.at_s(i))))
                .also(s.rig.lines[l].source, fmt::format("carries {}, which is {}", s.gas(l)->name,
                                                         hazards.flammable ? "flammable" : "toxic"))
                .cause("an operator wait has no end of its own, and nobody may come")
                .remedy(
                    hazards.flammable
                        ? "switch to an inert gas and clear the tube first:  dwell until flammability < 20 %"
                        : "switch to an inert gas and clear the tube first");
        }
    }
    if (applied)
        s.row("wait_without_end", "No operator waits with flammable or toxic gas open", holds,
              holds ? "no flammable or toxic line is open while a person is waited for" : "",
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

void power_return(Scene& s) {
    if (s.controller == nullptr) return;
    using Power = program::Controller::Power;
    const auto hazardous = [&](const plant::State& state, const timeline::State& discrete) {
        return !s.unattended(state, discrete).empty();
    };
    // Without a pump or such a gas no step can be one of these.
    bool possible = s.rig.pump.present || !s.timeline.evolved.empty();
    for (std::size_t l = 0; l < s.rig.lines.size() && l < s.timeline.lines.size(); ++l)
        if (const check::Index gas = s.rig.lines[l].gas; s.timeline.lines[l].used && gas != check::none)
            possible = possible || s.model.gases[gas].hazards.flammable || s.model.gases[gas].hazards.toxic;
    std::optional<std::size_t> at;
    for (std::size_t i = 0; possible && i < s.spans() && !at; ++i)
        if (hazardous(s.over(i), s.discrete(i))) at = i;
    if (!at) return;
    const Power power = s.controller->after_power_failure;
    const bool holds = power == Power::stop;
    s.row("power_return", "After a power failure the run stays off", holds,
          holds ? "the controller stops" : "the controller resumes", s.walk.at_s(*at), s.entered_by(*at));
    if (holds) return;
    s.out
        .error(Code::power_return, s.entered_by(*at),
               fmt::format("{} on `{}`, which {} when power comes back",
                           s.unattended(s.over(*at), s.discrete(*at)), s.controller->name,
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
    power_return(scene);
    low_temperature_cutoff(scene);
}

} // namespace athanor::prove
