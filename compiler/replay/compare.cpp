// Walks a run and a recipe side by side and writes down every difference.
#include "compiler/replay/compare.hpp"

#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace athanor::replay {
namespace {

constexpr std::size_t most_messages = 50;

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

} // namespace

std::string temperature(double kelvin) {
    return to_text(kelvin, Kind::temperature, 6);
}

std::string seconds(double value) {
    return to_text(value, Kind::time, 6);
}

Walk::Walk(const Run& run, const timeline::Timeline& timeline, const program::Program& program, double budget,
           bool hands, bool texts, const std::vector<Taken>* own)
    : run_(run), timeline_(timeline), program_(program), texts_(texts), budget_(budget),
      outputs_(timeline, program), step_(program.controller.dwell.step.value()),
      near_(0.5 * program.controller.setpoint.step.value() + 1e-6),
      groups_(groups_of(timeline, std::max(1.0, 0.5 * step_), step_)), zones_(timeline.zones.size()), own_(own),
      taken_(groups_.size()) {
    if (hands) hands_.emplace(timeline, program, run);
    while (first_move_ < groups_.size() &&
           (groups_[first_move_].kind == GroupKind::hold || groups_[first_move_].kind == GroupKind::person))
        ++first_move_;
}

std::vector<Finding> Walk::compare() {
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

/// `words`: it is in what the row tells a person.
void Walk::say(RowName row, const std::string& text, bool words) {
    std::string message = fmt::format("{}{} ({})", row == end_of_table ? "end of the table: " : "", text,
                                      step_name(timeline_, group().first));
    // A loop repeats its faults; one message for each is enough.
    if (said_.emplace(row, message).second && messages_.size() < most_messages)
        messages_.push_back({row, std::move(message), {}, words});
}

void Walk::whole(std::string message) {
    messages_.push_back({end_of_table, std::move(message)});
}

/// The two no longer run side by side; more messages would only follow from this one.
bool Walk::lost() {
    if (more())
        say(stretch().row(), fmt::format("it {}, the recipe {}", what(stretch()), what(group())));
    else
        say(end_of_table, fmt::format("the recipe goes on: it {}", what(group())));
    return false;
}

bool Walk::shows(const Stretch& s, const timeline::State& wanted) const {
    auto [low, high] = led(run_, index_of(s), program_.controller, group().laws.data());
    return outputs_.equal(s, wanted, low, high) && by_hand(s, wanted).empty();
}

void Walk::check_outputs(const Stretch& s) {
    auto [low, high] = led(run_, index_of(s), program_.controller, group().laws.data());
    for (std::string& text : outputs_.differences(s, state(group()), low, high)) say(s.row(), std::move(text));
    check_hands(s);
}

std::vector<std::string> Walk::by_hand(const Stretch& s, const timeline::State& wanted) const {
    if (!hands_) return {};
    return hands_->differences(run_, index_of(s), wanted);
}

/// What was set wrongly stays so; it is told where it first shows. Behind a colon stands why, which may change.
void Walk::say_hand(RowName row, std::string text) {
    if (by_hand_.insert(text.substr(0, text.find(": "))).second) say(row, std::move(text));
}

void Walk::check_hands(const Stretch& s) {
    for (std::string& text : by_hand(s, state(group()))) say_hand(s.row(), std::move(text));
}

/// Between two actions of one instant the legaliser may put the shortest settable segment, so that the
/// order is kept; it shows the state after the earlier ones. Lines of no length are no difference either.
void Walk::inserted() {
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
        bool nothing = s.kind == Stretch::Kind::line && s.duration_s == 0 && group().kind != GroupKind::line;
        double shortest = std::max(step_, program_.controller.dwell.lo.value());
        bool brief = s.kind == Stretch::Kind::hold && s.band_K == 0 && s.duration_s <= shortest + second;
        if (nothing && shows(s, state(group()))) {
            advance();
            continue;
        }
        if (!brief || (shows(s, state(group())) && !parts_unseen(action, behind))) return;
        timeline::Index found = action;
        while (found < behind && !shows(s, timeline_.states[timeline_.actions[found].state])) ++found;
        if (found == behind) return;
        action = found + 1;
        advance();
    }
}

/// A threshold is armed or disarmed among other actions of an instant, in front of what moves the set-point:
/// the row that keeps their order then shows what the next one does, since no output tells. In front of a hold
/// it is the beginning of it.
bool Walk::parts_unseen(timeline::Index first, timeline::Index behind) const {
    if (group().kind == GroupKind::hold || group().kind == GroupKind::person || behind < first + 2)
        return false;
    if (group().kind == GroupKind::line && begins_staircase()) return false;
    return std::any_of(timeline_.actions.begin() + first, timeline_.actions.begin() + behind,
                       [](const timeline::Action& action) {
                           return action.kind == timeline::ActionKind::arm ||
                                  action.kind == timeline::ActionKind::disarm;
                       });
}

/// A hold in front of a line is the first step of a staircase where the whole then takes as long as the line.
bool Walk::begins_staircase() const {
    double rest = 0;
    for (std::size_t i = now_ + 1; i < run_.stretches.size(); ++i) {
        const Stretch& s = run_.stretches[i];
        if (s.kind != Stretch::Kind::line && s.kind != Stretch::Kind::hold) break;
        if (reached(s.from_degC)) break;
        rest += s.duration_s;
    }
    const double due = group().duration.middle();
    return std::abs(stretch().duration_s + rest - due) < std::abs(rest - due);
}

