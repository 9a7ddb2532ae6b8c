#include "compiler/legalise/walk.hpp"
#include "compiler/legalise/walker.hpp"
#include "compiler/legalise/words.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace athanor::legalise {

using program::SegmentKind;
using timeline::EndingKind;
using timeline::Law;
using timeline::LawKind;
using timeline::State;

std::string joined(std::string_view a, std::string_view b) {
    return fmt::format("{}{}{}", a, a.empty() || b.empty() ? "" : "; ", b);
}

Walker::Walker(const WalkInput& input, Diagnostics& out)
    : input_(input), recipe_(input.timeline), c_(input.controller), keys_(c_), out_(out),
      walked_(input.timeline), here_(input.plant), exits_(recipe_), before_(&recipe_.states[0]) {
    const plant::State& start = here_.state();
    start_ = start.zones[0].control;
    for (std::size_t z = 0; z < zones(); ++z) {
        double degC = start.zones[z].setpoint - zero_celsius;
        // A start that the ambient range covers anyway costs no step; else one brings it to a settable value.
        const std::int64_t nearest =
            std::clamp(keys_.setpoint.nearest(degC), std::int64_t{0}, keys_.setpoint.count());
        if (!c_.starts_from_measured)
            degC = std::abs(c_.start_setpoint - degC) <= setpoint_budget ? c_.start_setpoint
                                                                         : keys_.setpoint.value(nearest);
        setpoint_.push_back(degC);
    }
    near_.resize(zones());
    from_measured_ = c_.starts_from_measured;
    kinds_.assign(recipe_.spans.size(), 0);
    for (Index i = 0; i < kinds_.size(); ++i)
        for (std::size_t z = 0; z < zones(); ++z) kinds_[i] |= bit(law(i, z).kind);
    // Few lines take several rows, and some rows several spans.
    walked_.rows.segments.reserve(recipe_.spans.size() + 4);
    walked_.rows.spans.reserve(recipe_.spans.size() + 4);
    walked_.row_of.reserve(recipe_.spans.size() + 1);
}

Walked Walker::run() {
    const auto count = static_cast<Index>(recipe_.spans.size());
    if (!input_.nearest) choose_setpoints();
    for (Index i = 0; i < count;) {
        boundary_ = boundary_ || input_.boundary[i];
        const auto row_before = static_cast<Index>(walked_.rows.size());
        const Index first = i;
        enter(i);
        const bool person_next = span(i).ending.kind == EndingKind::person;
        if (c_.linking && begins_run(i) && !person_next && !walked_.rows.empty()) {
            break_.emplace();
            break_->linked = true;
        }
        if (person_next)
            i = person(i);
        else if (any(i, LawKind::jump))
            i = jump(i);
        else if (any(i, LawKind::off))
            i = off(i);
        else if (any(i, LawKind::line))
            i = line(i);
        else
            i = hold(i);
        for (Index member = first; member < i; ++member) walked_.row_of.push_back(row_before);
        if (walked_.rows.size() > row_before) boundary_ = false;
    }
    walked_.row_of.push_back(static_cast<Index>(walked_.rows.size()));
    // Where no row brings the controller to the recipe's start, it ends where it starts.
    if (walked_.rows.empty() && !c_.starts_from_measured) {
        setpoint_.assign(zones(), c_.start_setpoint);
        keyed_.clear();
    }
    program::Segment& end = walked_.end;
    const State& last = recipe_.states[recipe_.end_state];
    end.kind = SegmentKind::end;
    end.targets = setpoints();
    end.outputs = held_bits(last);
    end.channels = input_.wiring.channels(last);
    end.start_degC = setpoint_[0];
    walked_.last_wait = std::move(break_);
    say(recipe_.end_first, recipe_.end_actions);
    put_into_words();
    add_after_end(pending_, recipe_, last, c_.holds_at_end);
    end.instruction = std::move(pending_);
    if (recipe_.end_actions > 0)
        end.source = recipe_.actions[recipe_.end_first].source;
    else if (count > 0)
        end.source = span(count - 1).source;
    end.why.what = "the programme ends";
    walked_.built.finish();
    walked_.parted = parted_;
    return std::move(walked_);
}

bool Walker::begins_run(Index i) const {
    return i > 0 && std::any_of(recipe_.runs.begin(), recipe_.runs.end(),
                                [&](const timeline::Run& run) { return run.first == i; });
}

