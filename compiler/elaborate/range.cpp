#include "compiler/elaborate/range.hpp"

#include "compiler/plant/exits.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::elaborate {

using timeline::EndingKind;
using timeline::Index;
using timeline::Law;
using timeline::LawKind;
using timeline::Timeline;

namespace {

/// Bounds of one number over all corners.
template<class Get>
Interval over(const std::vector<const Timeline*>& corners, Get get) {
    Interval all = get(*corners[0]);
    for (const Timeline* corner : corners) all = hull(all, get(*corner));
    return all;
}

bool same_switching(const timeline::State& a, const timeline::State& b) {
    return a.open == b.open && a.armed == b.armed && a.burner == b.burner && a.pump == b.pump &&
           a.tube_open == b.tube_open && a.regulated == b.regulated && a.bubbler == b.bubbler &&
           a.bath == b.bath && a.slide == b.slide && a.place == b.place;
}

bool same_form(const timeline::Condition& a, const timeline::Condition& b) {
    return std::equal(a.terms.begin(), a.terms.end(), b.terms.begin(), b.terms.end(),
                      [](const auto& x, const auto& y) {
                          return x.kind == y.kind && x.comparison == y.comparison && x.left == y.left &&
                                 x.right == y.right && x.right_is_signal == y.right_is_signal;
                      });
}

/// Empty, or the step whose length follows from a way that leads up in one corner and down in another: between
/// them it takes no time at all.
std::string turned(const std::vector<const Elaborated*>& corners) {
    for (const Elaborated* corner : corners)
        for (const Index i : corner->by_way)
            for (std::size_t z = 0; z < corner->timeline->zones.size(); ++z)
                for (const Elaborated* other : corners)
                    if (corner->timeline->laws_of(i)[z].rate * other->timeline->laws_of(i)[z].rate < 0)
                        return corner->timeline->paths[corner->timeline->spans[i].path];
    return {};
}

/// Empty, or what is not the same in all corners.
std::string difference(const std::vector<const Elaborated*>& corners) {
    const Timeline& a = *corners[0]->timeline;
    for (const Elaborated* other : corners) {
        const Timeline& b = *other->timeline;
        if (a.spans.size() != b.spans.size()) return "the number of steps";
        if (a.actions.size() != b.actions.size() || a.conditions.size() != b.conditions.size() ||
            a.thresholds.size() != b.thresholds.size() || a.requirements.size() != b.requirements.size())
            return "the actions and requirements";
        for (std::size_t i = 0; i < a.spans.size(); ++i) {
            const timeline::Span &s = a.spans[i], &o = b.spans[i];
            const std::string where = s.path < a.paths.size() ? a.paths[s.path] : "a step";
            if (s.ending.kind != o.ending.kind || s.actions != o.actions || s.first_action != o.first_action)
                return "how " + where + " ends";
            if (!same_switching(a.states[s.state], b.states[o.state])) return "what is switched in " + where;
            for (std::size_t z = 0; z < a.zones.size(); ++z)
                if (a.laws_of(i)[z].kind != b.laws_of(i)[z].kind) return "what the heater does in " + where;
        }
        for (std::size_t i = 0; i < a.actions.size(); ++i)
            if (a.actions[i].kind != b.actions[i].kind || a.actions[i].line != b.actions[i].line)
                return "the order of the actions";
        for (std::size_t i = 0; i < a.conditions.size(); ++i)
            if (!same_form(a.conditions[i], b.conditions[i])) return "the form of a condition";
        for (std::size_t i = 0; i < a.thresholds.size(); ++i)
            if (a.thresholds[i].line != b.thresholds[i].line ||
                a.thresholds[i].temperature != b.thresholds[i].temperature ||
                a.thresholds[i].flow != b.thresholds[i].flow)
                return "a standing threshold";
    }
    const std::string step = turned(corners);
    return step.empty() ? step : "whether " + step + " goes up or down";
}

class Joiner {
public:
    explicit Joiner(const std::vector<const Elaborated*>& corners) : plant_(*corners[0]->plant) {
        for (const Elaborated* corner : corners) corners_.push_back(corner->timeline.get());
    }

