// Which floor or uncertainty decides a signal, in words with figures.
#include "compiler/check/gas_mixture.hpp"
#include "compiler/plant/data.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

namespace athanor::plant {

using timeline::SignalKind;

namespace {

std::string share(double x) {
    return to_text(x, Kind::fraction, 2);
}

std::string listed(const std::vector<std::string>& parts) {
    std::string text;
    for (const std::string& part : parts) {
        if (!text.empty()) text += ", ";
        text += part;
    }
    return text;
}

ZoneState without_load(ZoneState at) {
    at.load = at.control;
    return at;
}

} // namespace

/// A rest that no flow of now brings: of the room, where no line of this run carries it.
std::string Plant::Data::rest_words(std::size_t species, double rest, const State& state) const {
    constexpr double trace = 0.01, some = 0.05; // share, volumes
    bool by_line = false;
    for (std::size_t l = 0; l < timeline.lines.size() && l < rig.lines.size(); ++l)
        by_line = by_line || (timeline.lines[l].ever_open() && substances.line(l)[species].hi > trace);
    const bool room = !by_line && substances.air()[species].hi >= trace;
    return fmt::format("{} still makes {}{} at {} of ideal mixing",
                       room ? "the room's air" : "what was there before", share(rest),
                       room && state.swept.lo > some
                           ? fmt::format(" after {} volumes", to_text(state.swept.lo, Kind::count, 2))
                           : "",
                       share(atmosphere.mixing().lo));
}

bool Plant::Data::comes_in(const ZoneState& at) const {
    constexpr double far = 100; // K: no lag of a load that stays in its place
    return !timeline.places.empty() && at.control.lo - at.load.lo > far;
}

std::string Plant::Data::zone_words(const ZoneState& at, bool powered) const {
    std::vector<std::string> parts;
    if (at.load.lo < at.control.lo)
        parts.push_back(fmt::format("the load may lie {} below the control sensor ({}load_lag, load_offset)",
                                    to_text(at.control.lo - at.load.lo, Kind::difference, 2),
                                    comes_in(at) ? "the slide brings it in from aside; " : ""));
    if (at.load.hi > at.control.hi)
        parts.push_back(fmt::format("the load may lie {} above the control sensor (load_lag, load_offset)",
                                    to_text(at.load.hi - at.control.hi, Kind::difference, 2)));
    if (!powered) { // no set-point counts
        parts.emplace_back("the heater is off");
        return listed(parts);
    }
    const double below = at.setpoints.lo - at.control.lo, above = at.control.hi - at.setpoints.hi;
    if (below > 0)
        parts.push_back(
            fmt::format("the control point up to {} below its set-point, sensor tolerance {} included",
                        to_text(below, Kind::difference, 2),
                        to_text(zone.tolerance()(at.control.lo), Kind::difference, 2)));
    if (above > 0)
        parts.push_back(fmt::format("{}up to {} above {}", below > 0 ? "" : "the control point ",
                                    to_text(above, Kind::difference, 2), below > 0 ? "it" : "its set-point"));
    return listed(parts);
}

/// The words of each zone, once where several share them, and with their names where not all do.
std::string Plant::Data::by_zone(const std::vector<std::string>& words, bool one) const {
    if (one || words.size() < 2) return listed(words);
    std::vector<std::string> parts;
    for (std::size_t z = 0; z < words.size(); ++z) {
        if (words[z].empty() || std::find(words.begin(), words.begin() + z, words[z]) != words.begin() + z)
            continue;
        std::string names;
        std::size_t count = 0;
        for (std::size_t other = z; other < words.size(); ++other)
            if (words[other] == words[z]) {
                names += (names.empty() ? "" : " and ") + timeline.zones[other];
                ++count;
            }
        parts.push_back(count == words.size() ? words[z] : fmt::format("in {} {}", names, words[z]));
    }
    std::string text;
    for (const std::string& part : parts) text += (text.empty() ? "" : "; ") + part;
    return text;
}

std::string Plant::Data::fraction_words(std::size_t i, const State& state,
                                        const timeline::State& discrete) const {
    std::vector<std::string> parts;
    const double air = substances.air()[i].hi;
    if (discrete.tube_open) return "the tube is open to the room";
    if (discrete.pump) {
        if (vacuum.leak().hi > 0 && air > 0)
            parts.push_back(fmt::format("the leak, up to {}, lets air into the evacuated tube",
                                        to_text(vacuum.leak().hi, Kind::leak_rate, 2)));
        if (i == substances.water() && vacuum.outgassing().hi > 0)
            parts.push_back(fmt::format("the walls give off up to {}",
                                        to_text(vacuum.outgassing().hi, Kind::leak_rate, 2)));
        return listed(parts);
    }
    Inlet in;
    inlet(discrete, state.zones, in);
    if (!rig.seals.gas_tight) return "the seals are not gas-tight: room air comes in";
    if (in.flow.lo <= 0) {
        if (rig.exhaust.kind == check::ExhaustKind::shut) return {};
        return vacuum.present()
                   ? "no gas is certain to flow: behind the non-return valve what was there stays, "
                     "and the leak lets air in"
                   : "no gas is certain to flow: room air can come in through the outlet";
    }
    const Floor f = atmosphere.floor(i, in, state.drawn_in.hi);
    if (f.inlet > 0) {
        std::string names;
        for (std::size_t l = 0; l < discrete.open.size(); ++l)
            if (discrete.open[l]) names += (names.empty() ? "" : " and ") + substances.line_gas(l);
        parts.push_back(fmt::format("{} brings {}", names.empty() ? "the gas" : names, share(f.inlet)));
    }
    if (f.leak > 0) parts.push_back(fmt::format("the leak {}", share(f.leak)));
    if (f.drawn > 0) parts.push_back(fmt::format("air drawn in by the cooling gas {}", share(f.drawn)));
    if (f.diffusion > 1e-12)
        parts.push_back(fmt::format("diffusion through the outlet {}", share(f.diffusion)));
    const Interval now = hull(state.fraction[i], state.pore[i]);
    if (now.hi > 1.05 * f.total()) {
        const double rest = now.hi - f.total();
        if (volume.porous() && state.pore[i].hi > state.fraction[i].hi)
            parts.push_back(fmt::format("the gas in the plugs still holds {} more", share(rest)));
        else
            parts.push_back(rest_words(i, rest, state));
    }
    return listed(parts);
}

std::string Plant::Data::flammability_words(const State& state) const {
    std::vector<std::string> parts;
    for (std::size_t i = 0; i < substances.count(); ++i) {
        const double inverse = substances.flammable(i);
        const double most = std::max(state.fraction[i].hi, state.pore[i].hi);
        if (inverse > 0 && most > 0)
            parts.push_back(fmt::format("up to {} {}, lower limit {}", share(std::max(most, least_share)),
                                        substances.names()[i], share(1 / inverse)));
    }
    return listed(parts);
}

std::string Plant::Data::pressure_words(const State& state, const timeline::State& discrete) const {
    if (discrete.pump && vacuum.present())
        return fmt::format("the pump ends at {}, with a leak of up to {} and {} from the walls",
                           to_text(vacuum.lowest().hi, Kind::pressure, 2),
                           to_text(vacuum.leak().hi, Kind::leak_rate, 2),
                           to_text(vacuum.outgassing().hi, Kind::leak_rate, 2));
    if (vacuum.present()) {
        Inlet in;
        inlet(discrete, state.zones, in);
        if (in.any())
            return fmt::format("the exhaust opens at {} above ambient at most",
                               to_text(valve_lift, Kind::pressure, 2));
        if (state.pressure.lo < rig.ambient_pressure.lo() - evacuated_below)
            return fmt::format("the pump is off: a leak of up to {} and {} from the walls let it rise",
                               to_text(vacuum.leak().hi, Kind::leak_rate, 2),
                               to_text(vacuum.outgassing().hi, Kind::leak_rate, 2));
        if (rig.exhaust.kind != check::ExhaustKind::shut)
            return fmt::format("the pump is off, and the exhaust opens at {} above ambient at most",
                               to_text(valve_lift, Kind::pressure, 2));
    }
    if (rig.exhaust.kind == check::ExhaustKind::shut) {
        std::string text = "the exhaust is shut: what is in the tube decides";
        if (vacuum.outgassing().hi > 0)
            text += fmt::format(", with up to {} that comes off the walls",
                                to_text(vacuum.outgassing().hi, Kind::leak_rate, 2));
        return rig.relief.given ? text + ", and the relief caps it" : text;
    }
    return "the exhaust holds the tube at ambient pressure";
}

std::string Plant::Data::flow_words(const timeline::State& discrete) const {
    std::vector<std::string> parts;
    for (std::size_t l = 0; l < discrete.open.size(); ++l) {
        if (!discrete.open[l]) continue;
        const Interval flow = substances.true_flow(static_cast<timeline::Index>(l), discrete.flows[l]);
        parts.push_back(
            fmt::format("{} {} with the meter's error", rig.lines[l].name, to_text(flow, Kind::flow, 3)));
    }
    return listed(parts);
}

std::string Plant::Data::swept_words(const State& state, const timeline::State& discrete) const {
    if (discrete.tube_open) return "the tube is open to the room";
    Inlet in;
    inlet(discrete, state.zones, in);
    if (const Interval share = substances.oxidising(in); share.hi > check::purging_oxygen)
        return fmt::format(
            "what flows in may hold {} of oxygen: it counts as air, and no volume of it is swept",
            to_text(share.hi, Kind::fraction, 3));
    if (in.flow.lo <= 0) return "no gas is certain to flow";
    return fmt::format("volumes of {} at the least flow the meter allows",
                       to_text(volume.total(), Kind::volume, 3));
}

std::string Plant::explain(timeline::Signal signal, const State& state, const timeline::State& discrete) const {
    const Data& d = *data_;
    switch (signal.kind) {
    case SignalKind::fraction:
    case SignalKind::dew_point: {
        const std::size_t i = signal.kind == SignalKind::dew_point ? d.substances.water() : signal.index;
        return i < d.substances.count() ? d.fraction_words(i, state, discrete) : "";
    }
    case SignalKind::flammability: return d.flammability_words(state);
    case SignalKind::temperature:
    case SignalKind::zone_temperature:
    case SignalKind::load_temperature: {
        std::vector<std::string> parts;
        for (std::size_t z = 0; z < d.zones; ++z)
            if (signal.kind != SignalKind::zone_temperature || signal.index == z || signal.index >= d.zones)
                parts.push_back(d.zone_words(signal.kind == SignalKind::temperature &&
                                                     signal.index == timeline::without_sample
                                                 ? without_load(state.zones[z])
                                                 : state.zones[z],
                                             discrete.powered));
        return d.by_zone(parts, signal.kind == SignalKind::zone_temperature);
    }
    case SignalKind::overpressure:
    case SignalKind::pressure: return d.pressure_words(state, discrete);
    case SignalKind::flow: return d.flow_words(discrete);
    case SignalKind::swept: return d.swept_words(state, discrete);
    default: return {};
    }
}

} // namespace athanor::plant
