// Rigs drawn inside the declared intervals, integrated with an independent method, never leave the envelope.
#include "tests/plant/rigs.hpp"

#include <boost/numeric/odeint.hpp>
#include <cmath>
#include <doctest/doctest.h>
#include <random>

using namespace bench;

namespace {

using Vector = std::array<double, 2>; // temperature of the furnace and of the load
namespace ode = boost::numeric::odeint;

/// One member: losses at a radiative share, capacities fitted to one value of each declared figure.
struct Member {
    double ambient, holding, share, heating, cooling, rated, lag, offset;

    double loss(double t) const {
        const double at = 1100 + zero;
        return holding *
               ((1 - share) * (t - ambient) / (at - ambient) +
                share * (std::pow(t, 4) - std::pow(ambient, 4)) / (std::pow(at, 4) - std::pow(ambient, 4)));
    }
};

template<class F>
double integral(double from, double to, F f) {
    // Composite Gauss-Legendre of two points.
    constexpr int n = 2000;
    const double h = (to - from) / n, g = 0.5 / std::sqrt(3.0);
    double sum = 0;
    for (int i = 0; i < n; ++i) {
        const double m = from + (i + 0.5) * h;
        sum += f(m - g * h) + f(m + g * h);
    }
    return 0.5 * sum * h;
}

class Draw {
public:
    explicit Draw(unsigned seed) : random_(seed) {}
    /// Often at an end, where an unsound bound would show.
    double operator()(Interval x) {
        const double u = std::uniform_real_distribution<>(-0.3, 1.3)(random_);
        return x.lo + std::clamp(u, 0.0, 1.0) * x.width();
    }

private:
    std::mt19937 random_;
};

bool draw(const check::Rig& rig, Draw& next, Member& m) {
    m.ambient = next(rig.ambient_temperature.value);
    m.holding = next(rig.furnace.holding_power[0].power.value);
    m.share = next({0, 1});
    m.rated = rig.furnace.power.lo();
    m.lag = next(rig.load_lag.value);
    m.offset = next(rig.load_offset.value);
    m.heating = next(rig.furnace.heat_up[0].duration.value) /
                integral(m.ambient, 1100 + zero, [&](double t) { return 1 / (m.rated - m.loss(t)); });
    m.cooling = next(rig.furnace.cool_down[0].duration.value) /
                integral(200 + zero, 1100 + zero, [&](double t) { return 1 / m.loss(t); });
    return m.cooling >= m.heating; // insulation gives heat back
}

} // namespace

TEST_CASE("natural cooling of drawn furnaces stays inside the envelope") {
    Bench b;
    plant::Plant& p = b.build();
    Draw next(20240601);
    int drawn = 0, outside = 0;
    double lo = infinity, hi = 0; // spread of the draws down to 60 degC
    while (drawn < 1500) {
        Member m{};
        if (!draw(b.rig, next, m)) continue;
        ++drawn;
        const double from = next({500 + zero, 1100 + zero}), to = 60 + zero;
        const timeline::Law law = off(from, to);
        plant::State entry = p.start();
        entry.zones[0].control = from;
        entry.zones[0].load = from + m.offset;
        const timeline::State air = Bench::closed();
        const auto system = [&](const Vector& x, Vector& d, double) {
            d[0] = -m.loss(x[0]) / m.cooling;
            d[1] = m.lag > 1 ? (x[0] + m.offset - x[1]) / m.lag : d[0];
        };
        auto stepper = ode::make_dense_output(1e-9, 1e-9, ode::runge_kutta_dopri5<Vector>());
        stepper.initialize(Vector{from, from + m.offset}, 0.0, 1.0);
        const double stops[] = {60, 600, 3600, 9000, 18000, 30000};
        std::size_t k = 0;
        double passed = infinity;
        while (k < std::size(stops)) {
            stepper.do_step(system);
            while (k < std::size(stops) && stops[k] <= stepper.current_time()) {
                Vector x{};
                stepper.calc_state(stops[k], x);
                if (x[0] > to) {
                    const plant::State at = p.during(entry, {&law, &air}, stops[k]);
                    const plant::ZoneState& z = at.zones[0];
                    const bool inside = z.control.lo - 1e-3 <= x[0] && x[0] <= z.control.hi + 1e-3;
                    const bool load = m.lag <= 1 || (z.load.lo - 1e-3 <= x[1] && x[1] <= z.load.hi + 1e-3);
                    if (!inside || !load) {
                        ++outside;
                        CAPTURE(stops[k]);
                        CAPTURE(x[0] - z.control.lo);
                        CAPTURE(z.control.hi - x[0]);
                        CAPTURE(x[1] - z.load.lo);
                        CAPTURE(z.load.hi - x[1]);
                        CHECK(inside);
                        CHECK(load);
                    }
                }
                ++k;
            }
        }
        passed = integral(to, from, [&](double t) { return m.cooling / m.loss(t); });
        const Interval time = p.natural_cooling(from, to);
        if (!time.contains(passed)) ++outside;
        if (std::abs(from - (1100 + zero)) < 1) {
            lo = std::min(lo, passed);
            hi = std::max(hi, passed);
        }
        const double full = p.full_power_heating(m.ambient + 5, from).lo;
        const double heated =
            integral(m.ambient + 5, from, [&](double t) { return m.heating / (1.21 * m.rated - m.loss(t)); });
        const double weak =
            integral(m.ambient + 5, from, [&](double t) { return m.heating / (0.81 * m.rated - m.loss(t)); });
        if (full > heated + 1e-6 || p.full_power_heating(m.ambient + 5, from).hi < weak - 1e-6) ++outside;
        if (p.certain_cooling_rate(from, from) > m.loss(from) / m.cooling * (1 + 1e-9)) ++outside;
        if (p.certain_heating_rate(from, from) > (0.81 * m.rated - m.loss(from)) / m.heating * (1 + 1e-9))
            ++outside;
    }
    CHECK(outside == 0);
    // Tightness: the envelope is at most a quarter wider than what the draws spread over.
    const Interval bound = p.natural_cooling(1100 + zero, 60 + zero);
    MESSAGE("1100 to 60 degC: bound ", bound.lo, " to ", bound.hi, " s, draws ", lo, " to ", hi, " s");
    REQUIRE(hi > lo);
    CHECK(bound.width() < 1.25 * (hi - lo));
}

