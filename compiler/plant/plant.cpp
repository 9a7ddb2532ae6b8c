#include "compiler/plant/data.hpp"

#include <cmath>

namespace athanor::plant {

using timeline::EndingKind;
using timeline::LawKind;

Plant::Plant(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline)
    : data_(std::make_unique<Data>(model, rig, timeline)) {}

Plant::~Plant() = default;

State Plant::start() const {
    State s;
    for (std::size_t z = 0; z < data_->zones; ++z) s.zones[z] = data_->zone.start();
    data_->atmosphere.start(s);
    return s;
}

void Plant::Data::contents(const State& entry, State& out, Drive drive, Interval t) const {
    Stretch s;
    s.t = t;
    s.hot_now = hot(out);
    s.hot_entry = hot(entry);
    s.hot_over = hull(s.hot_entry, s.hot_now); // each bound is monotone, or turns inward
    bool moves = false;
    for (std::size_t z = 0; z < zones; ++z) {
        ZoneState over = out.zones[z];
        over.control = hull(over.control, entry.zones[z].control);
        over.load = hull(over.load, entry.zones[z].load);
        const Pace pace = zone.pace(over, drive.laws[z]);
        s.pace.heating_hi = std::max(s.pace.heating_hi, pace.heating_hi);
        s.pace.cooling_hi = std::max(s.pace.cooling_hi, pace.cooling_hi);
        // All zones must cool before the gas surely contracts.
        s.pace.cooling_lo = z == 0 ? pace.cooling_lo : std::min(s.pace.cooling_lo, pace.cooling_lo);
        moves = moves || drive.laws[z].kind != LawKind::hold;
    }
    if (s.pace.heating_hi > 0) s.pace.cooling_lo = 0;
    const Inlet now = substances.inlet(*drive.state, measured(out));
    Inlet over;
    s.now = s.over = &now;
    if (drive.state->armed != 0) {
        State whole = out;
        for (std::size_t z = 0; z < zones; ++z)
            whole.zones[z].control = hull(whole.zones[z].control, entry.zones[z].control);
        over = substances.inlet(*drive.state, measured(whole));
        s.over = &over;
    }
    struct Path {
        const Data& data;
        const State& entry;
        Drive drive;
    } const path{*this, entry, drive};
    if (moves) {
        s.context = &path;
        s.hot_at = [](const void* context, double at) {
            const Path& p = *static_cast<const Path*>(context);
            Interval all{infinity, -infinity};
            for (std::size_t z = 0; z < p.data.zones; ++z) {
                const ZoneState there = p.data.zone.during(p.entry.zones[z], p.drive.laws[z], at);
                all = hull(all, hull(there.control, there.load));
            }
            return all;
        };
    }
    atmosphere.during(entry, out, *drive.state, s);
}

void add_time(const State& entry, Drive drive, Interval time, State& out) {
    const Interval t{std::min(time.lo, for_ever), std::min(time.hi, for_ever)};
    out.elapsed = {entry.elapsed.lo + t.lo, entry.elapsed.hi + t.hi};
    out.burning = drive.state->burner ? Interval{entry.burning.lo + t.lo, entry.burning.hi + t.hi} : Interval{};
}

State Plant::during(const State& entry, Drive drive, Interval t) const {
    const Interval time{std::clamp(t.lo, 0.0, for_ever), std::clamp(t.hi, 0.0, for_ever)};
    State out = entry;
    for (std::size_t z = 0; z < data_->zones; ++z)
        out.zones[z] = data_->zone.during(entry.zones[z], drive.laws[z], time);
    data_->contents(entry, out, drive, time);
    add_time(entry, drive, time, out);
    return out;
}

State Plant::open_tube(const State& before) const {
    State s = before;
    for (std::size_t i = 0; i < data_->substances.count(); ++i)
        s.fraction[i] = s.pore[i] = data_->substances.air()[i];
    s.pressure = data_->atmosphere.ambient_pressure();
    s.swept = 0;
    s.drawn_in = 0;
    return s;
}

Interval Plant::true_flow(timeline::Index line, double set) const {
    return data_->substances.true_flow(line, set);
}

Capacity Plant::capacity(double temperature) const {
    const Furnace& f = data_->zone.furnace();
    return {f.heating_rate(temperature), f.cooling_rate(temperature), f.loss(temperature)};
}

double Plant::certain_heating_rate(double from, double to) const {
    // Full-power heating slows down as the loss grows.
    return std::max(0.0, data_->zone.furnace().heating_rate(std::max(from, to)).lo);
}

double Plant::certain_cooling_rate(double from, double to) const {
    return std::max(0.0, data_->zone.furnace().cooling_rate(std::min(from, to)).lo);
}

Interval Plant::natural_cooling(double from, double to) const {
    return data_->zone.furnace().cooling_time(from, to);
}

Interval Plant::full_power_heating(double from, double to) const {
    return data_->zone.furnace().heating_time(from, to);
}

double Plant::sensor_tolerance(double temperature) const {
    return data_->zone.tolerance()(temperature);
}
double Plant::tube_volume() const {
    return data_->volume.total();
}
double Plant::effective_pump_speed(double pressure) const {
    return data_->vacuum.nominal_speed(pressure);
}
Interval Plant::lowest_pressure() const {
    return data_->vacuum.lowest();
}
const std::string& Plant::furnace_fault() const {
    return data_->zone.furnace().fault();
}
Interval Plant::radiative_share() const {
    return data_->zone.furnace().radiative_share();
}

} // namespace athanor::plant
