#pragma once
#include "compiler/legalise/walk.hpp"
#include "compiler/plant/exits.hpp"
#include "compiler/plant/here.hpp"

#include <cmath>
#include <optional>
#include <span>
#include <string_view>

/// Private to the walk: its state, and one function for each kind of step.
namespace athanor::legalise {

class Walker {
public:
    Walker(const WalkInput& input, Diagnostics& out);
    Walked run();

private:
    using Index = timeline::Index;
    using Laws = Few<timeline::Law>; // one a zone

    // Each keys the spans from `first` on that become one group of segments, and returns the next span.
    Index person(Index first);
    Index jump(Index first);
    Index off(Index first);
    Index line(Index first);
    Index hold(Index first);

    // --- what the spans say
    const timeline::Span& span(Index i) const { return recipe_.spans[i]; }
    const timeline::Law& law(Index i, std::size_t zone) const { return recipe_.laws_of(i)[zone]; }
    std::size_t zones() const { return recipe_.zones.size(); }
    bool begins_run(Index i) const; // of a run block behind the first
    static constexpr std::uint8_t bit(timeline::LawKind kind) {
        return static_cast<std::uint8_t>(1U << static_cast<unsigned>(kind));
    }
    bool any(Index i, timeline::LawKind kind) const { return (kinds_[i] & bit(kind)) != 0; }
    bool same_switching(Index a, Index b) const;
    /// Whether span `next` may go on in the segment of span `last`, as far as switching and notes are
    /// concerned.
    bool goes_on(Index last, Index next) const;
    bool goes_on_line(Index last, Index next) const {
        if (input_.boundary[next]) return goes_on(last, next); // it does not, which is noted
        return next < kinds_.size() && straight_on(last, next) &&
               span(last).ending.kind == timeline::EndingKind::fixed &&
               span(next).ending.kind == timeline::EndingKind::fixed && goes_on(last, next) &&
               !input_.rearmed[next];
    }
    bool straight_on(Index last, Index next) const {
        return any(next, timeline::LawKind::line) && kinds_[last] == kinds_[next] && same_way(last, next);
    }
    bool same_way(Index last, Index next) const; // of spans with the same kinds of laws
    /// The span is the rest of a line that something has cut: a threshold, a note, a pass of a repeat.
    bool continues(Index first) const;
    bool goes_on_hold(Index last, Index next) const {
        if (input_.boundary[next]) return goes_on(last, next); // it does not, which is noted
        return next < kinds_.size() && kinds_[next] == bit(timeline::LawKind::hold) && goes_on(last, next) &&
               waits_alike(span(last).ending, span(next).ending);
    }
    static bool waits_alike(const timeline::Ending& a, const timeline::Ending& b);
    bool goes_on_off(Index last, Index next) const;
    /// The last span of the group that begins at `first`.
    Index end_of_line(Index first) const;
    Index end_of_keyed_line(Index first) const;
    Index end_of_hold(Index first) const;
    Index end_of_off(Index first) const;
    class Route; // of `choose_setpoints`
    /// Chooses the set-points at the ends of lines, where others than the nearest save segments.
    void choose_setpoints();
    /// Target indices for the end of a span; what cannot be set is reported and clamped.
    Values targets(Index i, double budget);
    /// The settable value nearest to a set-point, which spans in turn mostly share.
    struct Near {
        double kelvin = -1;
        std::int64_t index = 0;
        double off = 0; // K between them
    };
    const Near& near(std::size_t zone, double kelvin) {
        Near& known = near_[zone];
        if (known.kelvin != kelvin) {
            const double degC = kelvin - zero_celsius;
            known.kelvin = kelvin;
            known.index = nearest_setpoint(keys_, degC);
            known.off = std::abs(keys_.setpoint.value(known.index) - degC);
        }
        return known;
    }
    void report_target(Index i, std::size_t zone, std::int64_t nearest);
    /// The band of a span in the controller's values, -1 without one; reports what cannot be set.
    std::int64_t band(Index i) { return span(i).ending.kind == timeline::EndingKind::band ? band_of(i) : -1; }
    std::int64_t band_of(Index i); // which has one
    std::int64_t band_below(double kelvin) const;
    double budget(Index i) const {
        const timeline::Ending& ending = span(i).ending;
        return ending.kind == timeline::EndingKind::band ? ending.band : setpoint_budget;
    }

