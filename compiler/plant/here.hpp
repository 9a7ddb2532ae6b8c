#pragma once
#include "compiler/plant/memory.hpp"
#include "compiler/plant/plant.hpp"

namespace athanor::plant {

/// Where the rig stands on a way over spans. Most of them begin as the passage before them ended, which the
/// plant remembers: then nobody needs that state.
class Here {
public:
    /// `plant` must outlive it.
    explicit Here(const Plant& plant) : plant_(plant), state_(plant.start()) {}

    /// The state, to be read or changed.
    State& state() {
        if (left_ != nullptr) state_ = kept_;
        left_ = nullptr;
        return state_;
    }
    const Always& always() const { return left_ != nullptr ? kept_ : static_cast<const Always&>(state_); }
    /// The state where the plant keeps it; null: it is one of its own.
    const KeptState* kept() const { return left_ != nullptr ? &kept_ : nullptr; }

    /// The passage that comes, where the plant remembers it as the next one; else null, and `Plant::pass`
    /// tells.
    const Remembered* next(const Drive& drive, const timeline::Ending& ending) const {
        return left_ != nullptr ? plant_.pass_on(*left_, drive, ending) : nullptr;
    }
    /// Goes on by a passage that begins here.
    void go_on(const Remembered& passage, const Drive& drive) {
        if (left_ == nullptr) static_cast<Always&>(kept_) = state_; // the counts at its entry
        plant_.leave(passage, drive, kept_);
        left_ = &passage;
    }
    void go_on(const Passage& passage, const Drive& drive) {
        if (passage.remembered != nullptr)
            go_on(*passage.remembered, drive);
        else
            state() = passage.exit;
    }

private:
    const Plant& plant_;
    State state_;
    KeptState kept_;                   // the exit of `left_`
    const Remembered* left_ = nullptr; // the passage that it stands behind; null: it stands at `state_`
};

} // namespace athanor::plant
