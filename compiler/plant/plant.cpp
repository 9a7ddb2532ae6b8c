#include "compiler/check/gas_mixture.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/plant/data.hpp"

#include <algorithm>
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

const ZoneStates& Plant::Data::Course::from_entry(double until) const {
    if (from_entry_.until != until) {
        zones({0, until}, from_entry_.zones);
        from_entry_.until = until;
    }
    return from_entry_.zones;
}

bool Plant::Data::Course::Speeds::known(double until, const ZoneStates& whole) const {
    const auto same = [](const Range& was, const ZoneState& is) {
        return was.control == is.control && was.load == is.load;
    };
    return until_ == until && same(whole_, whole[0]) &&
           (all_ == nullptr || std::equal(all_->whole.begin(), all_->whole.end(), whole.begin() + 1, same));
}

void Plant::Data::Course::Speeds::look(const Course& course, double until, const ZoneStates& whole) {
    if (known(until, whole)) return;
    const Data& data = course.data_;
    const ZoneStates& entry = course.entry_.zones;
    const Drive& drive = course.drive_;
    until_ = until;
    whole_ = {whole[0].control, whole[0].load};
    first_.emplace(data.zone, entry[0], whole[0], drive.laws[0],
                   data.furnace.furnace(0, entry, drive.laws, until));
    if (data.zones == 1 && drive.most == nullptr) return;
    all_ = std::make_unique<All>();
    all_->pace = first_->pace();
    const auto add = [&](std::size_t z, const timeline::Law* laws) {
        all_->each.emplace_back(data.zone, entry[z], whole[z], laws[z],
                                data.furnace.furnace(z, entry, laws, until));
        all_->join(all_->each.back().pace());
    };
    for (std::size_t z = 1; z < data.zones; ++z) {
        all_->whole.push_back({whole[z].control, whole[z].load});
        add(z, drive.laws);
    }
    for (std::size_t z = 0; z < data.zones && drive.most != nullptr; ++z) add(z, drive.most);
}

void Plant::Data::Course::Speeds::All::join(const Pace& further) {
    pace.heating_hi = std::max(pace.heating_hi, further.heating_hi);
    pace.cooling_hi = std::max(pace.cooling_hi, further.cooling_hi);
    pace.inside = std::max(pace.inside, further.inside);
    pace.heating_most = std::max(pace.heating_most, further.heating_most);
    pace.cooling_most = std::max(pace.cooling_most, further.cooling_most);
    pace.cooling_at_cold = std::max(pace.cooling_at_cold, further.cooling_at_cold);
    pace.cooling_at_hot = std::max(pace.cooling_at_hot, further.cooling_at_hot);
    // All zones must cool before the gas surely contracts.
    pace.cooling_lo = std::min(pace.cooling_lo, further.cooling_lo);
}

double Plant::Data::Course::Speeds::All::cooling_now(const ZoneStates& now, double first) const {
    double most = first;
    std::size_t z = 0;
    for (const Zone::Speeds& one : each) {
        if (++z == now.size()) z = 0;
        most = std::max(most, one.cooling_now(now[z]));
    }
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
    if (!known) widen_control_and_load(whole, from_entry(t.hi));
    speeds_.look(*this, t.hi, whole);
    Stretch s(t, hot_entry_, hot(whole), hot(out.zones), speeds_.pace(), speeds_.cooling_now(out.zones));
    s.straight = known;
    s.falls = falls_;
    s.rises = !falls_ && data_.zones == 1;
    s.over = s.now = &steady_;
    s.context = this;
    if (moves_) {
        s.hot_within = [](const void* c, Interval time) {
            return static_cast<const Course*>(c)->hot_over(time);
        };
        if (decided_)
            s.inlet_within = [](const void* c, Interval time, Inlet& inlet) {
                const Course& course = *static_cast<const Course*>(c);
                ZoneStates there;
                course.zones(time, there);
                course.data_.inlet(*course.drive_.state, there, inlet);
            };
        s.cooling_within = [](const void* c, Interval time) {
            const Course& course = *static_cast<const Course*>(c);
            ZoneStates there;
            course.zones(time, there);
            const Interval hot = course.hot(there);
            const Speeds& speeds = course.speeds_;
            return Cooling{hot,
                           course.data_.atmosphere.contracted(hot, speeds.cooling_now(there), speeds.pace())};
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

void add_time(const Always& entry, const Drive& drive, Interval time, Always& out) {
    const Interval t{std::min(time.lo, for_ever), std::min(time.hi, for_ever)};
    out.elapsed = drive.counts ? Interval{entry.elapsed.lo + t.lo, entry.elapsed.hi + t.hi} : entry.elapsed;
    out.burning = drive.state->burner ? Interval{entry.burning.lo + t.lo, entry.burning.hi + t.hi} : Interval{};
}

void Plant::Data::Course::during(Interval t, State& out, Sweep& sweep) const {
    const Interval time{std::clamp(t.lo, 0.0, for_ever), std::clamp(t.hi, 0.0, for_ever)};
    if (time.lo == 0 && time.hi == from_entry_.until)
        out.zones = from_entry_.zones;
    else
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
    return {f.heating_rate(temperature), f.cooling_rate(temperature)};
}

Interval Plant::holding_power(double temperature) const {
    return data_->zone.furnace().loss(temperature);
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
