#include "tests/simulator/balance.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace athanor::simulator {

using timeline::LawKind;

namespace {
constexpr double gas_constant = 8.314462618; // J/(mol K)
constexpr double offset_builds_up = 100;     // K above the room
constexpr double past_target = 0.3;          // K
constexpr double drawn = 1e-11;              // mol/s that count as air drawn in: a tube at rest has none
constexpr double leak_ends = 20;             // Pa under the room's over which a steady leak comes to an end
constexpr double edge = 0.05;                // K over which a clock comes to a stop
constexpr double fast = 2;                   // s: a controller that gives all or nothing
} // namespace

Balance::Balance(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
                 const Draw& draw)
    : model_(model), rig_(rig), timeline_(timeline), draw_(draw),
      tube_(rig, draw, std::max<std::size_t>(1, timeline.zones.size())) {
    layout.zones = std::max<std::size_t>(1, timeline.zones.size());
    layout.species = timeline.species.size();
    scene.control.resize(layout.zones);
    for (std::size_t i = 0; i < layout.species; ++i)
        if (timeline.species[i] == "water") water_ = i;
    if (rig.outlet_diameter.given) outlet_diameter_ = rig.outlet_diameter.value.middle();
    if (rig.outlet_length.given) outlet_length_ = rig.outlet_length.value.middle();
    outlet_area_ = std::numbers::pi * outlet_diameter_ * outlet_diameter_ / 4;
    gas_.resize(layout.zones);
    warms_ = gas_;
    line_.resize(rig.lines.size());
}

// --- heat --------------------------------------------------------------------------------------------

double Balance::setpoint(std::size_t z, double clock) const {
    const timeline::Law& law = scene.laws[z];
    if (law.kind != LawKind::line) return law.to;
    const double s = law.from + law.rate * clock;
    return law.rate >= 0 ? std::min(s, law.to) : std::max(s, law.to);
}

double Balance::measured(double kelvin) const {
    return kelvin + draw_.sensor * tolerance(model_, rig_.sensor, kelvin);
}

double Balance::load(const Vector& y, std::size_t z) const {
    if (draw_.load_lag > 0) return y[layout.load(z)];
    return at_rest(y[layout.control(z)]);
}

/// The load's temperature beside a control sensor that stays as it is. Where nothing is heated nothing differs.
double Balance::at_rest(double control) const {
    const double warm = std::clamp((control - draw_.ambient_temperature) / offset_builds_up, 0.0, 1.0);
    return std::max(control + warm * draw_.load_offset, draw_.ambient_temperature);
}

void Balance::heat(const Vector& y, Vector& d, double t) const {
    const Member& m = draw_.furnace;
    double counts = 1, power = 0;
    for (std::size_t z = 0; z < layout.zones; ++z) {
        const double temperature = y[layout.control(z)], shown = measured(temperature);
        const double s = setpoint(z, y[layout.clock()]);
        // The clock stops outside the band, here over the first hundredths of a kelvin: a controller that lags
        // by more would else switch it on and off without end.
        if (scene.band > 0)
            counts = std::min(counts, std::clamp((scene.band + edge - std::abs(shown - s)) / edge, 0.0, 1.0));
        const double loss = m.loss(temperature);
        const double cooling = -loss / m.cooling, left = m.rated - loss;
        const double heating = left > 0 ? left / m.heating : left / m.cooling;
        const ZoneControl& c = scene.control[z];
        double error = draw_.control_error;
        // A controller that is asked for a band holds it.
        if (scene.band > 0) error = std::clamp(error, -0.5 * scene.band + 0.1, 0.5 * scene.band - 0.1);
        // In natural cooling the heater stays off until the target has been passed.
        if (scene.laws[z].kind == LawKind::off && c.phase == Phase::approaching) error = -past_target;
        double above = c.above;
        // What stands over a moving set-point does not stop its clock.
        if (scene.band > 0 && scene.laws[z].kind == LawKind::line)
            above = std::clamp(above, -scene.band + 0.1 - error, scene.band - 0.1 - error);
        double constant = draw_.tracking;
        if (c.phase == Phase::approaching || c.phase == Phase::returning) constant = fast;
        if (c.phase == Phase::returning || (c.phase == Phase::standing && t >= c.stands_until)) above = 0;
        const double wanted = (s + error + above - shown) / constant;
        const double slowest = std::min(cooling, heating), fastest = std::max(cooling, heating);
        d[layout.control(z)] =
            c.phase == Phase::idle ? std::min(0.0, cooling) : std::clamp(wanted, slowest, fastest);
        const double rate = d[layout.control(z)];
        power += std::clamp(loss + rate * (rate > 0 ? m.heating : m.cooling), 0.0, m.rated);
        const double rest = at_rest(temperature);
        d[layout.load(z)] = draw_.load_lag > 0 ? (rest - y[layout.load(z)]) / draw_.load_lag : 0;
    }
    d[layout.clock()] = counts;
    d[layout.energy()] = power / static_cast<double>(layout.zones);
}

