// Toxic gas goes where nobody breathes it, with power and without.
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace athanor::prove {
namespace {

/// What is toxic here: the gas of an open line, what is left in the tube, or what is made in it.
std::string what(const Scene& s, const plant::State& state, const timeline::State& discrete) {
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l)
        if (s.gas(l) != nullptr && s.gas(l)->hazards.toxic && s.may_be_open(l, state, discrete))
            return fmt::format("{} from line `{}`", s.gas(l)->name, s.rig.lines[l].name);
    for (timeline::Index i = 0; i < s.timeline.species.size(); ++i) {
        const check::Index index = s.model.gas_named(s.timeline.species[i]);
        if (index == check::none || !s.model.gases[index].hazards.toxic) continue;
        if (const double share = s.share(i, state, discrete); share > 0)
            return fmt::format("up to {} {}", to_text(share, Kind::fraction, 3), s.timeline.species[i]);
    }
    std::optional<Scene::Made> made = s.made(state, discrete);
    if (!made) made = s.made_before(state, discrete);
    if (made) return fmt::format("up to {} of {}", to_text(made->most, Kind::fraction, 3), made->gas);
    return "toxic gas";
}

/// Where nothing brings the gas, what it comes of.
void tell_made(Diagnostic& d, const Scene& s, const plant::State& state, const timeline::State& discrete) {
    std::optional<Scene::Made> made = s.made(state, discrete);
    if (!made) made = s.made_before(state, discrete);
    if (!made) return;
    if (made->gas == "carbon_monoxide")
        d.cause(fmt::format("{} react to carbon monoxide on hot walls, CO2 + H2 = CO + H2O and its like; it is "
                            "counted from {} and {} of each on (common practice, no source)",
                            made->of, to_text(reacts, Kind::temperature), to_text(trace, Kind::fraction)));
    else
        d.cause(fmt::format("{} breaks up in a tube as hot as this, by its `toxic_above`", made->of));
}

/// A burner is no way for toxic gas: a flame destroys what can burn, and every run with a toxic fuel begins and
/// ends with a share that is too lean for that.
void tell_burner(Diagnostic& d, const check::Rig& rig) {
    if (rig.exhaust.has_burner())
        d.cause("a burner does not count: a flame destroys what can burn, and the gas leaves leaner than that "
                "when it begins to flow and while it is swept out")
            .remedy("lead what the burner leaves into an extraction, inside its block:  into extraction_hood { "
                    "backup_power yes }");
    else
        d.remedy("lead the exhaust into an extraction and declare it:  exhaust into extraction_hood { "
                 "backup_power yes }");
}

/// A failure of power at any instant, for any length of time: an extraction counts with backup power. `broken`:
/// toxic gas goes into the room even without a failure, which is said already.
void after_failure(Scene& s, bool broken) {
    const auto after = [&](const plant::State& state, const Abort& abort) {
        return s.plant.during(state, {abort.laws.data(), &abort.discrete}, {0, longest_abort});
    };
    const auto present = [&](const plant::State& state, const timeline::State& discrete) {
        const Abort& abort = s.aborts(discrete);
        return s.toxic(after(state, abort), abort.discrete);
    };
    const auto applied = s.first(present);
    if (!applied) return;
    const bool found = !broken && !s.rig.exhaust.extraction_backup;
    Row& row =
        s.row("toxic_not_vented", "Toxic gas is drawn off when power fails", !found,
              found ? "" : "the extraction has backup power", applied->at_s, s.entered_by(applied->span));
    row.not_judged = broken;
    if (!found) return;
    const Abort& abort = s.aborts(s.discrete(applied->span));
    const check::Exhaust& exhaust = s.rig.exhaust;
    const plant::State left = after(applied->state, abort);
    Diagnostic& d = s.out.error(
        Code::toxic_not_vented, s.entered_by(applied->span),
        fmt::format("after a power failure at {}, {} leaves the tube into the room, and it is toxic",
                    to_clock(applied->at_s), what(s, left, abort.discrete)));
    d.with_label(fmt::format("power fails at {} of the run", to_clock(applied->at_s)));
    d.also(exhaust.source == athanor::Span{} ? s.rig.source : exhaust.source, "the extraction stands still");
    tell_made(d, s, left, abort.discrete);
    d.cause("nobody may be there, and some toxic gases cannot be smelt");
    d.remedy("an extraction with backup power:  into extraction_hood { backup_power yes }");
}

/// What the air of a room carries out of a cold tube with open ends: nothing comes off any more, for long
/// enough that diffusion alone has cleared it.
bool aired(const Scene& s, std::size_t spans) {
    const OpenTube open = s.open_tube();
    if (!open.applies()) return false;
    double needed = 0;
    for (timeline::Index i = 0; i < s.timeline.species.size(); ++i) {
        const check::Index index = s.model.gas_named(s.timeline.species[i]);
        if (index == check::none || !s.model.gases[index].hazards.toxic) continue;
        for (timeline::Index l = 0; l < s.rig.lines.size(); ++l)
            if (s.timeline.lines[l].ever_open() && s.gas(l) != nullptr)
                for (const auto& part : s.gas(l)->parts)
                    if (part.first == index) return false;
        const check::Figure& limit = s.model.gases[index].exposure_limit;
        // Of several gases each takes its part of the limit.
        const double share = limit.given ? limit.lo() / static_cast<double>(s.timeline.species.size()) : 0;
        needed = std::max(needed, open.clears(i, share));
    }
    double cold = 0;
    while (spans-- > 0) {
        const plant::State state = s.over(spans);
        for (const timeline::Evolved& e : s.timeline.evolved)
            if (s.gives_off(e, state, s.discrete(spans))) return false;
        cold += s.timeline.spans[spans].duration.lo;
        if (cold >= needed) return true;
    }
    return false;
}

/// The instant's own poison, or what the hot tube made before it.
bool holds_toxic(const Scene& s, bool made, const plant::State& state, const timeline::State& discrete) {
    return s.toxic(state, discrete) || (made && s.made_before(state, discrete));
}

/// False where that is refused.
bool opened_clear(Scene& s) {
    bool opened = false, holds = true;
    std::size_t at = 0;
    bool made = false;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        made = made || s.made(s.over(i), s.discrete(i));
        if (!s.discrete(i).tube_open) continue;
        if (!opened) at = i;
        opened = true;
        if (!holds) continue;
        plant::State meets = s.walk.arrival(i);
        bool later = false;
        if (aired(s, i)) continue;
        if (!holds_toxic(s, made, meets, s.discrete(i))) {
            std::optional<Scene::Opening> met = s.opening(i);
            later = met && holds_toxic(s, made, met->meanwhile, met->shut);
            if (!later) continue;
            meets = std::move(met->meanwhile);
        }
        holds = false, at = i;
        Diagnostic& d =
            s.out.error(Code::opening_tube, s.source(i),
                        fmt::format("the tube is opened while it may hold {}, more than people may breathe",
                                    what(s, meets, s.discrete(i))));
        tell_made(d, s, meets, s.discrete(i));
        d.with_label(fmt::format("at {} of the run{}", to_clock(s.walk.at_s(i)),
                                 later ? ", or later while the wait goes on" : ""))
            .cause("whoever opens it breathes what is in it")
            .remedy(
                later ? "let an inert gas sweep the tube until it is opened, or cool first until nothing toxic "
                        "comes off"
                      : "sweep it with an inert gas first, until the toxic gas is under its limit");
        if (s.made_before(meets, s.discrete(i)))
            d.remedy(
                "what makes it is swept out with it: in the inert gas  dwell until carbon_dioxide < 10 ppm");
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
    bool made = false;
    for (std::size_t i = 0; i < s.spans() && !made; ++i) made = s.made(s.over(i), s.discrete(i)).has_value();
    const bool at_once = holds_toxic(s, made, s.walk.end, last) && !aired(s, s.spans());
    const Scene::Behind behind = s.behind_end();
    // A load that is still hot gives gas off into a tube that nothing sweeps any more.
    const bool later = !at_once && !flows && !aired(s, s.spans()) && s.toxic(behind.state, behind.discrete);
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
    if (!s.any_toxic()) return;
    // The pump's own outlet is not declared: what it draws counts as going where the exhaust goes.
    const auto applied = s.first(
        [&](const plant::State& state, const timeline::State& discrete) { return s.toxic(state, discrete); });
    const bool broken = applied && !s.rig.exhaust.extraction;
    if (applied)
        s.row("toxic_not_vented", "Toxic gas leaves through an extraction", !broken,
              broken ? "" : "the exhaust leads into an extraction", applied->at_s, s.entered_by(applied->span));
    if (broken) {
        const timeline::State& discrete = s.discrete(applied->span);
        Diagnostic& d = s.out.error(Code::toxic_not_vented, s.entered_by(applied->span),
                                    fmt::format("{} leaves the tube into the room, and it is toxic",
                                                what(s, applied->state, discrete)));
        d.with_label(fmt::format("at {} of the run", to_clock(applied->at_s)));
        d.also(s.rig.exhaust.source == athanor::Span{} ? s.rig.source : s.rig.exhaust.source,
               s.rig.exhaust.has_burner() ? "a burner, and no extraction" : "no extraction");
        tell_made(d, s, applied->state, discrete);
        tell_burner(d, s.rig);
    }
    after_failure(s, broken);

    const bool opened = opened_clear(s);
    left_clear(s, broken, !opened);
}

} // namespace athanor::prove
