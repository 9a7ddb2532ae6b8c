#include "compiler/plant/memory.hpp"

#include <bit>
#include <cstring>
#include <span>

namespace athanor::plant {

namespace {

constexpr std::size_t block = 8192; // numbers

std::uint64_t hash_of(std::span<const double> numbers) {
    constexpr std::uint64_t odd = 0xff51afd7ed558ccd;
    // Two chains, so that one multiplication need not wait for the other.
    std::uint64_t a = 0x9e3779b97f4a7c15, b = 0xc2b2ae3d27d4eb4f;
    std::size_t i = 0;
    for (; i + 1 < numbers.size(); i += 2) {
        a = std::rotr((a ^ std::bit_cast<std::uint64_t>(numbers[i])) * odd, 32);
        b = std::rotr((b ^ std::bit_cast<std::uint64_t>(numbers[i + 1])) * odd, 32);
    }
    if (i < numbers.size()) a = std::rotr((a ^ std::bit_cast<std::uint64_t>(numbers[i])) * odd, 32);
    a = (a ^ std::rotr(b, 17)) * odd;
    return a ^ (a >> 32);
}

template<class T>
double* put(double* x, const T* values, std::size_t count) {
    static_assert(std::is_trivially_copyable_v<T> && sizeof(T) % sizeof(double) == 0);
    if (count != 0) std::memcpy(x, values, count * sizeof(T)); // an empty list has no address
    return x + count * (sizeof(T) / sizeof(double));
}

template<class T>
const double* take(const double* x, T* values, std::size_t count) {
    if (count != 0) std::memcpy(static_cast<void*>(values), x, count * sizeof(T));
    return x + count * (sizeof(T) / sizeof(double));
}

template<std::size_t N, class T>
const double* take(const double* x, Filled<T, N>& values, std::size_t count) {
    values.grow(count);
    return take(x, values.begin(), count);
}

constexpr std::size_t per_interval = sizeof(Interval) / sizeof(double);

} // namespace

void Memory::ask(const State& entry, Drive drive, const timeline::Ending& ending) {
    const timeline::State& s = *drive.state;
    const std::size_t most = zones_ * 11 + per_interval * (2 * species_ + s.between.size() + 4) +
                             s.flows.size() + s.open.size() / 32 + 17;
    if (question_.size() < most) question_.resize(most);
    double* x = question_.data();
    for (std::size_t z = 0; z < zones_; ++z) {
        const ZoneState& zone = entry.zones[z];
        const timeline::Law& law = drive.laws[z];
        x = put(x, &zone.control, 1);
        x = put(x, &zone.load, 1);
        *x++ = zone.setpoint;
        *x++ = zone.unread.below;
        *x++ = zone.unread.above;
        *x++ = (zone.comes_down ? 1 : 0) + (zone.comes_up ? 2 : 0) + (zone.untouched ? 4 : 0) +
               8 * static_cast<int>(law.kind);
        *x++ = law.from;
        *x++ = law.to;
        *x++ = law.rate;
    }
    x = put(x, &entry.pressure, 1);
    x = put(x, entry.fraction.begin(), species_);
    x = put(x, entry.pore.begin(), species_);
    *x++ = (s.powered ? 32 : 0) + (s.burner ? 1 : 0) + (s.pump ? 2 : 0) + (s.tube_open ? 4 : 0) +
           (s.bubbler ? 8 : 0) + (s.slide ? 16 : 0) + 64 * static_cast<int>(ending.kind);
    *x++ = static_cast<double>(s.armed);
    *x++ = s.regulated;
    *x++ = s.bath;
    *x++ = static_cast<double>(s.place);
    x = put(x, s.flows.data(), s.flows.size());
    std::uint32_t bits = 0; // of the open lines, 32 to a number
    for (std::size_t l = 0; l < s.open.size(); ++l) {
        bits = bits << 1 | static_cast<std::uint32_t>(s.open[l]);
        if (l % 32 != 31) continue;
        *x++ = bits;
        bits = 0;
    }
    *x++ = bits;
    x = put(x, s.between.data(), s.between.size());
    *x++ = ending.duration;
    *x++ = ending.band;
    // A wait in a band has its own, whatever is asked beside it.
    *x++ = ending.kind == timeline::EndingKind::band ? ending.band : drive.band;
    *x++ = ending.temperature;
    *x++ = ending.at_most;
    *x++ = static_cast<double>(ending.condition);
    if (ending.kind == timeline::EndingKind::certain) // the condition may ask for these
        for (const Interval* part : {&entry.elapsed, &entry.burning, &entry.swept}) x = put(x, part, 1);
    size_ = static_cast<std::size_t>(x - question_.data());
    hash_ = hash_of({question_.data(), size_});
}

bool Memory::find(Passage& passage, Sweep& sweep) const {
    for (std::uint32_t r = buckets_[hash_ % buckets_.size()]; r != 0; r = records_[r - 1].next) {
        const Record& record = records_[r - 1];
        if (record.hash != hash_ || record.size != size_ ||
            std::memcmp(record.at, question_.data(), size_ * sizeof(double)) != 0)
            continue;
        State& exit = passage.exit;
        const double* x = record.at + record.size;
        x = take(x, &passage.duration, 1);
        x = take(x, exit.zones, zones_);
        x = take(x, &exit.pressure, 1);
        x = take(x, exit.fraction, species_);
        x = take(x, exit.pore, species_);
        x = take(x, &exit.inflow, 1);
        x = take(x, &exit.drawn_in, 1);
        x = take(x, &exit.taken, 1);
        x = take(x, &sweep.gained, 1);
        const auto keeps = static_cast<unsigned>(*x);
        sweep.keeps_lo = (keeps & 1U) != 0;
        sweep.keeps_hi = (keeps & 2U) != 0;
        return true;
    }
    return false;
}

double* Memory::room(std::size_t numbers) {
    if (blocks_.empty() || blocks_.back().capacity() - blocks_.back().size() < numbers)
        blocks_.emplace_back().reserve(std::max(block, numbers));
    std::vector<double>& last = blocks_.back();
    last.resize(last.size() + numbers);
    return last.data() + (last.size() - numbers);
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
    const State& exit = passage.exit;
    double* x =
        room(size_ + zones_ * (sizeof(ZoneState) / sizeof(double)) + per_interval * (2 * species_ + 6) + 1);
    std::uint32_t& bucket = buckets_[hash_ % buckets_.size()];
    records_.push_back({hash_, x, static_cast<std::uint32_t>(size_), bucket});
    bucket = static_cast<std::uint32_t>(records_.size());
    x = put(x, question_.data(), size_);
    x = put(x, &passage.duration, 1);
    x = put(x, exit.zones.begin(), zones_);
    x = put(x, &exit.pressure, 1);
    x = put(x, exit.fraction.begin(), species_);
    x = put(x, exit.pore.begin(), species_);
    x = put(x, &exit.inflow, 1);
    x = put(x, &exit.drawn_in, 1);
    x = put(x, &exit.taken, 1);
    x = put(x, &sweep.gained, 1);
    *x = (sweep.keeps_lo ? 1 : 0) + (sweep.keeps_hi ? 2 : 0);
}

} // namespace athanor::plant