    Range run() {
        Range range;
        joined_ = std::make_unique<Timeline>(*corners_[0]);
        joined_->laws_most = joined_->laws;
        states();
        for (std::size_t i = 0; i < joined_->spans.size(); ++i) span(i);
        for (std::size_t i = 0; i < joined_->conditions.size(); ++i)
            for (std::size_t k = 0; k < joined_->conditions[i].terms.size(); ++k)
                joined_->conditions[i].terms[k].value =
                    over(corners_, [&](const Timeline& t) { return t.conditions[i].terms[k].value; });
        range.timeline = std::move(joined_);
        return range;
    }

private:
    /// A state of its own for each span, action and end: corners may share theirs differently.
    template<class Get>
    Index state(Get get) {
        timeline::State joined = corners_[0]->states[get(*corners_[0])];
        joined.between.assign(joined.flows.size(), Interval{0});
        for (std::size_t l = 0; l < joined.flows.size(); ++l) {
            const Interval set =
                over(corners_, [&](const Timeline& t) { return Interval{t.states[get(t)].flows[l]}; });
            joined.flows[l] = set.hi;
            if (joined.open[l])
                joined.between[l] = hull(plant_.true_flow(static_cast<Index>(l), set.lo),
                                         plant_.true_flow(static_cast<Index>(l), set.hi));
        }
        states_.push_back(std::move(joined));
        return static_cast<Index>(states_.size() - 1);
    }

    void states() {
        state([](const Timeline&) { return Index{0}; });
        for (std::size_t i = 0; i < joined_->spans.size(); ++i)
            joined_->spans[i].state = state([&](const Timeline& t) { return t.spans[i].state; });
        for (std::size_t i = 0; i < joined_->actions.size(); ++i)
            joined_->actions[i].state = state([&](const Timeline& t) { return t.actions[i].state; });
        joined_->end_state = state([&](const Timeline& t) { return t.end_state; });
        joined_->states = std::move(states_);
    }

    void span(std::size_t i) {
        for (std::size_t z = 0; z < joined_->zones.size(); ++z) {
            Law &low = joined_->laws_of(i)[z], &high = joined_->laws_most[i * joined_->zones.size() + z];
            const auto law = [&](const Timeline& t) -> const Law& { return t.laws_of(i)[z]; };
            const Interval from = over(corners_, [&](const Timeline& t) { return Interval{law(t).from}; });
            const Interval to = over(corners_, [&](const Timeline& t) { return Interval{law(t).to}; });
            const Interval rate = over(corners_, [&](const Timeline& t) { return Interval{law(t).rate}; });
            low = {low.kind, from.lo, to.lo, rate.lo};
            high = {high.kind, from.hi, to.hi, rate.hi};
        }
        timeline::Span& s = joined_->spans[i];
        s.duration = over(corners_, [&](const Timeline& t) { return t.spans[i].duration; });
        const auto ending = [&](auto member) {
            return over(corners_, [&](const Timeline& t) { return Interval{t.spans[i].ending.*member}; });
        };
        const bool waits = s.ending.kind == EndingKind::certain;
        const Interval counted = waits ? s.duration : ending(&timeline::Ending::duration);
        const Interval passed = ending(&timeline::Ending::temperature);
        s.ending.at_most = shortest_limit(i);
        timeline::Ending last = s.ending;
        s.ending.duration = counted.lo;
        last.duration = counted.hi;
        s.ending.temperature = passed.lo;
        last.temperature = passed.hi;
        const Interval band = ending(&timeline::Ending::band);
        s.ending.band = band.lo; // the plant takes the longest wait of one and the widest end of the other
        last.band = band.hi;
        joined_->endings_most.push_back(last);
    }

    /// s; 0 where no corner has one.
    double shortest_limit(std::size_t i) const {
        double least = 0;
        for (const Timeline* corner : corners_)
            if (const double one = corner->spans[i].ending.at_most; one > 0 && (least == 0 || one < least))
                least = one;
        return least;
    }

    std::vector<const Timeline*> corners_;
    const plant::Plant& plant_;
    std::unique_ptr<Timeline> joined_;
    std::vector<timeline::State> states_;
};

} // namespace

Range join(const std::vector<const Elaborated*>& corners) {
    Range range;
    range.differs = difference(corners);
    return range.differs.empty() ? Joiner(corners).run() : std::move(range);
}

bool settle(Timeline& range, const plant::Plant& plant, std::string& why) {
    plant::State now = plant.start();
    plant::Exits exits(range);
    for (std::size_t i = 0; i < range.spans.size(); ++i) {
        timeline::Span& span = range.spans[i];
        exits.enter(range, plant, i, now);
        plant::Passage passage = plant.pass(now, plant::drive(range, i), span.ending, range.endings_most[i]);
        if (!passage.reachable) {
            why = passage.why;
            return false;
        }
        span.duration = passage.duration;
        now = std::move(passage.exit);
    }
    return true;
}

} // namespace athanor::elaborate
