#include "compiler/check/gas_mixture.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/plant/data.hpp"

#include <limits>

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

Plant::Data::Heating::Heating(const Data& data, const ZoneStates& entry, Drive drive)
    : data_(data), low_(data, entry, drive.laws, drive.band) {
    if (drive.most != nullptr) high_.emplace(data, entry, drive.most, drive.band);
}

void Plant::Data::Heating::up_to_high(Interval t, ZoneStates& out) const {
    ZoneStates high;
    high_->during(t, high);
    data_.join(out, high);
}

Plant::Data::Heating::Along::Along(const Data& data, const ZoneStates& entry, const timeline::Law* laws,
                                   double band)
    : data_(data), fast_(data.furnace, entry, laws) {
    if (!(band > 0)) return;
    double share = 1;
    data.slowest(entry, laws, band, share, delay_);
    if (share >= 1 && delay_ <= 0) return;
    std::array<timeline::Law, max_zones>& slow = slow_laws_.emplace();
    std::copy_n(laws, data.zones, slow.begin());
    for (timeline::Law& law : slow) law.rate *= share;
    slow_.emplace(data.furnace, entry, slow.data());
}

void Plant::Data::Heating::Along::down_to_slow(Interval t, ZoneStates& out) const {
    ZoneStates late;
    slow_->during({std::max(0.0, t.lo - delay_), t.hi}, late);
    for (std::size_t z = 0; z < data_.zones; ++z) late[z].setpoint = out[z].setpoint;
    data_.join(out, late);
}

/// One clock counts for all zones.
void Plant::Data::slowest(const ZoneStates& entry, const timeline::Law* laws, double band, double& share,
                          double& delay) const {
    if (!(band > 0)) return;
    for (std::size_t z = 0; z < zones; ++z) {
        const Zones::View view = furnace.view(z, entry, laws, for_ever);
        const Zone::Slowed one = zone.slowed(view.entry, laws[z], band, view.furnace);
        share = std::min(share, one.share);
        delay = std::max(delay, one.delay);
    }
}

void Plant::Data::join(ZoneStates& out, const ZoneStates& high) const {
    for (std::size_t z = 0; z < zones; ++z) widen(out[z], high[z]);
}

Plant::Data::Course::Course(const Data& data, const State& entry, Drive drive)
    : data_(data), entry_(entry), drive_(drive), heating_(data, entry.zones, drive),
      hot_entry_(data.hot(entry.zones, *drive.state)) {
    const auto look = [&](const timeline::Law* laws) {
        for (const timeline::Law* law = laws; law != laws + data.zones; ++law) {
            moves_ = moves_ || law->kind != LawKind::hold;
            falls_ = falls_ || law->kind == LawKind::off || (law->kind == LawKind::line && law->rate < 0);
        }
    };
    look(drive.laws);
    if (drive.most != nullptr) look(drive.most);
    decided_ = drive.state->armed != 0 || !data.timeline.evolved.empty();
    if (!decided_) data.inlet(*drive.state, entry.zones, steady_);
}

/// Hot zone over a stretch.
Interval Plant::Data::Course::hot_over(Interval t) const {
    if (t.is_point() && t.lo == instant_.time) return instant_.hot;
    ZoneStates there;
    heating_.during(t, there);
    return hot(there);
}

