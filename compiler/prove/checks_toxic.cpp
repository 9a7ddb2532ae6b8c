// Toxic gas goes where nobody breathes it, with power and without.
#include "compiler/prove/checks.hpp"
#include "compiler/prove/fault.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <utility>

namespace athanor::prove {
namespace {

/// A flame takes it away: a fuel of carbon, hydrogen, nitrogen and oxygen only. One with sulfur or a halogen
/// burns to a toxic gas, and of one without a formula nobody knows.
bool burns_away(const check::Gas& gas) {
    if (!gas.hazards.flammable || gas.formula.empty()) return false;
    const std::string_view text = gas.formula;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text[i] >= '0' && text[i] <= '9') continue;
        if (std::string_view("CHNO").find(text[i]) == std::string_view::npos) return false;
        if (i + 1 < text.size() && text[i + 1] >= 'a' && text[i + 1] <= 'z') return false; // chlorine, say
    }
    return true;
}

/// A toxic pure gas, behind a lit burner only where the flame leaves it toxic.
bool harms(const check::Gas& gas, bool burnt) {
    return gas.hazards.toxic && !(burnt && burns_away(gas));
}

/// Shares of their limits that the toxic parts of a gas add up to.
double load_of(const Scene& s, const check::Gas& gas, bool burnt) {
    double load = 0;
    for (const auto& [part, share] : gas.parts) {
        const check::Gas& pure = s.model.gases[part];
        if (!harms(pure, burnt) || !(share.hi > 0)) continue;
        const check::Figure& limit = pure.exposure_limit;
        load += limit.given && limit.lo() > 0 ? share.hi / limit.lo() : infinity;
    }
    return load;
}

/// As `Scene::toxic`, of what leaves a burner.
bool toxic_behind_burner(const Scene& s, const plant::State& state, const timeline::State& discrete) {
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l)
        if (s.gas(l) != nullptr && s.gas(l)->hazards.toxic && s.may_be_open(l, state, discrete) &&
            load_of(s, *s.gas(l), true) > 1)
            return true;
    double load = 0;
    for (timeline::Index i = 0; i < s.timeline.species.size(); ++i) {
        const check::Index index = s.model.gas_named(s.timeline.species[i]);
        if (index == check::none || !harms(s.model.gases[index], true)) continue;
        const double share = s.plant.signal({timeline::SignalKind::fraction, i}, state, discrete).hi;
        const check::Figure& limit = s.model.gases[index].exposure_limit;
        if (share > 0) load += limit.given && limit.lo() > 0 ? share / limit.lo() : infinity;
    }
    return load > 1;
}

bool leaves_toxic(const Scene& s, const plant::State& state, const timeline::State& discrete) {
    return s.toxic(state, discrete) && (!discrete.burner || toxic_behind_burner(s, state, discrete));
}

/// What is toxic here: the gas of an open line, or what is left in the tube.
std::string what(const Scene& s, const plant::State& state, const timeline::State& discrete,
                 bool burnt = false) {
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l)
        if (s.gas(l) != nullptr && s.gas(l)->hazards.toxic && s.may_be_open(l, state, discrete) &&
            (!burnt || load_of(s, *s.gas(l), true) > 1))
            return fmt::format("{} from line `{}`", s.gas(l)->name, s.rig.lines[l].name);
    for (timeline::Index i = 0; i < s.timeline.species.size(); ++i) {
        const check::Index index = s.model.gas_named(s.timeline.species[i]);
        if (index == check::none || !harms(s.model.gases[index], burnt)) continue;
        const double share = s.plant.signal({timeline::SignalKind::fraction, i}, state, discrete).hi;
        if (share > 0)
            return fmt::format("up to {} {}", to_text(share, Kind::fraction, 3), s.timeline.species[i]);
    }
    return "toxic gas";
}

bool any_toxic(const Scene& s) {
    for (const std::string& name : s.timeline.species) {
        const check::Index index = s.model.gas_named(name);
        if (index != check::none && s.model.gases[index].hazards.toxic) return true;
    }
    return false;
}

