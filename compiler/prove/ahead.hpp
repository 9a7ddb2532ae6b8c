#pragma once
#include "compiler/plant/plant.hpp"

#include <cstddef>
#include <deque>

namespace athanor::prove {

/// The bounds of one course, remembered: several clauses ask it at the same times, mostly in the same order.
class Ahead {
public:
    /// `plant` and what `drive` points to must outlive it.
    Ahead(const plant::Plant& plant, const plant::State& entry, plant::Drive drive)
        : way_(plant, entry, drive) {}

    /// As `Plant::during`; stays valid as long as this does.
    const plant::State& during(Interval t);

private:
    struct Answer {
        Interval t;
        plant::State state;
    };
    plant::Plant::Way way_;
    std::deque<Answer> answers_; // what they hold never moves
    std::size_t next_ = 0;       // behind the answer that was given last
};

} // namespace athanor::prove
