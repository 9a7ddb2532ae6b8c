#pragma once
#include "tests/plant/rigs.hpp"

#include <cmath>
#include <random>

/// Drawn rigs and laws for the plant's properties.
namespace bench {

class Draw {
public:
    explicit Draw(std::uint64_t seed) : engine_(seed) {}
    double between(double a, double b) { return std::uniform_real_distribution<double>(a, b)(engine_); }
    bool one_in(int n) { return std::uniform_int_distribution<int>(1, n)(engine_) == 1; }
    int below(int n) { return std::uniform_int_distribution<int>(0, n - 1)(engine_); }

private:
    std::mt19937_64 engine_;
};

inline void set_up(Bench& b, Draw& draw) {
    if (draw.one_in(3))
        b.pumped();
    else if (draw.one_in(3))
        b.shielded();
    if (draw.one_in(6)) b.rig.exhaust.kind = check::ExhaustKind::shut;
    if (draw.one_in(5)) b.rig.seals.gas_tight = false;
    if (draw.one_in(3)) b.rig.outgassing = figure({0, 1e-5});
    if (draw.one_in(4)) {
        timeline::Threshold t;
        t.line = Bench::hydrogen_line;
        t.flow = 0.3 * slm;
        t.temperature = zero + draw.between(200, 900);
        t.opens = t.above = true;
        b.timeline.thresholds.push_back(t);
    }
    if (draw.one_in(5)) {
        timeline::Evolved e;
        e.species = Bench::hydrogen;
        e.flow = 1e-6;
        e.above = 500;
        b.timeline.evolved.push_back(e);
    }
    if (draw.one_in(3)) {
        b.timeline.zones = b.rig.furnace.zones = {"left", "centre", "right"};
    }
}

inline timeline::State drawn_flows(Draw& draw, const Bench& b) {
    timeline::State s = draw.one_in(4) ? Bench::closed()
                                       : Bench::flowing(slm * draw.between(0.01, 2),
                                                        draw.one_in(2) ? 0 : slm * draw.between(0, 1));
    s.pump = b.rig.pump.present && draw.one_in(2);
    return s;
}

inline timeline::Law drawn_law(Draw& draw, double at) {
    const double to = zero + draw.between(100, 1100);
    switch (draw.below(5)) {
    case 0: return ramp(at, to, (to < at ? -0.3 : 1) * draw.between(0.5, 20) / 60);
    case 1: return off(zero + 20, zero + 20);
    case 2: return jump(at, to);
    default: return hold(at);
    }
}

} // namespace bench
