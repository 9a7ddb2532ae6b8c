// Walks a run and a recipe side by side and writes down every difference.
#include "compiler/replay/group.hpp"
#include "compiler/replay/outputs.hpp"
#include "compiler/replay/person.hpp"
#include "compiler/replay/replay.hpp"

#include "compiler/quantity/unit.hpp"
#include "compiler/replay/stretch.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <set>
#include <utility>

#include <fmt/format.h>

namespace athanor::replay {
namespace {

constexpr double second = 1e-6; // s, what sums of exact times may lose in a double
constexpr std::size_t most_messages = 50;

/// Where a fault stands that no row has: the recipe goes on behind the last one.
constexpr RowName end_of_table{0, 0};

std::string temperature(double value) {
    return to_text(value, Kind::temperature, 6);
}
std::string seconds(double value) {
    return to_text(value, Kind::time, 6);
}

std::string what(const Stretch& stretch) {
    switch (stretch.kind) {
    case Stretch::Kind::line: return fmt::format("ramps to {:g} °C", stretch.to_degC[0]);
    case Stretch::Kind::hold: return fmt::format("holds {:g} °C", stretch.to_degC[0]);
    case Stretch::Kind::jump: return fmt::format("steps to {:g} °C", stretch.to_degC[0]);
    case Stretch::Kind::person: return "waits for a person";
    }
    return "";
}

std::string what(const Group& group) {
    std::string to = temperature(group.laws[0].to);
    switch (group.kind) {
    case GroupKind::hold: return "holds " + to;
    case GroupKind::line: return "ramps to " + to;
    case GroupKind::off: return "cools freely to " + to;
    case GroupKind::jump: return "steps to " + to;
    case GroupKind::person: return "waits for a person";
    }
    return "";
}

class Walk {
public:
    Walk(const Run& run, const timeline::Timeline& timeline, const program::Program& program, double budget,
         bool hands, bool texts)
        : texts_(texts), run_(run), timeline_(timeline), program_(program), budget_(budget),
          outputs_(timeline, program), step_(program.controller.dwell.step.value()),
          tolerance_(std::max(1.0, 0.5 * step_)), near_(0.5 * program.controller.setpoint.step.value() + 1e-6),
          groups_(groups_of(timeline, tolerance_, step_)), zones_(timeline.zones.size()) {
        if (hands) hands_.emplace(timeline, program, run);
    }

    std::vector<Finding> compare() {
        for (std::string& message : outputs_.declared()) whole(std::move(message));
        if (!run_.stretches.empty() && run_.stretches[0].from_degC.size() != zones_) {
            whole(fmt::format("the table drives {} zones, the recipe {}", run_.stretches[0].from_degC.size(),
                              zones_));
            return messages_;
        }
        bool aligned = true;
        for (at_ = 0; at_ < groups_.size() && aligned; ++at_) {
            const std::size_t from = begun();
            inserted();
            switch (group().kind) {
            case GroupKind::hold: aligned = hold(); break;
            case GroupKind::line: aligned = line(); break;
            case GroupKind::off: aligned = off(); break;
            case GroupKind::jump: aligned = jump(); break;
            case GroupKind::person: aligned = person(); break;
            }
            if (texts_ && aligned) check_texts(from);
        }
        if (aligned) ending();
        return messages_;
    }

private:
    const Group& group() const { return groups_[at_]; }
    const Group* next_group() const { return at_ + 1 < groups_.size() ? &groups_[at_ + 1] : nullptr; }
    const timeline::State& state(const Group& g) const { return timeline_.states[g.state]; }
    bool more() const { return now_ < run_.stretches.size(); }
    const Stretch& stretch() const { return run_.stretches[now_]; }
    double left() const { return stretch().duration_s - used_; }
    void advance() {
        ++now_;
        used_ = 0;
    }

    /// `words`: it is in what the row tells a person.
    void say(RowName row, const std::string& text, bool words = false) {
        std::string message = fmt::format("{}{} ({})", row == end_of_table ? "end of the table: " : "", text,
                                          step_name(timeline_, group().first));
        // A loop repeats its faults; one message for each is enough.
        if (said_.emplace(row, message).second && messages_.size() < most_messages)
            messages_.push_back({row, std::move(message), {}, words});
    }
    void whole(std::string message) { messages_.push_back({end_of_table, std::move(message)}); }
    /// The two no longer run side by side; more messages would only follow from this one.
    bool lost() {
        if (more())
            say(stretch().row(), fmt::format("it {}, the recipe {}", what(stretch()), what(group())));
        else
            say(end_of_table, fmt::format("the recipe goes on: it {}", what(group())));
        return false;
    }

