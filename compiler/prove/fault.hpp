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
    /// The same in parts: what is switched, written over an older state, whose memory it uses; and the laws,
    /// whatever the state was.
    void fall(const timeline::State& at, timeline::State& into) const;
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

/// What each state of a timeline falls into: many fall into the same.
class Aborts {
public:
    /// As for a PowerFailure.
    Aborts(const check::Rig& rig, const timeline::Timeline& timeline, timeline::Index lost = timeline::none);
    const PowerFailure& failure() const { return failure_; }
    /// From one of the timeline's own states.
    const Abort& operator()(const timeline::State& at) const {
        return all_[of_[static_cast<std::size_t>(&at - timeline_.states.data())]];
    }
    /// From the state of an index; which of all, from 0 on, it is.
    const Abort& of(timeline::Index state) const { return all_[of_[state]]; }
    std::size_t which(timeline::Index state) const { return of_[state]; }
    std::size_t count() const { return all_.size(); }

private:
    const timeline::Timeline& timeline_;
    PowerFailure failure_;
    std::vector<Abort> all_;
    std::vector<std::size_t> of_; // per state of the timeline: index into `all_`
};

/// Judges `after abort` clauses: a power failure at every instant of every span. The state of a span is hulled
/// and the abort run from the hull; the span is bisected only where that is not enough to prove the clause.
class FaultJudge {
public:
    /// All must outlive it.
    FaultJudge(const timeline::Timeline& timeline, const plant::Plant& plant, const Walk& walk,
               const Judge& judge, const Aborts& aborts)
        : timeline_(timeline), plant_(plant), walk_(walk), judge_(judge), aborts_(aborts) {}

    /// One judgement for each clause. The witness's `at_s` is the instant of the failure, its `after_s` the
    /// time from there.
    std::vector<Judgement> rules(std::span<const Instance* const> clauses) const;
    /// Which floor or uncertainty a margin of such a judgement hangs on.
    std::string explain(const Margin& margin) const;

private:
    struct Failed;
    class InSpan;
    const Abort& abort(std::size_t span) const { return aborts_.of(timeline_.spans[span].state); }
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
    const Aborts& aborts_;
};

} // namespace athanor::prove
