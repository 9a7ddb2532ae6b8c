#pragma once
#include "compiler/prove/ahead.hpp"
#include "compiler/prove/instance.hpp"
#include "compiler/prove/walk.hpp"

#include <optional>
#include <string>
#include <vector>

namespace athanor::prove {

/// The smallest distance of a condition from failing, over everything that was looked at.
struct Margin {
    double relative = infinity; // distance over limit; what different signals are compared by
    timeline::Term term;        // the comparison that is nearest
    Interval value;             // the signal's bounds there
    double at_s = 0;
    athanor::Span source;
    double after_s = -1; // from a failure at `at_s`; negative: no failure
    // Where to ask the plant again; a state per piece would be large.
    std::size_t span = 0;
    double in_course = 0;  // s behind the entry of the span, or behind the failure
    Interval failure;      // s behind the entry of the span in which the failure comes
    bool boundary = false; // judged on arrival at the span, before its actions
};

/// Where a condition is not proven.
struct Witness {
    std::size_t span = 0; // index of the span, or the number of spans for the end
    double at_s = 0;
    plant::State state;
    timeline::State discrete;
    athanor::Span source;
    double after_s = -1;   // from a failure at `at_s`; negative: no failure
    bool together = false; // only because outputs of one instant move in no promised order
};

struct Judgement {
    plant::Verdict verdict = plant::Verdict::proven;
    bool applied = false; // false: nothing in the timeline came under the condition
    Margin margin;
    std::optional<Witness> witness; // of the first place that is not proven
};

/// What is asked over a stretch of time.
struct Query {
    const timeline::Condition& require;
    const timeline::Condition& guard;
    const timeline::Condition* until = nullptr; // nullptr: judged always
    bool standing = false; // a threshold may start it anew at any instant: `until` ends nothing for good
    bool unmet = false;    // no rig meets `until` in what is asked about
};

/// What runs over that stretch: a span of the timeline, or what follows a failure.
struct Course {
    const plant::State& entry;
    plant::Drive drive;
    double at_s = 0; // of its beginning
    athanor::Span source;
    std::size_t span = 0;
    double last = infinity; // s, its longest duration
    bool aborted = false;   // `at_s` is the failure's instant
    /// Of this entry and drive: shared where several clauses ask it, else its own once it is asked.
    mutable Ahead* ahead = nullptr;
    mutable std::optional<Ahead> own{};
};

/// Judges conditions over a walked timeline. A span is bisected only where the verdict depends on the instant.
class Judge {
public:
    /// `any_order`: a controller drives the outputs, and those of one instant move in no promised order.
    Judge(const timeline::Timeline& timeline, const plant::Plant& plant, const Walk& walk,
          bool any_order = false)
        : timeline_(timeline), plant_(plant), walk_(walk), any_order_(any_order) {}

    Judgement requirement(const timeline::Requirement& requirement) const;
    Judgement expectation(const timeline::Expectation& expectation) const;
    Judgement rule(const Instance& instance) const;
    /// From `from` to `to` s after the course's beginning, halved up to `depth` times where the verdict depends
    /// on the instant. `active` turns false where `until` is met.
    void over_piece(const Query& query, const Course& course, double from, double to, unsigned depth,
                    bool& active, Judgement& result) const;

private:
    class Asked;
    void over_span(const Query& query, std::size_t span, bool& active, Judgement& result) const;
    void at_instant(const timeline::Condition& require, const plant::State& state,
                    const timeline::State& discrete, std::size_t span, double at_s, athanor::Span source,
                    Judgement& result) const;
    /// How the outputs of a boundary may stand when the event of one of its actions comes.
    std::vector<timeline::State> in_any_order(std::size_t boundary, timeline::Index own,
                                              const Instance& instance) const;
    /// Whether the event comes at a boundary; a clause of the form `before` is judged there.
    bool meets(const Instance& instance, std::size_t boundary, Judgement& result) const;
    void at_end(const Instance& instance, const timeline::Condition* until, Judgement& result) const;
    /// Whether it may come inside a span.
    struct Within {
        bool met = false, standing = false; // a threshold may bring it again and again
    };
    Within within(const Instance& instance, std::size_t span, Judgement& result) const;
    /// True when this is the nearest so far.
    bool note_margin(const timeline::Condition& require, const plant::State& state,
                     const timeline::State& discrete, double at_s, athanor::Span source, Margin& margin) const;

    /// Of one part of a condition and of its negation, how far it is from failing.
    struct Distance {
        double relative = infinity;
        const timeline::Term* term = nullptr;
        Interval value;
    };
    struct Sides {
        Distance holds, fails;
    };

    const timeline::Timeline& timeline_;
    const plant::Plant& plant_;
    const Walk& walk_;
    bool any_order_;
    mutable std::vector<Sides> stack_; // of note_margin, kept for the next time
};

} // namespace athanor::prove
