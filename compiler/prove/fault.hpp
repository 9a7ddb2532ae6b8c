#pragma once
#include "compiler/prove/judge.hpp"

#include <span>
#include <vector>

namespace athanor::prove {

/// s; by then everything has settled.
inline constexpr double longest_abort = 30 * 86400.0;

/// What a power failure leaves behind, for as long as it lasts: heater off, outputs de-energised, controlled
/// meters as their line declares (zero to full scale where it does not), hand meters at their flow, pump
/// stopped, burner only with a pilot flame, extraction only with backup power. Lines without an output are
/// worked by hand and stay as they are.
struct Abort {
    timeline::State discrete;
    std::vector<timeline::Law> laws; // one per zone
};

class PowerFailure {
public:
    /// `rig` and `timeline` must outlive it. `lost`: a line whose supply is gone as well.
    PowerFailure(const check::Rig& rig, const timeline::Timeline& timeline,
                 timeline::Index lost = timeline::none);
    /// From the discrete state in which the failure comes: one of the timeline's own.
    Abort operator()(const timeline::State& at) const;
    /// What of it is switched alone, written over an older state, whose memory it uses.
    void fall(const timeline::State& at, timeline::State& into) const;
    /// One per zone, whatever the state was.
    std::vector<timeline::Law> laws() const;
    /// mol/s through a line that something opens then which sets no meter.
    Interval flow(std::size_t line, const timeline::State& at) const;

private:
    Interval set_flow(std::size_t line, const timeline::State& at) const;
    std::size_t entered(const timeline::State& at) const;

    const check::Rig& rig_;
    const timeline::Timeline& timeline_;
    timeline::Index lost_;
    /// A hand meter keeps what it was set to, open or shut; before that it may stand anywhere.
    struct ByHand {
        Interval flow{infinity, 0};         // mol/s, as the recipe sets it
        std::size_t since = timeline::none; // first span in which it is set
    };
    std::vector<ByHand> by_hand_;      // per line
    std::vector<std::size_t> entered_; // per state of the timeline: the first span in it
};

/// Judges `after abort` clauses: a power failure at every instant of every span. The state of a span is hulled
/// and the abort run from the hull; the span is bisected only where that is not enough to prove the clause.
class FaultJudge {
public:
    FaultJudge(const check::Rig& rig, const timeline::Timeline& timeline, const plant::Plant& plant,
               const Walk& walk, const Judge& judge, timeline::Index lost = timeline::none);

    /// One judgement for each clause. The witness's `at_s` is the instant of the failure, its `after_s` the
    /// time from there.
    std::vector<Judgement> rules(std::span<const Instance* const> clauses) const;
    /// Which floor or uncertainty a margin of such a judgement hangs on.
    std::string explain(const Margin& margin) const;

private:
    struct Failed;
    class InSpan;
    std::vector<double> numbers_of(std::size_t span) const;
    /// True when the clause is proven for a failure at any instant of [from, to] of the span.
    bool over(const Instance& instance, InSpan& span, double from, double to, unsigned depth,
              Judgement& result) const;
    Judgement after(const Instance& instance, Failed& failed) const;
    /// All steps that a failure leaves in the same state at once; false where that is not enough. The margin is
    /// then a lower bound.
    bool together(const Instance& instance, Judgement& result) const;
    /// A person stands at the open tube, which its opening rules have cleared: the standard policy asks nothing
    /// there. A site's rule means every step.
    bool stands_by(const Instance& instance, std::size_t span) const;
    /// How a comparison's signal stands when the power fails somewhere in a span: the less, the nearer to its
    /// limit.
    double room(const timeline::Term& term, std::size_t span) const;

    const timeline::Timeline& timeline_;
    const plant::Plant& plant_;
    const Walk& walk_;
    const Judge& judge_;
    const Abort& abort(std::size_t span) const { return aborts_[abort_of_[timeline_.spans[span].state]]; }
    std::vector<Abort> aborts_;         // different ones: many states fall the same
    std::vector<std::size_t> abort_of_; // per state of the timeline: index into `aborts_`
};

} // namespace athanor::prove