bool Walk::begins_run() const {
    return at_ > 0 && std::any_of(timeline_.runs.begin(), timeline_.runs.end(),
                                  [&](const timeline::Run& r) { return r.first == group().first; });
}

/// A controller that starts from a set-point of its own first steps to the recipe's.
bool Walk::brings_to_start() const {
    if (group().kind == GroupKind::jump || group().kind == GroupKind::off) return false;
    return from_own_start(run_, now_, program_.controller);
}

void Walk::check_start(const Stretch& s) {
    check_outputs(s);
    for (std::size_t z = 0; z < zones_; ++z) {
        double have = s.to_degC[z] + zero_celsius, want = group().laws[z].from;
        note_off(std::abs(have - want));
        if (std::abs(have - want) > allowed() + 1e-6)
            say(s.row(), fmt::format("the set-point{} starts from {}, the recipe from {}", zone(z),
                                     temperature(have), temperature(want)));
    }
    if (s.band_K == 0) return;
    // Waiting inside the band of the dwell at the start is what that dwell says.
    const Group* dwell = past_no_wait(at_, s);
    check_band(s, dwell && dwell->kind == GroupKind::hold ? dwell->band : 0);
}

bool Walk::jump() {
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
    check_level(s, allowed());
    // Waiting inside the band of the dwell that follows is what that dwell says.
    const Group* next = past_no_wait(at_ + 1, s);
    bool banded = next && next->kind == GroupKind::hold && next->band > 0 && s.band_K <= next->band + 1e-9;
    if (s.band_K > 0 && !banded) check_band(s);
    advance();
    return true;
}

/// The group from `i` on, past waits that need no time and change nothing that shows.
const Group* Walk::past_no_wait(std::size_t i, const Stretch& s) const {
    while (i < groups_.size() && groups_[i].kind == GroupKind::hold && groups_[i].band == 0 &&
           groups_[i].duration.hi == 0 && shows(s, state(groups_[i])))
        ++i;
    return i < groups_.size() ? &groups_[i] : nullptr;
}

bool Walk::person() {
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
void Walk::check_end(const program::Part& part) {
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

void Walk::ending() {
    at_ = groups_.empty() ? 0 : groups_.size() - 1;
    if (groups_.empty()) return;
    if (more()) {
        say(stretch().row(), fmt::format("it {}, the recipe has ended", what(stretch())));
        return;
    }
    for (const program::Part& part : program_.parts) check_end(part);
    if (hands_)
        for (std::string& text : hands_->end_differences(timeline_.states[timeline_.end_state]))
            say_hand(end_of_table, std::move(text));
    // A controller that switches off at the end lets every output fall; it may be keyed so at once.
    bool fallen = !program_.controller.holds_at_end &&
                  std::none_of(run_.end_outputs.begin(), run_.end_outputs.end(), [](bool on) { return on; });
    if (fallen) return;
    for (std::string& text : outputs_.end_differences(run_, timeline_.states[timeline_.end_state]))
        say(end_of_table, std::move(text));
}

std::vector<OtherWait> Walk::other_waits() const {
    std::vector<OtherWait> list;
    bool other = false;
    for (std::size_t i = 0; own_ && i < groups_.size(); ++i) {
        if (groups_[i].kind != GroupKind::hold || groups_[i].band > 0) continue;
        const double own = (*own_)[i].seconds;
        list.push_back({groups_[i].first, groups_[i].last, taken_[i].seconds, own, taken_[i].row});
        other = other || list.back().differs();
    }
    if (!other) list.clear();
    return list;
}

std::vector<Finding> compare(const Run& run, const timeline::Timeline& timeline,
                             const program::Program& program, double setpoint_budget, bool hands, bool texts,
                             const Own* own, std::vector<OtherWait>* others) {
    if (!run.problems.empty()) return {{end_of_table, "the controller cannot run this table"}};
    if (timeline.zones.empty() || timeline.laws.size() != timeline.spans.size() * timeline.zones.size())
        return {{end_of_table, "the timeline has no set-point law for some span"}};
    std::optional<Walk> first;
    if (own && own->run.problems.empty()) {
        first.emplace(own->run, timeline, own->program, setpoint_budget, false, false);
        first->compare();
    }
    Walk walk(run, timeline, program, setpoint_budget, hands, texts, first ? &first->taken() : nullptr);
    std::vector<Finding> findings = walk.compare();
    // Who starts programme 1 starts whatever stands there.
    if (own && !program.parts.empty() && !own->program.parts.empty())
        for (std::size_t i = 0; i < std::min(program.parts.size(), own->program.parts.size()); ++i)
            if (const std::uint32_t have = program.parts[i].number, want = own->program.parts[i].number;
                have != want) {
                findings.push_back({{have, 1}, fmt::format("programme {} is keyed as number {}", want, have)});
                break; // those behind may only be moved
            }
    if (others) *others = walk.other_waits();
    return findings;
}

} // namespace athanor::replay
