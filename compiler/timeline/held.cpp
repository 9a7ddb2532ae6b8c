#include "compiler/timeline/held.hpp"

namespace athanor::timeline {

Law behind_end(const Law& law) {
    if (law.kind == LawKind::off) return law;
    return {LawKind::hold, law.to, law.to, 0};
}

Timeline held_on(const Timeline& timeline) {
    constexpr double two_days = 2 * 86400;
    Timeline longer = timeline;
    Span span = timeline.spans.back();
    span.ending = {};
    span.ending.duration = two_days;
    span.duration = {0, two_days};
    span.state = timeline.end_state;
    span.first_action = span.actions = 0;
    const auto go_on = [&](std::vector<Law>& laws) {
        for (std::size_t z = 0; z < timeline.zones.size(); ++z)
            laws.push_back(behind_end(laws[laws.size() - timeline.zones.size()]));
    };
    go_on(longer.laws);
    if (!longer.laws_most.empty()) go_on(longer.laws_most);
    if (!longer.endings_most.empty()) longer.endings_most.push_back(span.ending);
    longer.spans.push_back(span);
    return longer;
}

} // namespace athanor::timeline