bool Walker::same_switching(Index a, Index b) const {
    if (span(a).state == span(b).state) return true;
    const State& one = recipe_.states[span(a).state];
    const State& other = recipe_.states[span(b).state];
    if (one.flows != other.flows || one.open != other.open) return false; // what mostly differs
    State like = other;
    like.armed = one.armed; // a threshold output follows by itself, in whatever segment
    return one == like;
}

bool Walker::goes_on(Index last, Index next) const {
    if (next >= recipe_.spans.size() || !same_switching(last, next)) return false;
    if (input_.boundary[next]) {
        parted_ = parted_ || !begins_run(next);
        return false;
    }
    const timeline::Span& s = span(next);
    for (Index a = 0; a < s.actions; ++a) {
        const timeline::ActionKind kind = recipe_.actions[s.first_action + a].kind;
        if (speaks(kind) || kind == timeline::ActionKind::open_tube) return false;
    }
    return true;
}

timeline::Index Walker::end_of_line(Index first) const {
    Index last = first;
    while (goes_on_line(last, last + 1)) ++last;
    return last;
}

timeline::Index Walker::end_of_hold(Index first) const {
    Index last = first;
    while (goes_on_hold(last, last + 1)) ++last;
    return last;
}

timeline::Index Walker::end_of_off(Index first) const {
    Index last = first;
    while (goes_on_off(last, last + 1)) ++last;
    return last;
}

program::Why Walker::why(const char* what, Index first, Index last) const {
    program::Why why;
    why.what = what;
    why.placed = true;
    why.at = span(first).source;
    why.up_to = span(last).source;
    why.several = last != first;
    return why;
}

Values Walker::targets(Index i, double budget) {
    Values indices;
    const Values* choice = chosen(i);
    bool reported = false;
    for (std::size_t z = 0; z < zones(); ++z) {
        const double kelvin = law(i, z).to;
        const Near& nearest = near(z, kelvin);
        if (nearest.off <= budget + 1e-9) {
            const std::int64_t taken = choice ? (*choice)[z] : nearest.index;
            const double off =
                choice ? std::abs(keys_.setpoint.value(taken) - (kelvin - zero_celsius)) : nearest.off;
            indices.push_back(taken);
            walked_.setpoint_error = std::max(walked_.setpoint_error, off);
            continue;
        }
        indices.push_back(nearest.index);
        if (!std::exchange(reported, true)) report_target(i, z, nearest.index);
    }
    return indices;
}

void Walker::report_target(Index i, std::size_t z, std::int64_t nearest) {
    const double degC = law(i, z).to - zero_celsius;
    const std::string range = fmt::format("{} °C to {} °C by {} K", c_.setpoint.lo.text(),
                                          c_.setpoint.hi.text(), c_.setpoint.step.text());
    // Nobody wrote the start: it is what is measured, in the middle of the room.
    unheld_ = at_start_ && std::abs(degC - setpoint_[z]) < 1e-9;
    out_.error(Code::value_not_settable, span(i).source,
               fmt::format("{} cannot hold {}: it takes {}", c_.name,
                           unheld_ ? fmt::format("what is measured at the start, {}",
                                                 to_text(law(i, z).to, Kind::temperature))
                                   : "a set-point of " + to_text(law(i, z).to, Kind::temperature),
                           range))
        .also(c_.source, "the controller's set-points")
        .remedy(unheld_ ? "begin with a `step to` a set-point that controller and furnace take"
                        : "the nearest set-point is " +
                              to_text(keys_.setpoint.value(nearest) + zero_celsius, Kind::temperature));
}

std::int64_t Walker::band_below(double kelvin) const {
    return std::min(c_.soak_band->below(kelvin), c_.soak_band->count());
}