/// How fast the gas may warm and cool from the entry to `until`; `whole`: the zones over that time, `now`: over
/// the stretch that is asked for.
Pace Plant::Data::Course::pace(double until, const ZoneStates& whole, const ZoneStates& now) const {
    if (data_.zones == 1 && drive_.most == nullptr)
        return data_.zone.pace(entry_.zones[0], whole[0], now[0], drive_.laws[0], data_.furnace.alone());
    const auto of = [&](std::size_t z, const timeline::Law* laws) {
        return data_.zone.pace(entry_.zones[z], whole[z], now[z], laws[z],
                               data_.furnace.furnace(z, entry_.zones, laws, until));
    };
    Pace most = of(0, drive_.laws);
    const auto add = [&](const Pace& pace) {
        most.heating_hi = std::max(most.heating_hi, pace.heating_hi);
        most.cooling_hi = std::max(most.cooling_hi, pace.cooling_hi);
        most.cooling_now = std::max(most.cooling_now, pace.cooling_now);
        most.inside = std::max(most.inside, pace.inside);
        most.heating_most = std::max(most.heating_most, pace.heating_most);
        most.cooling_most = std::max(most.cooling_most, pace.cooling_most);
        most.cooling_at_cold = std::max(most.cooling_at_cold, pace.cooling_at_cold);
        most.cooling_at_hot = std::max(most.cooling_at_hot, pace.cooling_at_hot);
        // All zones must cool before the gas surely contracts.
        most.cooling_lo = std::min(most.cooling_lo, pace.cooling_lo);
    };
    for (std::size_t z = 1; z < data_.zones; ++z) add(of(z, drive_.laws));
    for (std::size_t z = 0; z < data_.zones && drive_.most != nullptr; ++z) add(of(z, drive_.most));
    return most;
}

Sweep Plant::Data::Course::contents(Interval t, State& out) const {
    const timeline::State& discrete = *drive_.state;
    const auto widen_control_and_load = [](ZoneStates& to, const ZoneStates& from) {
        const ZoneState* by = from.begin();
        for (ZoneState& zone : to) {
            zone.control = hull(zone.control, by->control);
            zone.load = hull(zone.load, by->load);
            ++by;
        }
    };
    ZoneStates whole = out.zones; // from the entry to t.hi
    widen_control_and_load(whole, entry_.zones);
    const bool known = t.lo <= 0 || heating_.between(whole);
    if (!known) {
        ZoneStates all;
        zones({0, t.hi}, all);
        widen_control_and_load(whole, all);
    }
    struct Context {
        const Course& course;
        const ZoneStates& whole;
        double until;
    };
    const Context context{*this, whole, t.hi};
    Stretch s(t, hot_entry_, hot(whole), hot(out.zones), pace(t.hi, whole, out.zones));
    s.straight = known;
    s.falls = falls_;
    s.rises = !falls_ && data_.zones == 1;
    s.over = s.now = &steady_;
    s.context = &context;
    if (moves_) {
        s.hot_within = [](const void* c, Interval time) {
            return static_cast<const Context*>(c)->course.hot_over(time);
        };
        if (decided_)
            s.inlet_within = [](const void* c, Interval time, Inlet& inlet) {
                const Course& course = static_cast<const Context*>(c)->course;
                ZoneStates there;
                course.zones(time, there);
                course.data_.inlet(*course.drive_.state, there, inlet);
            };
        s.cooling_within = [](const void* c, Interval time) {
            const Context& to = *static_cast<const Context*>(c);
            const Course& course = to.course;
            ZoneStates there;
            course.zones(time, there);
            const Interval hot = course.hot(there);
            const Pace pace = course.pace(to.until, to.whole, there);
            return Cooling{hot, course.data_.atmosphere.contracted(hot, pace.cooling_now, pace)};
        };
    }
    const auto sweep = [&] {
        Sweep swept = data_.atmosphere.during(entry_, out, discrete, s);
        lets_air_in(*s.over, swept);
        out.swept = swept.after(entry_.swept);
        return swept;
    };
    if (!decided_) return sweep();
    Inlet now, over;
    data_.inlet(discrete, out.zones, now);
    data_.inlet(discrete, whole, over);
    s.now = &now;
    s.over = &over;
    return sweep();
}

/// Gas with more oxygen than a purge may leave is air as far as the volumes swept go: they count anew behind
/// it.
void Plant::Data::Course::lets_air_in(const Inlet& over, Sweep& swept) const {
    const Interval share = data_.substances.oxidising(over);
    if (share.hi <= check::purging_oxygen) return;
    swept.keeps_lo = false;
    swept.gained.lo = 0;
    if (decided_ || share.lo <= check::purging_oxygen || over.flow.lo <= 0) return;
    swept.keeps_hi = false;
    swept.gained.hi = 0;
}

