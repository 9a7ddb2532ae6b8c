#include "compiler/plant/memory.hpp"

#include <bit>
#include <cstring>
#include <span>

namespace athanor::plant {

namespace {

/// Calls `visit` with every interval of a state that a passage from it depends on, or yields.
template<class S, class Visit>
void each(S& state, std::size_t zones, std::size_t species, Visit visit) {
    for (std::size_t z = 0; z < zones; ++z) {
        visit(state.zones[z].control);
        visit(state.zones[z].load);
    }
    visit(state.pressure);
    for (std::size_t i = 0; i < species; ++i) {
        visit(state.fraction[i]);
        visit(state.pore[i]);
    }
}

/// What a passage yields beside that.
template<class S, class Visit>
void each_result(S& state, std::size_t zones, Visit visit) {
    for (std::size_t z = 0; z < zones; ++z) visit(state.zones[z].setpoints);
    visit(state.inflow);
    visit(state.drawn_in);
    visit(state.taken);
}

std::uint64_t hash_of(std::span<const double> numbers) {
    std::uint64_t hash = 0x9e3779b97f4a7c15;
    for (const double x : numbers) {
        hash = (hash ^ std::bit_cast<std::uint64_t>(x)) * 0xff51afd7ed558ccd;
        hash ^= hash >> 32;
    }
    return hash;
}

} // namespace

void Memory::ask(const State& entry, Drive drive, const timeline::Ending& ending) {
    question_.clear();
    const auto put = [&](double x) { question_.push_back(x); };
    each(entry, zones_, species_, [&](const Interval& x) {
        put(x.lo);
        put(x.hi);
    });
    for (std::size_t z = 0; z < zones_; ++z) {
        const timeline::Law& law = drive.laws[z];
        put(entry.zones[z].setpoint);
        put((entry.zones[z].comes_down ? 1 : 0) + (entry.zones[z].comes_up ? 2 : 0));
        put(static_cast<double>(law.kind));
        put(law.from);
        put(law.to);
        put(law.rate);
    }
    const timeline::State& s = *drive.state;
    put(static_cast<double>((s.powered ? 32 : 0) + (s.burner ? 1 : 0) + (s.pump ? 2 : 0) +
                            (s.tube_open ? 4 : 0) + (s.bubbler ? 8 : 0) + (s.slide ? 16 : 0)));
    put(static_cast<double>(s.armed));
    put(s.regulated);
    put(s.bath);
    put(static_cast<double>(s.place));
    for (std::size_t l = 0; l < s.flows.size(); ++l) {
        put(s.flows[l]);
        put(s.open[l] ? 1 : 0);
    }
    for (const Interval& flow : s.between) {
        put(flow.lo);
        put(flow.hi);
    }
    put(static_cast<double>(ending.kind));
    put(ending.duration);
    put(ending.band);
    put(ending.temperature);
    put(ending.at_most);
    put(static_cast<double>(ending.condition));
    if (ending.kind == timeline::EndingKind::certain) // the condition may ask for these
        for (const Interval& x : {entry.elapsed, entry.burning, entry.swept}) {
            put(x.lo);
            put(x.hi);
        }
    hash_ = hash_of(question_);
}

bool Memory::find(Passage& passage, Sweep& sweep) const {
    for (std::uint32_t r = buckets_[hash_ % buckets_.size()]; r != 0; r = records_[r - 1].next) {
        const Record& record = records_[r - 1];
        if (record.hash != hash_ || record.size != question_.size() ||
            std::memcmp(&numbers_[record.at], question_.data(), record.size * sizeof(double)) != 0)
            continue;
        const double* x = &numbers_[record.at + record.size];
        const auto take = [&](Interval& to) {
            to.lo = *x++;
            to.hi = *x++;
        };
        take(passage.duration);
        each(passage.exit, zones_, species_, take);
        each_result(passage.exit, zones_, take);
        for (std::size_t z = 0; z < zones_; ++z) {
            passage.exit.zones[z].setpoint = *x++;
            const auto flags = static_cast<unsigned>(*x++);
            passage.exit.zones[z].comes_down = (flags & 1U) != 0;
            passage.exit.zones[z].comes_up = (flags & 2U) != 0;
        }
        take(sweep.gained);
        const auto keeps = static_cast<unsigned>(*x);
        sweep.keeps_lo = (keeps & 1U) != 0;
        sweep.keeps_hi = (keeps & 2U) != 0;
        return true;
    }
    return false;
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
    records_.push_back({hash_, numbers_.size(), static_cast<std::uint32_t>(question_.size()), bucket});
    bucket = static_cast<std::uint32_t>(records_.size());
    numbers_.insert(numbers_.end(), question_.begin(), question_.end());
    const auto put = [&](const Interval& x) {
        numbers_.push_back(x.lo);
        numbers_.push_back(x.hi);
    };
    put(passage.duration);
    each(passage.exit, zones_, species_, put);
    each_result(passage.exit, zones_, put);
    for (std::size_t z = 0; z < zones_; ++z) {
        numbers_.push_back(passage.exit.zones[z].setpoint);
        numbers_.push_back((passage.exit.zones[z].comes_down ? 1 : 0) +
                           (passage.exit.zones[z].comes_up ? 2 : 0));
    }
    put(sweep.gained);
    numbers_.push_back((sweep.keeps_lo ? 1 : 0) + (sweep.keeps_hi ? 2 : 0));
}

} // namespace athanor::plant
