#include "compiler/replay/group.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace athanor::replay {
namespace {

using timeline::EndingKind;
using timeline::LawKind;

GroupKind kind_of(const timeline::Timeline& timeline, std::size_t i) {
    if (timeline.spans[i].ending.kind == EndingKind::person) return GroupKind::person;
    const timeline::Law* laws = timeline.laws_of(i);
    GroupKind kind = GroupKind::hold;
    for (std::size_t z = 0; z < timeline.zones.size(); ++z) {
        if (laws[z].kind == LawKind::off) return GroupKind::off;
        if (laws[z].kind == LawKind::jump) kind = GroupKind::jump;
        if (laws[z].kind == LawKind::line && kind == GroupKind::hold && laws[z].from != laws[z].to)
            kind = GroupKind::line;
    }
    return kind;
}

/// Durations with every pass of a repeat given the longest of them: one loop body stands for all passes.
std::vector<Interval> durations(const timeline::Timeline& timeline) {
    std::vector<Interval> list;
    for (const timeline::Span& span : timeline.spans) {
        bool counted = span.ending.kind == EndingKind::band;
        list.push_back(counted ? Interval(span.ending.duration) : span.duration);
    }
    // Inner repeats may be listed behind outer ones; a second round carries their maxima outward.
    for (int round = 0; round < 2; ++round)
        for (const timeline::Repeat& repeat : timeline.repeats) {
            if (repeat.first + std::size_t{repeat.spans} * repeat.passes > list.size()) continue;
            for (std::size_t o = 0; o < repeat.spans; ++o) {
                double longest = 0;
                for (std::size_t p = 0; p < repeat.passes; ++p)
                    longest = std::max(longest, list[repeat.first + p * repeat.spans + o].hi);
                for (std::size_t p = 0; p < repeat.passes; ++p)
                    list[repeat.first + p * repeat.spans + o].hi = longest;
            }
        }
    return list;
}

/// s by which a worked-out time may grow; a guess, wide enough for any rounding and under a lost digit. It lets
/// a wait pass that is longer than it need be, never a shorter one; of a table that `build` writes,
/// `compare_exactly` asks the very time that was proven.
double growth(double seconds) {
    return 0.5 * seconds + 600;
}

/// What of `growth` is left where the recipe says how long the wait may be at most.
double growth(const timeline::Ending& ending, double seconds) {
    const bool limited = ending.kind == EndingKind::certain && ending.at_most > 0;
    return limited ? std::clamp(ending.at_most - seconds, 0.0, growth(seconds)) : growth(seconds);
}

bool waits_for_pressure(const timeline::Timeline& timeline, const timeline::Ending& ending) {
    if (ending.kind != EndingKind::certain || ending.condition >= timeline.conditions.size()) return false;
    const std::vector<timeline::Term>& terms = timeline.conditions[ending.condition].terms;
    return std::any_of(terms.begin(), terms.end(), [](const timeline::Term& term) {
        return term.kind == timeline::Term::Kind::compare && term.left.kind == timeline::SignalKind::pressure;
    });
}

bool same_rate(double a, double b) {
    return std::abs(a - b) <= 1e-9 * std::max(std::abs(a), std::abs(b));
}

/// A natural cooling that goes on below where the one before it ended: nothing acts between them.
bool cools_on(const Group& group, const timeline::Timeline& timeline, std::size_t i) {
    const timeline::Ending& before = timeline.spans[i - 1].ending;
    const timeline::Ending& ending = timeline.spans[i].ending;
    if (before.kind != EndingKind::passes || ending.kind != EndingKind::passes) return false;
    if (ending.temperature > before.temperature) return false;
    const timeline::Law* laws = timeline.laws_of(i);
    for (std::size_t z = 0; z < timeline.zones.size(); ++z)
        if (laws[z].kind != LawKind::off || group.laws[z].kind != LawKind::off || laws[z].to > group.laws[z].to)
            return false;
    return true;
}

bool goes_on(const Group& group, const timeline::Timeline& timeline, std::size_t i, GroupKind kind,
             double band) {
    if (kind != group.kind || band != group.band) return false;
    if (kind != GroupKind::hold && kind != GroupKind::line && kind != GroupKind::off) return false;
    if (!(timeline.states[timeline.spans[i].state] == timeline.states[group.state])) return false;
    for (const timeline::Run& run : timeline.runs)
        if (run.first == i) return false;
    if (kind == GroupKind::off) return cools_on(group, timeline, i);
    const timeline::Law* laws = timeline.laws_of(i);
    for (std::size_t z = 0; z < timeline.zones.size(); ++z) {
        if (laws[z].kind != group.laws[z].kind && kind == GroupKind::line) return false;
        if (!same_rate(laws[z].rate, group.laws[z].rate) && kind == GroupKind::line) return false;
        if (std::abs(laws[z].from - group.laws[z].to) > 1e-6) return false;
    }
    return true;
}

} // namespace

std::vector<Group> groups_of(const timeline::Timeline& timeline, double tolerance, double step) {
    std::vector<Group> groups;
    std::vector<Interval> length = durations(timeline);
    for (std::size_t i = 0; i < timeline.spans.size(); ++i) {
        const timeline::Span& span = timeline.spans[i];
        GroupKind kind = kind_of(timeline, i);
        double band = span.ending.kind == EndingKind::band ? span.ending.band : 0;
        const timeline::Law* laws = timeline.laws_of(i);
        if (groups.empty() || !goes_on(groups.back(), timeline, i, kind, band)) {
            Group group;
            group.kind = kind;
            group.first = i;
            group.laws.assign(laws, laws + timeline.zones.size());
            group.state = span.state;
            group.band = band;
            groups.push_back(std::move(group));
        } else if (kind == GroupKind::line && band > 0) {
            std::vector<double>& stop = groups.back().stops.emplace_back();
            for (const timeline::Law& law : groups.back().laws) stop.push_back(law.to);
        }
        Group& group = groups.back();
        group.last = i + 1;
        for (std::size_t z = 0; z < timeline.zones.size(); ++z) group.laws[z].to = laws[z].to;
        if (kind == GroupKind::off) {
            Cooling& cooling = group.coolings.emplace_back();
            for (std::size_t z = 0; z < timeline.zones.size(); ++z) cooling.to.push_back(laws[z].to);
            cooling.crossing = span.ending.kind == EndingKind::passes && span.ending.temperature > 0
                                   ? span.ending.temperature
                                   : laws[0].to;
            cooling.longest = length[i].hi;
        }
        group.duration = {group.duration.lo + length[i].lo, group.duration.hi + length[i].hi};
        // What is only just sufficient rounds up, by up to a whole step; so does what would round to nothing.
        bool sufficient = span.ending.kind == EndingKind::certain || span.ending.kind == EndingKind::passes;
        bool up = sufficient || length[i].hi < step;
        group.shorter += sufficient ? 0 : tolerance;
        group.longer += tolerance + (up ? step : 0);
        group.growth += sufficient ? growth(span.ending, length[i].hi) : 0;
        group.limited = group.limited || (span.ending.kind == EndingKind::certain && span.ending.at_most > 0);
        group.pressing = group.pressing || waits_for_pressure(timeline, span.ending);
    }
    return groups;
}

std::string step_name(const timeline::Timeline& timeline, std::size_t span) {
    if (span >= timeline.spans.size()) return "end of the recipe";
    timeline::Index path = timeline.spans[span].path;
    if (path < timeline.paths.size()) return "recipe step " + timeline.paths[path];
    return fmt::format("recipe step {}", span + 1);
}

} // namespace athanor::replay
