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
        if (signal.index == timeline::none) return state.inflow;
        if (index < discrete.flows.size()) {
            Interval flow = d.substances.flow(index, discrete, d.measured(state.zones));
            flow.lo = std::min(flow.lo, state.inflow.lo); // a shut tube may let in less than is set
            return flow;
        }
        return 0;
    case SignalKind::hazard_flow: {
        Interval all = 0;
        for (std::size_t l = 0; l < d.rig.lines.size(); ++l) {
            const check::Index gas = d.rig.lines[l].gas;
            if (gas == check::none || !d.model.gases[gas].hazards.of(static_cast<check::Hazard>(index)))
                continue;
            const Interval flow =
                this->signal({SignalKind::flow, static_cast<timeline::Index>(l)}, state, discrete);
            all = {all.lo + flow.lo, all.hi + flow.hi};
        }
        all.hi += d.evolved(discrete, state, static_cast<check::Hazard>(index));
        return all;
    }
    case SignalKind::outflow_margin:
        return state.taken.hi > 0 ? Interval{state.inflow.lo / state.taken.hi, infinity} : Interval{infinity};
    case SignalKind::overpressure: {
        // The tube may be shut at the room's highest pressure and stand in its lowest. A relief opens against
        // the room as it is, and passes more than its setting.
        const Interval room = d.atmosphere.ambient_pressure();
        double most = std::max(0.0, state.pressure.hi - room.lo);
        if (d.rig.relief.given) most = std::min(most, check::relief_passes * d.rig.relief.hi());
        return {std::min(most, std::max(0.0, state.pressure.lo - room.hi)), most};
    }
    case SignalKind::rated_overpressure: {
        // A tube that is not tight holds no pressure.
        if (!d.rig.seals.gas_tight) return infinity;
        double least = d.rig.seals.rated.given ? d.rig.seals.rated.lo() : check::usual_pressure;
        if (d.rig.tube.rated.given) least = std::min(least, d.rig.tube.rated.lo());
        return least;
    }
    case SignalKind::ignitability: return mixture(state, discrete);
    case SignalKind::extraction:
        return truth(d.rig.exhaust.extraction && (discrete.powered || d.rig.exhaust.extraction_backup));
    case SignalKind::fraction:
        if (index >= d.substances.count()) return 0;
        return hull(state.fraction[index], state.pore[index]);
    case SignalKind::dew_point: {
        const std::size_t water = d.substances.water();
        // Water that no gas of this run declares is taken as absent, but for the room's.
        if (water >= d.substances.count()) return {0, d.volume.ambient().hi};
        const Interval share = hull(state.fraction[water], state.pore[water]);
        return {physics::dew_points(share.lo * state.pressure.lo).lo,
                physics::dew_points(share.hi * d.pressure_anywhere(state).hi).hi};
    }
    case SignalKind::flammability: {
        Interval free = 0, pore = 0;
        if (d.substances.any_flammable())
            for (std::size_t i = 0; i < d.substances.count(); ++i) {
                const double inverse = d.substances.flammable(i);
                if (inverse <= 0) continue;
                free = free + state.fraction[i] * Interval{inverse};
                pore = pore + state.pore[i] * Interval{inverse};
            }
        return hull(free, pore);
    }
    case SignalKind::swept: return state.swept;
    case SignalKind::elapsed: return state.elapsed;
    case SignalKind::burning: return discrete.burner ? state.burning : Interval{};
    case SignalKind::burner: return truth(discrete.burner);
    case SignalKind::pump: return truth(discrete.pump);
    case SignalKind::line_open: {
        if (index >= discrete.open.size()) return 0;
        if (discrete.armed != 0)
            for (std::size_t k = 0; k < d.timeline.thresholds.size(); ++k) {
                const timeline::Threshold& t = d.timeline.thresholds[k];
                if ((discrete.armed & (1U << k)) == 0 || t.line != index) continue;
                const Interval measured = d.measured(state.zones);
                const bool beyond = t.above ? measured.lo > t.temperature : measured.hi < t.temperature;
                const bool within = t.above ? measured.hi < t.temperature : measured.lo > t.temperature;
                return beyond ? truth(t.opens) : within ? truth(!t.opens) : Interval{0, 1};
            }
        return truth(discrete.open[index]);
    }
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