    std::size_t index_of(const Stretch& s) const {
        return static_cast<std::size_t>(&s - run_.stretches.data());
    }

    // --- outputs ---------------------------------------------------------------------------------

    bool shows(const Stretch& s, const timeline::State& wanted) const {
        auto [low, high] = led(run_, index_of(s), program_.controller, group().laws.data());
        return outputs_.equal(s, wanted, low, high) && by_hand(s, wanted).empty();
    }
    void check_outputs(const Stretch& s) {
        auto [low, high] = led(run_, index_of(s), program_.controller, group().laws.data());
        for (std::string& text : outputs_.differences(s, state(group()), low, high))
            say(s.row(), std::move(text));
        check_hands(s);
    }
    std::vector<std::string> by_hand(const Stretch& s, const timeline::State& wanted) const {
        if (!hands_) return {};
        return hands_->differences(run_, index_of(s), wanted);
    }
    void check_hands(const Stretch& s) {
        // What was set wrongly stays so; it is told where it first shows.
        for (std::string& text : by_hand(s, state(group())))
            if (by_hand_.insert(text).second) say(s.row(), std::move(text));
    }

    /// Between two actions of one instant the legaliser may put the shortest settable segment, so that the
    /// order is kept; it shows the state after the earlier ones. Lines of no length are no difference either.
    void inserted() {
        const timeline::Span& span = timeline_.spans[group().first];
        timeline::Index action = span.first_action;
        timeline::Index behind = span.first_action + span.actions;
        bool brought = false;
        while (more() && used_ == 0) {
            const Stretch& s = stretch();
            // A later `run` is a programme of its own, which a person starts whether the recipe says so or not.
            if (s.between && group().kind != GroupKind::person && begins_run()) {
                advance();
                continue;
            }
            if (!brought && brings_to_start()) {
                check_start(s);
                brought = true;
                advance();
                continue;
            }
            bool nothing =
                s.kind == Stretch::Kind::line && s.duration_s == 0 && group().kind != GroupKind::line;
            double shortest = std::max(step_, program_.controller.dwell.lo.value());
            bool brief = s.kind == Stretch::Kind::hold && s.band_K == 0 && s.duration_s <= shortest + second;
            if (nothing && shows(s, state(group()))) {
                advance();
                continue;
            }
            if (!brief || shows(s, state(group()))) return;
            timeline::Index found = action;
            while (found < behind && !shows(s, timeline_.states[timeline_.actions[found].state])) ++found;
            if (found == behind) return;
            action = found + 1;
            advance();
        }
    }

    bool begins_run() const {
        return at_ > 0 && std::any_of(timeline_.runs.begin(), timeline_.runs.end(),
                                      [&](const timeline::Run& r) { return r.first == group().first; });
    }

    /// A controller that starts from a set-point of its own first steps to the recipe's.
    bool brings_to_start() const {
        if (group().kind == GroupKind::jump || group().kind == GroupKind::off) return false;
        return from_own_start(run_, now_, program_.controller);
    }
    void check_start(const Stretch& s) {
        check_outputs(s);
        for (std::size_t z = 0; z < zones_; ++z) {
            double have = s.to_degC[z] + zero_celsius, want = group().laws[z].from;
            if (std::abs(have - want) > allowed() + 1e-6)
                say(s.row(), fmt::format("the set-point{} starts from {}, the recipe from {}", zone(z),
                                         temperature(have), temperature(want)));
        }
        if (s.band_K == 0) return;
        // Waiting inside the band of the dwell at the start is what that dwell says.
        const Group* dwell = past_no_wait(at_, s);
        if (s.band_K > 0 && (!dwell || dwell->kind != GroupKind::hold))
            say(s.row(), fmt::format("a soak band of {:g} K, the recipe has none", s.band_K));
        else if (s.band_K > 0)
            check_band(s, dwell->band);
    }

    // --- free texts ------------------------------------------------------------------------------

    /// The stretch whose words are read next.
    std::size_t begun() const { return used_ > 0 ? now_ + 1 : now_; }

