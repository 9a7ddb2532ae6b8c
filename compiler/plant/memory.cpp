#include "compiler/plant/memory.hpp"

#include <algorithm>
#include <bit>
#include <cassert>
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

/// What takes a question word by word.
template<class Sink>
struct ByWord {
    void operator()(const double* values, std::size_t count) {
        for (std::size_t i = 0; i < count; ++i) to()(word(values[i]));
    }
    void operator()(const Interval* values, std::size_t count) {
        for (std::size_t i = 0; i < count; ++i) {
            to()(word(values[i].lo));
            to()(word(values[i].hi));
        }
    }

private:
    Sink& to() { return static_cast<Sink&>(*this); }
};

struct Hasher : ByWord<Hasher> {
    Word a = 0x9e3779b97f4a7c15;
    using ByWord::operator();
    void operator()(Word value) { a = std::rotr((a ^ value) * 0xff51afd7ed558ccd, 32); }
    Word hash() const { return a ^ (a >> 32U); }
};

struct Writer : ByWord<Writer> {
    Word* x;
    explicit Writer(Word* to) : x(to) {}
    using ByWord::operator();
    void operator()(Word value) { *x++ = value; }
};

/// Compares with one of the same size that was written.
struct Reader : ByWord<Reader> {
    const Word* x;
    Word differs = 0; // some bit is set
    explicit Reader(const Word* from) : x(from) {}
    using ByWord::operator();
    void operator()(Word value) { differs |= value ^ *x++; }
};

bool same_bits(const Interval* a, const Interval* b, std::size_t count) {
    return count == 0 || std::memcmp(a, b, count * sizeof(Interval)) == 0;
}

} // namespace

/// The entry of a question, as far as the passage depends on it.
template<class Sink>
void Memory::spell(const State& entry, Sink& sink) const {
    const ZoneState* zones = entry.zones.begin();
    for (std::size_t z = 0; z < zones_; ++z) {
        const ZoneState& zone = zones[z];
        sink(word(zone.setpoint));
        sink(&zone.control, 1);
        sink(&zone.load, 1);
        sink(word(zone.unread.below));
        sink(word(zone.unread.above));
        sink(flags(zone));
    }
    sink(&entry.pressure, 1);
    sink(entry.fraction.begin(), species_);
    sink(entry.pore.begin(), species_);
}

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
    return differs == 0 && same_bits(entry.fraction.begin(), gases, species_) &&
           same_bits(entry.pore.begin(), gases + species_, species_);
}

/// The rest of a question. `entry`: where the condition may ask for what adds up.
template<class Sink>
void Memory::spell(const Drive& drive, const timeline::Ending& ending, const Always* entry, Sink& sink) const {
    const timeline::State& s = *drive.state;
    for (std::size_t z = 0; z < zones_; ++z) {
        const timeline::Law& law = drive.laws[z];
        sink(static_cast<Word>(law.kind));
        sink(word(law.from));
        sink(word(law.to));
        sink(word(law.rate));
    }
    sink(word((s.powered ? 32U : 0U) + (s.burner ? 1U : 0U) + (s.pump ? 2U : 0U) + (s.tube_open ? 4U : 0U) +
                  (s.bubbler ? 8U : 0U) + (s.slide ? 16U : 0U) + 64U * static_cast<unsigned>(ending.kind),
              s.armed));
    sink(word(s.place, ending.condition));
    sink(word(s.regulated));
    sink(word(s.bath));
    sink(s.flows.data(), s.flows.size());
    static_assert(max_lines <= 64);
    Word open = 0;
    for (const std::uint8_t line : s.open) open = open << 1U | line;
    sink(open);
    sink(s.between.data(), s.between.size());
    sink(word(ending.duration));
    sink(word(ending.band));
    // A wait in a band has its own, whatever is asked beside it.
    sink(word(ending.kind == timeline::EndingKind::band ? ending.band : drive.band));
    sink(word(ending.temperature));
    sink(word(ending.at_most));
    if (ending.kind == timeline::EndingKind::certain)
        for (const Interval* part : {&entry->elapsed, &entry->burning, &entry->swept}) sink(part, 1);
}

/// How many words that is.
std::size_t Memory::size_of(const Drive& drive, const timeline::Ending& ending) const {
    return 4 * zones_ + 10 + drive.state->flows.size() + 2 * drive.state->between.size() +
           (ending.kind == timeline::EndingKind::certain ? 6 : 0);
}

bool Memory::same(const Drive& drive, const timeline::Ending& ending, const Always* entry,
                  const Record& record) const {
    if (record.size != size_of(drive, ending)) return false;
    Reader reader(record.rest);
    spell(drive, ending, entry, reader);
    return reader.differs == 0;
}

const Remembered* Memory::found(std::size_t record) {
    expected_ = record + 1;
    return last_ = records_[record].passage;
}

const Remembered* Memory::find(const State& entry, const Drive& drive, const timeline::Ending& ending) {
    const auto answers = [&](const Record& record) {
        return same(drive, ending, &entry, record) && same(entry, *record.passage->entry);
    };
    // Whoever walks the spans again asks for them in the same order.
    if (expected_ < records_.size() && answers(records_[expected_])) return found(expected_);
    Hasher hasher;
    spell(entry, hasher);
    spell(drive, ending, &entry, hasher);
    hash_ = hasher.hash();
    for (std::uint32_t r = buckets_[hash_ % buckets_.size()]; r != 0; r = records_[r - 1].next)
        if (records_[r - 1].hash == hash_ && answers(records_[r - 1])) return found(r - 1);
    return nullptr;
}

const Remembered* Memory::behind(const Remembered& before, const Drive& drive, const timeline::Ending& ending) {
    if (&before != last_ || expected_ >= records_.size() || ending.kind == timeline::EndingKind::certain)
        return nullptr;
    const Record& record = records_[expected_];
    if (record.passage->entry != before.exit || !same(drive, ending, nullptr, record)) return nullptr;
    return found(expected_);
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

const Remembered* Memory::keep(const State& entry, const Drive& drive, const timeline::Ending& ending,
                               const Passage& passage, const Sweep& sweep, const State* whole,
                               const Sweep& sweep_of_whole) {
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
    const std::size_t size = size_of(drive, ending);
    const std::size_t states = 1 + (follows ? 0 : 1) + (whole != nullptr ? 1 : 0);
    Word* at = room(words_of<Remembered> + states * words_of_bounds() + size);
    auto* const kept = new (at) Remembered{passage.duration};
    at += words_of<Remembered>;
    kept->entry = follows ? last_->exit : put(entry, {}, at);
    kept->exit = put(passage.exit, sweep, at);
    if (whole != nullptr) kept->whole = put(*whole, sweep_of_whole, at);
    Writer rest(at);
    spell(drive, ending, &entry, rest);
    assert(rest.x == at + size);

    std::uint32_t& bucket = buckets_[hash_ % buckets_.size()];
    records_.push_back({hash_, kept, at, static_cast<std::uint32_t>(size), bucket});
    bucket = static_cast<std::uint32_t>(records_.size());
    expected_ = records_.size();
    return last_ = kept;
}

} // namespace athanor::plant
