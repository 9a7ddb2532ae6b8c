#include "compiler/plant/memory.hpp"

#include <algorithm>
#include <bit>
#include <cstring>
#include <memory>

namespace athanor::plant {

namespace {

using Word = std::uint64_t;

constexpr std::size_t block = 8192; // words

template<class T>
constexpr std::size_t words_of = sizeof(T) / sizeof(Word);

Word word(double x) {
    return std::bit_cast<Word>(x);
}
Word word(std::uint32_t low, std::uint32_t high) {
    return low | Word{high} << 32U;
}

/// What a zone may yet have to settle.
Word flags(const ZoneState& zone) {
    return (zone.comes_down ? 1U : 0U) + (zone.comes_up ? 2U : 0U) + (zone.untouched ? 4U : 0U);
}

/// Spreads the bits of some words at a time, so that one product need not wait for the last.
struct Hasher {
    Word a = 0x9e3779b97f4a7c15;
    void operator()(Word x, Word y = 0, Word z = 0, Word w = 0) {
        constexpr Word first = 0xff51afd7ed558ccd, second = 0xc4ceb9fe1a85ec53, third = 0x87c37b91114253d5,
                       fourth = 0x4cf5ad432745937f;
        a = std::rotr((a ^ x) * first + y * second + (z * third + w * fourth), 32);
    }
    Word hash() const { return a ^ (a >> 32U); }
};

} // namespace

bool Memory::same(const State& entry, const Bounds& bounds) const {
    const ZoneState* kept = bounds.zones();
    const ZoneState* zones = entry.zones.begin();
    const auto* const gases = reinterpret_cast<const Interval*>(kept + zones_);
    Word differs = 0;
    const auto compare = [&](double a, double b) { differs |= word(a) ^ word(b); };
    const auto both = [&](Interval a, Interval b) {
        compare(a.lo, b.lo);
        compare(a.hi, b.hi);
    };
    for (std::size_t z = 0; z < zones_; ++z) {
        compare(zones[z].setpoint, kept[z].setpoint);
        both(zones[z].control, kept[z].control);
        both(zones[z].load, kept[z].load);
        compare(zones[z].unread.below, kept[z].unread.below);
        compare(zones[z].unread.above, kept[z].unread.above);
        differs |= flags(zones[z]) ^ flags(kept[z]);
    }
    both(entry.pressure, bounds.pressure);
    const Interval *free = entry.fraction.begin(), *pore = entry.pore.begin();
    for (std::size_t i = 0; i < species_; ++i) {
        both(free[i], gases[i]);
        both(pore[i], gases[species_ + i]);
    }
    return differs == 0;
}

/// Writes the rest of a question. `entry`: where the condition may ask for what adds up.
void Memory::spell(const Drive& drive, const timeline::Ending& ending, const Always* entry) {
    const timeline::State& s = *drive.state;
    static_assert(max_lines <= 64);
    const std::size_t most = 4 * zones_ + 16 + s.flows.size() + 2 * s.between.size();
    if (rest_.size() < most) rest_.resize(most);
    Word* x = rest_.data();
    for (std::size_t z = 0; z < zones_; ++z) {
        const timeline::Law& law = drive.laws[z];
        *x++ = static_cast<Word>(law.kind);
        *x++ = word(law.from);
        *x++ = word(law.to);
        *x++ = word(law.rate);
    }
    *x++ = word((s.powered ? 32U : 0U) + (s.burner ? 1U : 0U) + (s.pump ? 2U : 0U) + (s.tube_open ? 4U : 0U) +
                    (s.bubbler ? 8U : 0U) + (s.slide ? 16U : 0U) + 64U * static_cast<unsigned>(ending.kind),
                s.armed);
    *x++ = word(s.place, ending.condition);
    *x++ = word(s.regulated);
    *x++ = word(s.bath);
    *x++ = word(ending.duration);
    *x++ = word(ending.band);
    // A wait in a band has its own, whatever is asked beside it.
    *x++ = word(ending.kind == timeline::EndingKind::band ? ending.band : drive.band);
    *x++ = word(ending.temperature);
    *x++ = word(ending.at_most);
    Word open = 0;
    for (const std::uint8_t line : s.open) open = open << 1U | line;
    *x++ = open;
    for (const double flow : s.flows) *x++ = word(flow);
    const auto add = [&](Interval range) {
        *x++ = word(range.lo);
        *x++ = word(range.hi);
    };
    for (const Interval& flow : s.between) add(flow);
    if (ending.kind == timeline::EndingKind::certain) {
        add(entry->elapsed);
        add(entry->burning);
        add(entry->swept);
    }
    size_ = static_cast<std::size_t>(x - rest_.data());
}

/// The rest is as it was spelled.
bool Memory::same(const Record& record) const {
    return record.size == size_ && std::memcmp(record.rest, rest_.data(), size_ * sizeof(Word)) == 0;
}

Word Memory::hash_of(const State& entry) const {
    Hasher hasher;
    for (const ZoneState& zone : entry.zones)
        hasher(word(zone.control.lo), word(zone.control.hi), word(zone.load.lo), word(zone.load.hi));
    hasher(word(entry.pressure.lo), word(entry.pressure.hi));
    for (const Interval& share : entry.fraction) hasher(word(share.lo), word(share.hi));
    std::size_t i = 0;
    for (; i + 3 < size_; i += 4) hasher(rest_[i], rest_[i + 1], rest_[i + 2], rest_[i + 3]);
    for (; i < size_; ++i) hasher(rest_[i]);
    return hasher.hash();
}

const Remembered* Memory::found(std::size_t record) {
    expected_ = record + 1;
    return last_ = records_[record].passage;
}

const Remembered* Memory::find(const State& entry, const Drive& drive, const timeline::Ending& ending) {
    spell(drive, ending, &entry);
    const auto answers = [&](const Record& record) {
        return same(record) && same(entry, *record.passage->entry);
    };
    // Whoever walks the spans again asks for them in the same order.
    if (expected_ < records_.size() && answers(records_[expected_])) return found(expected_);
    hash_ = hash_of(entry);
    for (std::uint32_t r = buckets_[hash_ % buckets_.size()]; r != 0; r = records_[r - 1].next)
        if (records_[r - 1].hash == hash_ && answers(records_[r - 1])) return found(r - 1);
    return nullptr;
}

const Remembered* Memory::behind(const Remembered& before, const Drive& drive, const timeline::Ending& ending) {
    if (&before != last_ || expected_ >= records_.size() || ending.kind == timeline::EndingKind::certain)
        return nullptr;
    if (records_[expected_].passage->entry != before.exit) return nullptr;
    spell(drive, ending, nullptr);
    return same(records_[expected_]) ? found(expected_) : nullptr;
}

Word* Memory::room(std::size_t words) {
    if (left_ < words) {
        left_ = std::max(block, words);
        free_ = blocks_.emplace_back(std::make_unique_for_overwrite<Word[]>(left_)).get();
    }
    left_ -= words;
    Word* const at = free_;
    free_ += words;
    return at;
}

std::size_t Memory::words_of_bounds() const {
    return words_of<Bounds> + zones_ * words_of<ZoneState> + 2 * species_ * words_of<Interval>;
}

const Bounds* Memory::put(const State& state, const Sweep& sweep, Word*& at) const {
    auto* const kept = new (at) Bounds{state.pressure, state.inflow, state.drawn_in, state.taken, sweep};
    auto* const zones = reinterpret_cast<ZoneState*>(kept + 1);
    auto* const gases = reinterpret_cast<Interval*>(zones + zones_);
    std::uninitialized_copy_n(state.zones.begin(), zones_, zones);
    std::uninitialized_copy_n(state.fraction.begin(), species_, gases);
    std::uninitialized_copy_n(state.pore.begin(), species_, gases + species_);
    at = reinterpret_cast<Word*>(gases + 2 * species_);
    return kept;
}

const Remembered* Memory::keep(const State& entry, const Passage& passage, const Sweep& sweep,
                               const State* whole, const Sweep& sweep_of_whole) {
    if (!passage.reachable) return nullptr;
    if (records_.size() >= buckets_.size()) {
        std::vector<std::uint32_t> wider(buckets_.size() * 4, 0);
        for (std::size_t r = 0; r < records_.size(); ++r) {
            std::uint32_t& bucket = wider[records_[r].hash % wider.size()];
            records_[r].next = bucket;
            bucket = static_cast<std::uint32_t>(r + 1);
        }
        buckets_.swap(wider);
    }
    // A span mostly begins as the one before it ended.
    const bool follows = last_ != nullptr && same(entry, *last_->exit);
    const std::size_t states = 1 + (follows ? 0 : 1) + (whole != nullptr ? 1 : 0);
    Word* at = room(words_of<Remembered> + states * words_of_bounds() + size_);
    auto* const kept = new (at) Remembered{passage.duration};
    at += words_of<Remembered>;
    kept->entry = follows ? last_->exit : put(entry, {}, at);
    kept->exit = put(passage.exit, sweep, at);
    if (whole != nullptr) kept->whole = put(*whole, sweep_of_whole, at);
    std::memcpy(at, rest_.data(), size_ * sizeof(Word));

    std::uint32_t& bucket = buckets_[hash_ % buckets_.size()];
    records_.push_back({hash_, kept, at, static_cast<std::uint32_t>(size_), bucket});
    bucket = static_cast<std::uint32_t>(records_.size());
    expected_ = records_.size();
    return last_ = kept;
}

} // namespace athanor::plant
