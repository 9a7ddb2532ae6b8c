#include "compiler/timeline/held.hpp"

namespace athanor::timeline {

Held held(const Timeline& timeline) {
    const auto at_last = [&](const std::vector<Law>& all) {
        std::vector<Law> laws(all.end() - static_cast<std::ptrdiff_t>(timeline.zones.size()), all.end());
        for (Law& law : laws) law = {LawKind::hold, law.to, law.to, 0};
        return laws;
    };
    Held found{at_last(timeline.laws), {}};
    if (!timeline.laws_most.empty()) found.most = at_last(timeline.laws_most);
    return found;
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
    const Held held = timeline::held(timeline);
    longer.laws.insert(longer.laws.end(), held.laws.begin(), held.laws.end());
    longer.laws_most.insert(longer.laws_most.end(), held.most.begin(), held.most.end());
    if (!longer.endings_most.empty()) longer.endings_most.push_back(span.ending);
    longer.spans.push_back(span);
    return longer;
}

} // namespace athanor::timeline
