#include "compiler/physics/thermocouple.hpp"

#include "compiler/physics/constants.hpp"

#include <array>
#include <cmath>
#include <span>

namespace athanor::physics {

namespace {

struct Reach {
    Couple couple;
    double from, to; // degC
    std::array<double, 15> c{};
};

template<class... C>
constexpr Reach reach(Couple couple, double from, double to, C... coefficients) {
    return {couple, from, to, {coefficients...}};
}

constexpr std::array reaches{
#define REACH(couple, from, to, ...) reach(Couple::couple, from, to, __VA_ARGS__),
#include "compiler/physics/thermocouples.def"
#undef REACH
};

double celsius(double kelvin) {
    return kelvin - zero_celsius;
}

const Reach& reach_at(Couple couple, double t) {
    const Reach* last = nullptr;
    for (const Reach& r : reaches) {
        if (r.couple != couple) continue;
        last = &r;
        if (t <= r.to) break;
    }
    return *last;
}

struct Value {
    double emf, slope; // mV, mV/K
};

Value at(Couple couple, double t) {
    const Reach& r = reach_at(couple, t);
    Value v{0, 0};
    for (std::size_t i = r.c.size(); i-- > 0;) {
        v.slope = v.slope * t + v.emf;
        v.emf = v.emf * t + r.c[i];
    }
    if (couple == Couple::k && t > 0) {
        constexpr double a0 = 0.1185976, a1 = -1.183432e-4, a2 = 126.9686;
        const double bump = a0 * std::exp(a1 * (t - a2) * (t - a2));
        v.emf += bump;
        v.slope += 2 * a1 * (t - a2) * bump;
    }
    return v;
}

} // namespace

std::optional<Couple> couple_named(std::string_view name) {
    constexpr std::array<std::string_view, 5> names{"type_k", "type_n", "type_s", "type_r", "type_b"};
    for (std::size_t i = 0; i < names.size(); ++i)
        if (names[i] == name) return static_cast<Couple>(i);
    return std::nullopt;
}

double coldest(Couple couple) {
    for (const Reach& r : reaches)
        if (r.couple == couple) return r.from + zero_celsius;
    return zero_celsius;
}

double hottest(Couple couple) {
    double to = 0;
    for (const Reach& r : reaches)
        if (r.couple == couple) to = r.to;
    return to + zero_celsius;
}

double emf(Couple couple, double temperature) {
    return 1e-3 * at(couple, celsius(temperature)).emf;
}

double seebeck(Couple couple, double temperature) {
    return 1e-3 * at(couple, celsius(temperature)).slope;
}

double coldest_inverse(Couple couple) {
    return couple == Couple::b ? zero_celsius + 50 : coldest(couple);
}

double temperature_of(Couple couple, double volts) {
    double lo = celsius(coldest_inverse(couple)), hi = celsius(hottest(couple));
    for (int i = 0; i < 60; ++i) {
        const double middle = 0.5 * (lo + hi);
        (1e-3 * at(couple, middle).emf < volts ? lo : hi) = middle;
    }
    return zero_celsius + 0.5 * (lo + hi);
}

} // namespace athanor::physics
