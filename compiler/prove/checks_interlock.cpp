// An interlock answers a fault. One that may act in the run as proven makes another run of it.
#include "compiler/check/evaluate.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/prove/interlock.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace athanor::prove {
namespace {

using check::Expr;
using check::ExprId;
using check::Op;
using timeline::Signal;
using timeline::SignalKind;

/// What a condition can be in a state: `may` for some rig inside the intervals, `must` for every one.
struct Truth {
    bool may = false, must = false;
};

class Condition {
public:
    Condition(const Scene& scene, const plant::State& state, const timeline::State& discrete)
        : scene_(scene), state_(state), discrete_(discrete) {}

    Truth operator()(ExprId id) const {
        const Expr& e = scene_.model.exprs[id];
        switch (e.op) {
        case Op::not_: {
            const Truth a = (*this)(e.a);
            return {!a.must, !a.may};
        }
        case Op::and_: {
            const Truth a = (*this)(e.a), b = (*this)(e.b);
            return {a.may && b.may, a.must && b.must};
        }
        case Op::or_: {
            const Truth a = (*this)(e.a), b = (*this)(e.b);
            return {a.may || b.may, a.must || b.must};
        }
        case Op::less:
        case Op::less_equal: return below(e, e.a, e.b);
        case Op::greater:
        case Op::greater_equal: return below(e, e.b, e.a);
        default: {
            const Interval on = value(id);
            return {on.hi > 0.5, on.lo > 0.5};
        }
        }
    }

private:
    Truth below(const Expr& e, ExprId less, ExprId more) const {
        const Interval a = value(less), b = value(more);
        const double error = sensor_error(less, more);
        const bool same = e.op == Op::less_equal || e.op == Op::greater_equal;
        return {a.lo - error < b.hi || (same && a.lo - error == b.hi),
                a.hi + error < b.lo || (same && a.hi + error == b.lo)};
    }

    /// The interlock's own sensor is taken to be of the control sensor's class and beside it.
    double sensor_error(ExprId one, ExprId other) const {
        for (const auto& [signal, limit] : {std::pair{one, other}, std::pair{other, one}}) {
            const Expr& e = scene_.model.exprs[signal];
            if (e.op != Op::signal) continue;
            if (e.signal == SignalKind::temperature || e.signal == SignalKind::zone_temperature ||
                e.signal == SignalKind::load_temperature)
                return scene_.plant.sensor_tolerance(value(limit).hi);
        }
        return 0;
    }

    /// Anything at all where it cannot be told.
    Interval value(ExprId id) const {
        const Expr& e = scene_.model.exprs[id];
        if (e.op == Op::signal) return signal(e);
        if (e.op == Op::add) return value(e.a) + value(e.b);
        if (e.op == Op::subtract) return value(e.a) - value(e.b);
        check::Frame frame;
        frame.ambient_pressure = scene_.rig.ambient_pressure.value;
        frame.has_ambient = true;
        Diagnostics unheard; // the declaration was checked where it stands
        const check::Value v = check::evaluate(scene_.model, id, frame, unheard);
        return v.poison() ? Interval{-infinity, infinity} : v.number;
    }

    Interval signal(const Expr& e) const {
        const timeline::Timeline& t = scene_.timeline;
        Signal signal{e.signal, e.name == 0 ? e.index : timeline::none};
        const std::string_view name = e.name == 0 ? "" : scene_.model.names[e.name];
        const auto find = [&](const auto& list) {
            const auto at = std::find(list.begin(), list.end(), name);
            return at == list.end() ? timeline::none : static_cast<timeline::Index>(at - list.begin());
        };
        if (e.signal == SignalKind::temperature) { // of a sensor, not of the load
            Interval all = state_.zones[0].control;
            for (std::size_t z = 1; z < t.zones.size(); ++z) all = hull(all, state_.zones[z].control);
            return all;
        }
        if (e.name == 0) {
            if (e.signal != SignalKind::hazard_flow && e.signal != SignalKind::constant)
                signal.index = timeline::none;
            return scene_.plant.signal(signal, state_, discrete_);
        }
        if (e.signal == SignalKind::fraction)
            signal.index = find(t.species);
        else if (e.signal == SignalKind::flow || e.signal == SignalKind::line_open)
            signal.index = line(name);
        else
            signal.index = find(t.zones);
        // What is not in this rig is not in its tube: no gas, no flow, a line that is shut.
        const bool zone = e.signal == SignalKind::zone_temperature || e.signal == SignalKind::setpoint;
        if (signal.index == timeline::none) return zone ? Interval{-infinity, infinity} : Interval{0};
        return scene_.plant.signal(signal, state_, discrete_);
    }

    timeline::Index line(std::string_view name) const {
        for (timeline::Index l = 0; l < scene_.timeline.lines.size(); ++l)
            if (names_line(scene_.model, scene_.rig, l, name)) return l;
        return timeline::none;
    }

