// Signals and conditions over a state.
#include "compiler/physics/moisture.hpp"
#include "compiler/plant/data.hpp"

#include <algorithm>
#include <array>
#include <vector>

namespace athanor::plant {

using timeline::Comparison;
using timeline::Signal;
using timeline::SignalKind;
using timeline::Term;

namespace {

Interval truth(bool value) {
    return value ? 1.0 : 0.0;
}

Verdict compare(Comparison comparison, Interval left, Interval right) {
    switch (comparison) {
    case Comparison::less:
        return left.hi < right.lo    ? Verdict::proven
               : left.lo >= right.hi ? Verdict::violated
                                     : Verdict::not_provable;
    case Comparison::less_equal:
        return left.hi <= right.lo  ? Verdict::proven
               : left.lo > right.hi ? Verdict::violated
                                    : Verdict::not_provable;
    case Comparison::greater: return compare(Comparison::less, right, left);
    case Comparison::greater_equal: return compare(Comparison::less_equal, right, left);
    }
    return Verdict::not_provable;
}

Verdict both(Verdict a, Verdict b) {
    if (a == Verdict::violated || b == Verdict::violated) return Verdict::violated;
    return a == Verdict::proven && b == Verdict::proven ? Verdict::proven : Verdict::not_provable;
}

Verdict negated(Verdict a) {
    return a == Verdict::proven     ? Verdict::violated
           : a == Verdict::violated ? Verdict::proven
                                    : Verdict::not_provable;
}

} // namespace

double Plant::Data::evolved(const timeline::State& discrete, const State& state, check::Hazard hazard) const {
    double most = 0;
    for (const timeline::Evolved& e : timeline.evolved) {
        if (e.species >= timeline.species.size() || hot(state.zones).hi <= e.above) continue;
        bool open = e.line == timeline::none || !discrete.powered ||
                    (e.line < discrete.open.size() && discrete.open[e.line]) ||
                    (e.line < discrete.between.size() && discrete.between[e.line].hi > 0);
        for (std::size_t k = 0; k < timeline.thresholds.size(); ++k)
            open = open || ((discrete.armed >> k & 1U) != 0 && timeline.thresholds[k].line == e.line);
        if (!open) continue;
        for (const check::Gas& gas : model.gases)
            if (gas.pure && gas.name == timeline.species[e.species] && gas.hazards.of(hazard)) {
                most += e.flow;
                break;
            }
    }
    return most;
}

/// What one line lets in now.
Interval Plant::Data::line_flow(std::size_t line, const State& state, const timeline::State& discrete) const {
    if (line >= discrete.flows.size()) return 0;
    Interval flow = substances.flow(line, discrete, discrete.armed == 0 ? Interval{} : measured(state.zones));
    flow.lo = std::min(flow.lo, state.inflow.lo); // a shut tube may let in less than is set
    return flow;
}

Interval Plant::Data::hazard_flow(check::Hazard hazard, const State& state,
                                  const timeline::State& discrete) const {
    Interval all = 0;
    for (std::size_t l = 0; l < rig.lines.size(); ++l) {
        const check::Index gas = rig.lines[l].gas;
        if (gas == check::none || !model.gases[gas].hazards.of(hazard)) continue;
        const Interval flow = line_flow(l, state, discrete);
        all = {all.lo + flow.lo, all.hi + flow.hi};
    }
    all.hi += evolved(discrete, state, hazard);
    return all;
}

/// The tube may be shut at the room's highest pressure and stand in its lowest. A relief opens against the room
/// as it is, and passes more than its setting.
Interval Plant::Data::overpressure(const State& state) const {
    const Interval room = atmosphere.ambient_pressure();
    double most = std::max(0.0, state.pressure.hi - room.lo);
    if (rig.relief.given) most = std::min(most, check::relief_passes * rig.relief.hi());
    return {std::min(most, std::max(0.0, state.pressure.lo - room.hi)), most};
}

double Plant::Data::rated_overpressure() const {
    if (!rig.seals.gas_tight) return infinity; // holds no pressure
    const double least = rig.seals.rated.given ? rig.seals.rated.lo() : check::usual_pressure;
    return rig.tube.rated.given ? std::min(least, rig.tube.rated.lo()) : least;
}

Interval Plant::Data::dew_point(const State& state) const {
    const std::size_t water = substances.water();
    // Water that no gas of this run declares is taken as absent, but for the room's.
    if (water >= substances.count()) return {0, volume.ambient().hi};
    const Interval share = hull(state.fraction[water], state.pore[water]);
    return {physics::dew_points(share.lo * state.pressure.lo).lo,
            physics::dew_points(share.hi * pressure_anywhere(state).hi).hi};
}

Interval Plant::Data::flammability(const State& state) const {
    Interval free = 0, pore = 0;
    if (substances.any_flammable())
        for (std::size_t i = 0; i < substances.count(); ++i) {
            const double inverse = substances.flammable(i);
            if (inverse <= 0) continue;
            free = free + state.fraction[i] * Interval{inverse};
            pore = pore + state.pore[i] * Interval{inverse};
        }
    return hull(free, pore);
}

/// Whether a line is open, which an armed threshold may decide.
Interval Plant::Data::line_open(std::size_t line, const State& state, const timeline::State& discrete) const {
    for (std::size_t k = 0; k < timeline.thresholds.size() && discrete.armed != 0; ++k) {
        const timeline::Threshold& t = timeline.thresholds[k];
        if ((discrete.armed & (1U << k)) == 0 || t.line != line) continue;
        const Interval all = measured(state.zones);
        const bool beyond = t.above ? all.lo > t.temperature : all.hi < t.temperature;
        const bool within = t.above ? all.hi < t.temperature : all.lo > t.temperature;
        return beyond ? truth(t.opens) : within ? truth(!t.opens) : Interval{0, 1};
    }
    return truth(discrete.open[line]);
}

Interval Plant::signal(Signal signal, const State& state, const timeline::State& discrete) const {
    const Data& d = *data_;
    const std::size_t index = signal.index;
    switch (signal.kind) {
    case SignalKind::temperature:
        return index == timeline::without_sample ? d.without_sample(state.zones, discrete)
                                                 : d.hot(state.zones, discrete);
    case SignalKind::zone_temperature: return state.zones[index < d.zones ? index : 0].control;
    case SignalKind::load_temperature: {
        Interval all = state.zones[0].load;
        for (std::size_t z = 1; z < d.zones; ++z) all = hull(all, state.zones[z].load);
        return all;
    }
    case SignalKind::setpoint: return state.zones[index < d.zones ? index : 0].setpoints;
    case SignalKind::pressure: return d.pressure_anywhere(state);
    case SignalKind::flow:
        return signal.index == timeline::none ? state.inflow : d.line_flow(index, state, discrete);
    case SignalKind::hazard_flow: return d.hazard_flow(static_cast<check::Hazard>(index), state, discrete);
    case SignalKind::outflow_margin:
        return state.taken.hi > 0 ? Interval{state.inflow.lo / state.taken.hi, infinity} : Interval{infinity};
    case SignalKind::overpressure: return d.overpressure(state);
    case SignalKind::rated_overpressure: return d.rated_overpressure();
    case SignalKind::ignitability: return mixture(state, discrete);
    case SignalKind::extraction:
        return truth(d.rig.exhaust.extraction && (discrete.powered || d.rig.exhaust.extraction_backup));
    case SignalKind::fraction:
        if (index >= d.substances.count()) return 0;
        return hull(state.fraction[index], state.pore[index]);
    case SignalKind::dew_point: return d.dew_point(state);
    case SignalKind::flammability: return d.flammability(state);
    case SignalKind::swept: return state.swept;
    case SignalKind::elapsed: return state.elapsed;
    case SignalKind::burning: return discrete.burner ? state.burning : Interval{};
    case SignalKind::burner: return truth(discrete.burner);
    case SignalKind::pump: return truth(discrete.pump);
    case SignalKind::line_open:
        return index < discrete.open.size() ? d.line_open(index, state, discrete) : Interval{};
    case SignalKind::constant: return truth(index == 1);
    }
    return 0;
}

Interval Plant::mixture(const State& state, const timeline::State& discrete) const {
    const Data& d = *data_;
    const double hottest = std::max(d.hot(state.zones).hi, d.volume.ambient().hi);
    const Interval free = d.ignition.mixture(state.fraction, hottest),
                   pore = d.ignition.mixture(state.pore, hottest);
    Interval all{std::max(free.lo, pore.lo), std::max(free.hi, pore.hi)};
    if (discrete.tube_open) all.lo = 0; // how far a person opened it is not known
    return all;
}

Verdict Plant::evaluate(const timeline::Condition& condition, const State& state,
                        const timeline::State& discrete) const {
    std::array<Verdict, 64> stack{};
    std::size_t depth = 0;
    for (const Term& term : condition.terms) {
        switch (term.kind) {
        case Term::Kind::compare:
        case Term::Kind::truth: {
            if (depth == stack.size()) return Verdict::not_provable;
            const Interval left = signal(term.left, state, discrete);
            if (term.kind == Term::Kind::truth) {
                stack[depth++] = left.lo > 0.5   ? Verdict::proven
                                 : left.hi < 0.5 ? Verdict::violated
                                                 : Verdict::not_provable;
                break;
            }
            Interval right = term.value;
            if (term.right_is_signal) right = right + signal(term.right, state, discrete);
            stack[depth++] = compare(term.comparison, left, right);
            break;
        }
        case Term::Kind::and_:
        case Term::Kind::or_: {
            if (depth < 2) return Verdict::not_provable;
            const Verdict b = stack[--depth], a = stack[--depth];
            stack[depth++] = term.kind == Term::Kind::and_ ? both(a, b) : negated(both(negated(a), negated(b)));
            break;
        }
        case Term::Kind::not_:
            if (depth < 1) return Verdict::not_provable;
            stack[depth - 1] = negated(stack[depth - 1]);
            break;
        }
    }
    return depth == 0 ? Verdict::proven : stack[depth - 1];
}

} // namespace athanor::plant
