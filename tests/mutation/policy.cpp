#include "tests/mutation/policy.hpp"

namespace athanor::mutation {

using check::EventKind;
using check::RuleForm;
using simulator::Sample;

namespace {

class Asked {
public:
    Asked(const prove::Instance& instance, const check::Model& model, const check::Rig& rig,
          const timeline::Timeline& timeline, const simulator::Draw& draw, const simulator::Trajectory& run)
        : instance_(instance), model_(model), rig_(rig), timeline_(timeline), draw_(draw), run_(run) {}

    bool broken_without_failure() {
        const RuleForm form = instance_.clause->form;
        if (form == RuleForm::after_abort) return false;
        bool active = form == RuleForm::always;
        const std::size_t spans = timeline_.spans.size();
        const bool whole = run_.spans.size() == spans && !run_.spans.empty() && run_.spans.back().ended;
        for (std::size_t b = 0; b <= spans; ++b) {
            const bool last = b == spans;
            if (last ? !whole : b >= run_.spans.size()) break;
            if (meets(b, active)) return true;
            if (last || form == RuleForm::before) continue;
            const timeline::State& state = timeline_.states[timeline_.spans[b].state];
            for (std::size_t k = run_.spans[b].first; active && k < run_.spans[b].last; ++k)
                if (fails(run_.samples[k], state, active)) return true;
        }
        return false;
    }

    bool broken_by_failure() {
        if (instance_.clause->form != RuleForm::after_abort || run_.spans.size() < 2) return false;
        const simulator::SpanRun& after = run_.spans.back();
        if (run_.samples[after.first].span < timeline_.spans.size()) return false; // it never came
        timeline::State state = timeline_.states[timeline_.spans[run_.spans.size() - 2].state];
        state.powered = false;
        state.burner = state.burner && rig_.exhaust.pilot;
        state.pump = state.pump && rig_.pump.open_without_power;
        for (std::size_t l = 0; l < rig_.lines.size(); ++l)
            if (rig_.lines[l].output != 0) state.open[l] = rig_.lines[l].open_without_power;
        bool active = true;
        for (std::size_t k = after.first; active && k < after.last; ++k)
            if (fails(run_.samples[k], state, active)) return true;
        return false;
    }

private:
    /// The events of a boundary; true: one of them comes too early.
    bool meets(std::size_t boundary, bool& active) const {
        const bool last = boundary == timeline_.spans.size();
        const EventKind kind = instance_.clause->event.kind;
        const timeline::Index first = last ? timeline_.end_first : timeline_.spans[boundary].first_action,
                              count = last ? timeline_.end_actions : timeline_.spans[boundary].actions;
        const Sample& now =
            boundary == 0 ? run_.samples.front() : run_.samples[run_.spans[boundary - 1].last - 1];
        const timeline::State* state =
            &timeline_.states[boundary == 0 ? 0 : timeline_.spans[boundary - 1].state];
        const auto too_early = [&] {
            if (instance_.clause->form != RuleForm::before) {
                active = true;
                return false;
            }
            return untrue(instance_.require, now, *state);
        };
        if (boundary == 0 && kind == EventKind::start && too_early()) return true;
        for (timeline::Index a = first; a < first + count; ++a) {
            const timeline::State* next = &timeline_.states[timeline_.actions[a].state];
            if (happens(timeline_.actions[a].kind, *state, *next) && too_early()) return true;
            state = next;
        }
        return last && kind == EventKind::end && too_early();
    }

    bool happens(timeline::ActionKind action, const timeline::State& before,
                 const timeline::State& after) const {
        const timeline::Index line = instance_.line;
        const bool known = line != timeline::none && line < before.open.size();
        switch (instance_.clause->event.kind) {
        case EventKind::opening:
        case EventKind::opening_hazard: return known && !before.open[line] && after.open[line];
        case EventKind::closing:
        case EventKind::closing_hazard: return known && before.open[line] && !after.open[line];
        case EventKind::evacuating: return !before.pump && after.pump;
        case EventKind::opening_tube: return action == timeline::ActionKind::open_tube;
        default: return false;
        }
    }

    bool untrue(const timeline::Condition& condition, const Sample& s, const timeline::State& state) const {
        const Truth t = truth(condition, {model_, rig_, timeline_, state, draw_, s}, true);
        return t == Truth::somewhere || t == Truth::nowhere;
    }

    bool fails(const Sample& s, const timeline::State& state, bool& active) const {
        const Instant now{model_, rig_, timeline_, state, draw_, s};
        if (!instance_.until.empty() && truth(instance_.until, now, true) == Truth::everywhere) {
            active = false;
            return false;
        }
        if (!instance_.guard.empty()) {
            const Truth guard = truth(instance_.guard, now, false);
            if (guard == Truth::nowhere || guard == Truth::unknown) return false;
        }
        return untrue(instance_.require, s, state);
    }

    const prove::Instance& instance_;
    const check::Model& model_;
    const check::Rig& rig_;
    const timeline::Timeline& timeline_;
    const simulator::Draw& draw_;
    const simulator::Trajectory& run_;
};

} // namespace

std::set<std::string> broken_rules(const std::vector<prove::Instance>& instances, const check::Model& model,
                                   const check::Rig& rig, const timeline::Timeline& timeline,
                                   const simulator::Draw& draw, const simulator::Trajectory& run, bool failed) {
    std::set<std::string> names;
    if (run.samples.empty()) return names;
    for (const prove::Instance& instance : instances) {
        Asked asked(instance, model, rig, timeline, draw, run);
        if (failed ? asked.broken_by_failure() : asked.broken_without_failure())
            names.insert(instance.rule->name);
    }
    return names;
}

} // namespace athanor::mutation