    /// Whether a stretch begins its row, in this pass of a loop.
    bool begins_row(std::size_t i) const {
        if (i == 0) return true;
        const Stretch &s = run_.stretches[i], &before = run_.stretches[i - 1];
        const bool behind = s.kind == Stretch::Kind::hold &&
                            (before.kind == Stretch::Kind::line || before.kind == Stretch::Kind::jump);
        return s.row() != before.row() || !behind;
    }
    const std::string& instruction(const Stretch& s) const {
        static const std::string none;
        for (const program::Part& part : program_.parts)
            if (part.number == s.part)
                return s.between                           ? part.hand_over
                       : s.segment <= part.segments.size() ? part.segments[s.segment - 1].instruction
                                                           : none;
        return none;
    }

    /// What the rows from `from` on tell a person must be what the recipe's step does.
    void check_texts(std::size_t from) {
        const auto add = [&](timeline::Index text) {
            if (text < timeline_.texts.size()) needed_ += (needed_.empty() ? "" : "; ") + timeline_.texts[text];
        };
        for (std::size_t i = group().first; i < group().last; ++i) {
            const timeline::Span& span = timeline_.spans[i];
            for (timeline::Index a = span.first_action; a < span.first_action + span.actions; ++a)
                if (timeline_.actions[a].kind == timeline::ActionKind::note) add(timeline_.actions[a].text);
            if (span.ending.kind == timeline::EndingKind::person) add(span.ending.text);
        }
        const std::size_t to = std::min(begun(), run_.stretches.size());
        if (from >= to) return; // its words are said with those of the next step
        std::string have;
        for (std::size_t i = from; i < to; ++i) {
            if (!begins_row(i)) continue;
            const std::string text = texts_in(instruction(run_.stretches[i]));
            if (!text.empty()) have += (have.empty() ? "" : "; ") + text;
        }
        const std::string need = texts_in(std::exchange(needed_, {}));
        if (same_text(have, need)) return;
        const RowName row = run_.stretches[from].row();
        if (need.empty())
            say(row, fmt::format("the table has `{}`, the recipe has nothing there", have), true);
        else if (have.empty())
            say(row, fmt::format("the table has nothing to be read, the recipe needs `{}`", need), true);
        else
            say(row, fmt::format("the table has `{}`, the recipe needs `{}`", have, need), true);
    }

    // --- set-points ------------------------------------------------------------------------------

    double allowed() const { return group().band > 0 ? std::max(group().band, near_) : budget_; }

    void check_level(const Stretch& s, double slack) {
        for (std::size_t z = 0; z < zones_; ++z) {
            double have = s.to_degC[z] + zero_celsius, want = group().laws[z].to;
            if (std::abs(have - want) > slack + 1e-6)
                return say(s.row(), fmt::format("the set-point{} is {}, the recipe has {}", zone(z),
                                                temperature(have), temperature(want)));
        }
    }
    std::string zone(std::size_t z) const { return zones_ > 1 ? " of " + timeline_.zones[z] : ""; }

    void check_band(const Stretch& s) { check_band(s, group().band); }
    void check_band(const Stretch& s, double want) {
        if (want == 0 && s.band_K == 0) return;
        if (want == 0) return say(s.row(), fmt::format("a soak band of {:g} K, the recipe has none", s.band_K));
        if (s.band_K == 0) return say(s.row(), fmt::format("no soak band, the recipe has {:g} K", want));
        if (!stands_for(s.band_K, want))
            say(s.row(), fmt::format("a soak band of {:g} K, the recipe has {:g} K", s.band_K, want));
    }

    /// The band `have` is what the controller's grid leaves of `want`; a band never rounds up.
    bool stands_for(double have, double want) const {
        const std::optional<Grid>& grid = program_.controller.soak_band;
        return have > 0 && have <= want + 1e-9 && grid &&
               (want - have < grid->step.value() - 1e-9 || have >= grid->hi.value() - 1e-9);
    }

    bool waits_as(const Stretch& s, const Group& g) const {
        return g.band > 0 ? stands_for(s.band_K, g.band) : s.band_K == 0;
    }

