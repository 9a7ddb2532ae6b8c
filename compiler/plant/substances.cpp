#include "compiler/plant/substances.hpp"

#include "compiler/plant/humidity.hpp"

#include <algorithm>

namespace athanor::plant {

namespace {

struct Part {
    std::size_t species;
    Interval fraction;
};

std::vector<Part> parts_of(const check::Model& model, const check::Gas& gas,
                           const std::vector<std::string>& species) {
    std::vector<Part> parts;
    const auto add = [&](const std::string& name, Interval fraction) {
        for (std::size_t i = 0; i < species.size(); ++i)
            if (species[i] == name) parts.push_back({i, fraction});
    };
    if (gas.parts.empty()) add(gas.name, 1.0);
    for (const auto& [index, fraction] : gas.parts)
        if (index < model.gases.size()) add(model.gases[index].name, fraction);
    return parts;
}

} // namespace

Substances::Substances(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline)
    : count_(std::min(timeline.species.size(), max_species)), names_(timeline.species),
      thresholds_(timeline.thresholds) {
    names_.resize(count_);
    for (std::size_t i = 0; i < count_; ++i)
        for (const check::Gas& gas : model.gases)
            if (gas.name == names_[i] && gas.pure) {
                if (gas.hazards.flammable && gas.lower_limit.given && gas.lower_limit.lo() > 0) {
                    inverse_limit_[i] = 1 / gas.lower_limit.lo();
                    any_flammable_ = true;
                }
                if (gas.formula == "H2O" || gas.name == "water") water_ = i;
            }

    // Room air: the declared gas, or 20.95 % oxygen in nitrogen; moisture from none to saturation.
    const check::Gas* declared = nullptr;
    for (const check::Gas& gas : model.gases)
        if (gas.name == "air") declared = &gas;
    if (declared != nullptr && !declared->parts.empty()) {
        for (const Part& part : parts_of(model, *declared, names_)) air_[part.species] = part.fraction;
    } else {
        for (std::size_t i = 0; i < count_; ++i) {
            if (names_[i] == "oxygen") air_[i] = 0.2095;
            if (names_[i] == "nitrogen") air_[i] = 0.7905;
        }
    }
    const double wet =
        std::min(1.0, saturation_pressure(rig.ambient_temperature.hi()) / rig.ambient_pressure.lo());
    for (std::size_t i = 0; i < count_; ++i)
        air_[i] =
            i == water_ ? Interval{0, std::max(wet, air_[i].hi)} : Interval{air_[i].lo * (1 - wet), air_[i].hi};

    lines_.resize(rig.lines.size());
    for (std::size_t l = 0; l < rig.lines.size(); ++l) {
        const check::Line& line = rig.lines[l];
        if (line.gas < model.gases.size()) {
            lines_[l].gas = model.gases[line.gas].name;
            for (const Part& part : parts_of(model, model.gases[line.gas], names_)) {
                Interval& to = lines_[l].parts[part.species];
                to = {std::min(1.0, to.lo + part.fraction.lo), std::min(1.0, to.hi + part.fraction.hi)};
            }
        }
        const check::Meter& meter = line.meter;
        lines_[l].of_reading = meter.accuracy.given ? meter.accuracy.hi() : 0.0;
        lines_[l].of_full = meter.accuracy_full.given ? meter.accuracy_full.hi() * meter.range.hi() : 0.0;
    }
}

Interval Substances::true_flow(timeline::Index line, double set) const {
    if (set <= 0 || line >= lines_.size()) return 0;
    const Line& l = lines_[line];
    const double error = set * l.of_reading + l.of_full;
    return {std::max(0.0, set - error), set + error};
}

Inlet Substances::inlet(const timeline::State& state, Interval measured) const {
    Inlet in;
    const std::size_t n = std::min(lines_.size(), state.flows.size());
    std::array<Interval, 32> flows{};
    std::size_t flowing = 0, last = 0;
    for (std::size_t l = 0; l < n && l < flows.size(); ++l) {
        Interval flow =
            state.open[l] ? true_flow(static_cast<timeline::Index>(l), state.flows[l]) : Interval{0};
        if (state.armed != 0)
            for (std::size_t k = 0; k < thresholds_.size() && k < 32; ++k) {
                if ((state.armed & (1U << k)) == 0 || thresholds_[k].line != l) continue;
                const timeline::Threshold& t = thresholds_[k];
                const bool surely_above = measured.lo > t.temperature,
                           surely_below = measured.hi < t.temperature;
                const bool on = t.above ? surely_above : surely_below,
                           off = t.above ? surely_below : surely_above;
                const Interval full = true_flow(t.line, t.flow);
                if (on)
                    flow = t.opens ? full : Interval{0};
                else if (off)
                    flow = t.opens ? Interval{0} : full;
                else
                    flow = {0, full.hi};
            }
        flows[l] = flow;
        if (flow.hi > 0) {
            ++flowing;
            last = l;
            in.flow = {in.flow.lo + flow.lo, in.flow.hi + flow.hi};
        }
    }
    if (flowing == 0) return in;
    if (flowing == 1) {
        in.parts = lines_[last].parts;
        return in;
    }
    // A share of several flows is a quotient of linear forms: its extremes stand at corners, found by improving
    // the share until it no longer changes (Dinkelbach 1967).
    for (std::size_t i = 0; i < count_; ++i) {
        const auto extreme = [&](bool most) {
            double share = most ? 0.0 : 1.0;
            for (std::size_t round = 0; round <= n + 1; ++round) {
                double amount = 0, total = 0;
                for (std::size_t l = 0; l < n && l < flows.size(); ++l) {
                    const double part = most ? lines_[l].parts[i].hi : lines_[l].parts[i].lo;
                    const bool rich = most ? part > share : part < share;
                    const double flow = rich ? flows[l].hi : flows[l].lo;
                    amount += flow * part;
                    total += flow;
                }
                if (total <= 0) break;
                const double next = amount / total;
                if (next == share) break;
                share = next;
            }
            return share;
        };
        in.parts[i] = {extreme(false) * (1 - 1e-12), std::min(1.0, extreme(true) * (1 + 1e-12))};
    }
    return in;
}

} // namespace athanor::plant
