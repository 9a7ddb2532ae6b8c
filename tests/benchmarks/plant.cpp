// The plant's bounds against integrating one rig with Dormand-Prince at 1e-8, on the same span in the same run.
#include "tests/plant/rigs.hpp"
#include "tests/simulator/simulate.hpp"

#include <algorithm>
#include <chrono>
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

} // namespace

int main() {
    Bench b;
    plant::Plant& p = b.build();
    const double from = 300 + zero, to = 800 + zero, rate = 5.0 / 60, length = (to - from) / rate;
    const timeline::State gas = Bench::flowing(slm), air = Bench::closed();
    const timeline::Law up = ramp(from, to, rate), stay = hold(from);
    plant::State entry = p.pass(p.start(), {&stay, &gas}, fixed(7200)).exit;
    entry.zones[0].control = entry.zones[0].load = {from - 3, from + 3};

    const double held = median(301, 200, [&](int i) {
        sink = p.during(entry, {&stay, &gas}, {10.0 + i % 7, 20.0 + i % 7}).fraction[0].hi;
    });
    const double part = median(301, 100, [&](int i) {
        sink = p.during(entry, {&up, &gas}, {10.0 + i % 7, 20.0 + i % 7}).fraction[0].hi;
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

    std::printf("%-52s %12.0f ns\n", "dopri5 at 1e-8, ramp of 500 K, plugs, 5 gases (1 rig)", integrated);
    std::printf("%-52s %12.0f ns  1/%.0f\n", "during, sub-span of a hold", held, integrated / held);
    std::printf("%-52s %12.0f ns  1/%.0f\n", "during, sub-span of the ramp", part, integrated / part);
    std::printf("%-52s %12.0f ns  1/%.0f\n", "pass, the whole ramp", whole, integrated / whole);
}