    /// What ran last has waited at the group's set-point in a band as narrow: nothing is left to wait for.
    bool in_band_already() const {
        const Stretch* last = waited_last(run_, now_, used_);
        if (last == nullptr) return false;
        for (std::size_t z = 0; z < zones_; ++z) {
            const double off = std::abs(last->to_degC[z] + zero_celsius - group().laws[z].to);
            if (last->band_K + std::max(0.0, off - near_) > group().band + 1e-9) return false;
        }
        return true;
    }

    void check_time(RowName where, double have, double lo, double hi) {
        const Group& g = group();
        if (have < lo - g.shorter - second)
            say(where, fmt::format("it takes {}, the recipe needs {}", seconds(have),
                                   to_text(g.duration, Kind::time, 6)));
        else if (have > hi + g.longer + second)
            say(where, fmt::format("it takes {}, the recipe has {}", seconds(have),
                                   to_text(g.duration, Kind::time, 6)));
    }

    // --- holds -----------------------------------------------------------------------------------

    /// The next group is a hold that a table may have put into the same segment.
    bool next_may_share() const {
        const Group* next = next_group();
        if (!next || next->kind != GroupKind::hold || next->band != group().band) return false;
        for (std::size_t z = 0; z < zones_; ++z)
            if (std::abs(next->laws[z].to - group().laws[z].to) > near_) return false;
        return true;
    }

    bool hold() {
        const Group& g = group();
        double have = 0;
        const std::size_t first = now_;
        const RowName where = more() ? stretch().row() : end_of_table;
        while (more() && stretch().kind == Stretch::Kind::hold) {
            const Stretch& s = stretch();
            bool enough = have >= g.duration.lo - g.shorter - second;
            bool fits = shows(s, state(g)) && waits_as(s, g);
            bool shared = next_may_share() && shows(s, state(*next_group()));
            // What no longer looks like this group is the next one's, once this one has had its time.
            if (!fits && (enough || (have > 0 && fits_next(s)))) break;
            if (shared && have >= g.duration.hi - second && have > 0) break;
            if (enough && g.duration.hi == 0 && fits_next(s)) break;
            // One segment more than this group has time for stands for something else.
            if (enough && have > 0 && !shared && have + left() > g.duration.hi + g.longer + carried_ + second)
                break;
            check_outputs(s);
            check_band(s);
            check_level(s, allowed());
            if (shared && left() > g.duration.hi - have + second) {
                double part = std::max(0.0, g.duration.hi - have);
                // Rounding of the two together falls into the second.
                used_ += part;
                have += part;
                carried_ += g.longer;
                check_time(where, have, g.duration.lo, g.duration.hi);
                return true;
            }
            have += left();
            advance();
        }
        if (have == 0 && g.duration.lo > g.shorter) return lost();
        if (now_ == first && have == 0 && g.band > 0 && !in_band_already())
            say(where, fmt::format("no soak band, the recipe has {:g} K", g.band));
        check_time(where, have, g.duration.lo, g.duration.hi + std::exchange(carried_, 0.0));
        return true;
    }

    bool fits_next(const Stretch& s) const {
        const Group* next = next_group();
        return next && next->kind == GroupKind::hold && shows(s, state(*next)) && waits_as(s, *next);
    }

    // --- lines -----------------------------------------------------------------------------------

    /// The recipe's set-point `t` seconds into the group, K.
    double wanted(std::size_t z, double t) const {
        const timeline::Law& law = group().laws[z];
        if (law.kind != timeline::LawKind::line || law.rate == 0) return law.to;
        double length = (law.to - law.from) / law.rate;
        return t >= length ? law.to : law.from + law.rate * std::max(0.0, t);
    }

    /// Both paths are straight between their corners, so the corners decide.
    void check_path(const Stretch& s, double began) {
        std::vector<double> corners{0, s.duration_s};
        for (double zone_end : s.zone_s) corners.push_back(zone_end);
        for (const timeline::Law& law : group().laws)
            if (law.kind == timeline::LawKind::line && law.rate != 0)
                corners.push_back((law.to - law.from) / law.rate - began);
        double worst = 0, have = 0, want = 0;
        std::size_t where = 0;
        for (double t : corners) {
            if (t < 0 || t > s.duration_s) continue;
            for (std::size_t z = 0; z < zones_; ++z) {
                double error = std::abs(keyed(s, z, t) - wanted(z, began + t));
                if (error <= worst) continue;
                worst = error;
                have = keyed(s, z, t);
                want = wanted(z, began + t);
                where = z;
            }
        }
        if (worst > allowed() + 1e-6)
            say(s.row(), fmt::format("the set-point{} is {} where the recipe has {}; {:.2g} K are allowed",
                                     zone(where), temperature(have), temperature(want), allowed()));
    }