/// A failure of power at any instant, for any length of time: an extraction counts with backup power, a burner
/// that is lit with a pilot flame. `broken`: toxic gas goes into the room even without a failure, which is said
/// already.
void after_failure(Scene& s, bool broken) {
    const PowerFailure abort_of(s.rig, s.timeline);
    const auto after = [&](const plant::State& state, const Abort& abort) {
        return s.plant.during(state, {abort.laws.data(), &abort.discrete}, {0, longest_abort});
    };
    const auto present = [&](const plant::State& state, const timeline::State& discrete) {
        const Abort abort = abort_of(discrete);
        return s.toxic(after(state, abort), abort.discrete);
    };
    const auto unvented = [&](const plant::State& state, const timeline::State& discrete) {
        if (s.rig.exhaust.extraction_backup) return false;
        const Abort abort = abort_of(discrete);
        return leaves_toxic(s, after(state, abort), abort.discrete);
    };
    const auto applied = s.first(present);
    if (!applied) return;
    const auto found = broken ? std::nullopt : s.first(unvented);
    const Scene::Found& at = found ? *found : *applied;
    Row& row = s.row("toxic_not_vented", "Toxic gas is drawn off or burnt when power fails", !found,
                     s.rig.exhaust.extraction_backup ? "the extraction has backup power"
                                                     : "the burner has a pilot flame",
                     at.at_s, s.entered_by(at.span));
    row.not_judged = broken;
    if (!found) return;
    row.margin.clear();
    const Abort abort = abort_of(s.discrete(found->span));
    const check::Exhaust& exhaust = s.rig.exhaust;
    const plant::State left = after(found->state, abort);
    const bool burnt = abort.discrete.burner, flame_helps = !toxic_behind_burner(s, left, abort.discrete);
    Diagnostic& d = s.out.error(
        Code::toxic_not_vented, s.entered_by(found->span),
        burnt ? fmt::format("after a power failure at {}, {} leaves through the burner, and a flame does not "
                            "make it harmless",
                            to_clock(found->at_s), what(s, left, abort.discrete, true))
              : fmt::format("after a power failure at {}, {} leaves the tube into the room, and it is toxic",
                            to_clock(found->at_s), what(s, left, abort.discrete)));
    d.with_label(fmt::format("power fails at {} of the run", to_clock(found->at_s)));
    d.also(exhaust.source == athanor::Span{} ? s.rig.source : exhaust.source,
           burnt                  ? "no extraction with backup power"
           : exhaust.has_burner() ? "the burner goes out with the mains"
                                  : "the extraction stands still");
    d.cause("nobody may be there, and some toxic gases cannot be smelt");
    d.remedy("an extraction with backup power:  into extraction_hood { backup_power yes }");
    if (exhaust.has_burner() && flame_helps)
        d.remedy("or a burner with a pilot flame of its own, lit before the gas opens:  pilot yes");
}

/// False where that is refused.
bool opened_clear(Scene& s) {
    bool opened = false, holds = true;
    std::size_t at = 0;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        if (!s.discrete(i).tube_open) continue;
        if (!opened) at = i;
        opened = true;
        if (!holds) continue;
        plant::State meets = s.walk.arrival(i);
        bool later = false;
        if (!s.toxic(meets, s.discrete(i))) {
            std::optional<Scene::Opening> met = s.opening(i);
            later = met && s.toxic(met->meanwhile, met->shut);
            if (!later) continue;
            meets = std::move(met->meanwhile);
        }
        holds = false, at = i;
        s.out
            .error(Code::opening_tube, s.source(i),
                   fmt::format("the tube is opened while it may hold {}, more than people may breathe",
                               what(s, meets, s.discrete(i))))
            .with_label(fmt::format("at {} of the run{}", to_clock(s.walk.at_s(i)),
                                    later ? ", or later while the wait goes on" : ""))
            .cause("whoever opens it breathes what is in it")
            .remedy(
                later ? "let an inert gas sweep the tube until it is opened, or cool first until nothing toxic "
                        "comes off"
                      : "sweep it with an inert gas first, until the toxic gas is under its limit");
    }
    if (opened)
        s.row("opening_tube", "The tube is opened only without toxic gas", holds, "", s.walk.at_s(at),
              s.source(at));
    return holds;
}