TEST_CASE("a controlled ramp and dwell of drawn furnaces stay inside the envelope") {
    Bench b;
    plant::Plant& p = b.build();
    Draw next(77);
    int drawn = 0, outside = 0;
    while (drawn < 500) {
        Member m{};
        if (!draw(b.rig, next, m)) continue;
        ++drawn;
        const double mains = next({0.81, 1.21});
        const double rate = next({2.0 / 60, 20.0 / 60}), peak = next({400 + zero, 1000 + zero});
        const double start = p.start().zones[0].setpoint;
        // An ideal controller: power that follows the set-point with a time constant inside `tracking`, within
        // what the furnace has.
        const double tracking = next({5, 60});
        const double tolerance = next({-1, 1}); // share of the class's tolerance by which the sensor is wrong
        // Up, a dwell, down again, a dwell.
        const double low = start + 0.5 * (peak - start), down_rate = next({0.5 / 60, 8.0 / 60});
        const double length = (peak - start) / rate, turn = length + 3600, down = (peak - low) / down_rate;
        const auto setpoint = [&](double t) {
            return t < turn ? std::min(start + rate * t, peak) : std::max(peak - down_rate * (t - turn), low);
        };
        const auto system = [&](const Vector& x, Vector& d, double t) {
            const double measured = x[0] + tolerance * p.sensor_tolerance(x[0]) * 0.99;
            const double wanted = (setpoint(t) - measured) / tracking;
            const double most = (mains * m.rated - m.loss(x[0])) / m.heating, least = -m.loss(x[0]) / m.cooling;
            d[0] = std::clamp(wanted, least, most);
            // At rest in a cold furnace the load has the room's temperature, whatever the offset.
            d[1] = (std::max(x[0] + m.offset, m.ambient) - x[1]) / std::max(m.lag, 1.0);
        };
        Vector x{m.ambient, m.ambient};
        auto stepper = ode::make_controlled(1e-8, 1e-8, ode::runge_kutta_dopri5<Vector>());
        const timeline::State air = Bench::closed();
        const timeline::Law up = ramp(start, peak, rate), stay = hold(peak);
        plant::State entry = p.start();
        double now = 0;
        const auto compare = [&](double until, const plant::State& from, const timeline::Law& law,
                                 double since) {
            ode::integrate_adaptive(stepper, system, x, now, until, 1.0);
            now = until;
            const plant::ZoneState z = p.during(from, {&law, &air}, until - since).zones[0];
            const bool inside = z.control.lo - 1e-3 <= x[0] && x[0] <= z.control.hi + 1e-3 &&
                                z.load.lo - 1e-3 <= x[1] && x[1] <= z.load.hi + 1e-3;
            if (!inside) {
                ++outside;
                CAPTURE(since);
                CAPTURE(x[0] - z.control.lo);
                CAPTURE(z.control.hi - x[0]);
                CAPTURE(x[1] - z.load.lo);
                CAPTURE(z.load.hi - x[1]);
                CHECK(inside);
            }
        };
        for (double share : {0.02, 0.2, 0.5, 0.8, 1.0}) compare(share * length, entry, up, 0);
        entry = p.pass(entry, {&up, &air}, fixed(length)).exit;
        for (double wait : {30.0, 300.0, 1200.0, 3600.0}) compare(length + wait, entry, stay, length);
        entry = p.pass(entry, {&stay, &air}, fixed(3600)).exit;
        const timeline::Law fall = ramp(peak, low, -down_rate), end = hold(low);
        for (double share : {0.02, 0.2, 0.5, 0.8, 1.0}) compare(turn + share * down, entry, fall, turn);
        entry = p.pass(entry, {&fall, &air}, fixed(down)).exit;
        for (double wait : {30.0, 300.0, 1200.0, 7200.0}) compare(turn + down + wait, entry, end, turn + down);
    }
    CHECK(outside == 0);
}
