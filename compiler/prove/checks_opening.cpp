// A tube that a person opens: at the room's pressure, and cold enough to touch.
#include "compiler/physics/constants.hpp"
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

/// Pa above the room with which a shut tube may be opened. The day's barometer is not in it, and the pressure
/// throws the cap that is let go: 50 mbar, or what presses with 50 N on the whole face of the tube,
/// whichever is less (common practice, no source).
constexpr double let_go_shut = 5000, let_go_force = 50;

struct Above {
    double pressure = 0, limit = 0; // Pa above the room
    bool shut = false;
};

Above above_room(const Scene& s, double signal, double highest) {
    if (s.rig.exhaust.kind != check::ExhaustKind::shut || !s.rig.seals.gas_tight)
        return {signal, let_go_over, false};
    double limit = let_go_shut;
    const check::Tube& tube = s.rig.tube;
    if (tube.inner_diameter.given && tube.wall.given) {
        const double outer = tube.inner_diameter.hi() + 2 * tube.wall.hi();
        limit = std::min(limit, let_go_force / (physics::pi / 4 * outer * outer));
    }
    // What is above the highest room came of gas and heat, not of the weather.
    return {std::min(signal, std::max(0.0, highest - s.rig.ambient_pressure.hi())), limit, true};
}

/// A shut tube has no way out but its relief, which lets go of what is beyond its setting.
void let_it_out(const Scene& s, Diagnostic& d, double limit) {
    d.remedy("let the pressure go by a way out that is open while the tube is fed and heated:  exhaust open");
    if (s.rig.relief.given)
        d.also(s.rig.relief.source, "the relief holds back what is below its setting")
            .remedy(fmt::format("or set the relief to {} gauge or less",
                                to_text(std::floor(limit / check::relief_passes / 100) * 100, Kind::pressure)));
}

} // namespace

void check_opening(Scene& s) {
    bool opened = false, at_room = true;
    std::size_t by_pressure = 0, by_heat = 0;
    double hottest = 0;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        if (!s.discrete(i).tube_open) continue;
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
        const Above above = above_room(s, bounds(timeline::SignalKind::overpressure, moves).hi,
                                       bounds(timeline::SignalKind::pressure, moves).hi);
        const double under = s.rig.ambient_pressure.lo() - bounds(timeline::SignalKind::pressure, moves).lo;
        if (!at_room || (above.pressure <= above.limit && under <= let_go_under)) continue;
        at_room = false, by_pressure = i;
        const bool evacuated = under > let_go_under;
        const Interval pressure = bounds(timeline::SignalKind::pressure, moves);
        std::string stands = fmt::format("may stand at {}", to_text(above.pressure, Kind::overpressure));
        if (evacuated && pressure.hi < s.rig.ambient_pressure.lo() - let_go_under)
            stands = fmt::format("is evacuated, to {} at most", to_text(pressure.hi, Kind::pressure));
        else if (evacuated)
            stands = fmt::format("may be evacuated, to {}", to_text(pressure.lo, Kind::pressure));
        Diagnostic& d =
            s.out.error(Code::opening_tube, s.source(i), fmt::format("the tube is opened while it {}", stands));
        d.with_label(fmt::format("at {} of the run", to_clock(s.walk.at_s(i))));
        d.cause(evacuated ? "the room's air rushes in and carries plugs, shields and load along"
                          : "seal, plug and load are thrown at whoever lets the seal go");
        if (!evacuated && above.shut)
            d.cause(fmt::format("more than {} is too much for a cap of this tube that is let go",
                                to_text(above.limit, Kind::overpressure, 2)));
        if (evacuated && s.inert_line().empty())
            d.remedy("let gas in first; this rig has no line of inert gas");
        else if (evacuated)
            d.remedy(fmt::format("fill it first, with an inert gas:  backfill {} to ambient", s.inert_line()));
        else if (!above.shut)
            d.remedy("let the pressure go first: shut the gas and open the way out");
        else
            let_it_out(s, d, above.limit);
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
    else if (const std::string first = s.colder(by_heat, burns_skin); !first.empty())
        d.remedy((first.starts_with("dwell") ? "let it cool first:  " : "cool first:  ") + first);
}

} // namespace athanor::prove
