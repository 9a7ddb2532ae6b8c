#pragma once
#include "compiler/plant/atmosphere.hpp"
#include "compiler/plant/plant.hpp"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <vector>

namespace athanor::plant {

/// A state in the plant's memory, but for what adds up from outside (`elapsed`, `burning`, `swept`). Its zones
/// lie behind it, then its free gases, then those in the pores.
struct Bounds {
    Interval pressure, inflow, drawn_in, taken; // as a State's
    Sweep sweep;                                // since the passage's entry
    const ZoneState* zones() const { return reinterpret_cast<const ZoneState*>(this + 1); }
};

/// A passage in the plant's memory.
struct Remembered {
    Interval duration; // s
    const Bounds* entry =
        nullptr; // mostly the exit of another passage; of its fields the pressure alone counts
    const Bounds* exit = nullptr;
    const Bounds* whole = nullptr; // from the entry to the end of a fixed length; null for other endings
};

/// Passages that were resolved before. The legaliser and the proof walk the same spans from the same states as
/// elaboration did wherever rounding changed nothing, and ask for them again. A passage is found by its whole
/// question, number for number, so that a remembered answer is the one that would be computed; only what adds
/// up from outside is left to the caller. A range of set-points (`Drive::most`) is no question for it. What it
/// holds never moves.
class Memory {
public:
    Memory(std::size_t zones, std::size_t species) : zones_(zones), species_(species) {}

    /// Null where the question is new, and then it is the one that `keep` answers.
    const Remembered* find(const State& entry, const Drive& drive, const timeline::Ending& ending);
    /// The passage that was asked for behind `before`, from its exit as it stands, where it answers this
    /// question, too; else null, and `find` may still know it.
    const Remembered* behind(const Remembered& before, const Drive& drive, const timeline::Ending& ending);
    /// The answer to what `find` was asked last. Only passages that are reached are kept. `whole`: null where
    /// it is not known.
    const Remembered* keep(const State& entry, const Passage& passage, const Sweep& sweep, const State* whole,
                           const Sweep& sweep_of_whole);

    /// All but what adds up; a view stays as long as this does.
    void read(const Bounds& bounds, KeptState& view) const {
        always(bounds, view);
        const Interval* const gases = this->gases(bounds);
        view.zones = {bounds.zones(), zones_};
        view.fraction = {gases, species_};
        view.pore = {gases + species_, species_};
    }
    void read(const Bounds& bounds, State& state) const {
        always(bounds, state);
        const Interval* const gases = this->gases(bounds);
        std::copy_n(bounds.zones(), zones_, state.zones.overwrite(zones_));
        std::copy_n(gases, species_, state.fraction.overwrite(species_));
        std::copy_n(gases + species_, species_, state.pore.overwrite(species_));
    }

private:
    static void always(const Bounds& from, Always& to) {
        to.pressure = from.pressure;
        to.inflow = from.inflow;
        to.drawn_in = from.drawn_in;
        to.taken = from.taken;
    }
    const Interval* gases(const Bounds& bounds) const {
        return reinterpret_cast<const Interval*>(bounds.zones() + zones_);
    }
    using Word = std::uint64_t; // bits of a number, or some small ones together
    /// A question is its entry and the rest of it, in words.
    struct Record {
        std::uint64_t hash = 0;
        const Remembered* passage = nullptr;
        const Word* rest = nullptr;
        std::uint32_t size = 0; // of the rest
        std::uint32_t next = 0; // 1 + index of the next record in the same bucket
    };
    void spell(const Drive& drive, const timeline::Ending& ending, const Always* entry);
    bool same(const State& entry, const Bounds& bounds) const;
    bool same(const Record& record) const;
    std::uint64_t hash_of(const State& entry) const;
    const Remembered* found(std::size_t record);
    Word* room(std::size_t words);
    const Bounds* put(const State& state, const Sweep& sweep, Word*& at) const;
    std::size_t words_of_bounds() const;

    std::size_t zones_, species_;
    std::vector<std::unique_ptr<Word[]>> blocks_;
    Word* free_ = nullptr;   // in the last block
    std::size_t left_ = 0;   // words, from there on
    std::vector<Word> rest_; // of the question that was asked last
    std::size_t size_ = 0;
    std::uint64_t hash_ = 0;           // of that question, if it is new
    std::size_t expected_ = 0;         // the record behind the one that was asked for last
    const Remembered* last_ = nullptr; // that one
    std::vector<Record> records_;
    std::vector<std::uint32_t> buckets_ = std::vector<std::uint32_t>(64, 0);
};

} // namespace athanor::plant
