#include "compiler/prove/walk.hpp"

#include "compiler/plant/exits.hpp"
#include "compiler/plant/measured.hpp"
#include "compiler/plant/memory.hpp"

#include <algorithm>

namespace athanor::prove {

namespace {

/// Where a walk stands: a state, or one that the plant remembers and nobody has changed since.
class Here {
public:
    explicit Here(const plant::Plant& plant) : plant_(plant), state_(plant.start()) {}

    const plant::Always& always() const {
        return left_ != nullptr ? kept_ : static_cast<const Always&>(state_);
    }
    /// To be changed.
    plant::State& state() {
        if (left_ != nullptr) {
            state_ = kept_;
            left_ = nullptr;
        }
        return state_;
    }
    void keep_in(KeptStates& states) const { left_ != nullptr ? states.refer(kept_) : states.keep(state_); }
    /// Goes on by a span; what the plant remembers of it, if anything.
    const plant::Remembered* leave(const timeline::Timeline& timeline, std::size_t span);

private:
    const plant::Remembered* by(const plant::Drive& drive, const timeline::Span& span,
                                const timeline::Ending& ending);

    const plant::Plant& plant_;
    plant::State state_;
    KeptState kept_;                          // the exit of `left_`
    const plant::Remembered* left_ = nullptr; // null: `state_` it is
};

const plant::Remembered* Here::leave(const timeline::Timeline& timeline, std::size_t index) {
    const timeline::Span& span = timeline.spans[index];
    const plant::Drive drive = plant::drive(timeline, index);
    if (!timeline.endings_most.empty()) {
        state_ = plant_.pass(state(), drive, span.ending, timeline.endings_most[index]).exit;
        return nullptr;
    }
    // How long it was resolved to last decides, but for endings that know more of their end than their length
    // says: the temperature is in the band, or passes its mark.
    const timeline::EndingKind kind = span.ending.kind;
    if (kind != timeline::EndingKind::fixed && kind != timeline::EndingKind::certain)
        return by(drive, span, span.ending);
    if (span.duration.lo != span.duration.hi) {
        state_ = plant_.during(state(), drive, span.duration);
        return nullptr;
    }
    timeline::Ending ending;
    ending.duration = span.duration.lo;
    return by(drive, span, ending);
}

const plant::Remembered* Here::by(const plant::Drive& drive, const timeline::Span& span,
                                  const timeline::Ending& ending) {
    const auto lasts = [&](Interval known) {
        return span.duration.lo >= known.lo - 1e-6 && span.duration.hi <= known.hi + 1e-6;
    };
    if (left_ != nullptr)
        if (const plant::Remembered* next = plant_.pass_on(*left_, drive, ending);
            next != nullptr && lasts(next->duration)) {
            plant_.leave(*next, drive, kept_);
            return left_ = next;
        }
    static_cast<Always&>(kept_) = state(); // its counts
    const plant::Passage passage = plant_.pass(state_, drive, ending);
    if (!lasts(passage.duration)) {
        state_ =
            plant::exit_from_measured(plant_, state_, drive, ending, hull(span.duration, passage.duration));
        return nullptr;
    }
    left_ = passage.remembered;
    if (left_ != nullptr)
        plant_.leave(*left_, drive, kept_);
    else
        state_ = passage.exit;
    return left_;
}

} // namespace

std::uint32_t Walk::ask(std::size_t span) const {
    const plant::Drive drive = plant::drive(*timeline, span);
    KeptState state = entries[span];
    if (whole_.size() == 0) whole_.reserve(steps.size());
    if (passed_[span] != nullptr && plant->whole(*passed_[span], drive, state))
        whole_.refer(state);
    else
        whole_.keep(plant->during(state, drive, {0, std::max(timeline->spans[span].duration.hi, 0.0)}));
    return whole_of_[span] = static_cast<std::uint32_t>(whole_.size());
}

Walk Walk::held_on(const timeline::Timeline& longer) const {
    Walk more = *this;
    more.timeline = &longer;
    plant::State now = end;
    for (timeline::Index a = 0; a < longer.end_actions; ++a)
        plant::act(longer.actions[longer.end_first + a].kind, *plant, now);
    more.entries.keep(now);
    more.steps.push_back({end_s, 0});
    more.passed_.push_back(nullptr);
    more.whole_of_.push_back(0);
    more.whole_.reserve(more.steps.size());
    more.end = plant->during(now, plant::drive(longer, steps.size()), longer.spans.back().duration);
    return more;
}

Walk walk(const timeline::Timeline& timeline, const plant::Plant& plant) {
    Walk result;
    result.timeline = &timeline;
    result.plant = &plant;
    const std::size_t spans = timeline.spans.size();
    result.steps.reserve(spans);
    result.passed_.reserve(spans);
    result.whole_of_.resize(spans);
    result.entries.reserve(spans);
    Here here(plant);
    double at = 0;
    plant::Exits exits(timeline);
    for (std::size_t i = 0; i < spans; ++i) {
        const timeline::Span& span = timeline.spans[i];
        if (!timeline.exits.empty()) exits.arrive(i, here.state());
        Walk::Step step;
        for (timeline::Index a = 0; a < span.actions; ++a)
            if (const timeline::ActionKind kind = timeline.actions[span.first_action + a].kind;
                kind == timeline::ActionKind::open_tube ||
                (kind == timeline::ActionKind::shut && here.always().burning.hi > 0)) {
                if (step.arrival == 0) {
                    here.keep_in(result.arrivals);
                    step.arrival = result.arrivals.size();
                }
                plant::act(kind, plant, here.state());
            }
        here.keep_in(result.entries);
        step.at_s = at;
        result.passed_.push_back(here.leave(timeline, i));
        if (span.ending.kind != timeline::EndingKind::person) at += span.duration.middle();
        result.steps.push_back(step);
    }
    if (!timeline.exits.empty()) exits.arrive(spans, here.state());
    result.end = here.state();
    result.end_s = at;
    return result;
}

} // namespace athanor::prove
