#include "compiler/elaborate/states.hpp"

#include <functional>
#include <utility>

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

void States::place(Slot known) {
    std::size_t at = known.hash % slots_.size();
    while (slots_[at].index != timeline::none) at = (at + 1) % slots_.size();
    slots_[at] = known;
}

timeline::Index States::intern(const timeline::State& state, std::vector<timeline::State>& pool) {
    if (last_ < pool.size() && pool[last_] == state) return last_;
    const auto h = static_cast<std::uint32_t>(hash(state));
    for (std::size_t at = h % slots_.size(); slots_[at].index != timeline::none; at = (at + 1) % slots_.size())
        if (slots_[at].hash == h && pool[slots_[at].index] == state) return last_ = slots_[at].index;
    last_ = static_cast<timeline::Index>(pool.size());
    pool.push_back(state);
    if (++known_ > slots_.size() / 2) {
        const std::vector<Slot> before = std::exchange(slots_, std::vector<Slot>(slots_.size() * 4));
        for (const Slot& slot : before)
            if (slot.index != timeline::none) place(slot);
    }
    place({h, last_});
    return last_;
}

} // namespace athanor::elaborate
