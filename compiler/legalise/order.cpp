#include "compiler/legalise/order.hpp"

#include "compiler/legalise/retimed.hpp"
#include "compiler/legalise/rounding.hpp"

#include <algorithm>
#include <cstddef>
#include <functional>
#include <numeric>

namespace athanor::legalise {

using timeline::Index;
using timeline::State;
using timeline::Timeline;

namespace {

constexpr double any_temperature = 4000; // K, above every furnace

class Orderer {
public:
    Orderer(const Timeline& timeline, const plant::Plant& plant, const program::Controller& controller)
        : timeline_(timeline), plant_(plant), rig_(plant.start()),
          shortest_(plan_dwell(controller, 1e-3, Rounding::up).duration) {
        // A standing threshold may act at any temperature.
        for (plant::ZoneState& zone : rig_.zones) zone.control = zone.load = {zone.control.lo, any_temperature};
    }

    Ordered run() {
        const std::size_t count = timeline_.spans.size();
        std::vector<std::vector<Index>> cuts; // per span, and of the end; empty where nothing is unsafe
        const State* before = &timeline_.states[0];
        const auto look = [&](std::size_t at, Index first, Index actions) {
            std::vector<Index> own = unsafe_together(first, actions, *before);
            if (own.empty()) return;
            cuts.resize(count + 1);
            cuts[at] = std::move(own);
        };
        for (std::size_t i = 0; i < count; ++i) {
            const timeline::Span& span = timeline_.spans[i];
            if (span.actions > 1) look(i, span.first_action, span.actions);
            before = &timeline_.states[span.state];
        }
        if (timeline_.end_actions > 1) look(count, timeline_.end_first, timeline_.end_actions);
        // A repeat of no span is no repeat of segments: it is left out.
        const bool bare = std::any_of(timeline_.repeats.begin(), timeline_.repeats.end(),
                                      [](const timeline::Repeat& repeat) { return repeat.spans == 0; });
        if (cuts.empty() && !bare) {
            std::vector<Index> map(count + 1);
            std::iota(map.begin(), map.end(), Index{0});
            return {std::nullopt, std::move(map), std::vector<bool>(count, false)};
        }
        cuts.resize(count + 1);
        return rebuilt(cuts);
    }

private:
    Ordered rebuilt(const std::vector<std::vector<Index>>& cuts) {
        built_.emplace(timeline_);
        for (std::size_t i = 0; i < timeline_.spans.size(); ++i) {
            const timeline::Span& span = timeline_.spans[i];
            built_->begin();
            std::vector<timeline::Law> entry(timeline_.laws_of(i),
                                             timeline_.laws_of(i) + timeline_.zones.size());
            for (timeline::Law& law : entry) law = {timeline::LawKind::hold, law.from, law.from, 0};
            insert(cuts[i], span.first_action, span.actions, entry, span);
            Index rest = cuts[i].empty() ? 0 : cuts[i].back();
            built_->add(span, timeline_.laws_of(i));
            inserted_.push_back(false);
            if (!cuts[i].empty())
                for (; rest < span.actions; ++rest)
                    built_->add_action(timeline_.actions[span.first_action + rest]);
        }
        const std::vector<Index>& last = cuts.back();
        if (!last.empty() && !timeline_.spans.empty()) {
            const std::size_t i = timeline_.spans.size() - 1;
            std::vector<timeline::Law> end(timeline_.laws_of(i), timeline_.laws_of(i) + timeline_.zones.size());
            for (timeline::Law& law : end) law = {timeline::LawKind::hold, law.to, law.to, 0};
            insert(last, timeline_.end_first, timeline_.end_actions, end, timeline_.spans[i]);
        }
        built_->finish();
        Timeline& timeline = built_->timeline;
        if (!last.empty() && !timeline_.spans.empty()) {
            timeline.end_first += last.back();
            timeline.end_actions -= last.back();
        }
        for (std::size_t e = 0; e < timeline.expectations.size(); ++e)
            move(timeline.expectations[e], timeline_.expectations[e], cuts);
        return {std::move(timeline), std::move(built_->map), std::move(inserted_)};
    }

    /// What no instant may show. A gas that may flow at some temperature counts as one that flows.
    enum Danger : unsigned { pumped = 1, unburnt = 2, poisonous = 4, mixed = 8 };
    unsigned dangers(const State& state) const {
        using enum check::Hazard;
        const auto flows = [&](check::Hazard hazard) {
            const timeline::Signal signal{timeline::SignalKind::hazard_flow, static_cast<Index>(hazard)};
            return plant_.signal(signal, rig_, state).hi > 0;
        };
        const bool fuel = flows(flammable);
        const bool poison = flows(toxic);
        const bool oxygen = flows(oxidiser);
        return (state.pump && (fuel || poison || oxygen) ? pumped : 0U) |
               (fuel && !state.burner ? unburnt : 0U) | (poison && !state.burner ? poisonous : 0U) |
               (fuel && oxygen ? mixed : 0U);
    }

    /// Whether some order in which the outputs may move from `before` to `after` passes a danger that the
    /// states on the written way do not have.
    bool needs_order(const State& before, const State& after, unsigned written) const {
        std::vector<std::function<void(State&)>> changes;
        for (std::size_t l = 0; l < before.open.size(); ++l)
            if (before.open[l] != after.open[l] || before.flows[l] != after.flows[l])
                changes.emplace_back(
                    [&, l](State& s) { s.open[l] = after.open[l], s.flows[l] = after.flows[l]; });
        for (unsigned bit = 0; bit < 32; ++bit)
            if (((before.armed ^ after.armed) >> bit & 1U) != 0)
                changes.emplace_back([bit](State& s) { s.armed ^= 1U << bit; });
        if (before.burner != after.burner) changes.emplace_back([&](State& s) { s.burner = after.burner; });
        if (before.pump != after.pump) changes.emplace_back([&](State& s) { s.pump = after.pump; });
        if (changes.size() < 2) return false;
        if (changes.size() > most_changes) return true;
        for (std::size_t some = 0; some < std::size_t{1} << changes.size(); ++some) {
            State between = before;
            for (std::size_t n = 0; n < changes.size(); ++n)
                if ((some >> n & 1U) != 0) changes[n](between);
            if ((dangers(between) & ~written) != 0) return true;
        }
        return false;
    }
    static constexpr std::size_t most_changes = 10; // outputs; more in one instant are parted

    /// Numbers of actions behind which a segment of its own must end.
    std::vector<Index> unsafe_together(Index first, Index count, const State& start) const {
        std::vector<Index> cuts;
        const State* before = &start;
        unsigned written = dangers(start);
        for (Index a = 0; a < count; ++a) {
            const State& after = timeline_.states[timeline_.actions[first + a].state];
            const unsigned here = dangers(after);
            if (a > 0 && needs_order(*before, after, written | here)) {
                cuts.push_back(a);
                before = &timeline_.states[timeline_.actions[first + a - 1].state];
                written = dangers(*before);
            }
            written |= here;
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
            built_->add(span, laws.data());
            for (; done < cut && done < count; ++done) built_->add_action(timeline_.actions[first + done]);
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
    std::optional<Retimed> built_;
    double shortest_;
    std::vector<bool> inserted_;
};

} // namespace

Ordered keep_order(const Timeline& timeline, const plant::Plant& plant, const program::Controller& controller) {
    return Orderer(timeline, plant, controller).run();
}

} // namespace athanor::legalise
