// A tube that a person opens: at the room's pressure, and cold enough to touch.
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace athanor::prove {
namespace {

/// Pa below and above the room with which a seal may be let go: common practice, no source. Above, the bound
/// holds the day's barometer as well, which a tube that lets out goes along with.
constexpr double let_go_under = 10000, let_go_over = 15000;
/// K, 60 degC: skin that touches bare metal for a second or less burns above about this (ISO 13732-1, from
/// memory).
constexpr double burns_skin = 333.15;

/// A step before this one that surely leaves the tube cold enough to touch: natural cooling further than the
/// recipe has it, else a longer hold; empty where neither is sure.
std::string colder(const Scene& s, std::size_t span) {
    const std::size_t before = span == 0 ? 0 : span - 1;
    const plant::State now = s.walk.arrival(span);
    const timeline::State& discrete = s.discrete(before);
    const std::size_t zones = s.timeline.zones.size();
    const auto last = [&](std::size_t zone) { return laws_of(s.timeline, before, zone).to().hi; };
    const auto cold = [&](const plant::State& state) {
        return s.plant.signal({timeline::SignalKind::temperature, timeline::none}, state, discrete).hi <=
               burns_skin;
    };
    for (const double to : {323.15, 318.15, 313.15, 308.15, 303.15}) {
        std::vector<timeline::Law> laws;
        for (std::size_t z = 0; z < zones && last(z) > to; ++z)
            laws.push_back({timeline::LawKind::off, last(z), to, 0});
        if (laws.size() < zones) continue;
        timeline::Ending ending;
        ending.kind = timeline::EndingKind::passes;
        ending.temperature = to;
        const plant::Passage passage = s.plant.pass(now, {laws.data(), &discrete}, ending);
        if (passage.reachable && std::isfinite(passage.duration.hi) && cold(passage.exit))
            return fmt::format("cool to {}", to_text(to, Kind::temperature));
    }
    for (const double hours : {1, 2, 4, 8}) {
        std::vector<timeline::Law> laws;
        for (std::size_t z = 0; z < zones; ++z) laws.push_back({timeline::LawKind::hold, last(z), last(z), 0});
        timeline::Ending ending;
        ending.duration = hours * 3600;
        if (cold(s.plant.pass(now, {laws.data(), &discrete}, ending).exit))
            return fmt::format("dwell {}", to_text(ending.duration, Kind::time));
    }
    return {};
}

} // namespace

void check_opening(Scene& s) {
    bool opened = false, at_room = true;
    std::size_t by_pressure = 0, by_heat = 0;
    double hottest = 0;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        const std::optional<Scene::Opening> met = s.opening(i);
        if (!met) continue;
        const auto bounds = [&](timeline::SignalKind kind, bool goes_on) {
            const Interval now = s.plant.signal({kind, timeline::none}, met->before, met->was);
            return goes_on ? hull(now, s.plant.signal({kind, timeline::none}, met->meanwhile, met->shut)) : now;
        };
        const bool moves = met->shut.pump || met->meanwhile.inflow.hi > 0;
        bool heats = false;
        for (std::size_t z = 0; z < s.timeline.zones.size(); ++z)
            heats = heats || laws_of(s.timeline, i, z).highest() > met->before.zones[z].control.hi;
        if (!opened) by_pressure = by_heat = i;
        opened = true;
        if (const double t = bounds(timeline::SignalKind::temperature, heats).hi; t > hottest)
            hottest = t, by_heat = i;
        const double over = bounds(timeline::SignalKind::overpressure, moves).hi;
        const double under = s.rig.ambient_pressure.lo() - bounds(timeline::SignalKind::pressure, moves).lo;
        if (!at_room || (over <= let_go_over && under <= let_go_under)) continue;
        at_room = false, by_pressure = i;
        const bool evacuated = under > let_go_under;
        const Interval pressure = bounds(timeline::SignalKind::pressure, moves);
        std::string stands = fmt::format("may stand at {}", to_text(over, Kind::overpressure));
        if (evacuated && pressure.hi < s.rig.ambient_pressure.lo() - let_go_under)
            stands = fmt::format("is evacuated, to {} at most", to_text(pressure.hi, Kind::pressure));
        else if (evacuated)
            stands = fmt::format("may be evacuated, to {}", to_text(pressure.lo, Kind::pressure));
        Diagnostic& d =
            s.out.error(Code::opening_tube, s.source(i), fmt::format("the tube is opened while it {}", stands));
        d.with_label(fmt::format("at {} of the run", to_clock(s.walk.at_s(i))));
        d.cause(evacuated ? "the room's air rushes in and carries plugs, shields and load along"
                          : "seal, plug and load are thrown at whoever lets the seal go");
        d.remedy(evacuated
                     ? fmt::format("fill it first, with an inert gas:  backfill {} to ambient", s.inert_line())
                     : "let the pressure go first: shut the gas and open the way out");
    }
    if (!opened) return;
    s.row("opening_tube", "The tube is opened at the room's pressure", at_room, "", s.walk.at_s(by_pressure),
          s.source(by_pressure));
    const bool cold = hottest <= burns_skin;
    s.row("opened_hot", "The tube is opened cold enough to touch", cold,
          fmt::format("at most {}, limit {}", to_text(hottest, Kind::temperature),
                      to_text(burns_skin, Kind::temperature)),
          s.walk.at_s(by_heat), s.source(by_heat))
        .warned = !cold;
    if (cold) return;
    Diagnostic& d = s.out.warning(
        Code::opened_hot, s.source(by_heat),
        fmt::format("the tube is opened while it may be at {}", to_text(hottest, Kind::temperature)));
    d.with_label(fmt::format("at {} of the run", to_clock(s.walk.at_s(by_heat))));
    d.cause("tube, plugs, load and what flows out burn whoever opens it");
    if (s.quenches(by_heat))
        d.cause("a quench is done hot on purpose: with tongs, gloves and a face shield");
    else if (const std::string first = colder(s, by_heat); !first.empty())
        d.remedy((first.starts_with("dwell") ? "let it cool first:  " : "cool first:  ") + first);
}

} // namespace athanor::prove