/// `told`: what is wrong is said already.
void left_clear(Scene& s, bool broken, bool told) {
    const timeline::State& last = s.timeline.states[s.timeline.end_state];
    // What falls open when the programme ends flows until a person comes.
    bool flows = false;
    if (!broken && (s.controller == nullptr || !s.controller->holds_at_end))
        for (timeline::Index l = 0; l < s.rig.lines.size(); ++l) {
            if (!s.timeline.lines[l].falls_open() || s.gas(l) == nullptr || !s.gas(l)->hazards.toxic) continue;
            flows = true;
            s.row("opening_tube", "No toxic gas flows when the run has ended", false, "", s.walk.end_s,
                  s.rig.lines[l].source);
            s.out
                .error(
                    Code::opening_tube, s.rig.lines[l].source,
                    fmt::format("`{}` falls open when the run ends, and toxic gas flows until a person comes",
                                s.rig.lines[l].name))
                .cause("whoever comes next opens a tube that is full of it")
                .remedy(fmt::format("let {} fall closed:  de_energised closed", s.rig.lines[l].name));
        }
    const bool at_once = s.toxic(s.walk.end, last);
    const Scene::Behind behind = s.behind_end();
    // A load that is still hot gives gas off into a tube that nothing sweeps any more.
    const bool later = !at_once && !flows && s.toxic(behind.state, behind.discrete);
    s.row("opening_tube", "No toxic gas is left in the tube when the run ends", !at_once && !later, "",
          s.walk.end_s, s.source(s.spans() - 1));
    if ((!at_once && !later) || broken || told) return;
    s.out
        .error(Code::opening_tube, s.source(s.spans() - 1),
               at_once ? fmt::format("the run ends with {} in the tube, more than people may breathe",
                                     what(s, s.walk.end, last))
                       : fmt::format("behind the end of the run {} may be in the tube, more than people may "
                                     "breathe",
                                     what(s, behind.state, behind.discrete)))
        .with_label("at the end of the run")
        .cause("whoever comes next opens it")
        .remedy(at_once ? "sweep it with an inert gas before the end, until the toxic gas is under its limit"
                        : "cool before the end, while an inert gas flows, until the load gives nothing off");
}

} // namespace

void check_toxic(Scene& s) {
    if (!any_toxic(s)) return;
    // The pump's own outlet is not declared: what it draws counts as going where the exhaust goes.
    const auto unvented = [&](const plant::State& state, const timeline::State& discrete) {
        return !s.rig.exhaust.extraction && leaves_toxic(s, state, discrete);
    };
    const auto present = [&](const plant::State& state, const timeline::State& discrete) {
        return s.toxic(state, discrete);
    };
    bool broken = false;
    if (const auto applied = s.first(present)) {
        const auto found = s.first(unvented);
        broken = found.has_value();
        s.row("toxic_not_vented", "Toxic gas leaves through an extraction or a lit burner", !found,
              s.rig.exhaust.extraction ? "the exhaust leads into an extraction" : "",
              found ? found->at_s : applied->at_s, s.entered_by(found ? found->span : applied->span));
        if (found) {
            const timeline::State& discrete = s.discrete(found->span);
            const std::string gas = what(s, found->state, discrete, discrete.burner);
            Diagnostic& d = s.out.error(
                Code::toxic_not_vented, s.entered_by(found->span),
                discrete.burner
                    ? fmt::format("{} leaves through the burner, and a flame does not make it harmless", gas)
                    : fmt::format("{} leaves the tube into the room, and it is toxic", gas));
            d.with_label(fmt::format("at {} of the run", to_clock(found->at_s)));
            d.also(s.rig.exhaust.source == athanor::Span{} ? s.rig.source : s.rig.exhaust.source,
                   discrete.burner              ? "a burner, and no extraction"
                   : s.rig.exhaust.has_burner() ? "the burner is not lit"
                                                : "neither extraction nor burner");
            if (discrete.burner)
                d.cause("only a fuel of carbon, hydrogen, nitrogen and oxygen burns to what is not toxic: its "
                        "`hazard` says flammable, its `formula` the elements");
            if (s.rig.exhaust.has_burner())
                d.remedy("lead what the burner leaves into an extraction, inside its block:  into "
                         "extraction_hood { backup_power yes }");
            else
                d.remedy("lead the exhaust into an extraction and declare it:  exhaust into extraction_hood { "
                         "backup_power yes }");
        }
    }
    after_failure(s, broken);

    const bool opened = opened_clear(s);
    left_clear(s, broken, !opened);
}

} // namespace athanor::prove
