// The bounds of the plant, against the closed form alone and against integrating one rig with Dormand-Prince at
// 1e-8, in the same run.
#include "tests/plant/rigs.hpp"
#include "tests/simulator/simulate.hpp"

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <vector>

using namespace bench;

namespace {

/// Median of many runs, ns.
template<class F>
double median(int rounds, int each, F f) {
    std::vector<double> times;
    for (int i = 0; i < rounds; ++i) {
        const auto begin = std::chrono::steady_clock::now();
        for (int k = 0; k < each; ++k) f(i * each + k);
        const std::chrono::duration<double, std::nano> took = std::chrono::steady_clock::now() - begin;
        times.push_back(took.count() / each);
    }
    std::sort(times.begin(), times.end());
    return times[times.size() / 2];
}

volatile double sink = 0;

/// The least that bounds of five gases in a stirred volume cost: the closed form of one segment, enclosed. No
/// furnace, no pressure, no load, no meters, no walls. ns.
double least() {
    struct Segment {
        double rate, seconds; // 1/s
        int gas;
    };
    std::vector<Segment> segments;
    for (int i = 0; i < 1000; ++i) segments.push_back({1e-3 * (1 + i % 37), 60.0 + i % 61, i % 5});
    constexpr double up = 1 + 1e-15, down = 1 - 1e-15;
    return median(301, 1,
                  [&](int) {
                      std::array<Interval, 5> x{0.0, 0.79, 0.0, 0.21, 0.0};
                      for (const Segment& s : segments) {
                          const double fast = std::exp(-1.01 * s.rate * s.seconds) * down,
                                       slow = std::exp(-0.99 * s.rate * s.seconds) * up;
                          for (int i = 0; i < 5; ++i) {
                              const double in = i == s.gas ? 1 : 0, lo = x[i].lo - in, hi = x[i].hi - in;
                              x[i] = {std::max(0.0, (in + std::min(lo * fast, lo * slow)) * down),
                                      std::min(1.0, (in + std::max(hi * fast, hi * slow)) * up)};
                          }
                      }
                      sink = x[0].hi;
                  }) /
           1000;
}

/// Shields leave no gas that is trapped.
void without_plugs(Bench& b) {
    b.shielded();
}

/// Five gases, one zone.
int measure(const char* ends, void (*change)(Bench&)) {
    Bench b;
    change(b);
    plant::Plant& p = b.build();
    const double from = 300 + zero, to = 800 + zero, rate = 5.0 / 60, length = (to - from) / rate;
    const timeline::State gas = Bench::flowing(slm);
    const timeline::Law up = ramp(from, to, rate), stay = hold(from);
    plant::State entry = p.pass(p.start(), {&stay, &gas}, fixed(7200)).exit;
    entry.zones[0].control = entry.zones[0].load = {from - 3, from + 3};

    const auto piece = [](int i) { return Interval{10.0 + i % 7, 20.0 + i % 7}; };
    const plant::Plant::Way held_way(p, entry, {&stay, &gas}), ramp_way(p, entry, {&up, &gas});
    const double held = median(301, 200, [&](int i) { sink = held_way.during(piece(i)).fraction[0].hi; });
    const double part = median(301, 200, [&](int i) { sink = ramp_way.during(piece(i)).fraction[0].hi; });
    const double alone = median(301, 100, [&](int i) {
        sink = p.during(entry, {&up, &gas}, piece(i)).fraction[0].hi;
    });
    // A new length each time: passages are remembered.
    const double whole = median(301, 20, [&](int i) {
        sink = p.pass(entry, {&up, &gas}, fixed(length + 1e-6 * i)).exit.fraction[0].hi;
    });

    timeline::Timeline t = b.timeline;
    t.states = {gas};
    t.laws = {up};
    timeline::Span span;
    span.ending = fixed(length);
    span.duration = length;
    t.spans = {span};
    simulator::Draw d;
    if (!simulator::draw(b.model, b.rig, t, 1, false, d)) return 1;
    simulator::Options options;
    options.samples = 0;
    const double integrated = median(
        31, 3, [&](int) { sink = simulator::simulate(b.model, b.rig, t, d, {}, options).extremes.hottest; });

    const double closed = least();
    std::printf("%s\n  %-44s %10s %18s %16s\n", ends, "", "ns", "to the closed form", "to dopri5");
    const auto row = [&](const char* what, double took) {
        std::printf("  %-44s %10.0f %18.1f          1/%.0f\n", what, took, took / closed, integrated / took);
    };
    row("closed form, enclosed (reference)", closed);
    row("dopri5 at 1e-8, ramp of 500 K (reference)", integrated);
    row("sub-span of a hold", held);
    row("sub-span of the ramp", part);
    row("a sub-span of the ramp, asked alone", alone);
    row("the whole ramp", whole);
    return 0;
}

} // namespace

int main() {
    const int plain = measure("no plugs", without_plugs);
    return measure("porous plugs", [](Bench&) {}) != 0 ? 1 : plain;
}
