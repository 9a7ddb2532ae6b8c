#pragma once
#include "compiler/timeline/timeline.hpp"

#include <vector>

/// A timeline rewritten span by span: each span becomes one or several, and everything that refers to spans
/// follows.
namespace athanor::legalise {

class Retimed {
public:
    /// Copies all that does not depend on spans.
    explicit Retimed(const timeline::Timeline& original);

    /// The spans added from here on stand for the next span of the original.
    void begin() {
        map.push_back(static_cast<timeline::Index>(timeline.spans.size()));
        first_ = true;
    }
    /// Adds a span with its laws (one a zone). The first one after `begin` takes over the original's actions.
    timeline::Span& add(const timeline::Span& span, const timeline::Law* laws);
    /// An action behind those that the last added span has already.
    void add_action(const timeline::Action& action);
    timeline::Index state_index(const timeline::State& state);
    /// Rewrites requirements, expectations, exits, runs and repeats. A repeat whose passes are no longer alike
    /// in their number of spans is dropped: its passes then count as plain spans.
    void finish();

    timeline::Timeline timeline;
    /// Per span of the original, and one behind: its first new span.
    std::vector<timeline::Index> map;

private:
    const timeline::Timeline* original_;
    bool first_ = true;
};

} // namespace athanor::legalise