// --- gas ---------------------------------------------------------------------------------------------

double Balance::line_flow(std::size_t l, double shown) const {
    double set = scene.state.open[l] ? scene.state.flows[l] : 0;
    for (std::size_t k = 0; k < timeline_.thresholds.size() && k < 32; ++k) {
        const timeline::Threshold& h = timeline_.thresholds[k];
        if ((scene.state.armed >> k & 1U) == 0 || h.line != l) continue;
        const bool beyond = h.above ? shown > h.temperature : shown < h.temperature;
        set = beyond == h.opens ? h.flow : 0;
    }
    if (set <= 0) return 0;
    return std::max(0.0, set * (1 + draw_.lines[l].of_reading) + draw_.lines[l].of_full);
}

bool Balance::lets_air_in(double shown) const {
    double oxygen = 0, all = 0;
    for (std::size_t l = 0; l < rig_.lines.size(); ++l) {
        const double flow = line_flow(l, shown);
        all += flow;
        for (std::size_t i = 0; i < layout.species; ++i)
            if (timeline_.species[i] == "oxygen") oxygen += flow * draw_.lines[l].parts[i];
    }
    return oxygen > 0.01 * all;
}

bool Balance::vented() const {
    if (scene.state.tube_open) return true;
    if (rig_.pump.present) return false; // the non-return valve stands in the outlet
    return rig_.exhaust.kind != check::ExhaustKind::shut;
}

/// Contents change by `change` mol/s through temperature alone, at constant pressure.
void Balance::open_flow(Flows& f, double change) const {
    const double ambient = draw_.ambient_pressure;
    f.leak = draw_.leaks_always ? draw_.leak : 0;
    if (!rig_.seals.gas_tight || scene.state.tube_open) f.ingress = draw_.ingress;
    f.out = f.in + f.leak + f.walls - change; // what wanders in through gaps pushes as much out there
    const double volume = f.out * gas_constant * draw_.ambient_temperature / ambient;
    f.pressure = ambient;
    if (!scene.state.tube_open)
        f.pressure += std::max(0.0, 128 * draw_.viscosity * outlet_length_ * volume /
                                        (std::numbers::pi * std::pow(outlet_diameter_, 4)));
    // Advection and diffusion along the outlet: air comes in by G B(Pe), B(x) = x / (e^x - 1), the tube's gas
    // goes out by the net flow more; with the flow turned round it is what is drawn in.
    // Diffusivity grows as T^1.75 / p (Fuller, Schettler & Giddings 1966), so with density as T^0.75.
    constexpr double reference = 298.15, atmosphere = 101325;
    const double g = draw_.diffusivity * atmosphere / (gas_constant * reference) *
                     std::pow(draw_.ambient_temperature / reference, 0.75) * outlet_area_ / outlet_length_;
    const double pe = f.out / g;
    f.back = g * (std::abs(pe) < 1e-6 ? 1 - pe / 2 : pe > 700 ? 0 : pe / std::expm1(pe));
    // What bypasses the tube leaves through the outlet.
    f.mixed = f.in - std::min((1 - draw_.mixing) * f.in, std::max(0.0, f.out));
}