    bool reached(const std::vector<double>& setpoint_degC) const {
        for (std::size_t z = 0; z < zones_; ++z) {
            const timeline::Law& law = group().laws[z];
            double rest = law.to - (setpoint_degC[z] + zero_celsius);
            if (law.to < law.from) rest = -rest;
            if (law.to == law.from) rest = std::abs(rest);
            if (rest > near_) return false;
        }
        return true;
    }

    bool line() {
        const Group& g = group();
        double have = 0, rounding = 0;
        double waits = 0; // s of shortest dwells that stand for the band of a stop
        const RowName where = more() ? stretch().row() : end_of_table;
        std::size_t first = now_, stop = 0;
        // A ramp shorter than half a set-point step cannot be keyed as one: the controller is there already.
        if (more() && stretch().kind == Stretch::Kind::hold && reached(stretch().to_degC)) return hold();
        while (more()) {
            const Stretch& s = stretch();
            // A rate under the slowest settable one is a staircase of ramps and holds; where something cuts the
            // line before the display has moved, it begins with a hold.
            bool stair = s.kind == Stretch::Kind::hold;
            if (s.kind != Stretch::Kind::line && !stair) break;
            if (now_ != first && reached(s.from_degC)) break;
            if (now_ == first)
                for (std::size_t z = 0; z < zones_; ++z)
                    rounding = std::max(rounding, end_time(z, s.from_degC[z], g.laws[z].from));
            check_outputs(s);
            // Where only dwells have a band, one behind the line has it; the steps of a staircase need none.
            bool without = s.band_K == 0 && (stair || !program_.controller.band_on_ramps);
            if (!without) check_band(s);
            check_path(s, have);
            pass_stops(s, stop);
            const bool wait = stair && s.band_K > 0 && !program_.controller.band_on_ramps && shortest(s);
            (wait ? waits : have) += left();
            advance();
        }
        if (now_ == first) return lost();
        const Stretch& last = run_.stretches[now_ - 1];
        if (!reached(last.to_degC)) {
            say(last.row(), fmt::format("the ramp ends at {:g} °C, the recipe goes on to {}", last.to_degC[0],
                                        temperature(g.laws[0].to)));
            if (!more()) return lost();
        }
        check_level(last, allowed());
        // An end that is rounded to the display makes the line that much longer or shorter.
        for (std::size_t z = 0; z < zones_; ++z)
            rounding = std::max(rounding, end_time(z, last.to_degC[z], g.laws[z].to));
        check_time(where, have, g.duration.lo - rounding - waits, g.duration.hi + rounding);
        if (g.band > 0 && last.band_K == 0) band_behind(last);
        return true;
    }

    bool shortest(const Stretch& s) const {
        return s.duration_s <= program_.controller.dwell.lo.value() + second;
    }

    /// A line that waits in its band on the way, at a note, say: something waits there, too. `stop`: the next
    /// of the group's stops.
    void pass_stops(const Stretch& s, std::size_t& stop) {
        for (; stop < group().stops.size(); ++stop) {
            const std::vector<double>& at = group().stops[stop];
            // An end may lie beyond that of its line, never short of it.
            const double furthest = std::max(budget_, near_) + 1e-6;
            bool there = true, beyond = false;
            for (std::size_t z = 0; z < zones_; ++z) {
                double past = s.to_degC[z] + zero_celsius - at[z];
                if (group().laws[z].rate < 0) past = -past;
                there = there && past >= -near_ && past <= furthest;
                beyond = beyond || past > furthest;
            }
            if (!beyond && !(there && s.band_K > 0)) return;
            if (beyond)
                say(s.row(), fmt::format("no soak band at {}, the recipe has {:g} K there", temperature(at[0]),
                                         group().band));
        }
    }

