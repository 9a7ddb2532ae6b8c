#pragma once
#include "compiler/plant/memory.hpp"
#include "compiler/plant/plant.hpp"

namespace athanor::legalise {

/// Where the rig stands on the way. Most spans begin as the passage before them ended, which the plant
/// remembers: then nobody needs that state.
class Here {
public:
    explicit Here(const plant::Plant& plant) : plant_(plant), state_(plant.start()) {}

    /// To be read or changed.
    plant::State& state() {
        if (left_ != nullptr) state_ = kept_;
        left_ = nullptr;
        return state_;
    }
    /// Goes on by a span; how long that lasts, s. `unreached(why)`: not every rig ends it.
    template<class Unreached>
    Interval go_on(plant::Drive drive, const timeline::Ending& ending, Unreached unreached) {
        drive.counts = ending.kind != timeline::EndingKind::person;
        const plant::Remembered* next = left_ != nullptr ? plant_.pass_on(*left_, drive, ending) : nullptr;
        if (next == nullptr) {
            static_cast<plant::Always&>(kept_) = state(); // its counts
            const plant::Passage passage = plant_.pass(state_, drive, ending);
            if (!passage.reachable) unreached(passage.why);
            next = passage.remembered;
            if (next == nullptr) {
                state_ = passage.exit;
                return passage.duration;
            }
        }
        plant_.leave(*next, drive, kept_);
        left_ = next;
        return next->duration;
    }

private:
    const plant::Plant& plant_;
    const plant::Remembered* left_ = nullptr; // the passage that it stands behind; null: it stands at `state_`
    plant::KeptState kept_;                   // the exit of `left_`
    plant::State state_;
};

} // namespace athanor::legalise