void Balance::pumped(Flows& f, double change, double whole) const {
    const double p = f.pressure;
    f.leak = draw_.leaks_always ? draw_.leak
                                : draw_.leak * std::max(0.0, 1 - std::pow(p / draw_.ambient_pressure, 2));
    double speed = draw_.pump_speed;
    const double mean = draw_.pipe_pressure * p;
    if (rig_.pump.pipe_diameter.given && rig_.pump.pipe_length.given && rig_.pump.pipe_length.hi() > 0) {
        const double c = draw_.conductance_gas * pipe_conductance(rig_.pump.pipe_diameter.value.middle(),
                                                                  rig_.pump.pipe_length.value.middle(), mean);
        speed = speed * c / (speed + c);
    }
    const double tube = tube_.conductance(gas_, mean, draw_.conductance_gas);
    speed = speed * tube / (speed + tube);
    const double into = f.in + f.leak + f.walls;
    // At the ultimate pressure as much comes back as the pump takes; below it, more.
    f.out = speed * (p - draw_.pump_ultimate) / (gas_constant * draw_.ambient_temperature);
    // A throttle holds its pressure by letting less pass.
    if (scene.state.regulated > 0 && p <= scene.state.regulated)
        f.out = std::clamp(into - change, std::min(0.0, f.out), std::max(0.0, f.out));
    f.rise = (into - f.out - change) / whole;
    f.mixed = f.in - std::min((1 - draw_.mixing) * f.in, std::max(0.0, f.out));
}

/// Nothing leaves but through the relief, or through the non-return valve of a rig with a pump.
void Balance::closed(Flows& f, double change, double whole, double p) {
    const double ambient = draw_.ambient_pressure;
    const double difference = 1 - std::pow(p / ambient, 2);
    // A leak that ended at once would hold the pressure there by ever smaller steps.
    f.leak = draw_.leaks_always ? draw_.leak * std::clamp((ambient - p) / leak_ends, 0.0, 1.0)
                                : draw_.leak * std::max(0.0, difference);
    const double leaks_out = draw_.leaks_always ? 0 : draw_.leak * std::max(0.0, -difference);
    const bool returns = rig_.pump.present && rig_.exhaust.kind != check::ExhaustKind::shut;
    double opens = infinity; // Pa
    if (returns) opens = rig_.ambient_pressure.hi() + draw_.lift;
    if (draw_.relief > 0) opens = std::min(opens, ambient + draw_.relief);
    // A line gives its set flow up to the pressure of its supply, and from there on what holds that pressure.
    double capped = 0;
    for (std::size_t l = 0; l < line_.size(); ++l)
        if (rig_.lines[l].supply.given && p >= ambient + rig_.lines[l].supply.hi()) capped += line_[l];
    if (capped > 0) {
        const double others = f.in - capped + f.leak + f.walls - leaks_out - change;
        const double share = std::clamp(-others / capped, 0.0, 1.0);
        f.in -= (1 - share) * capped;
        for (std::size_t l = 0; l < line_.size(); ++l)
            if (rig_.lines[l].supply.given && p >= ambient + rig_.lines[l].supply.hi()) line_[l] *= share;
    }
    const double net = f.in + f.leak + f.walls - leaks_out - change;
    f.lifted = p >= opens;
    f.out = leaks_out + (f.lifted ? std::max(0.0, net) : 0);
    f.rise = (net - (f.out - leaks_out)) / whole;
    f.mixed = f.in - std::min((1 - draw_.mixing) * f.in, f.out);
}