void Plant::Data::put_aside(const ZoneStates& entry, ZoneStates& out) const {
    for (std::size_t z = 0; z < zones; ++z) {
        const double hottest = std::max({out[z].load.hi, entry[z].load.hi, out[z].control.hi});
        out[z].load = {std::min(furnace.zone().furnace().ambient().lo, entry[z].load.lo), hottest};
    }
}

void add_time(const Always& entry, Drive drive, Interval time, Always& out) {
    const Interval t{std::min(time.lo, for_ever), std::min(time.hi, for_ever)};
    out.elapsed = drive.counts ? Interval{entry.elapsed.lo + t.lo, entry.elapsed.hi + t.hi} : entry.elapsed;
    out.burning = drive.state->burner ? Interval{entry.burning.lo + t.lo, entry.burning.hi + t.hi} : Interval{};
}

void Plant::Data::Course::during(Interval t, State& out, Sweep& sweep) const {
    const Interval time{std::clamp(t.lo, 0.0, for_ever), std::clamp(t.hi, 0.0, for_ever)};
    zones(time, out.zones);
    if (moves_ && time.is_point()) instant_ = {time.lo, hot(out.zones)};
    sweep = contents(time, out);
    add_time(entry_, drive_, time, out);
}

struct Plant::Way::Kept {
    Kept(const Data& data, const State& from, Drive drive) : entry(from), course(data, entry, drive) {}
    const State entry;
    const Data::Course course;
};

Plant::Way::Way(const Plant& plant, const State& entry, Drive drive)
    : kept_(std::make_unique<const Kept>(*plant.data_, entry, drive)) {}

Plant::Way::~Way() = default;

State Plant::Way::during(Interval t) const {
    State out;
    Sweep sweep;
    kept_->course.during(t, out, sweep);
    return out;
}

State Plant::during(const State& entry, Drive drive, Interval t) const {
    State out;
    Sweep sweep;
    Data::Course(*data_, entry, drive).during(t, out, sweep);
    return out;
}

State Plant::open_tube(const State& before) const {
    State s = before;
    // It may be open for a moment only: what was there, or air.
    for (std::size_t i = 0; i < data_->substances.count(); ++i) {
        const Interval air = data_->substances.air()[i];
        const double most = data_->substances.opened_on(i);
        const auto opened = [&](Interval was) {
            return hull({std::min(was.lo, most), std::min(was.hi, most)}, air);
        };
        s.fraction[i] = opened(before.fraction[i]);
        s.pore[i] = opened(before.pore[i]);
    }
    s.pressure = data_->atmosphere.ambient_pressure();
    s.swept = 0;
    s.drawn_in = 0;
    return s;
}

Interval Plant::true_flow(timeline::Index line, double set) const {
    return data_->substances.true_flow(line, set);
}

double Plant::time_of_volumes(double volumes, timeline::Index line, double set) const {
    const double least = true_flow(line, set).lo;
    if (!(volumes > 0)) return 0;
    return least > 0 ? volumes * data_->atmosphere.one_volume() / least
                     : std::numeric_limits<double>::infinity();
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
double Plant::above_setpoint(double setpoint) const {
    return data_->zone.above_setpoint(setpoint);
}
double Plant::tube_volume() const {
    return data_->volume.total();
}
double Plant::least_pump_speed(double pressure) const {
    return data_->vacuum.speed(pressure).lo;
}
double Plant::held_flow(double pressure) const {
    return data_->vacuum.carried(pressure) / (physics::gas_constant * data_->volume.ambient().hi);
}
Interval Plant::lowest_pressure() const {
    return data_->vacuum.lowest();
}
double Plant::let_out(double flow) const {
    return data_->atmosphere.let_out(flow);
}
const std::string& Plant::furnace_fault() const {
    return data_->zone.furnace().fault();
}
Interval Plant::radiative_share() const {
    return data_->zone.furnace().radiative_share();
}

} // namespace athanor::plant