std::int64_t Walker::band_of(Index i) {
    const timeline::Ending& ending = span(i).ending;
    const std::string asked = to_text(ending.band, Kind::difference);
    if (!c_.soak_band) {
        Diagnostic& d =
            out_.error(Code::no_soak_band, span(i).source,
                       fmt::format("the soak band of {} needs a controller that waits inside a band, {} "
                                   "has none",
                                   asked, c_.name));
        d.also(c_.source, "the controller");
        const timeline::Law* laws = recipe_.laws_of(i);
        const plant::Passage p =
            input_.plant.pass(here_.state(), {laws, &recipe_.states[span(i).state]}, ending);
        const double late = p.duration.hi - ending.duration;
        if (p.reachable && std::isfinite(late) && late > 0) {
            const double keyed = keys_.dwell.value(keys_.dwell.above(ending.duration + late));
            d.remedy(
                fmt::format("drop `within {}` and lengthen the dwell by {}, the longest time that this furnace "
                            "needs to come that near",
                            asked, to_text(std::max(late, keyed - ending.duration), Kind::time)));
        } else {
            d.remedy(fmt::format("drop `within {}` and lengthen the dwell", asked));
        }
        return -1;
    }
    const std::int64_t k = band_below(ending.band);
    if (k >= 0) return k;
    out_.error(Code::value_not_settable, span(i).source,
               fmt::format("a soak band of {} is narrower than the smallest that {} takes, {} K", asked,
                           c_.name, c_.soak_band->lo.text()))
        .also(c_.source, "the controller's soak bands")
        .remedy(fmt::format("within {} K", c_.soak_band->lo.text()));
    return -1;
}

Values Walker::setpoints() const {
    if (!keyed_.empty()) return keyed_;
    Values indices;
    for (const double degC : setpoint_) indices.push_back(nearest_setpoint(keys_, degC));
    return indices;
}

void Walker::set_setpoints(const Values& indices) {
    for (std::size_t z = 0; z < zones(); ++z) setpoint_[z] = keys_.setpoint.value(indices[z]);
    keyed_ = indices;
    from_measured_ = at_start_ = start_moved_ = false;
}

void Walker::hold_at(const Values& indices) {
    bool moves = false;
    if (indices != keyed_)
        for (std::size_t z = 0; z < zones(); ++z)
            moves = moves || std::abs(keys_.setpoint.value(indices[z]) - setpoint_[z]) > 1e-9;
    const bool start_moved = start_moved_ || (at_start_ && moves);
    if (moves) set_setpoints(indices);
    from_measured_ = false;
    start_moved_ = start_moved;
}

void Walker::stay_at(Index i) {
    // A wait for a person keys no set-point, whatever the display rounds to: what was measured is still held.
    if (from_measured_) return;
    const Values indices = targets(i, setpoint_budget);
    for (std::size_t z = 0; z < zones(); ++z)
        if (std::abs(keys_.setpoint.value(indices[z]) - setpoint_[z]) > 0.5 * keys_.setpoint.step() + 1e-6)
            return set_setpoints(indices);
}

Walker::Laws Walker::holding() const {
    Laws laws;
    for (const double degC : setpoint_) {
        const double kelvin = degC + zero_celsius;
        laws.push_back({LawKind::hold, kelvin, kelvin, 0});
    }
    return laws;
}

/// Spans of no length in between make no other instant: what waits for a row is said as one.
void Walker::say(Index first, Index count) {
    put_into_words();
    if (!pending_.empty() && said_.first + said_.count == first)
        pending_.resize(said_.behind);
    else
        said_ = {first, 0, before_, pending_.size()};
    said_.count += count;
    unworded_ = said_.count > 0;
}

void Walker::word() {
    add_instruction(pending_, recipe_, said_.first, said_.count, *said_.before);
}

void Walker::enter(Index i) {
    const timeline::Span& s = span(i);
    say(s.first_action, s.actions);
    if (!recipe_.exits.empty()) exits_.arrive(i, here_.state());
    for (Index a = 0; a < s.actions; ++a)
        if (const timeline::ActionKind kind = recipe_.actions[s.first_action + a].kind;
            kind == timeline::ActionKind::open_tube || kind == timeline::ActionKind::shut)
            plant::act(kind, input_.plant, here_.state());
    before_ = &recipe_.states[s.state];
    walked_.built.begin();
}

/// Whether the recipe's own steps reach the band of a span: where they do not, that is told of the recipe.
bool Walker::certain_as_written(Index i) const {
    plant::State now = input_.plant.start();
    plant::Exits exits(recipe_);
    for (Index n = 0;; ++n) {
        exits.enter(recipe_, input_.plant, n, now);
        plant::Passage p = input_.plant.pass(now, plant::drive(recipe_, n), span(n).ending);
        if (n == i) return p.reachable;
        now = std::move(p.exit);
    }
}

