#include "compiler/prove/walk.hpp"

#include "compiler/plant/exits.hpp"
#include "compiler/plant/measured.hpp"

#include <algorithm>

namespace athanor::prove {

namespace {

/// How one span ends from an entry state, written over it.
void leave(const timeline::Timeline& timeline, const plant::Plant& plant, std::size_t index,
           plant::State& state) {
    const timeline::Span& span = timeline.spans[index];
    const plant::Drive drive = plant::drive(timeline, index);
    if (!timeline.endings_most.empty()) {
        state = plant.pass(state, drive, span.ending, timeline.endings_most[index]).exit;
        return;
    }
    // How long it was resolved to last decides, but for endings that know more of their end than their length
    // says: the temperature is in the band, or passes its mark.
    const timeline::EndingKind kind = span.ending.kind;
    timeline::Ending ending = span.ending;
    if (kind == timeline::EndingKind::fixed || kind == timeline::EndingKind::certain) {
        if (span.duration.lo != span.duration.hi) {
            state = plant.during(state, drive, span.duration);
            return;
        }
        ending = {};
        ending.duration = span.duration.lo;
    }
    const plant::Passage passage = plant.pass(state, drive, ending);
    if (span.duration.lo < passage.duration.lo - 1e-6 || span.duration.hi > passage.duration.hi + 1e-6)
        state = plant::exit_from_measured(plant, state, drive, ending, hull(span.duration, passage.duration));
    else
        state = passage.exit;
}

} // namespace

std::uint32_t Walk::ask(std::size_t span) const {
    const double longest = std::max(timeline->spans[span].duration.hi, 0.0);
    const plant::State whole = plant->during(entry(span), plant::drive(*timeline, span), {0, longest});
    if (whole_.size() == 0) whole_.reserve(steps.size(), whole);
    whole_.keep(whole);
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
    more.whole_of_.push_back(0);
    more.whole_.reserve(more.steps.size(), now);
    more.end = plant->during(now, plant::drive(longer, steps.size()), longer.spans.back().duration);
    return more;
}

Walk walk(const timeline::Timeline& timeline, const plant::Plant& plant) {
    Walk result;
    result.timeline = &timeline;
    result.plant = &plant;
    result.steps.reserve(timeline.spans.size());
    result.whole_of_.resize(timeline.spans.size());
    plant::State now = plant.start();
    result.entries.reserve(timeline.spans.size(), now);
    double at = 0;
    plant::Exits exits(timeline);
    for (std::size_t i = 0; i < timeline.spans.size(); ++i) {
        const timeline::Span& span = timeline.spans[i];
        exits.arrive(i, now);
        Walk::Step step;
        for (timeline::Index a = 0; a < span.actions; ++a)
            if (const timeline::ActionKind kind = timeline.actions[span.first_action + a].kind;
                kind == timeline::ActionKind::open_tube ||
                (kind == timeline::ActionKind::shut && now.burning.hi > 0)) {
                if (step.arrival == 0) {
                    result.arrivals.keep(now);
                    step.arrival = result.arrivals.size();
                }
                plant::act(kind, plant, now);
            }
        result.entries.keep(now);
        step.at_s = at;
        leave(timeline, plant, i, now);
        if (span.ending.kind != timeline::EndingKind::person) at += span.duration.middle();
        result.steps.push_back(step);
    }
    exits.arrive(timeline.spans.size(), now);
    result.end = now;
    result.end_s = at;
    return result;
}

} // namespace athanor::prove
