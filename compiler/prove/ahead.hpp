#pragma once
#include "compiler/plant/plant.hpp"

#include <cstddef>
#include <memory>
#include <vector>

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
        Answer(Interval at, const plant::Plant::Way& way) : t(at), state(way.during(at)) {}
        Interval t;
        plant::State state;
    };
    bool is_later(Interval t) const { return t.lo > latest_.lo || (t.lo == latest_.lo && t.hi > latest_.hi); }

    plant::Plant::Way way_;
    std::vector<std::unique_ptr<const Answer>> answers_;
    std::size_t last_ = 0;       // the answer that was given last
    Interval latest_{-infinity}; // of all that were asked: what is later is new
};

} // namespace athanor::prove
