#include "compiler/elaborate/states.hpp"

#include <functional>

namespace athanor::elaborate {

std::size_t hash(const timeline::State& state) {
    std::size_t h = 14695981039346656037U;
    auto mix = [&](std::size_t x) { h = (h ^ x) * 1099511628211U; };
    for (double flow : state.flows) mix(std::hash<double>{}(flow));
    for (bool open : state.open) mix(open ? 2U : 1U);
    mix(state.armed);
    mix((state.burner ? 1U : 0U) + (state.pump ? 2U : 0U) + (state.tube_open ? 4U : 0U) +
        (state.bubbler ? 8U : 0U) + (state.slide ? 16U : 0U));
    mix(std::hash<double>{}(state.regulated));
    mix(std::hash<double>{}(state.bath));
    mix(state.place);
    for (const Interval& flow : state.between) {
        mix(std::hash<double>{}(flow.lo));
        mix(std::hash<double>{}(flow.hi));
    }
    return h;
}

timeline::Index States::intern(const timeline::State& state, std::vector<timeline::State>& pool) {
    if (last_ < pool.size() && pool[last_] == state) return last_;
    std::size_t h = hash(state);
    auto [begin, end] = by_hash_.equal_range(h);
    for (auto at = begin; at != end; ++at)
        if (pool[at->second] == state) return last_ = at->second;
    last_ = static_cast<timeline::Index>(pool.size());
    pool.push_back(state);
    by_hash_.emplace(h, last_);
    return last_;
}

} // namespace athanor::elaborate