    /// The band of a ramp on a controller that has bands on dwells only: the dwell that follows waits in one as
    /// narrow, or a shortest dwell of its own does, in the ramp's own state.
    void band_behind(const Stretch& last) {
        const Group& g = group();
        const Group* next = next_group();
        bool behind = !program_.controller.band_on_ramps && more() && stretch().kind == Stretch::Kind::hold &&
                      stretch().band_K > 0 && shows(stretch(), state(g));
        if (!behind)
            return say(last.row(), fmt::format("no soak band at its end, the recipe has {:g} K", g.band));
        const Stretch& s = stretch();
        bool own = shortest(s) && stands_for(s.band_K, g.band);
        bool shared = fits_next(s) && stands_for(s.band_K, next->band) && s.band_K <= g.band + 1e-9;
        if (own && shared) {
            // It is the ramp's own when the dwell comes behind it all the same.
            const Stretch* after = now_ + 1 < run_.stretches.size() ? &run_.stretches[now_ + 1] : nullptr;
            own = after && after->kind == Stretch::Kind::hold && fits_next(*after) &&
                  stands_for(after->band_K, next->band);
        }
        if (!own && !shared) {
            say(s.row(), fmt::format("a soak band of {:g} K for {}, the ramp before it has {:g} K", s.band_K,
                                     seconds(s.duration_s), g.band));
        } else if (own) {
            check_level(s, allowed());
            advance();
        }
    }

    double end_time(std::size_t z, double have_degC, double want) const {
        double rate = std::abs(group().laws[z].rate);
        double off = std::min(std::abs(have_degC + zero_celsius - want), near_);
        return rate > 0 ? off / rate : 0;
    }

    // --- natural cooling, steps, persons ---------------------------------------------------------

    bool off() {
        const Group& g = group();
        const std::size_t count = g.coolings.size();
        std::size_t done = 0;          // coolings that are over
        double have = 0, needless = 0; // s that count for the next cooling, that count for none
        bool waited = false, moved = false;
        const auto longest = [&](std::size_t last) { // s
            double sum = 0;
            for (std::size_t i = done; i < last; ++i) sum += g.coolings[i].longest;
            return sum;
        };
        const RowName where = more() ? stretch().row() : end_of_table;
        std::vector<double> level = more() ? stretch().from_degC : std::vector<double>(zones_, 0.0);
        std::size_t reach = reached_at(level); // coolings that may end where the set-point stands
        while (more()) {
            const Stretch& s = stretch();
            if (s.kind == Stretch::Kind::jump) {
                // Two coolings may end within the budget of each other: a step to the second one is still
                // awaited.
                const bool nearer =
                    have < longest(count) - second && off_by(count - 1, s.to_degC) < off_by(count - 1, level);
                if (moved && ends_at(count - 1, level) && !nearer) break;
                check_outputs(s);
                check_step_down(s);
                // Time at a set-point helps no cooling below it.
                for (; done < reach && have >= g.coolings[done].longest - second; ++done)
                    have -= g.coolings[done].longest;
                if (done >= reach) needless += std::exchange(have, 0.0);
                moved = true;
                level = s.to_degC;
                reach = reached_at(level);
                if (s.band_K > 0) {
                    const std::size_t ends = ending_at(level, done);
                    waits_in_band(s, ends, longest(ends + 1));
                    if (ends_at(ends, level)) {
                        done = ends + 1;
                        have = 0;
                    }
                }
                advance();
                waited = done == count;
                if (waited) break;
                continue;
            }
            if (s.kind != Stretch::Kind::hold || s.band_K > 0) break;
            const double due = longest(count);
            bool fits = shows(s, state(g));
            if (!fits && have >= due - g.shorter - second) break;
            bool shared = fits_next(s) && next_may_share();
            if (have >= due - second && (shared || next_stays(level))) break;
            check_outputs(s);
            if (shared && left() > due - have + second) {
                used_ += due - have;
                have = due;
                carried_ += g.longer;
                break;
            }
            have += left();
            advance();
        }
        if (!moved && have == 0) return lost();
        if (!ends_at(count - 1, level))
            say(where, fmt::format("it steps to {:g} °C, the recipe cools to {}", level[0],
                                   temperature(g.laws[0].to)));
        if (waited) return true;
        const double due = longest(count);
        if (have < due - g.shorter - second)
            say(where, fmt::format("it waits {}, cooling may take {}", seconds(have), seconds(due)));
        else if (have + needless > due + g.longer + second)
            say(where,
                fmt::format("it waits {}, cooling takes at most {}", seconds(have + needless), seconds(due)));
        return true;
    }