/// Needs the rates of temperature in `d`.
void Balance::gas(const Vector& y, const Vector& d, Flows& f) {
    for (std::size_t z = 0; z < layout.zones; ++z) {
        const double w = draw_.gas_of_load, control = d[layout.control(z)];
        const double at = y[layout.control(z)], h = 1e-3;
        const double loads =
            draw_.load_lag > 0 ? d[layout.load(z)] : control * (at_rest(at + h) - at_rest(at - h)) / (2 * h);
        gas_[z] = (1 - w) * y[layout.control(z)] + w * load(y, z);
        warms_[z] = (1 - w) * control + w * loads;
    }
    content_ = tube_.content(gas_);
    change_ = tube_.change(gas_, warms_);
    const double shown = measured(y[layout.control(0)]);
    f.in = 0;
    for (std::size_t l = 0; l < line_.size(); ++l) {
        line_[l] = line_flow(l, shown);
        f.in += line_[l];
    }
    f.walls = scene.state.tube_open ? 0 : draw_.outgassing; // the room's moisture is in its air
    const double p = y[layout.pressure()], whole = content_.free + content_.pore;
    f.pressure = p;
    const double change = p * (change_.free + change_.pore);
    if (vented()) {
        f.pressure = draw_.ambient_pressure;
        open_flow(f, draw_.ambient_pressure * (change_.free + change_.pore));
    } else if (scene.state.pump && rig_.pump.present) {
        pumped(f, change, whole);
    } else {
        closed(f, change, whole, p);
    }
    f.taken = f.leak + std::max(0.0, f.pressure * (change_.free + change_.pore));
    f.pore_out = -(f.rise * content_.pore + f.pressure * change_.pore);
}

void Balance::operator()(const Vector& y, Vector& d, double t) {
    d.resize(layout.size());
    heat(y, d, t);
    Flows f;
    gas(y, d, f);
    d[layout.pressure()] = f.rise;
    const double n = f.pressure * content_.free, m = f.pressure * content_.pore;
    const double mixes = f.in > 0 ? f.mixed / f.in : 0, air = f.leak + f.ingress + f.back;
    const bool porous = tube_.porous() && m > 0;
    const double exchange = porous ? m / draw_.air_release : 0;
    for (std::size_t i = 0; i < layout.species; ++i) {
        const double x = y[layout.free(i)], held = y[layout.pore(i)];
        double gained = air * (draw_.air[i] - x) + f.walls * ((i == water_ ? 1 : 0) - x);
        for (std::size_t l = 0; l < line_.size(); ++l)
            if (line_[l] > 0) gained += mixes * line_[l] * (draw_.lines[l].parts[i] - x);
        if (porous) gained += (exchange + std::max(0.0, f.pore_out)) * (held - x);
        d[layout.free(i)] = gained / n;
        d[layout.pore(i)] = porous ? (exchange + std::max(0.0, -f.pore_out)) / m * (x - held) : gained / n;
    }
    // Air that comes in starts the count again; what moves inside the band of a held set-point is not counted.
    bool comes_down = false;
    for (std::size_t z = 0; z < layout.zones; ++z)
        comes_down = comes_down || cools(scene.laws[z], y[layout.control(z)], setpoint(z, y[layout.clock()]));
    const bool lost =
        scene.state.tube_open || !rig_.seals.gas_tight || (vented() && comes_down && f.out < -drawn);
    const double cold = draw_.ambient_pressure * tube_.volume() / (gas_constant * draw_.ambient_temperature);
    // What nothing leaves is thinned by its own content (a fill counts the logarithm of the pressures), what
    // flows through counts in volumes of the cold tube.
    const bool air_flows = lets_air_in(measured(y[layout.control(0)]));
    d[layout.swept()] =
        lost || air_flows ? -y[layout.swept()] / 20 : f.in / (vented() || f.lifted ? cold : n + m);
}

Flows Balance::flows(const Vector& y, double t) {
    Vector d(layout.size());
    heat(y, d, t);
    Flows f;
    gas(y, d, f);
    return f;
}

void Balance::settle(Vector& y, double t) {
    if (vented()) y[layout.pressure()] = flows(y, t).pressure;
}

} // namespace athanor::simulator
