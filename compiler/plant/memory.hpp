#pragma once
#include "compiler/plant/atmosphere.hpp"
#include "compiler/plant/plant.hpp"

#include <cstdint>
#include <memory>
#include <vector>

namespace athanor::plant {

/// Passages that were resolved before. The legaliser and the proof walk the same spans from the same states as
/// elaboration did wherever rounding changed nothing, and ask for them again. A passage is found by its whole
/// question, number for number, so that a remembered answer is the one that would be computed; only what adds
/// up from outside (`elapsed`, `burning`, `swept`) is left to the caller. A range of set-points (`Drive::most`)
/// is no question for it.
class Memory {
public:
    Memory(std::size_t zones, std::size_t species) : zones_(zones), species_(species) {}

    /// Fills `passage` and `sweep`; false where the question is new, and then it is the one that `keep`
    /// answers.
    bool find(const State& entry, const Drive& drive, const timeline::Ending& ending, Passage& passage,
              Sweep& sweep);
    /// Only passages that are reached are kept.
    void keep(const Passage& passage, const Sweep& sweep);

private:
    using Word = std::uint64_t; // bits of a number, or some small ones together
    struct Record {
        std::uint64_t hash = 0;
        const Word* at = nullptr; // the question, then the answer
        std::uint32_t size = 0;   // of the question
        std::uint32_t next = 0;   // 1 + index of the next record in the same bucket
    };
    template<class Sink>
    void spell(const State& entry, const Drive& drive, const timeline::Ending& ending, Sink& sink) const;
    std::size_t known(const State& entry, const Drive& drive, const timeline::Ending& ending);
    void make_room(std::size_t words);

    std::size_t zones_, species_;
    std::vector<std::unique_ptr<Word[]>> blocks_; // what they hold never moves
    Word* question_ = nullptr;                    // in the last block, where a record of it would lie
    std::size_t room_ = 0;                        // words, from there on
    std::size_t size_ = 0;                        // of the question
    std::uint64_t hash_ = 0;                      // of the question
    std::size_t expected_ = 0;                    // the record behind the one that was asked for last
    std::vector<Record> records_;
    std::vector<std::uint32_t> buckets_ = std::vector<std::uint32_t>(64, 0);
};

} // namespace athanor::plant
