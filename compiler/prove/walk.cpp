#include "compiler/prove/walk.hpp"

#include "compiler/plant/exits.hpp"
#include "compiler/plant/here.hpp"
#include "compiler/plant/measured.hpp"

#include <algorithm>

namespace athanor::prove {

namespace {

/// Goes on by a passage that lasts as long as the span does; else by what is measured at its end.
const plant::Remembered* pass(const plant::Plant& plant, plant::Here& here, const plant::Drive& drive,
                              const timeline::Ending& ending, Interval duration) {
    const auto lasts = [&](Interval known) {
        return duration.lo >= known.lo - 1e-6 && duration.hi <= known.hi + 1e-6;
    };
    if (const plant::Remembered* next = here.next(drive, ending); next != nullptr && lasts(next->duration)) {
        here.go_on(*next, drive);
        return next;
    }
    plant::State& state = here.state();
    const plant::Passage passage = plant.pass(state, drive, ending);
    if (lasts(passage.duration)) {
        here.go_on(passage, drive);
        return passage.remembered;
    }
    state = plant::exit_from_measured(plant, state, drive, ending, hull(duration, passage.duration));
    return nullptr;
}

/// Goes on by a span; what the plant remembers of it, if anything.
const plant::Remembered* leave(const timeline::Timeline& timeline, const plant::Plant& plant, std::size_t index,
                               plant::Here& here) {
    const timeline::Span& span = timeline.spans[index];
    const plant::Drive drive = plant::drive(timeline, index);
    if (!timeline.endings_most.empty()) {
        here.state() = plant.pass(here.state(), drive, span.ending, timeline.endings_most[index]).exit;
        return nullptr;
    }
    // How long it was resolved to last decides, but for endings that know more of their end than their length
    // says: the temperature is in the band, or passes its mark.
    const timeline::EndingKind kind = span.ending.kind;
    if (kind != timeline::EndingKind::fixed && kind != timeline::EndingKind::certain)
        return pass(plant, here, drive, span.ending, span.duration);
    if (span.duration.lo != span.duration.hi) {
        here.state() = plant.during(here.state(), drive, span.duration);
        return nullptr;
    }
    timeline::Ending ending;
    ending.duration = span.duration.lo;
    return pass(plant, here, drive, ending, span.duration);
}

void keep_in(KeptStates& states, plant::Here& here) {
    if (const KeptState* kept = here.kept())
        states.refer(*kept);
    else
        states.keep(here.state());
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
    plant::Here here(plant);
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
                    keep_in(result.arrivals, here);
                    step.arrival = result.arrivals.size();
                }
                plant::act(kind, plant, here.state());
            }
        keep_in(result.entries, here);
        step.at_s = at;
        result.passed_.push_back(leave(timeline, plant, i, here));
        if (span.ending.kind != timeline::EndingKind::person) at += span.duration.middle();
        result.steps.push_back(step);
    }
    if (!timeline.exits.empty()) exits.arrive(spans, here.state());
    result.end = here.state();
    result.end_s = at;
    return result;
}

} // namespace athanor::prove
