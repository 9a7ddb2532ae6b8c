// An interlock answers a fault. One that may act in the run as proven makes another run of it.
#include "compiler/check/condition.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/prove/interlock.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <utility>
#include <vector>

namespace athanor::prove {
namespace {

using timeline::Signal;
using timeline::SignalKind;
using timeline::Term;

/// What a condition can be in a state: `may` for some rig inside the intervals, `must` for every one.
struct Truth {
    bool may = false, must = false;
};

bool of_sensor(Signal signal) {
    return signal.kind == SignalKind::temperature || signal.kind == SignalKind::zone_temperature ||
           signal.kind == SignalKind::load_temperature;
}

/// A condition as the hardware sees it.
class Watched {
public:
    Watched(const Scene& scene, const plant::State& state, const timeline::State& discrete)
        : scene_(scene), state_(state), discrete_(discrete) {}

    Truth operator()(const timeline::Condition& condition) const {
        std::vector<Truth> stack;
        for (const Term& term : condition.terms) {
            if (term.kind == Term::Kind::compare) {
                stack.push_back(compared(term));
                continue;
            }
            if (term.kind == Term::Kind::truth) {
                const Interval on = value(term.left);
                stack.push_back({on.hi > 0.5, on.lo > 0.5});
                continue;
            }
            const Truth b = stack.back();
            if (term.kind == Term::Kind::not_) {
                stack.back() = {!b.must, !b.may};
                continue;
            }
            stack.pop_back();
            const Truth a = stack.back();
            stack.back() = term.kind == Term::Kind::and_ ? Truth{a.may && b.may, a.must && b.must}
                                                         : Truth{a.may || b.may, a.must || b.must};
        }
        return stack.back();
    }

private:
    Truth compared(const Term& term) const {
        const bool less = check::upper(term.comparison);
        const Interval left = value(term.left),
                       right = term.right_is_signal ? value(term.right) + term.value : term.value;
        const Interval a = less ? left : right, b = less ? right : left;
        const double error = sensor_error(term, left, right);
        const bool same = term.comparison == timeline::Comparison::less_equal ||
                          term.comparison == timeline::Comparison::greater_equal;
        return {a.lo - error < b.hi || (same && a.lo - error == b.hi),
                a.hi + error < b.lo || (same && a.hi + error == b.lo)};
    }

    /// The interlock's own sensor is taken to be of the control sensor's class and beside it. Of two each errs.
    double sensor_error(const Term& term, Interval left, Interval right) const {
        double error = of_sensor(term.left) ? scene_.plant.sensor_tolerance(right.hi) : 0;
        if (term.right_is_signal && of_sensor(term.right)) error += scene_.plant.sensor_tolerance(left.hi);
        return error;
    }

    Interval value(Signal signal) const {
        if (signal.kind != SignalKind::temperature) return scene_.plant.signal(signal, state_, discrete_);
        Interval all = state_.zones[0].control; // of a sensor, not of the load
        for (std::size_t z = 1; z < scene_.timeline.zones.size(); ++z) all = hull(all, state_.zones[z].control);
        return all;
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
        const std::optional<timeline::Condition> watched = condition_of(s.model, s.rig, &s.timeline, i, &s.out);
        if (!watched && std::exchange(holds, false)) source = i.source;
        if (wrong_already || !watched) continue;
        // It latches: once it has tripped it changes whatever step the recipe comes to.
        std::optional<std::size_t> last;
        for (std::size_t span = s.spans(); span-- > 0 && !last;)
            if (!changes(s, i, s.over(span), s.discrete(span)).empty()) last = span;
        if (!last) continue;
        const auto trips = [&](const plant::State& state, const timeline::State& discrete) {
            return Watched(s, state, discrete)(*watched).may;
        };
        const auto acts = [&](const plant::State& state, const timeline::State& discrete) {
            return !changes(s, i, state, discrete).empty() && trips(state, discrete);
        };
        std::optional<Scene::Found> found;
        for (std::size_t span = 0; span <= *last && !found; ++span) {
            found = span == *last ? s.first_in(span, acts) : s.first_in(span, trips);
            if (found || s.timeline.spans[span].ending.kind != timeline::EndingKind::person) continue;
            // A clock of hardware runs on while a person is waited for.
            plant::State state = s.over(span);
            state.elapsed.hi = infinity;
            if (span == *last ? acts(state, s.discrete(span)) : trips(state, s.discrete(span)))
                found = {span, s.walk.at_s(span), state};
        }
        if (!found) continue;
        const std::string now = changes(s, i, found->state, s.discrete(found->span));
        const std::string what = now.empty() ? changes(s, i, s.over(*last), s.discrete(*last)) + " later" : now;
        if (std::exchange(holds, false)) at_s = found->at_s, source = s.source(found->span);
        s.out
            .error(Code::interlock_acts, i.source,
                   fmt::format("this interlock may act in the run as planned: it {}", what))
            .also(s.source(found->span), fmt::format("here, at {} of the run", to_clock(found->at_s)))
            .cause(
                fmt::format("`{}` may hold in this step, by the bounds of the rig and the error of its sensor",
                            s.files.text(s.model.exprs[i.condition].span)))
            .cause(now.empty()
                       ? "hardware that has tripped stays so until somebody resets it"
                       : "what an interlock does is not simulated, so a run in which it acts is not proven")
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
