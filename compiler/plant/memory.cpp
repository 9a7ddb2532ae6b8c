#include "compiler/plant/memory.hpp"

#include <algorithm>
#include <bit>
#include <cstring>
#include <span>

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

Word hash_of(std::span<const Word> words) {
    constexpr Word odd = 0xff51afd7ed558ccd;
    Word a = 0x9e3779b97f4a7c15;
    std::size_t i = 0;
    for (; i + 1 < words.size(); i += 2) a = std::rotr((a ^ words[i]) * odd + words[i + 1], 32);
    if (i < words.size()) a = std::rotr((a ^ words[i]) * odd, 32);
    a *= odd;
    return a ^ (a >> 32);
}

template<class T>
Word* put(Word* x, const T* values, std::size_t count) {
    static_assert(std::is_trivially_copyable_v<T> && sizeof(T) % sizeof(Word) == 0);
    if (count != 0) std::memcpy(x, values, count * sizeof(T)); // an empty list has no address
    return x + count * words_of<T>;
}

template<class T>
const Word* take(const Word* x, T* values, std::size_t count) {
    if (count != 0) std::memcpy(static_cast<void*>(values), x, count * sizeof(T));
    return x + count * words_of<T>;
}

template<std::size_t N, class T>
const Word* take(const Word* x, Filled<T, N>& values, std::size_t count) {
    return take(x, values.overwrite(count), count);
}

/// Counts the words of a question.
struct Counter {
    std::size_t words = 0;
    void operator()(Word) { ++words; }
    template<class T>
    void operator()(const T*, std::size_t count) {
        words += count * words_of<T>;
    }
};

/// Writes a question.
struct Writer {
    Word* x;
    void operator()(Word value) { *x++ = value; }
    template<class T>
    void operator()(const T* values, std::size_t count) {
        x = put(x, values, count);
    }
};

/// Compares a question with one of the same size that was written.
struct Reader {
    const Word* x;
    Word differs = 0; // some bit is set
    void operator()(Word value) { differs |= value ^ *x++; }
    void operator()(const double* values, std::size_t count) {
        for (std::size_t i = 0; i < count; ++i) (*this)(word(values[i]));
    }
    void operator()(const Interval* values, std::size_t count) {
        for (std::size_t i = 0; i < count; ++i) {
            (*this)(word(values[i].lo));
            (*this)(word(values[i].hi));
        }
    }
};

} // namespace

/// Gives a question to what counts, writes or compares it.
template<class Sink>
void Memory::spell(const State& entry, const Drive& drive, const timeline::Ending& ending, Sink& sink) const {
    const timeline::State& s = *drive.state;
    const ZoneState* zones = entry.zones.begin();
    for (std::size_t z = 0; z < zones_; ++z) {
        const ZoneState& zone = zones[z];
        const timeline::Law& law = drive.laws[z];
        sink(word(zone.setpoint));
        sink(&zone.control, 1);
        sink(&zone.load, 1);
        sink(word(zone.unread.below));
        sink(word(zone.unread.above));
        sink((zone.comes_down ? 1U : 0U) + (zone.comes_up ? 2U : 0U) + (zone.untouched ? 4U : 0U) +
             8U * static_cast<unsigned>(law.kind));
        sink(word(law.from));
        sink(word(law.to));
        sink(word(law.rate));
    }
    sink(&entry.pressure, 1);
    sink(entry.fraction.begin(), species_);
    sink(entry.pore.begin(), species_);
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
    if (ending.kind == timeline::EndingKind::certain) // the condition may ask for these
        for (const Interval* part : {&entry.elapsed, &entry.burning, &entry.swept}) sink(part, 1);
}

void Memory::make_room(std::size_t words) {
    if (room_ >= words) return;
    room_ = std::max(block, words);
    question_ = blocks_.emplace_back(std::make_unique_for_overwrite<Word[]>(room_)).get();
}

/// Index of the record of the question; behind the last where there is none.
std::size_t Memory::known(const State& entry, const Drive& drive, const timeline::Ending& ending) {
    Counter counter;
    spell(entry, drive, ending, counter);
    size_ = counter.words;
    // Whoever walks the spans again asks for them in the same order.
    if (expected_ < records_.size() && records_[expected_].size == size_) {
        Reader reader{records_[expected_].at};
        spell(entry, drive, ending, reader);
        if (reader.differs == 0) return expected_;
    }
    make_room(size_ + zones_ * words_of<ZoneState> + words_of<Interval> * (2 * species_ + 6) + 1);
    Writer writer{question_};
    spell(entry, drive, ending, writer);
    hash_ = hash_of({question_, size_});
    for (std::uint32_t r = buckets_[hash_ % buckets_.size()]; r != 0; r = records_[r - 1].next) {
        const Record& record = records_[r - 1];
        if (record.hash == hash_ && record.size == size_ &&
            std::memcmp(record.at, question_, size_ * sizeof(Word)) == 0)
            return r - 1;
    }
    return records_.size();
}

bool Memory::find(const State& entry, const Drive& drive, const timeline::Ending& ending, Passage& passage,
                  Sweep& sweep) {
    const std::size_t found = known(entry, drive, ending);
    expected_ = found + 1;
    if (found == records_.size()) return false;
    const Record& record = records_[found];
    State& exit = passage.exit;
    const Word* x = record.at + record.size;
    x = take(x, &passage.duration, 1);
    x = take(x, exit.zones, zones_);
    x = take(x, &exit.pressure, 1);
    x = take(x, exit.fraction, species_);
    x = take(x, exit.pore, species_);
    x = take(x, &exit.inflow, 1);
    x = take(x, &exit.drawn_in, 1);
    x = take(x, &exit.taken, 1);
    x = take(x, &sweep.gained, 1);
    sweep.keeps_lo = (*x & 1U) != 0;
    sweep.keeps_hi = (*x & 2U) != 0;
    return true;
}

void Memory::keep(const Passage& passage, const Sweep& sweep) {
    if (!passage.reachable) return;
    if (records_.size() >= buckets_.size()) {
        std::vector<std::uint32_t> wider(buckets_.size() * 4, 0);
        for (std::size_t r = 0; r < records_.size(); ++r) {
            std::uint32_t& bucket = wider[records_[r].hash % wider.size()];
            records_[r].next = bucket;
            bucket = static_cast<std::uint32_t>(r + 1);
        }
        buckets_.swap(wider);
    }
    std::uint32_t& bucket = buckets_[hash_ % buckets_.size()];
    records_.push_back({hash_, question_, static_cast<std::uint32_t>(size_), bucket});
    bucket = static_cast<std::uint32_t>(records_.size());
    const State& exit = passage.exit;
    Word* x = question_ + size_;
    x = put(x, &passage.duration, 1);
    x = put(x, exit.zones.begin(), zones_);
    x = put(x, &exit.pressure, 1);
    x = put(x, exit.fraction.begin(), species_);
    x = put(x, exit.pore.begin(), species_);
    x = put(x, &exit.inflow, 1);
    x = put(x, &exit.drawn_in, 1);
    x = put(x, &exit.taken, 1);
    x = put(x, &sweep.gained, 1);
    *x++ = (sweep.keeps_lo ? 1U : 0U) + (sweep.keeps_hi ? 2U : 0U);
    room_ -= static_cast<std::size_t>(x - question_);
    question_ = x;
}

} // namespace athanor::plant
