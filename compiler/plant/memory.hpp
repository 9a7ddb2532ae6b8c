#pragma once
#include "compiler/plant/atmosphere.hpp"
#include "compiler/plant/plant.hpp"

#include <cstdint>
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

    /// Makes this the question that `find` and `keep` are about.
    void ask(const State& entry, Drive drive, const timeline::Ending& ending);
    /// Fills `passage` and `sweep`; false when the question is new.
    bool find(Passage& passage, Sweep& sweep) const;
    /// Only passages that are reached are kept.
    void keep(const Passage& passage, const Sweep& sweep);

private:
    struct Record {
        std::uint64_t hash = 0;
        const double* at = nullptr; // the question, then the answer
        std::uint32_t size = 0;     // of the question
        std::uint32_t next = 0;     // 1 + index of the next record in the same bucket
    };
    double* room(std::size_t numbers);

    std::size_t zones_, species_;
    std::vector<double> question_; // the first `size_` are set
    std::size_t size_ = 0;
    std::uint64_t hash_ = 0;
    std::vector<std::vector<double>> blocks_; // what they hold never moves
    std::vector<Record> records_;
    std::vector<std::uint32_t> buckets_ = std::vector<std::uint32_t>(64, 0);
};

} // namespace athanor::plant
