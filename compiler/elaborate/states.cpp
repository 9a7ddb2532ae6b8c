#include "compiler/elaborate/states.hpp"

#include <bit>
#include <utility>

namespace athanor::elaborate {

namespace {

std::uint32_t hash(const timeline::State& state) {
    constexpr std::uint64_t odd = 0xff51afd7ed558ccd;
    std::uint64_t h = 0x9e3779b97f4a7c15;
    const auto mix = [&](std::uint64_t x) { h = std::rotr((h ^ x) * odd, 32); };
    const auto number = [&](double x) { mix(std::bit_cast<std::uint64_t>(x + 0.0)); }; // both zeros are equal
    for (double flow : state.flows) number(flow);
    for (bool open : state.open) mix(open ? 2U : 1U);
    mix(std::uint64_t{state.armed} << 32U |
        ((state.burner ? 1U : 0U) + (state.pump ? 2U : 0U) + (state.tube_open ? 4U : 0U) +
         (state.bubbler ? 8U : 0U) + (state.slide ? 16U : 0U)));
    number(state.regulated);
    number(state.bath);
    mix(state.place);
    for (const Interval& flow : state.between) {
        number(flow.lo);
        number(flow.hi);
    }
    return static_cast<std::uint32_t>(h * odd >> 32U);
}

} // namespace

void States::place(Slot known) {
    std::size_t at = known.hash % slots_.size();
    while (slots_[at].index != timeline::none) at = (at + 1) % slots_.size();
    slots_[at] = known;
}

timeline::Index States::find(const timeline::State& state, std::vector<timeline::State>& pool) {
    const std::uint32_t h = hash(state);
    for (std::size_t at = h % slots_.size(); slots_[at].index != timeline::none; at = (at + 1) % slots_.size())
        if (slots_[at].hash == h && pool[slots_[at].index] == state) return slots_[at].index;
    const auto made = static_cast<timeline::Index>(pool.size());
    pool.push_back(state);
    if (++known_ > slots_.size() / 2) {
        const std::vector<Slot> before = std::exchange(slots_, std::vector<Slot>(slots_.size() * 4));
        for (const Slot& slot : before)
            if (slot.index != timeline::none) place(slot);
    }
    place({h, made});
    return made;
}

} // namespace athanor::elaborate
