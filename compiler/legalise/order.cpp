#include "compiler/legalise/order.hpp"

#include "compiler/legalise/retimed.hpp"
#include "compiler/legalise/rounding.hpp"

#include <array>

namespace athanor::legalise {

using timeline::Index;
using timeline::State;
using timeline::Timeline;

namespace {

class Orderer {
public:
    Orderer(const Timeline& timeline, const plant::Plant& plant, const program::Controller& controller)
        : timeline_(timeline), plant_(plant), rig_(plant.start()), built_(timeline),
          shortest_(plan_dwell(controller, 1e-3, Rounding::up).duration) {}

    Ordered run() {
        std::vector<std::vector<Index>> cuts;
        const State* before = &timeline_.states[0];
        for (std::size_t i = 0; i < timeline_.spans.size(); ++i) {
            const timeline::Span& span = timeline_.spans[i];
            cuts.push_back(unsafe_together(span.first_action, span.actions, *before));
            built_.begin();
            std::vector<timeline::Law> entry(timeline_.laws_of(i),
                                             timeline_.laws_of(i) + timeline_.zones.size());
            for (timeline::Law& law : entry) law = {timeline::LawKind::hold, law.from, law.from, 0};
            insert(cuts.back(), span.first_action, span.actions, entry, span);
            timeline::Span own = span;
            Index rest = cuts.back().empty() ? 0 : cuts.back().back();
            built_.add(own, {timeline_.laws_of(i), timeline_.laws_of(i) + timeline_.zones.size()});
            inserted_.push_back(false);
            if (!cuts.back().empty())
                for (; rest < span.actions; ++rest)
                    built_.add_action(timeline_.actions[span.first_action + rest]);
            before = &timeline_.states[span.state];
        }
        const std::vector<Index> last = unsafe_together(timeline_.end_first, timeline_.end_actions, *before);
        if (!last.empty() && !timeline_.spans.empty()) {
            const std::size_t i = timeline_.spans.size() - 1;
            std::vector<timeline::Law> end(timeline_.laws_of(i), timeline_.laws_of(i) + timeline_.zones.size());
            for (timeline::Law& law : end) law = {timeline::LawKind::hold, law.to, law.to, 0};
            insert(last, timeline_.end_first, timeline_.end_actions, end, timeline_.spans[i]);
        }
        cuts.push_back(last);
        built_.finish();
        Timeline& timeline = built_.timeline;
        if (!last.empty() && !timeline_.spans.empty()) {
            timeline.end_first += last.back();
            timeline.end_actions -= last.back();
        }
        for (std::size_t e = 0; e < timeline.expectations.size(); ++e)
            move(timeline.expectations[e], timeline_.expectations[e], cuts);
        return {std::move(timeline), std::move(built_.map), std::move(inserted_)};
    }

private:
    bool flows(const State& state, check::Hazard hazard) const {
        const timeline::Signal signal{timeline::SignalKind::hazard_flow, static_cast<Index>(hazard)};
        return plant_.signal(signal, rig_, state).hi > 0;
    }

    /// Whether the change from `mid` to `after` is safe only behind that from `before` to `mid`.
    bool needs_order(const State& before, const State& mid, const State& after) const {
        using enum check::Hazard;
        const auto shut = [&](check::Hazard hazard) { return flows(before, hazard) && !flows(mid, hazard); };
        const auto opens = [&](check::Hazard hazard) { return !flows(mid, hazard) && flows(after, hazard); };
        if (after.pump && !mid.pump && (shut(flammable) || shut(oxidiser) || shut(toxic))) return true;
        if (mid.burner && !after.burner && shut(flammable)) return true;
        if (opens(flammable) && ((!before.burner && mid.burner) || shut(oxidiser))) return true;
        return opens(oxidiser) && shut(flammable);
    }

    /// Numbers of actions behind which a segment of its own must end.
    std::vector<Index> unsafe_together(Index first, Index count, const State& start) const {
        std::vector<Index> cuts;
        const State* before = &start;
        for (Index a = 1; a < count; ++a) {
            const State& mid = timeline_.states[timeline_.actions[first + a - 1].state];
            const State& after = timeline_.states[timeline_.actions[first + a].state];
            if (!needs_order(*before, mid, after)) continue;
            cuts.push_back(a);
            before = &mid;
        }
        return cuts;
    }

    void insert(const std::vector<Index>& cuts, Index first, Index count,
                const std::vector<timeline::Law>& laws, const timeline::Span& like) {
        Index done = 0;
        for (const Index cut : cuts) {
            timeline::Span span;
            span.state = timeline_.actions[first + cut - 1].state;
            span.ending.duration = shortest_;
            span.duration = shortest_;
            span.path = like.path;
            span.source = timeline_.actions[first + cut].source;
            span.first_action = first + done;
            span.actions = 0;
            built_.add(span, laws);
            for (; done < cut && done < count; ++done) built_.add_action(timeline_.actions[first + done]);
            inserted_.push_back(true);
        }
    }

    void move(timeline::Expectation& to, const timeline::Expectation& from,
              const std::vector<std::vector<Index>>& cuts) const {
        if (from.boundary >= cuts.size()) return;
        const std::vector<Index>& here = cuts[from.boundary];
        std::size_t behind = 0;
        while (behind < here.size() && here[behind] < from.after_actions) ++behind;
        // At the end of the recipe the inserted spans lie before the boundary.
        const bool end = from.boundary == timeline_.spans.size();
        const auto n = static_cast<Index>(behind);
        to.boundary = end ? to.boundary - static_cast<Index>(here.size()) + n : to.boundary + n;
        if (behind > 0) to.after_actions -= here[behind - 1];
    }

    const Timeline& timeline_;
    const plant::Plant& plant_;
    plant::State rig_;
    Retimed built_;
    double shortest_;
    std::vector<bool> inserted_;
};

} // namespace

Ordered keep_order(const Timeline& timeline, const plant::Plant& plant, const program::Controller& controller) {
    return Orderer(timeline, plant, controller).run();
}

} // namespace athanor::legalise