    // --- rows
    /// What it sets and its reason are left to the caller.
    program::Segment& add_row(program::SegmentKind kind, Index i);
    /// What the outputs and channels are in a state of the recipe.
    struct Switched {
        Index state = timeline::none;
        std::uint32_t outputs = 0;
        Values channels;
    };
    const Switched& switched(Index i); // in span i
    /// "what" and the places of one span, or of those from `first` to `last`.
    program::Why why(const char* what, Index first, Index last) const;
    bool merge_into_last(std::int64_t dwell, std::int64_t band, Index i);
    /// Keys a dwell; `excess` is how much longer than its pieces it may take (a soak band).
    void key_dwell(const DwellPlan& plan, std::int64_t band, Index i, double excess, const program::Why& why);
    /// What a group of line spans asks of the controller.
    RampAsk asked(Index first, Index last, const Degrees& from, const Values& to) const {
        RampAsk ask;
        ask_for(first, last, from, to, ask);
        return ask;
    }
    void ask_for(Index first, Index last, const Degrees& from, const Values& to, RampAsk& ask) const;
    /// A line behind a start that was moved may keep its rate and be as much shorter or longer, where that
    /// takes fewer segments than to keep its length.
    void from_moved_start(RampAsk& ask) const;
    const RampPlan& planned(const RampAsk& ask) const;
    /// The line between two set-points, where one segment follows it that is found without a search; else
    /// nullptr. What is returned counts until the same line is asked between others.
    const Memory::Line* one_segment(Index first, Index last, const Degrees& from, const Values& to) const;
    /// What is keyed of a plan.
    struct Pieces {
        Pieces(const RampPlan& plan) : list(plan.pieces), rows(plan.rows), why(plan.why), errors(plan) {}
        Pieces(const OneRamp& plan) : list(&plan.piece, 1), errors(plan) {}

        std::span<const RampPiece> list;
        std::size_t rows = 1;
        std::string_view why; // there is more than one row
        const RampErrors& errors;
    };
    /// Keys a line, for which so long was asked, as it is planned.
    void key_planned(Index first, Index last, const Values& to, const Pieces& plan, double duration,
                     std::int64_t band, bool fused);
    bool loses_more(const RampAsk& ask, const RampPlan& plan, double lost) const;
    /// Makes the segments of a line and fills `rows_` with the row of each piece.
    void key_line(const Pieces& plan, Index first, std::int64_t band, bool fused);
    bool runs_as_written(Index i, const Laws& laws, double duration) const;
    void from_measured(const plant::State& entry, Index i, const RampPiece& piece, const Degrees& to,
                       const timeline::Law* laws);
    void line_spans(Index first, Index last, std::span<const RampPiece> pieces, std::int64_t band);
    /// Of the row that a piece of a line stands in, from one instant of it to another.
    struct Stretch;
    Degrees line_span(Index i, const Stretch& stretch);
    void band_behind_line(Index first, Index last, std::int64_t band);
    std::string targets_text(Index last) const;
    bool ramps(RampAsk ask, double target, double rate) const;
    void offer_ramp(Diagnostic& d, Index first, Index last, std::size_t zone, const RampAsk& ask) const;
    void report_line(Index first, Index last, const RampAsk& ask, const RampPlan& plan);
    std::vector<std::string> needs_programme(const timeline::State& state) const;
    /// Outputs of an end that is held. A line that follows the temperature shows the side of the set-point:
    /// right also on a controller whose outputs follow only while a programme runs.
    std::uint32_t held_bits(const timeline::State& state) const;
    /// Whether a separate programme can stand in for a wait here: what the controller does between two
    /// programmes is what the recipe holds.
    bool may_hand_over(Index first) const;
    void report_person(Index first);
    void empty_programme(Index i); // between two waits
    /// Sufficient seconds for each span of a hold group, not yet rounded.
    void hold_times(Index first, Index last, std::vector<double>& seconds);
    double certain_time(Index i, const plant::Passage& passage);

