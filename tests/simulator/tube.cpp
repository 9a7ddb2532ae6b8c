#include "tests/simulator/tube.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace athanor::simulator {

namespace {
constexpr double gas_constant = 8.314462618; // J/(mol K)
constexpr double handbook = 293.15;          // K, of the handbooks' conductances
} // namespace

Tube::Tube(const check::Rig& rig, const Draw& d, std::size_t zones) : zones_(zones) {
    bore_ = rig.tube.inner_diameter.value.middle();
    area_ = std::numbers::pi * bore_ * bore_ / 4;
    const double length = rig.tube.length.value.middle();
    heated_ = std::min(rig.furnace.heated_length.value.middle(), length);
    end_ = (length - heated_) / 2;
    if (rig.ends.kind == check::EndsKind::insulation_plugs) {
        plug_ = std::min(rig.ends.length.value.middle(), end_);
        porosity_ = d.porosity;
        plug_start_ = d.plug_place * (end_ - plug_);
    }
    if (rig.ends.kind == check::EndsKind::radiation_shields && rig.ends.count.given) {
        shields_ = rig.ends.count.hi();
        open_ = d.open_area;
        place_ = d.plug_place;
    }
    volume_ = area_ * (length - 2 * plug_ + 2 * plug_ * porosity_);
    room_ = d.ambient_temperature;
    rise_ = d.seal_rise;
    reach_ = d.seal_reach;
}

/// A seal that stays as warm as it is, but for a hot zone that is colder, or that cools with the hot zone.
Tube::Seal Tube::seal(double hot) const {
    if (reach_ > 0) {
        const double follows = rise_ / reach_;
        return hot < room_ + reach_ ? Seal{room_ + follows * (hot - room_), follows} : Seal{room_ + rise_, 0};
    }
    return hot <= room_ + rise_ ? Seal{hot, 1} : Seal{room_ + rise_, 0};
}

/// Integral of dx/T over part of one end, measured from the seal.
double Tube::end(double hot, double from, double to) const {
    if (to <= from) return 0;
    const double seal = this->seal(hot).at, slope = (hot - seal) / end_;
    const double a = seal + slope * from, b = seal + slope * to;
    const double x = (b - a) / a;
    // ln(b/a)/(b-a), by its series where the difference would lose digits.
    const double mean =
        std::abs(x) < 1e-3 ? (1 - x / 2 + x * x / 3 - x * x * x / 4) / a : std::log(b / a) / (b - a);
    return (to - from) * mean;
}

/// Its derivative with `hot`, which the place x follows by k + (1 - k) x / end.
double Tube::end_change(double hot, double from, double to) const {
    if (to <= from) return 0;
    const auto [seal, k] = this->seal(hot);
    const double slope = (hot - seal) / end_, a = seal + slope * from, b = seal + slope * to;
    const double more = (1 - k) / end_;
    if ((b - a) / a > 0.02)
        return -((k - more * seal / slope) * (b - a) / (a * b) + more / slope * std::log(b / a)) / slope;
    // By three points of Gauss and Legendre where the difference would lose digits.
    const double middle = 0.5 * (from + to), half = 0.5 * (to - from), start = seal;
    const auto at = [&, k = k](double x) {
        const double t = start + slope * x;
        return (k + more * x) / (t * t);
    };
    const double aside = std::sqrt(0.6) * half;
    return -half / 9 * (5 * at(middle - aside) + 8 * at(middle) + 5 * at(middle + aside));
}

Content Tube::content(std::span<const double> zones) const {
    Content c;
    for (double t : zones) c.free += heated_ / static_cast<double>(zones_) / t;
    for (double hot : {zones.front(), zones.back()}) {
        c.free += end(hot, 0, plug_start_) + end(hot, plug_start_ + plug_, end_);
        c.pore += porosity_ * end(hot, plug_start_, plug_start_ + plug_);
    }
    c.free *= area_ / gas_constant;
    c.pore *= area_ / gas_constant;
    return c;
}

Content Tube::change(std::span<const double> zones, std::span<const double> rates) const {
    Content c;
    for (std::size_t z = 0; z < zones_; ++z)
        c.free -= heated_ / static_cast<double>(zones_) / (zones[z] * zones[z]) * rates[z];
    for (std::size_t z : {std::size_t{0}, zones_ - 1}) {
        const double hot = zones[z];
        c.free += (end_change(hot, 0, plug_start_) + end_change(hot, plug_start_ + plug_, end_)) * rates[z];
        c.pore += porosity_ * end_change(hot, plug_start_, plug_start_ + plug_) * rates[z];
    }
    c.free *= area_ / gas_constant;
    c.pore *= area_ / gas_constant;
    return c;
}

double pipe_conductance(double d, double l, double p) {
    const double cm = d * 100, mbar = p / 100;
    return (135 * std::pow(cm, 4) * mbar + 12.1 * std::pow(cm, 3)) / (100 * l) / 1000;
}

double Tube::conductance(std::span<const double> zones, double p, double gas) const {
    // Resistances of short pieces add. Hot gas is more viscous (T^0.7 for the common gases, from memory of gas
    // tables) and takes more room: viscous conductance, counted at room temperature, goes with 1/(eta T), the
    // molecular one with T^-1/2.
    const double hot = zones.back(), seal = this->seal(hot).at;
    const auto piece = [&](double t, double length) {
        const double relative = std::max(1.0, t / handbook), cm = bore_ * 100;
        const double viscous = 135 * std::pow(cm, 4) * (p / 100) * std::pow(relative, -1.7);
        const double molecular = 12.1 * std::pow(cm, 3) / std::sqrt(relative);
        return length / ((viscous + molecular) * gas / 100 / 1000);
    };
    double resistance = piece(hot, heated_ / 2);
    constexpr int n = 4;
    for (int i = 0; i < n; ++i) resistance += piece(seal + (hot - seal) * (i + 0.5) / n, end_ / n);
    // A shield is a thin orifice: 11.6 L/s for each cm2, air at 20 degC in molecular flow (vacuum handbooks).
    const double warm = std::max(1.0, (seal + (hot - seal) * place_) / handbook);
    if (shields_ > 0) resistance += shields_ * std::sqrt(warm) / (11.6e-3 * 1e4 * open_ * area_ * gas);
    return 1 / resistance;
}

} // namespace athanor::simulator
