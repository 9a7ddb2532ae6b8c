#include "tests/simulator/draw.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <sstream>

namespace athanor::simulator {

namespace {

constexpr double gas_constant = 8.314462618; // J/(mol K), exact in the SI of 2019
constexpr double leak_reference = 293.15;    // K at which leaks are stated

double fourth(double t) {
    return t * t * t * t;
}

/// Gauss-Legendre of two points on pieces that are short near the lower end, where a loss vanishes.
template<class F>
double integral(double from, double to, F f) {
    constexpr int n = 400;
    const double g = 0.5 / std::sqrt(3.0);
    double sum = 0, before = from;
    for (int i = 1; i <= n; ++i) {
        const double u = static_cast<double>(i) / n, after = from + (to - from) * u * u;
        const double m = 0.5 * (before + after), h = after - before;
        sum += 0.5 * h * (f(m - g * h) + f(m + g * h));
        before = after;
    }
    return sum;
}

class Source {
public:
    Source(unsigned seed, bool corners) : random_(seed), corners_(corners) {}
    double share() {
        const double u = std::uniform_real_distribution<>(0, 1)(random_);
        if (!corners_) return u;
        const double v = std::uniform_real_distribution<>(0, 1)(random_);
        return v < 0.45 ? 0 : v < 0.9 ? 1 : u;
    }
    double operator()(Interval x) { return x.lo + share() * (x.hi - x.lo); }
    double operator()(double lo, double hi) { return lo + share() * (hi - lo); }
    bool coin() { return (random_() & 1U) != 0; }

private:
    std::mt19937 random_;
    bool corners_;
};

bool member(const check::Rig& rig, Source& next, Member& m) {
    const check::Furnace& f = rig.furnace;
    if (f.heat_up.empty() || f.holding_power.empty() || f.cool_down.empty()) return false;
    m.holding = next(f.holding_power[0].power.value);
    m.at = f.holding_power[0].at;
    m.share = next(0, 1);
    m.rated = next(f.power.value);
    const double nominal = m.rated;
    const auto meets = [](Interval wanted, double value) {
        return wanted.lo * (1 - 1e-9) <= value && value <= wanted.hi * (1 + 1e-9);
    };
    for (const check::HoldingPower& row : f.holding_power)
        if (!meets(row.power.value, m.loss(row.at))) return false;
    const auto cooling = [&](const check::CoolDown& row) {
        return integral(row.to, row.from, [&](double t) { return 1 / m.loss(t); });
    };
    const auto heating = [&](const check::HeatUp& row) {
        return integral(m.ambient, row.to, [&](double t) {
            const double left = nominal - m.loss(t);
            return left > 0 ? 1 / left : infinity;
        });
    };
    m.cooling = next(f.cool_down[0].duration.value) / cooling(f.cool_down[0]);
    m.heating = next(f.heat_up[0].duration.value) / heating(f.heat_up[0]);
    for (const check::CoolDown& row : f.cool_down)
        if (!meets(row.duration.value, m.cooling * cooling(row))) return false;
    for (const check::HeatUp& row : f.heat_up)
        if (!meets(row.duration.value, m.heating * heating(row))) return false;
    // Insulation gives heat back: a furnace cools as if it were heavier, never lighter.
    return m.heating > 0 && m.cooling >= m.heating;
}

std::vector<double> composition(const check::Model& model, check::Index gas,
                                const std::vector<std::string>& species, Source& next) {
    std::vector<double> x(species.size(), 0.0);
    if (gas >= model.gases.size()) return x;
    std::vector<std::pair<check::Index, double>> parts;
    double sum = 0, greatest = -1;
    std::size_t main = 0;
    for (const auto& [part, share] : model.gases[gas].parts) {
        parts.emplace_back(part, next(share));
        sum += parts.back().second;
        if (share.middle() > greatest) {
            greatest = share.middle();
            main = parts.size() - 1;
        }
    }
    if (parts.empty()) return x;
    // The main part is what the others leave.
    const Interval rest = model.gases[gas].parts[main].second;
    parts[main].second = std::clamp(1 - (sum - parts[main].second), rest.lo, rest.hi);
    for (const auto& [part, share] : parts)
        for (std::size_t i = 0; i < species.size(); ++i)
            if (part < model.gases.size() && model.gases[part].name == species[i]) x[i] += share;
    return x;
}

/// mol/s of room air that diffusion alone trades through ends that nothing closes, from the tube's middle:
/// water vapour in air, 0.24 cm2/s at 20 degC; straight pores (handbooks; from memory).
double spreading(const check::Rig& rig, const Draw& d) {
    if (rig.seals.gas_tight || rig.ends.kind == check::EndsKind::radiation_shields) return 0;
    const double bore = rig.tube.inner_diameter.hi(), half = 0.5 * rig.tube.length.lo();
    double way = half;
    if (rig.ends.kind == check::EndsKind::insulation_plugs) {
        const double plug = std::min(rig.ends.length.lo(), half);
        way += plug * (1 / d.porosity - 1);
    }
    const double warm = d.ambient_temperature / 293.15;
    const double density_times_diffusivity = 41.57 * 2.4e-5 * std::pow(warm, 0.8); // mol/(m s)
    return 2 * density_times_diffusivity * 0.25 * std::numbers::pi * bore * bore / way;
}

} // namespace

double Member::loss(double t) const {
    return holding * ((1 - share) * (t - ambient) / (at - ambient) +
                      share * (fourth(t) - fourth(ambient)) / (fourth(at) - fourth(ambient)));
}

double saturation(double t) {
    if (t >= 273.15)
        return 100 * std::exp(-6096.9385 / t + 16.635794 - 2.711193e-2 * t + 1.673952e-5 * t * t +
                              2.433502 * std::log(t));
    return 100 * std::exp(-6024.5282 / t + 24.7219 + 1.0613868e-2 * t - 1.3198825e-5 * t * t -
                          0.49382577 * std::log(t));
}

double tolerance(const check::Model& model, const check::Sensor& sensor, double kelvin) {
    const double t = kelvin - 273.15;
    if (sensor.type < model.thermocouples.size())
        for (const check::Tolerance& c : model.thermocouples[sensor.type].classes)
            if (c.number == sensor.tolerance_class)
                return c.added ? c.absolute + c.relative * std::max(0.0, t - c.from)
                               : std::max(c.absolute, c.relative * std::abs(t));
    return std::max(2.5, 0.0075 * std::abs(t)); // class 2 of base metal
}

bool draw(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline, unsigned seed,
          bool corners, Draw& d) {
    Source next(seed, corners);
    const std::size_t species = timeline.species.size();
    d = {};
    d.seed = seed;
    d.ambient_temperature = next(rig.ambient_temperature.value);
    d.ambient_pressure = next(rig.ambient_pressure.value);
    bool found = false;
    for (int i = 0; i < 400 && !found; ++i) {
        // Where the corners meet no row, the inside may.
        Source inside(seed * 7919U + static_cast<unsigned>(i), corners && i < 40);
        d.furnace.ambient = d.ambient_temperature;
        found = member(rig, inside, d.furnace);
    }
    if (!found) return false;
    const double voltage = next(rig.furnace.mains.value);
    d.furnace.rated *= voltage * voltage;

    const double tracking = rig.furnace.tracking.given ? rig.furnace.tracking.hi() : 60;
    // A controller that answers in no time has no meaning, and one shorter than this makes the equations stiff.
    d.tracking = std::max(std::min(10.0, tracking), next(rig.furnace.tracking.value));
    d.overshoot = next(rig.furnace.overshoot.value);
    d.settling = next(0, 5 * tracking);
    // What a first-order controller still lacks after five time constants is part of its error.
    const double error = std::max(0.0, rig.furnace.control_error.hi() - 0.1);
    d.control_error = next(-error, error);
    d.sensor = next(-1, 1);
    d.load_lag = next(rig.load_lag.value);
    if (d.load_lag < 5) d.load_lag = std::max(0.0, rig.load_lag.lo());
    d.load_offset = next(rig.load_offset.value);
    d.gas_of_load = next(0, 1);
    d.mixing = next(rig.mixing.value);
    d.leak = next(0, rig.leak_rate.given ? std::max(0.0, rig.leak_rate.hi()) : 0.0) /
             (gas_constant * leak_reference);
    d.leaks_always = next.coin();
    if (rig.outgassing.given)
        d.outgassing = next(max(rig.outgassing.value, Interval{0})) / (gas_constant * leak_reference);
    d.seal_rise = next(0, rig.seals.rise.given ? rig.seals.rise.hi() : 80);
    d.plug_place = next(0, 1);
    d.porosity = rig.ends.porosity.given ? next(rig.ends.porosity.value) : 0.9;
    d.air_release = rig.ends.air_release.given ? next(rig.ends.air_release.value) : next(60, 600);
    // Nitrogen in air 0.2, hydrogen in air 0.8 cm2/s (Bird, Stewart and Lightfoot, table 17.1; from memory).
    d.diffusivity = next(0.2e-4, 0.799e-4);
    // Hydrogen 9, argon 22.4 uPa s (Perry, tables 2-312 and 2-314).
    d.viscosity = next(9e-6, 2.24e-5);
    if (rig.pump.present) {
        d.pump_speed = next(rig.pump.speed.value);
        d.pump_ultimate = next(rig.pump.ultimate.value);
    }
    // From argon (viscous 18.2/22.3 in air's place, molecular sqrt(29/40)) to hydrogen in viscous flow.
    d.conductance_gas = next(0.81, 2.0);
    d.pipe_pressure = next(0.5, 1);
    d.lift = 5000;
    if (rig.relief.given) d.relief = next(rig.relief.hi(), 1.1 * rig.relief.hi());
    d.ingress = next(spreading(rig, d), 1e-3);

    // Room air, dry to nearly saturated; saturation itself is left to the tests of the formula.
    for (check::Index g = 0; g < model.gases.size(); ++g)
        if (model.gases[g].name == "air") d.air = composition(model, g, timeline.species, next);
    d.air.resize(species, 0.0);
    const double wet = next(0, 0.999) * std::min(1.0, saturation(d.ambient_temperature) / d.ambient_pressure);
    for (std::size_t i = 0; i < species; ++i)
        d.air[i] = d.air[i] * (1 - wet) + (timeline.species[i] == "water" ? wet : 0);

    for (const check::Line& line : rig.lines) {
        LineDraw l;
        if (line.meter.accuracy.given) l.of_reading = next(-line.meter.accuracy.hi(), line.meter.accuracy.hi());
        if (line.meter.accuracy_full.given)
            l.of_full =
                next(-line.meter.accuracy_full.hi(), line.meter.accuracy_full.hi()) * line.meter.range.hi();
        l.parts = composition(model, line.gas, timeline.species, next);
        // A hand meter keeps its flow (counted where it is used); a controlled one passes what its bypass lets
        // through, or anything.
        l.without_power =
            line.flow_without_power.hi > 0 ? next(line.flow_without_power) : next(0, line.meter.range.hi());
        d.lines.push_back(std::move(l));
    }
    for (int i = 0; i < 8; ++i) d.waits.push_back(next.coin() ? next(0, 600) : next(0, 4 * 3600));
    if (rig.ends.open_area.given) d.open_area = next(rig.ends.open_area.value);
    d.seal_reach = next.coin() ? next(std::max(d.seal_rise, 1.0), 900) : 0;
    return true;
}

std::string describe(const Draw& d) {
    std::ostringstream s;
    s.precision(7);
    s << "seed " << d.seed << ": ambient " << d.ambient_temperature << " K " << d.ambient_pressure
      << " Pa; furnace share " << d.furnace.share << " holding " << d.furnace.holding << " W rated "
      << d.furnace.rated << " W capacity " << d.furnace.heating << "/" << d.furnace.cooling
      << " J/K; control tracking " << d.tracking << " s overshoot " << d.overshoot << " K for " << d.settling
      << " s error " << d.control_error << " K sensor " << d.sensor << "; load lag " << d.load_lag
      << " s offset " << d.load_offset << " K gas " << d.gas_of_load << "; mixing " << d.mixing << " leak "
      << d.leak << " walls " << d.outgassing << " mol/s; seals +" << d.seal_rise << " K over " << d.seal_reach
      << " K plugs at " << d.plug_place << " porosity " << d.porosity << " release " << d.air_release
      << " s; D " << d.diffusivity << "; pump " << d.pump_speed << " m3/s to " << d.pump_ultimate << " Pa gas "
      << d.conductance_gas << " pipe " << d.pipe_pressure << " shields open " << d.open_area << "; relief "
      << d.relief << " Pa; ingress " << d.ingress;
    for (const LineDraw& l : d.lines) s << "; line " << l.of_reading << " " << l.of_full;
    return s.str();
}

} // namespace athanor::simulator
