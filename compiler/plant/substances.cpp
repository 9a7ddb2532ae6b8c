#include "compiler/plant/substances.hpp"

#include "compiler/check/gas_mixture.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/physics/moisture.hpp"
#include "compiler/physics/substance.hpp"
#include "compiler/physics/transport.hpp"
#include "compiler/plant/given.hpp"

#include <algorithm>

namespace athanor::plant {

namespace {

struct Part {
    std::size_t species;
    Interval fraction;
};

/// Pa by which a bubbler's pressure may exceed the room's: its head of water and the exhaust (common practice,
/// no source).
constexpr double head = 10000;
constexpr std::size_t max_sources = max_lines + timeline::most_evolved;

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

/// Hydrogen in air at 25 degC, m2/s (Bird, Stewart and Lightfoot, Transport Phenomena, table 17.1; from
/// memory): for gases of which no diffusion volume is known.
constexpr double fastest_diffusion = 8e-5;

/// mol/(m s) of the air's gases in a gas, greatest, at a room's temperature. The estimate misses by 5 % (see
/// `physics::diffusivity`); a tenth is allowed for.
double diffusion_in(const check::Gas& gas, double room) {
    constexpr double reference = 298.15, pressure = 101325; // the product hardly depends on either
    double most = 0;
    const physics::Substance* medium = physics::substance(gas.formula);
    if (medium != nullptr && gas.molar_mass.given) {
        for (const auto& [formula, mass] : {std::pair{"O2", 31.998e-3}, std::pair{"N2", 28.014e-3}})
            most = std::max(most, physics::diffusivity(reference, pressure, gas.molar_mass.lo(),
                                                       medium->diffusion_volume, mass,
                                                       physics::substance(formula)->diffusion_volume));
        most *= 1.1;
    } else {
        most = fastest_diffusion;
    }
    return most * pressure / (physics::gas_constant * reference) * std::pow(room / reference, 0.75);
}

/// Of the lower limit: from there on an opening is refused.
constexpr double opened_rest = check::cleared_fuel * (1 - 1e-6);

/// A fuel that comes by lines alone whose gas is flammable as a whole, so that every opening is judged.
bool judged_when_opened(const check::Model& model, const check::Rig& rig, std::string_view species) {
    bool carried = false;
    for (const check::Line& line : rig.lines) {
        if (line.gas >= model.gases.size()) continue;
        for (const auto& [part, share] : model.gases[line.gas].parts) {
            const check::Gas& gas = model.gases[part];
            if (gas.name != species || !gas.hazards.flammable || !gas.lower_limit.given) continue;
            const bool lean = !model.gases[line.gas].hazards.flammable;
            if (lean && share.hi >= opened_rest * gas.lower_limit.lo()) return false;
            carried = true;
        }
    }
    return carried;
}

} // namespace

Substances::Substances(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline)
    : count_(std::min(timeline.species.size(), max_species)), names_(timeline.species),
      thresholds_(timeline.thresholds), evolved_(timeline.evolved), bubbler_line_(timeline.bubbler_line) {
    if (rig.bubbler.present) {
        bath_error_ = std::max(0.0, given(rig.bubbler.bath_error).hi);
        saturation_ = given(rig.bubbler.saturation);
    }
    coldest_ = rig.heated_lines.given ? rig.heated_lines.lo() : rig.ambient_temperature.lo();
    mixing_ = std::clamp(given(rig.mixing).lo, 1e-3, 1.0);
    double above = head;
    if (rig.exhaust.kind == check::ExhaustKind::shut)
        for (const check::Line& line : rig.lines)
            above = std::max(above, head + (line.supply.given ? line.supply.hi() : 0.0));
    pressure_ = {rig.ambient_pressure.lo(), rig.ambient_pressure.hi() + above};
    names_.resize(count_);
    for (std::size_t i = 0; i < count_; ++i) {
        bool oxidises = false;
        for (const check::Gas& gas : model.gases)
            if (gas.name == names_[i] && gas.pure) {
                if (gas.molar_mass.given) heaviest_ = std::max(heaviest_, gas.molar_mass.hi());
                diffusion_ = std::max(diffusion_, diffusion_in(gas, rig.ambient_temperature.hi()));
                if (gas.hazards.flammable && gas.lower_limit.given && gas.lower_limit.lo() > 0) {
                    inverse_limit_[i] = 1 / gas.lower_limit.lo();
                    any_flammable_ = true;
                }
                if (gas.formula == "H2O" || gas.name == "water") water_ = i;
                oxidises = gas.oxidises();
            }
        if (oxidises) oxidisers_[oxidisers_.size()] = i;
    }

    for (std::size_t i = 0; i < count_; ++i)
        opened_on_[i] = inverse_limit_[i] > 0 && judged_when_opened(model, rig, names_[i])
                            ? opened_rest / inverse_limit_[i]
                            : 1;

    air_.grow(count_);
    // Room air: the declared gas, or oxygen in nitrogen where no library is read; moisture from none to
    // saturation.
    const check::Gas* declared = nullptr;
    for (const check::Gas& gas : model.gases)
        if (gas.name == "air") declared = &gas;
    if (declared != nullptr && !declared->parts.empty()) {
        for (const Part& part : parts_of(model, *declared, names_)) air_[part.species] = part.fraction;
    } else {
        for (std::size_t i = 0; i < count_; ++i) {
            if (names_[i] == "oxygen") air_[i] = physics::oxygen_in_air;
            if (names_[i] == "nitrogen") air_[i] = 1 - physics::oxygen_in_air;
        }
    }
    const double wet =
        std::min(1.0, physics::saturation_pressure(rig.ambient_temperature.hi()) / rig.ambient_pressure.lo());
    for (std::size_t i = 0; i < count_; ++i)
        air_[i] =
            i == water_ ? Interval{0, std::max(wet, air_[i].hi)} : Interval{air_[i].lo * (1 - wet), air_[i].hi};

    lines_.resize(rig.lines.size());
    for (std::size_t l = 0; l < rig.lines.size(); ++l) {
        const check::Line& line = rig.lines[l];
        lines_[l].parts.grow(count_);
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

Interval Substances::oxidising(const Inlet& inlet) const {
    Interval share;
    if (!inlet.any()) return share;
    for (const std::size_t i : oxidisers_) share = {share.lo + inlet.part(i).lo, share.hi + inlet.part(i).hi};
    return share;
}

double Substances::vapour(double bath) const {
    return saturation_.hi * physics::saturation_pressure(bath + bath_error_);
}

Interval Substances::moisture(double bath) const {
    const double most = std::min(0.99, vapour(bath) / pressure_.lo);
    const double least = saturation_.lo * physics::saturation_pressure(bath - bath_error_) / pressure_.hi;
    // Beyond what the coldest wetted part lets pass it may condense.
    return {std::min({most, least, physics::saturation_pressure(coldest_) / pressure_.hi}), most};
}

/// The thresholds that may act on it.
Interval Substances::switched(Interval flow, std::size_t l, const timeline::State& state,
                              Interval measured) const {
    for (std::size_t k = 0; k < thresholds_.size(); ++k) {
        if ((state.armed & (1U << k)) == 0 || thresholds_[k].line != l) continue;
        const timeline::Threshold& t = thresholds_[k];
        const bool surely_above = measured.lo > t.temperature, surely_below = measured.hi < t.temperature;
        const bool on = t.above ? surely_above : surely_below, off = t.above ? surely_below : surely_above;
        const Interval full = true_flow(t.line, t.flow);
        if (on)
            flow = t.opens ? full : Interval{0};
        else if (off)
            flow = t.opens ? Interval{0} : full;
        else
            flow = {0, full.hi};
    }
    return flow;
}

/// Share of water that the bubbler adds.
Interval Substances::added_water(const timeline::State& state) const {
    Interval x = moisture(state.bath);
    if (!state.powered) x.lo = 0; // the valve may fall either way
    return x;
}

Interval Substances::flow(std::size_t line, const timeline::State& state, Interval measured) const {
    const Interval flow = set_flow(line, state, measured);
    if (!bubbles(line, state, flow)) return flow;
    const Interval x = added_water(state);
    return {flow.lo / (1 - x.lo), flow.hi / (1 - x.hi)};
}

void Substances::inlet(const timeline::State& state, Interval measured, double hottest, Inlet& in) const {
    std::array<Source, max_sources> sources;
    Composition humid;
    std::size_t n = std::min({lines_.size(), state.flows.size(), max_lines});
    std::size_t flowing = 0, last = 0;
    for (std::size_t l = 0; l < n; ++l) {
        Interval flow = set_flow(l, state, measured);
        sources[l].parts = &lines_[l].parts;
        if (bubbles(l, state, flow)) {
            const Interval x = added_water(state);
            humid = lines_[l].parts;
            for (Interval& part : humid) part = {part.lo * (1 - x.hi), part.hi * (1 - x.lo)};
            const Interval before = lines_[l].parts[water_];
            humid[water_] = {x.lo + (1 - x.lo) * before.lo, x.hi + (1 - x.hi) * before.hi};
            flow = {flow.lo / (1 - x.lo), flow.hi / (1 - x.hi)};
            sources[l].parts = &humid;
        }
        sources[l].lo = flow.lo;
        sources[l].hi = flow.hi;
        if (flow.hi > 0) {
            ++flowing;
            last = l;
            in.flow = {in.flow.lo + flow.lo, in.flow.hi + flow.hi};
        }
    }
    for (const timeline::Evolved& e : evolved_) {
        const bool open = e.line == timeline::none || !state.powered ||
                          (e.line < state.open.size() && (state.open[e.line] || sources[e.line].hi > 0));
        if (!open || hottest <= e.above || !(e.flow > 0) || e.species >= count_ || n == max_sources) continue;
        sources[n] = {nullptr, e.species, 0, e.flow / mixing_};
        in.evolved += e.flow;
        in.flow.hi += e.flow;
        last = n++;
        ++flowing;
    }
    if (flowing == 0) return;
    if (flowing == 1 && sources[last].parts != nullptr) {
        in.parts = sources[last].parts;
        if (in.parts == &humid) {
            in.mixed = humid;
            in.parts = &in.mixed;
        }
        return;
    }
    in.parts = &in.mixed;
    if (flowing == 1) {
        in.mixed.grow(count_);
        in.mixed[sources[last].pure] = 1;
        return;
    }
    mix({sources.data(), n}, in.mixed);
}

void Substances::mix(std::span<const Source> sources, Composition& mixed) const {
    mixed.grow(count_);
    // A share of several flows is a quotient of linear forms: its extremes stand at corners, found by improving
    // the share until it no longer changes (Dinkelbach 1967).
    for (std::size_t i = 0; i < count_; ++i) {
        const auto extreme = [&](bool most) {
            double share = most ? 0.0 : 1.0;
            for (std::size_t round = 0; round <= sources.size() + 1; ++round) {
                double amount = 0, total = 0;
                for (const Source& from : sources) {
                    const double part = from.parts == nullptr ? (from.pure == i ? 1.0 : 0.0)
                                        : most                ? (*from.parts)[i].hi
                                                              : (*from.parts)[i].lo;
                    const bool rich = most ? part > share : part < share;
                    const double flow = rich ? from.hi : from.lo;
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
        mixed[i] = {extreme(false) * (1 - 1e-12), std::min(1.0, extreme(true) * (1 + 1e-12))};
    }
}

} // namespace athanor::plant
