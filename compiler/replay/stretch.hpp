#pragma once
#include "compiler/replay/replay.hpp"

#include <algorithm>
#include <utility>

/// What a run does at an instant: for those who walk it beside a timeline.
namespace athanor::replay {

inline constexpr double zero_celsius = 273.15; // K

/// Where a stretch has its set-point `t` seconds after its beginning, K.
inline double keyed(const Stretch& s, std::size_t zone, double t) {
    const double length = zone < s.zone_s.size() ? s.zone_s[zone] : 0;
    const double share = length > 0 ? std::clamp(t / length, 0.0, 1.0) : 1.0;
    return s.from_degC[zone] + (s.to_degC[zone] - s.from_degC[zone]) * share + zero_celsius;
}

/// K between which the set-points lie during a stretch.
inline std::pair<double, double> between(const Stretch& s) {
    const auto [a, b] = std::minmax_element(s.from_degC.begin(), s.from_degC.end());
    const auto [c, d] = std::minmax_element(s.to_degC.begin(), s.to_degC.end());
    return {std::min(*a, *c) + zero_celsius, std::max(*b, *d) + zero_celsius};
}

/// A controller that starts from a set-point of its own is first brought to the recipe's: whether stretch `now`
/// may do that.
inline bool from_own_start(const Run& run, std::size_t now, const program::Controller& controller) {
    const Stretch& s = run.stretches[now];
    if (s.kind != Stretch::Kind::jump || controller.starts_from_measured) return false;
    return now == 0 || run.stretches[now - 1].between || run.stretches[now - 1].part != s.part;
}

/// K between which the tube is led during a stretch. Where a programme starts from a set-point of its own, the
/// furnace is still where the recipe left it, in the `laws` that it follows now.
inline std::pair<double, double> led(const Run& run, std::size_t now, const program::Controller& controller,
                                     const timeline::Law* laws) {
    const Stretch& s = run.stretches[now];
    if (!from_own_start(run, now, controller)) return between(s);
    double low = laws->from, high = laws->from;
    for (std::size_t z = 0; z < s.to_degC.size(); ++z)
        for (const double kelvin : {laws[z].from, s.to_degC[z] + zero_celsius}) {
            low = std::min(low, kelvin);
            high = std::max(high, kelvin);
        }
    return {low, high};
}

/// What ran last before `used` seconds of stretch `now`, if it waited in a band; null: it did not.
inline const Stretch* waited_last(const Run& run, std::size_t now, double used) {
    if (now == 0 && used == 0) return nullptr;
    const Stretch& last = run.stretches[used > 0 ? now : now - 1];
    return last.band_K > 0 ? &last : nullptr;
}

} // namespace athanor::replay