    struct Cooling;
    timeline::Ending ending_of(const Cooling& cooling, Index i) const;
    bool measure(Cooling& cooling);
    bool sees_the_end(const Cooling& cooling, std::int64_t band) const;
    void cool_within(Cooling& cooling, std::int64_t band);
    void cool_for_time(Cooling& cooling);

    // --- the legalised timeline
    /// Actions and state at the entry of a span of the recipe.
    void say(Index first, Index count);
    void put_into_words() { // what was said last, into `pending_`
        if (unworded_) word();
        unworded_ = false;
    }
    void word();
    void enter(Index i);
    /// Adds a legalised span for recipe span `i` and runs the plant through it; returns its duration.
    Interval add_span(Index i, const timeline::Law* laws, const timeline::Ending& ending);
    bool certain_as_written(Index i) const;
    /// A band that no longer becomes certain as it is keyed, narrower than the recipe's; once for each step.
    void report_band(Index i, double keyed, const std::string& reason);
    Laws holding() const;
    plant::Passage passage(Index i, const timeline::Law* laws, const timeline::Ending& ending) {
        return input_.plant.pass(here_.state(), {laws, &recipe_.states[span(i).state]}, ending);
    }
    Values setpoints() const;
    void set_setpoints(const Values& indices);
    void hold_at(const Values& indices);
    void stay_at(Index i);
    /// The set-points chosen for a span because they save segments, or nothing: the nearest.
    const Values* chosen(Index i) const {
        return chosen_.empty() || chosen_[i].empty() ? nullptr : &chosen_[i];
    }

    const WalkInput& input_;
    const timeline::Timeline& recipe_;
    const program::Controller& c_;
    const Keys keys_; // of `c_`
    Diagnostics& out_;
    Walked walked_;
    std::vector<std::uint8_t> kinds_; // per span: a bit for each kind of law that some zone has
    plant::Here here_;
    plant::Exits exits_;
    Degrees setpoint_;  // where the controller's set-point is
    Values keyed_;      // the same as indices; empty where it is none of its values
    Switched switched_; // in the state that was asked last: several rows in turn have one
    struct Said {
        Index first = 0, count = 0; // actions
        const timeline::State* before = nullptr;
        std::size_t behind = 0; // of `pending_`
    };
    Said said_;
    std::string pending_;               // words that wait for a row
    bool unworded_ = false;             // what `said_` tells is not yet among them
    bool boundary_ = true;              // no row may be merged into the last one
    std::optional<ProgramStart> break_; // what stands before the next row when a programme begins there
    bool from_measured_ = false;        // the set-point is the measured temperature, known as `start_` only
    mutable bool parted_ = false;       // a pass of a repeat ended what might have gone on
    Index no_band_ = timeline::none;    // the last span whose band was reported
    double late_ = 0;                   // s by which the last line ended late
    bool at_start_ = true;              // the set-point is still the recipe's first
    bool unheld_ = false;               // and no settable value comes near it, which was told
    bool start_moved_ = false;          // the first dwell holds the settable value beside the recipe's start
    Interval start_;                    // K
    Few<Near> near_;                    // per zone, as it was asked last
    std::vector<Values> chosen_;        // per span; empty where no span has chosen ones
    const timeline::State* before_;     // state before the actions of the span
    // Lists of one group of spans, kept for their room.
    std::vector<std::size_t> rows_; // of the pieces of a line
    std::vector<double> cuts_, seconds_;
    mutable RampAsk plain_; // of a line that one segment may follow
};

inline timeline::Ending fixed(double seconds) {
    timeline::Ending ending; // fixed, as it begins
    ending.duration = seconds;
    return ending;
}
/// "a; b", or the one that is not empty.
std::string joined(std::string_view a, std::string_view b);

} // namespace athanor::legalise
