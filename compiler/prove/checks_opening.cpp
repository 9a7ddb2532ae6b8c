// A tube that a person opens: at the room's pressure, and cold enough to touch.
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::prove {
namespace {

/// Pa below and above the room with which a seal may be let go: common practice, no source. Above, the bound
/// holds the day's barometer as well, which a tube that lets out goes along with.
constexpr double let_go_under = 10000, let_go_over = 15000;
/// K, 60 degC: skin that touches bare metal for a second or less burns above about this (ISO 13732-1, from
/// memory).
constexpr double burns_skin = 333.15;

/// A line to fill the tube through, and its greatest flow, to be named in advice.
std::string inert_line(const Scene& s) {
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l)
        if (s.gas(l) != nullptr && s.gas(l)->hazards.inert)
            return s.rig.lines[l].name + " at " + to_text(s.rig.lines[l].meter.range.hi(), Kind::flow, 3);
    return "nitrogen";
}

} // namespace

void check_opening(Scene& s) {
    bool opened = false, at_room = true;
    std::size_t by_pressure = 0, by_heat = 0;
    double hottest = 0;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        if (!s.discrete(i).tube_open || (i > 0 && s.discrete(i - 1).tube_open)) continue;
        // Opening brings both to the room's; what a person meets is what was there before.
        // They may open it at once or after any time, in which it stays shut and what the wait begins with goes
        // on: a pump, a flow, a set-point that moves.
        const plant::State before = s.walk.arrival(i);
        const timeline::State& discrete = s.discrete(i == 0 ? 0 : i - 1);
        timeline::State shut = s.discrete(i);
        shut.tube_open = false;
        plant::Drive waits = plant::drive(s.timeline, i);
        waits.state = &shut;
        const plant::State meanwhile = s.plant.during(before, waits, {0, plant::for_ever});
        const auto bounds = [&](timeline::SignalKind kind, bool goes_on) {
            const Interval now = s.plant.signal({kind, timeline::none}, before, discrete);
            return goes_on ? hull(now, s.plant.signal({kind, timeline::none}, meanwhile, shut)) : now;
        };
        const bool moves = shut.pump || meanwhile.inflow.hi > 0;
        bool heats = false;
        for (std::size_t z = 0; z < s.timeline.zones.size(); ++z)
            heats = heats || std::max(waits.laws[z].from, waits.laws[z].to) > before.zones[z].control.hi;
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
                     ? fmt::format("fill it first, with an inert gas:  backfill {} to ambient", inert_line(s))
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
    s.out
        .warning(Code::opened_hot, s.source(by_heat),
                 fmt::format("the tube is opened while it may be at {}", to_text(hottest, Kind::temperature)))
        .with_label(fmt::format("at {} of the run", to_clock(s.walk.at_s(by_heat))))
        .cause("tube, plugs, load and what flows out burn whoever opens it")
        .remedy("cool first:  cool to 50 degC");
}

} // namespace athanor::prove