    /// The next group is a line too short to move the set-point: a hold stands for it.
    bool next_stays(const std::vector<double>& level_degC) const {
        const Group* next = next_group();
        if (!next || next->kind != GroupKind::line) return false;
        for (std::size_t z = 0; z < zones_; ++z)
            if (std::abs(next->laws[z].to - zero_celsius - level_degC[z]) > near_) return false;
        return true;
    }

    /// A step that waits in its band until `cooling` is over, which may take `longest` s.
    void waits_in_band(const Stretch& s, std::size_t cooling, double longest) {
        // It goes on as soon as the band is reached, above the temperature that the recipe waits for.
        if (s.band_K > budget_ + 1e-6)
            say(s.row(), fmt::format("it goes on {:g} K above {:g} °C, the recipe waits for {}", s.band_K,
                                     s.to_degC[0], temperature(group().coolings[cooling].crossing)));
        if (s.longest_wait_s > 0 && s.longest_wait_s < longest)
            say(s.row(), fmt::format("the controller gives up after {}, cooling may take {}",
                                     seconds(s.longest_wait_s), seconds(longest)));
    }

    /// K between a level and the end of a cooling: its target, or the crossing that ends it.
    double off_by(std::size_t cooling, const std::vector<double>& level_degC) const {
        const Cooling& c = group().coolings[cooling];
        double target = 0, crossing = 0;
        for (std::size_t z = 0; z < zones_; ++z) {
            target = std::max(target, std::abs(level_degC[z] + zero_celsius - c.to[z]));
            crossing = std::max(crossing, std::abs(level_degC[z] + zero_celsius - c.crossing));
        }
        return std::min(target, crossing);
    }
    bool ends_at(std::size_t cooling, const std::vector<double>& level_degC) const {
        return off_by(cooling, level_degC) <= budget_ + 1e-6;
    }
    /// How many of the coolings, one below the other, end no lower than a level.
    std::size_t reached_at(const std::vector<double>& level_degC) const {
        const auto above = [&](const Cooling& c) {
            for (std::size_t z = 0; z < zones_; ++z)
                if (level_degC[z] + zero_celsius > std::max(c.to[z], c.crossing) + budget_ + 1e-6) return false;
            return true;
        };
        const std::vector<Cooling>& all = group().coolings;
        return static_cast<std::size_t>(std::find_if_not(all.begin(), all.end(), above) - all.begin());
    }
    /// The cooling that ends nearest to a level, of those from `first` on; of two the later one.
    std::size_t ending_at(const std::vector<double>& level_degC, std::size_t first) const {
        std::size_t best = first;
        for (std::size_t i = first; i < group().coolings.size(); ++i)
            if (off_by(i, level_degC) <= off_by(best, level_degC)) best = i;
        return best;
    }
    void check_step_down(const Stretch& s) {
        for (std::size_t z = 0; z < zones_; ++z) {
            // Where a programme starts from a set-point of its own, the furnace is still where the recipe left
            // it.
            const double from = from_own_start(run_, now_, program_.controller) ? group().laws[z].from
                                                                                : s.from_degC[z] + zero_celsius;
            const double to = s.to_degC[z] + zero_celsius;
            if (to > from + near_ || to < group().laws[z].to - budget_ - 1e-6)
                return say(s.row(), fmt::format("a step to {}, the recipe cools to {}", temperature(to),
                                                temperature(group().laws[z].to)));
        }
    }

    bool jump() {
        const Group& g = group();
        if (!more() || stretch().kind != Stretch::Kind::jump) {
            // A step to where the set-point is already moves nothing.
            bool nothing = more();
            for (std::size_t z = 0; z < zones_ && nothing; ++z)
                nothing = std::abs(stretch().from_degC[z] + zero_celsius - g.laws[z].to) <= near_;
            return nothing ? true : lost();
        }
        const Stretch& s = stretch();
        check_outputs(s);
        check_level(s, budget_);
        // Waiting inside the band of the dwell that follows is what that dwell says.
        const Group* next = past_no_wait(at_ + 1, s);
        bool banded = next && next->kind == GroupKind::hold && next->band > 0 && s.band_K <= next->band + 1e-9;
        if (s.band_K > 0 && !banded) check_band(s);
        advance();
        return true;
    }

