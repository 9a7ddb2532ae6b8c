#pragma once
#include "compiler/prove/instance.hpp"
#include "compiler/prove/walk.hpp"

#include <optional>
#include <string>

namespace athanor::prove {

/// The smallest distance of a condition from failing, over everything that was looked at.
struct Margin {
    double relative = infinity; // distance over limit; what different signals are compared by
    timeline::Term term;        // the comparison that is nearest
    Interval value;             // the signal's bounds there
    double at_s = 0;
    athanor::Span source;
};

/// Where a condition is not proven.
struct Witness {
    std::size_t span = 0; // index of the span, or the number of spans for the end
    double at_s = 0;
    plant::State state;
    timeline::State discrete;
    athanor::Span source;
};

struct Judgement {
    plant::Verdict verdict = plant::Verdict::proven;
    bool applied = false; // false: nothing in the timeline came under the condition
    Margin margin;
    std::optional<Witness> witness; // of the first place that is not proven
};

/// Judges conditions over a walked timeline. A span is bisected only where the verdict depends on the instant.
class Judge {
public:
    Judge(const timeline::Timeline& timeline, const plant::Plant& plant, const Walk& walk)
        : timeline_(timeline), plant_(plant), walk_(walk) {}

    Judgement requirement(const timeline::Requirement& requirement) const;
    Judgement expectation(const timeline::Expectation& expectation) const;
    Judgement rule(const Instance& instance) const;

private:
    struct Query {
        const timeline::Condition& require;
        const timeline::Condition& guard;
        const timeline::Condition* until; // nullptr: judged always
        bool standing = false; // a threshold may start it anew at any instant: `until` ends nothing for good
    };
    void over_span(const Query& query, std::size_t span, bool& active, Judgement& result) const;
    void over_piece(const Query& query, std::size_t span, double from, double to, unsigned depth, bool& active,
                    Judgement& result) const;
    void at_instant(const timeline::Condition& require, const plant::State& state,
                    const timeline::State& discrete, std::size_t span, double at_s, athanor::Span source,
                    Judgement& result) const;
    void note_margin(const timeline::Condition& require, const plant::State& state,
                     const timeline::State& discrete, double at_s, athanor::Span source, Margin& margin) const;

    const timeline::Timeline& timeline_;
    const plant::Plant& plant_;
    const Walk& walk_;
};

} // namespace athanor::prove