void Walker::report_band(Index i, double keyed, const std::string& reason) {
    // A span becomes several, each of which waits; so do the passes of a repeat.
    if (no_band_ != timeline::none && span(no_band_).source == span(i).source) return;
    if (!certain_as_written(i)) return;
    no_band_ = i;
    const double asked = span(i).ending.band;
    Diagnostic& d =
        out_.error(Code::condition_unreachable, span(i).source,
                   fmt::format("after rounding to the values of {}, this wait within {} of the set-point can "
                               "never be certain",
                               c_.name, to_text(keyed, Kind::difference)));
    d.also(c_.source, "the controller");
    if (!reason.empty()) d.cause(reason);
    if (any(i, LawKind::line) && !c_.band_on_ramps)
        d.cause(fmt::format("{} waits in a band on dwells only, behind the ramp", c_.name));
    if (keyed >= asked - 1e-9) {
        d.remedy("a wider band, or a dwell in it behind a dwell without one");
        return;
    }
    const std::int64_t k = band_below(asked);
    if (c_.soak_band->holds(k + 1))
        d.remedy(fmt::format("a band that {} takes:  within {} K", c_.name, c_.soak_band->text(k + 1)));
    else
        d.remedy(
            fmt::format("a controller whose soak bands are as wide as {}", to_text(asked, Kind::difference)));
    d.cause(fmt::format("{} takes soak bands of {} K to {} K by {} K, the recipe asks for {}", c_.name,
                        c_.soak_band->lo.text(), c_.soak_band->hi.text(), c_.soak_band->step.text(),
                        to_text(asked, Kind::difference)));
}

Interval Walker::add_span(Index i, const Law* laws, const timeline::Ending& ending) {
    plant::Drive drive{laws, &recipe_.states[span(i).state]};
    drive.counts = ending.kind != EndingKind::person;
    timeline::Span& added = walked_.built.add(span(i), laws);
    added.ending = ending;
    if (const plant::Remembered* next = here_.next(drive, ending)) {
        here_.go_on(*next, drive);
        return added.duration = next->duration;
    }
    const plant::Passage passage = input_.plant.pass(here_.state(), drive, ending);
    if (!passage.reachable && ending.kind == EndingKind::band) report_band(i, ending.band, passage.why);
    here_.go_on(passage, drive);
    return added.duration = passage.duration;
}

const Walker::Switched& Walker::switched(Index i) {
    if (switched_.state != span(i).state) {
        const State& state = recipe_.states[span(i).state];
        switched_.state = span(i).state;
        switched_.outputs = input_.wiring.bits(state);
        switched_.channels = input_.wiring.channels(state);
    }
    return switched_;
}

program::Segment& Walker::add_row(SegmentKind kind, Index i) {
    const bool begins = walked_.rows.empty() || break_;
    if (break_) {
        walked_.rows.starts.emplace(walked_.rows.size(), std::move(*break_));
        break_.reset();
    }
    walked_.rows.spans.push_back(i);
    program::Segment& s = walked_.rows.segments.emplace_back();
    s.kind = kind;
    const Switched& now = switched(i);
    s.outputs = now.outputs;
    s.channels = now.channels;
    s.source = span(i).source;
    s.defaulted = span(i).defaulted;
    s.start_degC = setpoint_[0];
    if (input_.texts == Texts::all) put_into_words();
    unworded_ = false;
    if (!pending_.empty()) s.instruction = std::exchange(pending_, {});
    // A programme that starts from a set-point of its own must first be brought to the recipe's.
    if (begins && !c_.starts_from_measured && kind == SegmentKind::step) {
        s.start_degC = c_.start_setpoint;
    } else if (begins && !c_.starts_from_measured) {
        const bool there = std::all_of(setpoint_.begin(), setpoint_.end(),
                                       [&](double degC) { return std::abs(degC - c_.start_setpoint) < 1e-9; });
        if (!there && kind == SegmentKind::dwell) {
            s.kind = SegmentKind::step;
            s.start_degC = c_.start_setpoint;
        } else if (!there) {
            program::Segment step = s;
            step.kind = SegmentKind::step;
            step.targets = setpoints();
            step.start_degC = c_.start_setpoint;
            step.why.more =
                fmt::format("{} starts from {} °C, the recipe from {}", c_.name, shortest(c_.start_setpoint),
                            to_text(setpoint_[0] + zero_celsius, Kind::temperature));
            s.instruction = take_opening(step.instruction);
            walked_.rows.segments.insert(walked_.rows.segments.end() - 1, std::move(step));
            walked_.rows.spans.push_back(i);
        }
    }
    boundary_ = false; // what follows in the same group may share this row
    return walked_.rows.segments.back();
}

Walked walk(const WalkInput& input, Diagnostics& out) {
    return Walker(input, out).run();
}

} // namespace athanor::legalise