    /// The group from `i` on, past waits that need no time and change nothing that shows.
    const Group* past_no_wait(std::size_t i, const Stretch& s) const {
        while (i < groups_.size() && groups_[i].kind == GroupKind::hold && groups_[i].band == 0 &&
               groups_[i].duration.hi == 0 && shows(s, state(groups_[i])))
            ++i;
        return i < groups_.size() ? &groups_[i] : nullptr;
    }

    bool person() {
        if (!more() || stretch().kind != Stretch::Kind::person) return lost();
        const Stretch& s = stretch();
        if (!s.between) {
            check_outputs(s);
            check_level(s, budget_);
        } else if (now_ != 0) {
            check_outputs(s);
            bool cooling = at_ > 0 && groups_[at_ - 1].kind == GroupKind::off;
            bool cold = std::abs(group().laws[0].to - timeline_.laws_of(0)->from) <= budget_;
            if (program_.controller.holds_at_end && !cold) check_level(s, budget_);
            if (!program_.controller.holds_at_end && !cooling && !cold)
                say(s.row(), fmt::format("the controller switches off, the recipe holds {}",
                                         temperature(group().laws[0].to)));
        } else {
            check_hands(s); // the outputs stand as people left them
        }
        advance();
        return true;
    }

    /// An end keys nothing; where it shows a set-point it must be the one that stands, to half a step.
    void check_end(const program::Part& part) {
        const std::vector<std::int64_t>& shown = part.segments.back().targets;
        const auto last = std::find_if(run_.stretches.rbegin(), run_.stretches.rend(),
                                       [&](const Stretch& s) { return s.part == part.number && !s.between; });
        if (last == run_.stretches.rend()) return;
        for (std::size_t z = 0; z < std::min(shown.size(), last->to_degC.size()); ++z) {
            const double keyed = program_.controller.setpoint.value(shown[z]);
            if (std::abs(keyed - last->to_degC[z]) > near_)
                say({part.number, static_cast<std::uint32_t>(part.segments.size())},
                    fmt::format("an end at {:g} °C, the set-point is {:g} °C there", keyed, last->to_degC[z]));
        }
    }

    void ending() {
        at_ = groups_.empty() ? 0 : groups_.size() - 1;
        if (groups_.empty()) return;
        if (more()) {
            say(stretch().row(), fmt::format("it {}, the recipe has ended", what(stretch())));
            return;
        }
        for (const program::Part& part : program_.parts) check_end(part);
        if (hands_)
            for (std::string& text : hands_->end_differences(timeline_.states[timeline_.end_state]))
                say(end_of_table, std::move(text));
        // A controller that switches off at the end lets every output fall; it may be keyed so at once.
        bool fallen =
            !program_.controller.holds_at_end &&
            std::none_of(run_.end_outputs.begin(), run_.end_outputs.end(), [](bool on) { return on; });
        if (fallen) return;
        for (std::string& text : outputs_.end_differences(run_, timeline_.states[timeline_.end_state]))
            say(end_of_table, std::move(text));
    }

    bool texts_ = false;
    std::string needed_; // of the steps that no row has begun yet
    const Run& run_;
    const timeline::Timeline& timeline_;
    const program::Program& program_;
    double budget_;
    Outputs outputs_;
    double step_, tolerance_; // s
    double near_;             // K, half a step of the set-point
    std::vector<Group> groups_;
    std::size_t zones_;
    std::size_t at_ = 0, now_ = 0; // group, stretch
    double used_ = 0;              // s of the stretch that earlier groups took
    double carried_ = 0;           // s of rounding that a shared segment brings to its second part
    std::vector<Finding> messages_;
    std::set<std::pair<RowName, std::string>> said_;
    std::set<std::string> by_hand_;
    std::optional<Hands> hands_;
};

} // namespace

std::vector<Finding> compare(const Run& run, const timeline::Timeline& timeline,
                             const program::Program& program, double setpoint_budget, bool hands, bool texts) {
    if (!run.problems.empty()) return {{end_of_table, "the controller cannot run this table"}};
    if (timeline.zones.empty() || timeline.laws.size() != timeline.spans.size() * timeline.zones.size())
        return {{end_of_table, "the timeline has no set-point law for some span"}};
    return Walk(run, timeline, program, setpoint_budget, hands, texts).compare();
}

} // namespace athanor::replay
