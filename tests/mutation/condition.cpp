#include "tests/mutation/condition.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

namespace athanor::mutation {

using timeline::SignalKind;

namespace {

struct Place {
    std::size_t zone = 0;
    bool load = false, pores = false;
};

/// K at which a vapour pressure saturates, by bisection.
double dew_point(double pressure) {
    double lo = 123.15, hi = 700;
    for (int i = 0; i < 60; ++i) {
        const double middle = 0.5 * (lo + hi);
        (simulator::saturation(middle) < pressure ? lo : hi) = middle;
    }
    return 0.5 * (lo + hi);
}

std::optional<double> value(timeline::Signal signal, const Instant& now, Place at) {
    const simulator::Sample& s = now.sample;
    const auto temperature = [&](std::size_t zone) {
        return at.load ? s.zones[zone].load : s.zones[zone].control;
    };
    const std::size_t index = signal.index == timeline::none ? 0 : signal.index;
    switch (signal.kind) {
    case SignalKind::temperature: return temperature(at.zone);
    case SignalKind::zone_temperature: return s.zones[index].control;
    case SignalKind::load_temperature: return s.zones[at.zone].load;
    case SignalKind::setpoint: return s.zones[index].setpoint;
    case SignalKind::pressure: return s.pressure;
    case SignalKind::overpressure: return s.pressure - now.draw.ambient_pressure;
    case SignalKind::flow: return signal.index == timeline::none ? s.flow : s.lines[index];
    case SignalKind::fraction: return at.pores ? s.pore[index] : s.free[index];
    case SignalKind::dew_point: return dew_point(fraction(now, "water", at.pores) * s.pressure);
    case SignalKind::flammability: return fuel(now, at.pores);
    case SignalKind::outflow_margin: return s.taken > 0 ? s.flow / s.taken : infinity;
    case SignalKind::hazard_flow: {
        double sum = 0;
        for (std::size_t l = 0; l < now.rig.lines.size(); ++l) {
            const check::Index gas = now.rig.lines[l].gas;
            if (gas < now.model.gases.size() &&
                now.model.gases[gas].hazards.of(static_cast<check::Hazard>(signal.index)))
                sum += s.lines[l];
        }
        return sum;
    }
    case SignalKind::extraction:
        return now.rig.exhaust.extraction && (now.state.powered || now.rig.exhaust.extraction_backup) ? 1 : 0;
    case SignalKind::swept: return s.swept;
    case SignalKind::elapsed: return s.elapsed;
    case SignalKind::burning: return s.burning;
    case SignalKind::burner: return now.state.burner ? 1 : 0;
    case SignalKind::pump: return now.state.pump ? 1 : 0;
    case SignalKind::line_open: return now.state.open[index] ? 1 : 0;
    case SignalKind::constant: return static_cast<double>(index);
    default: return std::nullopt;
    }
}

/// What the simulator's own numbers are good for: its controllers move a load by half a kelvin and a pressure
/// by 5e-4 more than is bounded (`tests/simulator/compare.cpp`).
double slack(SignalKind kind, double value) {
    switch (kind) {
    case SignalKind::temperature:
    case SignalKind::zone_temperature:
    case SignalKind::load_temperature: return 0.6;
    case SignalKind::pressure:
    case SignalKind::overpressure: return 100;
    case SignalKind::dew_point: return 0.05;
    case SignalKind::swept: return 2e-3 * value + 1e-6;
    case SignalKind::outflow_margin: return 5e-3 * value;
    default: return 1e-6 * std::abs(value) + 1e-9;
    }
}

std::optional<bool> holds(const timeline::Condition& condition, const Instant& now, Place at, bool generous) {
    std::vector<bool> stack;
    for (const timeline::Term& term : condition.terms) {
        using Kind = timeline::Term::Kind;
        if (term.kind == Kind::and_ || term.kind == Kind::or_) {
            const bool b = stack.back();
            stack.pop_back();
            stack.back() = term.kind == Kind::and_ ? stack.back() && b : stack.back() || b;
            continue;
        }
        if (term.kind == Kind::not_) {
            stack.back() = !stack.back();
            continue;
        }
        const std::optional<double> left = value(term.left, now, at);
        if (!left) return std::nullopt;
        if (term.kind == Kind::truth) {
            stack.push_back(*left != 0);
            continue;
        }
        const bool less = term.comparison == timeline::Comparison::less ||
                          term.comparison == timeline::Comparison::less_equal;
        // An uncertain figure: the recipe's own side of it is the one that is easier to meet.
        double right = less ? term.value.hi : term.value.lo;
        if (term.right_is_signal) {
            const std::optional<double> other = value(term.right, now, at);
            if (!other) return std::nullopt;
            right += *other;
        }
        const double allowed = (generous ? 1 : -1) * slack(term.left.kind, *left);
        stack.push_back(less ? *left < right + allowed : *left > right - allowed);
    }
    return stack.empty() || stack.back();
}

} // namespace

double fraction(const Instant& now, std::string_view gas, bool pores) {
    for (std::size_t i = 0; i < now.timeline.species.size(); ++i)
        if (now.timeline.species[i] == gas) return pores ? now.sample.pore[i] : now.sample.free[i];
    return 0;
}

double fuel(const Instant& now, bool pores) {
    double sum = 0;
    for (const check::Gas& gas : now.model.gases)
        if (gas.pure && gas.hazards.flammable && gas.lower_limit.given)
            sum += fraction(now, gas.name, pores) / gas.lower_limit.lo();
    return sum;
}

Truth truth(const timeline::Condition& condition, const Instant& now, bool generous) {
    bool met = false, missed = false;
    for (std::size_t zone = 0; zone < now.sample.zones.size(); ++zone)
        for (int k = 0; k < 4; ++k) {
            const std::optional<bool> here =
                holds(condition, now, {zone, (k & 1) != 0, (k & 2) != 0}, generous);
            if (!here) return Truth::unknown;
            (*here ? met : missed) = true;
        }
    return met && missed ? Truth::somewhere : met ? Truth::everywhere : Truth::nowhere;
}

} // namespace athanor::mutation