    const Scene& scene_;
    const plant::State& state_;
    const timeline::State& discrete_;
};

/// What an interlock would do that the recipe has not done: "closes `argon`, which the recipe has open".
std::string changes(const Scene& s, const check::Interlock& interlock, const plant::State& state,
                    const timeline::State& discrete) {
    const auto lines = static_cast<timeline::Index>(std::min(s.rig.lines.size(), s.timeline.lines.size()));
    const auto moved = [&](const std::vector<std::string>& list, bool open) -> const std::string* {
        for (timeline::Index l = 0; l < lines; ++l) {
            if (std::find(list.begin(), list.end(), s.rig.lines[l].name) == list.end()) continue;
            const Interval is_open = s.plant.signal({SignalKind::line_open, l}, state, discrete);
            if (open ? is_open.hi > 0.5 : is_open.lo < 0.5) return &s.rig.lines[l].name;
        }
        return nullptr;
    };
    if (const std::string* shut = moved(interlock.closes, true))
        return fmt::format("closes `{}`, which the recipe has open", *shut);
    if (const std::string* let_in = moved(interlock.opens, false))
        return fmt::format("opens `{}`, which the recipe has closed", *let_in);
    return {};
}

/// The line of an inert gas that an interlock shuts and opens no other one for; null: none. Acting, it would
/// leave the fuel in the tube.
const std::string* shuts_what_clears(const Scene& s, const check::Interlock& interlock) {
    const auto inert = [&](const std::vector<std::string>& list) -> const std::string* {
        for (timeline::Index l = 0; l < s.rig.lines.size(); ++l)
            if (std::find(list.begin(), list.end(), s.rig.lines[l].name) != list.end() &&
                s.inert_without_fuel(l))
                return &s.rig.lines[l].name;
        return nullptr;
    };
    return inert(interlock.opens) == nullptr ? inert(interlock.closes) : nullptr;
}

} // namespace

void check_interlocks(Scene& s) {
    // In a run that breaks a rule an interlock may rightly act: what is wrong without it comes first.
    const bool wrong_already = s.out.any_error();
    std::size_t looked_at = 0;
    bool holds = true;
    double at_s = 0;
    athanor::Span source;
    for (const check::Interlock& i : s.rig.interlocks) {
        if (i.condition == check::none || i.condition == 0) continue;
        if (looked_at++ == 0) source = i.source;
        if (const std::string* shut = shuts_what_clears(s, i); shut && s.uses(check::Hazard::flammable)) {
            if (std::exchange(holds, false)) source = i.source;
            s.out
                .error(Code::interlock_acts, i.source,
                       fmt::format(
                           "this interlock shuts `{}`, whose gas clears the tube, and opens no other inert gas",
                           *shut))
                .cause(
                    "when it acts, what flammable gas is in the tube stays there, and cooling draws air to it")
                .remedy(fmt::format("let it shut the flammable gas and open the inert one:  opens {}", *shut));
            continue;
        }
        if (wrong_already) continue;
        const auto acts = [&](const plant::State& state, const timeline::State& discrete) {
            return !changes(s, i, state, discrete).empty() && Condition(s, state, discrete)(i.condition).may;
        };
        auto found = s.first(acts);
        // A clock of hardware runs on while a person is waited for.
        for (std::size_t span = 0; span < s.spans() && !found; ++span) {
            if (s.timeline.spans[span].ending.kind != timeline::EndingKind::person) continue;
            plant::State state = s.over(span);
            state.elapsed.hi = infinity;
            if (acts(state, s.discrete(span))) found = {span, s.walk.at_s(span), state};
        }
        if (!found) continue;
        const std::string what = changes(s, i, found->state, s.discrete(found->span));
        if (std::exchange(holds, false)) at_s = found->at_s, source = s.source(found->span);
        s.out
            .error(Code::interlock_acts, i.source,
                   fmt::format("this interlock may act in the run as planned: it {}", what))
            .also(s.source(found->span), fmt::format("here, at {} of the run", to_clock(found->at_s)))
            .cause(
                fmt::format("`{}` may hold in this step, by the bounds of the rig and the error of its sensor",
                            s.files.text(s.model.exprs[i.condition].span)))
            .cause("what an interlock does is not simulated, so a run in which it acts is not proven")
            .remedy(
                "let it act on a fault alone: set its limit beyond what the recipe reaches, or add what must "
                "be open")
            .remedy("or let the recipe switch the line itself, before the interlock does");
    }
    if (looked_at == 0) return;
    Row& row =
        s.row("interlock_acts", "No interlock acts in the run as planned", holds,
              holds ? fmt::format("{} interlock{}, none reached", looked_at, looked_at == 1 ? "" : "s") : "",
              at_s, source);
    row.not_judged = wrong_already;
}

} // namespace athanor::prove
