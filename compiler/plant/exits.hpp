#pragma once
#include "compiler/plant/plant.hpp"

#include <vector>

namespace athanor::plant {

/// What an action does to the state at once.
inline void act(timeline::ActionKind kind, const Plant& plant, State& now) {
    if (kind == timeline::ActionKind::open_tube) now = plant.open_tube(now);
    // However soon it is lit again, its minute begins anew.
    if (kind == timeline::ActionKind::shut) now.burning = {};
}

/// What may arrive at a boundary of a timeline besides the run that passes every span before it: a person may
/// have ended a repeat sooner. Call `arrive` at every boundary in order.
class Exits {
public:
    /// `timeline` must outlive it.
    explicit Exits(const timeline::Timeline& timeline) : exits_(timeline.exits), kept_(timeline.exits.size()) {}

    /// Widens the state before the actions of `boundary` by what arrives there from sooner exits.
    void arrive(std::size_t boundary, State& now) {
        for (std::size_t e = 0; e < exits_.size(); ++e)
            if (exits_[e].to == boundary) widen(now, kept_[e]);
        for (std::size_t e = 0; e < exits_.size(); ++e)
            if (exits_[e].from == boundary) kept_[e] = now;
    }

    /// The state behind the actions of a span's boundary.
    void enter(const timeline::Timeline& timeline, const Plant& plant, std::size_t span, State& now) {
        arrive(span, now);
        const timeline::Span& s = timeline.spans[span];
        for (timeline::Index a = 0; a < s.actions; ++a)
            act(timeline.actions[s.first_action + a].kind, plant, now);
    }

private:
    const std::vector<timeline::Exit>& exits_;
    std::vector<State> kept_;
};

} // namespace athanor::plant
