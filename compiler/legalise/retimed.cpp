#include "compiler/legalise/retimed.hpp"

#include <algorithm>

namespace athanor::legalise {

using timeline::Index;

Retimed::Retimed(const timeline::Timeline& original) : timeline(original), original_(&original) {
    timeline.spans.clear();
    timeline.laws.clear();
    timeline.actions.clear();
    timeline.spans.reserve(original.spans.size());
    timeline.laws.reserve(original.laws.size());
    map.reserve(original.spans.size() + 1);
}

timeline::Span& Retimed::add(const timeline::Span& span, const timeline::Law* laws) {
    const Index from = span.first_action;
    const Index count = first_ ? span.actions : 0;
    timeline::Span& added = timeline.spans.emplace_back(span);
    added.first_action = static_cast<Index>(timeline.actions.size());
    added.actions = count;
    for (Index i = 0; i < count; ++i) timeline.actions.push_back(original_->actions[from + i]);
    for (std::size_t z = 0; z < timeline.zones.size(); ++z) timeline.laws.push_back(laws[z]);
    first_ = false;
    return added;
}

void Retimed::add_action(const timeline::Action& action) {
    timeline.actions.push_back(action);
    ++timeline.spans.back().actions;
}

Index Retimed::state_index(const timeline::State& state) {
    const auto found = std::find(timeline.states.begin(), timeline.states.end(), state);
    if (found != timeline.states.end()) return static_cast<Index>(found - timeline.states.begin());
    timeline.states.push_back(state);
    return static_cast<Index>(timeline.states.size() - 1);
}

void Retimed::finish() {
    map.push_back(static_cast<Index>(timeline.spans.size()));
    const auto moved = [&](Index span) { return span < map.size() ? map[span] : map.back(); };
    const Index end_first = static_cast<Index>(timeline.actions.size());
    for (Index i = 0; i < original_->end_actions; ++i)
        timeline.actions.push_back(original_->actions[original_->end_first + i]);
    timeline.end_first = end_first;
    for (timeline::Requirement& requirement : timeline.requirements) {
        requirement.first_span = moved(requirement.first_span);
        requirement.last_span = moved(requirement.last_span);
    }
    for (timeline::Expectation& expectation : timeline.expectations)
        expectation.boundary = moved(expectation.boundary);
    for (timeline::Exit& exit : timeline.exits) exit = {moved(exit.from), moved(exit.to)};
    for (timeline::Run& run : timeline.runs) {
        run.first = moved(run.first);
        run.last = moved(run.last);
    }
    std::vector<timeline::Repeat> kept;
    for (timeline::Repeat repeat : timeline.repeats) {
        const Index first = moved(repeat.first);
        const Index spans = moved(repeat.first + repeat.spans) - first;
        bool alike = spans > 0;
        for (Index pass = 0; alike && pass < repeat.passes; ++pass)
            alike =
                moved(repeat.first + (pass + 1) * repeat.spans) - moved(repeat.first + pass * repeat.spans) ==
                spans;
        if (!alike) continue;
        repeat.first = first;
        repeat.spans = spans;
        kept.push_back(repeat);
    }
    timeline.repeats = std::move(kept);
}

} // namespace athanor::legalise
