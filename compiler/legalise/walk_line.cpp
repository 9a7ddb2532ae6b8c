// Ramps: one straight line of the recipe, however many spans and segments it takes.
#include "compiler/legalise/ramp_shapes.hpp"
#include "compiler/legalise/walker.hpp"
#include "compiler/plant/measured.hpp"
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

bool Walker::same_way(Index last, Index next) const {
    for (std::size_t z = 0; z < zones(); ++z) {
        const Law& a = law(last, z);
        const Law& b = law(next, z);
        if (a.kind != b.kind || std::abs(a.to - b.from) > 1e-6) return false;
        if (a.kind == LawKind::line && std::abs(a.rate - b.rate) > 1e-9 * std::abs(a.rate)) return false;
    }
    return true;
}

bool Walker::continues(Index first) const {
    if (input_.continues[first]) return true;
    if (first == 0 || !straight_on(first - 1, first)) return false;
    if (begins_run(first) || input_.rearmed[first] || !same_switching(first - 1, first)) return false;
    // A wait in a band stops the clock of the line, it does not bend it.
    const timeline::Ending& a = span(first - 1).ending;
    const timeline::Ending& b = span(first).ending;
    return a.kind == b.kind &&
           (a.kind == EndingKind::fixed || (a.kind == EndingKind::band && a.band == b.band));
}

/// The targets as the recipe's ramp gives them, by name where some zones stay or go elsewhere: "to 500 °C",
/// "back to 500 °C".
std::string Walker::targets_text(Index last) const {
    // What cuts a ramp by temperature leaves one statement.
    while (last + 1 < recipe_.spans.size() && span(last + 1).source == span(last).source &&
           straight_on(last, last + 1))
        ++last;
    std::string text;
    bool all = true;
    for (std::size_t z = 0; z < zones(); ++z) {
        const Law& own = law(last, z);
        all = all && own.kind == LawKind::line && own.to == law(last, 0).to;
        if (own.kind == LawKind::line)
            text += fmt::format("{}{} to {}", text.empty() ? "" : ", ", recipe_.zones[z],
                                to_text(own.to, Kind::temperature));
    }
    return all ? "to " + to_text(law(last, 0).to, Kind::temperature) : text;
}

/// Whether one zone can be taken to `target`, degC, at `rate`, K/s, from where this ramp begins.
bool Walker::ramps(RampAsk ask, double target, double rate) const {
    ask.to_ideal = {target};
    ask.duration = std::abs(target - ask.from_ideal[0]) / rate;
    return ask.duration > 0 && !planned(ask).pieces.empty();
}

/// A ramp that the controller takes as it is, near the one that was asked.
void Walker::offer_ramp(Diagnostic& d, Index first, Index last, std::size_t z, const RampAsk& ask) const {
    const double asked = std::abs(law(last, z).rate);
    for (std::size_t other = 0; other < zones(); ++other) // one rate, or one time, for all of them
        if (const Law& own = law(last, other);
            own.kind == LawKind::line && std::abs(std::abs(own.rate) - asked) > 1e-9 * asked)
            return;
    const std::string band = span(first).ending.kind == EndingKind::band
                                 ? " within " + to_text(span(first).ending.band, Kind::difference)
                                 : "";
    if (c_.rate) {
        const double rate = asked * 60;
        std::int64_t k = std::clamp(keys_.rate->nearest(rate), std::int64_t{0}, keys_.rate->count());
        if (k > 0 && keys_.rate->value(k) / 60 > ask.fastest[z] * (1 + slack)) --k;
        // The rate that was asked is settable, so it is the target that is not: the nearest that is, or a
        // slower rate, whichever can be keyed.
        if (!continues(first) && std::abs(keys_.rate->value(k) - rate) <= 1e-9 * rate) {
            if (zones() != 1) return;
            const double target = keys_.setpoint.value(ask.to[z]);
            if (ramps(ask, target, asked))
                d.remedy(fmt::format("ramp to {} at {} K/min{}",
                                     to_text(target + zero_celsius, Kind::temperature), c_.rate->text(k),
                                     band));
            else if (k > 0 && ramps(ask, ask.to_ideal[z], keys_.rate->value(k - 1) / 60))
                d.remedy(fmt::format("ramp {} at {} K/min{}", targets_text(last), c_.rate->text(k - 1), band));
            return;
        }
        if (continues(first) && std::abs(keys_.rate->value(k) - rate) <= 1e-9 * rate)
            d.remedy(fmt::format("place what cuts this ramp by temperature, `at` a set-point that {} takes",
                                 c_.name));
        else
            d.remedy(fmt::format("ramp {} at {} K/min{}", targets_text(last), c_.rate->text(k), band));
    } else if (c_.ramp_time && !continues(first)) {
        const double way = std::abs(law(last, z).to - law(first, z).from), time = way / asked;
        const std::int64_t most = keys_.ramp_time->count();
        std::int64_t k = std::clamp(keys_.ramp_time->nearest(time), std::int64_t{0}, most);
        if (k < most && way > keys_.ramp_time->value(k) * ask.fastest[z]) ++k;
        if (std::abs(keys_.ramp_time->value(k) - time) > 1e-9 * time)
            d.remedy(fmt::format("ramp {} over {}{}", targets_text(last),
                                 to_text(keys_.ramp_time->value(k), Kind::time), band));
    }
}

void Walker::report_line(Index first, Index last, const RampAsk& ask, const RampPlan& plan) {
    std::size_t z = 0;
    while (z + 1 < zones() && law(last, z).kind != LawKind::line) ++z;
    const std::string to = targets_text(last);
    if (plan.out_of_range) {
        Diagnostic& d = out_.error(Code::value_not_settable, span(first).source,
                                   fmt::format("{} cannot ramp {} as asked: {}", c_.name, to, plan.problem));
        d.also(c_.source, "the controller's ramps");
        if (c_.rate)
            d.remedy(fmt::format("ramp {} at {} K/min or slower", to, c_.rate->text(keys_.rate->count())));
        return;
    }
    Diagnostic& d =
        out_.error(Code::rounding_too_coarse, span(first).source,
                   fmt::format("{} cannot follow the ramp {} within {} and {}, not even in {} segments: {}",
                               c_.name, to, to_text(ask.budget, Kind::difference),
                               to_text(instant_budget(keys_), Kind::time), ask.most_pieces, plan.problem));
    d.also(c_.source, "the controller's ramps");
    for (const double end : {law(first, z).from, law(last, z).to}) {
        const double degC = end - zero_celsius;
        const double off = std::abs(keys_.setpoint.value(keys_.setpoint.nearest(degC)) - degC);
        if (off > ask.budget)
            d.cause(fmt::format("the ramp {} {}, and the nearest set-point of {} lies {} from it",
                                end == law(first, z).from ? "begins at" : "ends at",
                                to_text(end, Kind::temperature), c_.name, to_text(off, Kind::difference)));
    }
    if (std::isfinite(ask.fastest[z]))
        d.cause(
            fmt::format("no piece may be faster than {}: the tube, and in cooling the furnace, go no faster",
                        to_text(ask.fastest[z], Kind::rate)));
    if (ask.duration > 0) offer_ramp(d, first, last, z, ask);
}

/// Whether the controller runs a span as the recipe has it: what two ways of working out one number leave
/// between them is no difference, and the plant remembers what it was asked with the same numbers.
bool Walker::runs_as_written(Index i, const Laws& laws, double duration) const {
    const auto same = [](double a, double b) { return std::abs(a - b) <= 1e-13 * std::abs(b); };
    bool all = same(duration, span(i).ending.duration);
    for (std::size_t z = 0; z < zones() && all; ++z) {
        const Law& asked = law(i, z);
        all = laws[z].kind == asked.kind && same(laws[z].from, asked.from) && same(laws[z].to, asked.to) &&
              same(laws[z].rate, asked.rate);
    }
    return all;
}

/// A ramp by rate from a measured start is as much longer or shorter as the bench is colder or warmer, and ends
/// when its last zone is there. Corrects the span that was added last, which `entry` came to.
void Walker::from_measured(const plant::State& entry, Index i, const RampPiece& piece, const Degrees& to,
                           const Law* laws) {
    timeline::Span& span = walked_.built.timeline.spans.back();
    Interval reaches = 0; // s
    for (std::size_t z = 0; z < zones(); ++z) {
        const double rate = keys_.rate->value(piece.rates[z]) / 60, there = to[z] + zero_celsius;
        const double far = std::max(std::abs(there - start_.lo), std::abs(there - start_.hi));
        const double near =
            start_.contains(there) ? 0 : std::min(std::abs(there - start_.lo), std::abs(there - start_.hi));
        reaches = {std::max(reaches.lo, near / rate), std::max(reaches.hi, far / rate)};
    }
    const double nominal = span.ending.duration;
    program::Segment& row = walked_.rows.segments[rows_[0]];
    row.duration_lo_s += reaches.lo - nominal;
    row.duration_hi_s += reaches.hi - nominal;
    span.duration = {std::max(0.0, span.duration.lo + reaches.lo - nominal),
                     span.duration.hi + reaches.hi - nominal};
    const plant::Drive drive{laws, &recipe_.states[recipe_.spans[i].state]};
    here_.state() = plant::exit_from_measured(input_.plant, entry, drive, span.ending, span.duration);
}

struct Walker::Stretch {
    const Course& piece;
    bool measured;             // it starts from what is measured
    const Degrees& from;       // degC, where the set-points are at its beginning
    double begin = 0, end = 0; // s of the piece
    std::int64_t band = -1;    // in which its end is waited for
    std::size_t row = 0;
};

/// Returns where the set-points are at its end.
Degrees Walker::line_span(Index i, const Stretch& s) {
    Degrees to;
    Laws laws;
    const double length = s.end - s.begin;
    for (std::size_t z = 0; z < zones(); ++z) {
        to.push_back(s.piece.at(z, s.end));
        double rate = (to[z] - s.from[z]) / length;
        if (const double own = s.measured ? rate_in_K_per_s(keys_, s.piece.kind.rates[z]) : 0;
            rate != 0 && std::abs(rate) < own * (1 - 1e-9)) // it is there before the others
            rate = std::copysign(own, rate);
        laws.push_back(
            {rate == 0 ? LawKind::hold : LawKind::line, s.from[z] + zero_celsius, to[z] + zero_celsius, rate});
    }
    timeline::Ending ending = fixed(length);
    const Law* keyed = laws.data();
    if (runs_as_written(i, laws, ending.duration)) {
        keyed = recipe_.laws_of(i);
        ending.duration = span(i).ending.duration;
    }
    if (s.band >= 0) {
        ending.kind = EndingKind::band;
        ending.band = c_.soak_band->value(s.band);
    }
    Interval duration;
    if (s.measured && s.begin == 0) {
        const plant::State entry = here_.state();
        duration = add_span(i, keyed, ending);
        from_measured(entry, i, s.piece.kind, to, keyed);
    } else {
        duration = add_span(i, keyed, ending);
    }
    walked_.rows.segments[s.row].duration_hi_s += std::max(0.0, duration.hi - ending.duration);
    return to;
}

/// The legalised spans of a line: cut where a piece ends, where a zone arrives, and where the recipe's spans
/// meet. From a measured start nobody knows which zone arrives first: each line goes on at its own rate.
void Walker::line_spans(Index first, Index last, std::span<const RampPiece> pieces, std::int64_t band) {
    constexpr double least = 1e-6;           // s: what lies nearer to each other is one instant
    const bool still = pieces[0].dwell >= 0; // it lies inside one set-point
    // Each piece is keyed with the band, so each of them waits.
    const auto waits_in = [&](const RampPiece& piece) {
        return (piece.dwell < 0 ? c_.band_on_ramps : still) ? band : -1;
    };
    const auto arrives = [&](const Course& course, std::size_t z) {
        return std::abs(course.to[z] - course.from[z]) / keys_.rate->value(course.kind.rates[z]) * 60;
    };
    // Most are one piece of one span, in which no zone arrives before the others.
    if (const RampPiece& piece = pieces[0]; first == last && pieces.size() == 1 && piece.duration > least) {
        const bool measured = from_measured_ && !piece.rates.empty();
        const Course course(keys_, piece, setpoint_);
        bool sooner = false;
        for (std::size_t z = 0; z < piece.rates.size() && zones() > 1 && !measured; ++z) {
            const double time = arrives(course, z);
            sooner = sooner || (time > least && time <= piece.duration - least);
        }
        if (!sooner) {
            line_span(first, {course, measured, setpoint_, 0, piece.duration, waits_in(piece), rows_[0]});
            return;
        }
    }
    double length = 0;
    double asked = 0;
    for (const RampPiece& piece : pieces) length += piece.duration;
    for (Index i = first; i <= last; ++i) asked += span(i).ending.duration;
    const double stretch = asked > 0 ? length / asked : 1;

    Index i = first;
    double member_end = span(i).ending.duration * stretch;
    double elapsed = 0;
    Degrees at = setpoint_;
    for (std::size_t n = 0; n < pieces.size(); ++n) {
        const RampPiece& piece = pieces[n];
        std::vector<double>& cuts = cuts_;
        cuts.clear();
        const bool measured = n == 0 && from_measured_ && !piece.rates.empty();
        const Course course(keys_, piece, at);
        for (std::size_t z = 0; z < piece.rates.size() && !measured; ++z) cuts.push_back(arrives(course, z));
        double passed = member_end;
        for (Index m = i; m < last; passed += span(++m).ending.duration * stretch)
            cuts.push_back(passed - elapsed);
        cuts.push_back(piece.duration);
        std::sort(cuts.begin(), cuts.end());

        double from_time = 0;
        Degrees from = at;
        for (double to_time : cuts) {
            if (to_time <= from_time + least && to_time < piece.duration) continue;
            to_time = to_time > piece.duration - least ? piece.duration : to_time;
            if (to_time <= from_time) continue;
            // At a member's end the next span of the recipe begins.
            while (i < last && elapsed + from_time >= member_end - least) {
                enter(++i);
                member_end += span(i).ending.duration * stretch;
            }
            const bool ends = to_time == piece.duration;
            from = line_span(
                i, {course, measured, from, from_time, to_time, ends ? waits_in(piece) : -1, rows_[n]});
            from_time = to_time;
        }
        elapsed += piece.duration;
        if (n + 1 < pieces.size()) at = setpoint_in(keys_, piece, at, piece.duration);
    }
    while (i < last) { // members without length
        enter(++i);
        add_span(i, holding().data(), fixed(0));
    }
}

void Walker::key_line(const Pieces& plan, Index first, std::int64_t band, bool fused) {
    const std::span<const RampPiece> pieces = plan.list;
    Degrees at; // where a piece begins, but for the first
    rows_.clear();
    std::size_t keyed = 0;
    for (std::size_t n = 0; n < pieces.size(); ++n) {
        if (n > 0) at = setpoint_in(keys_, pieces[n - 1], n == 1 ? setpoint_ : at, pieces[n - 1].duration);
        const RampPiece& piece = pieces[n];
        const bool holds = piece.dwell >= 0;
        const bool shares = fused && holds && n > 0 && pieces[n - 1].dwell < 0;
        if (shares) {
            walked_.rows.segments.back().kind = SegmentKind::ramp_dwell;
            walked_.rows.segments.back().dwell = piece.dwell;
        }
        if (shares || (n == 0 && holds && merge_into_last(piece.dwell, band, first))) {
            program::Segment& s = walked_.rows.segments.back();
            s.duration_s += piece.duration;
            s.duration_lo_s += piece.duration;
            s.duration_hi_s += piece.duration;
            rows_.push_back(walked_.rows.size() - 1);
            continue;
        }
        program::Segment& row = add_row(holds ? SegmentKind::dwell : SegmentKind::ramp, first);
        if (input_.texts == Texts::all) {
            row.why = why("ramp", first, first);
            if (plan.rows > 1) row.why.more = fmt::format("; piece {} of {}: {}", ++keyed, plan.rows, plan.why);
        }
        if (n > 0) row.start_degC = at[0];
        row.targets = piece.targets;
        row.rates = piece.rates;
        row.ramp_time = piece.ramp_time;
        row.dwell = piece.dwell;
        row.band = pieces[0].dwell >= 0 || (c_.band_on_ramps && !holds) ? band : -1;
        row.duration_s = row.duration_lo_s = row.duration_hi_s = piece.duration;
        rows_.push_back(walked_.rows.size() - 1);
    }
}

/// s: a dwell that the recipe does not have may last as long, so that a ramp can wait in a band (common
/// practice, no source).
constexpr double longest_added_dwell = 60;

void Walker::band_behind_line(Index first, Index last, std::int64_t band) {
    const Index next = last + 1;
    // The dwell that follows waits in a band that is as narrow: it does the ramp's waiting too.
    if (goes_on(last, next) && !any(next, LawKind::line) && !any(next, LawKind::off) &&
        !any(next, LawKind::jump) && span(next).ending.kind == EndingKind::band &&
        band_below(span(next).ending.band) >= 0 && band_below(span(next).ending.band) <= band)
        return;
    DwellPlan plan;
    plan.pieces.push_back(0);
    plan.duration = keys_.dwell.value(0);
    if (plan.duration > std::max(longest_added_dwell, instant_budget(keys_)))
        out_.error(
                Code::no_soak_band, span(first).source,
                fmt::format(
                    "{} waits in a band on dwells only, and its shortest dwell of {} behind the ramp is none "
                    "of the recipe's",
                    c_.name, to_text(plan.duration, Kind::time)))
            .also(c_.source, "the controller's dwells")
            .remedy(fmt::format("write the dwell behind the ramp, of {} or more, `within` the band",
                                to_text(plan.duration, Kind::time)));
    timeline::Ending ending = fixed(plan.duration);
    ending.kind = EndingKind::band;
    ending.band = c_.soak_band->value(band);
    const Interval duration = add_span(last, holding().data(), ending);
    program::Why reason = why("soak band of the ramp", first, first);
    reason.more = fmt::format(": {} waits in a band on dwells only", c_.name);
    key_dwell(plan, band, last, std::max(0.0, duration.hi - plan.duration), reason);
}

void Walker::ask_for(Index first, Index last, const Degrees& from, const Values& to, RampAsk& ask) const {
    ask.to = to;
    ask.budget = budget(first);
    ask.from = from;
    ask.most_pieces = std::clamp<std::size_t>(std::size_t{c_.programs} * c_.segments, 1, 4096);
    ask.fused = c_.ramp_and_dwell && !(c_.band_on_ramps && span(first).ending.kind == EndingKind::band);
    ask.duration = 0;
    for (Index i = first; i <= last; ++i) ask.duration += span(i).ending.duration;
    ask.from_ideal.clear();
    ask.to_ideal.clear();
    ask.fastest.clear();
    // What the recipe's line keeps to, its pieces keep to. A furnace that falls behind in heating is counted
    // with.
    for (std::size_t z = 0; z < zones(); ++z) {
        const double begin = law(first, z).from;
        const double end = law(last, z).to;
        ask.from_ideal.push_back(begin - zero_celsius);
        ask.to_ideal.push_back(end - zero_celsius);
        double limit = input_.limits.tube ? input_.limits.tube(begin, end) : infinity;
        if (end < begin) limit = std::min(limit, input_.plant.certain_cooling_rate(begin, end));
        const bool kept = std::abs(law(first, z).rate) <= limit * (1 + slack);
        ask.fastest.push_back(kept ? limit : infinity);
    }
}

void Walker::from_moved_start(RampAsk& ask) const {
    if (!start_moved_) return;
    RampAsk moved = ask;
    double share = 0; // of the line that is left
    for (std::size_t z = 0; z < zones(); ++z) {
        const double way = ask.to_ideal[z] - ask.from_ideal[z];
        const double own = way == 0 ? 1 : (ask.to_ideal[z] - setpoint_[z]) / way;
        if (own <= 0 || (z > 0 && std::abs(own - share) > 1e-9)) return; // zones would no longer move together
        share = own;
        // So far off it is already.
        moved.budget = std::min(moved.budget, ask.budget - std::abs(setpoint_[z] - ask.from_ideal[z]));
    }
    if (moved.budget < 0) return;
    moved.from_ideal = setpoint_;
    moved.duration *= share;
    const RampPlan &other = planned(moved), &strict = planned(ask);
    if (!other.pieces.empty() && (strict.pieces.empty() || other.rows < strict.rows)) ask = std::move(moved);
}

namespace {

/// All that a plan depends on, but for the controller.
std::vector<double> key_of(const RampAsk& ask) {
    std::vector<double> key{ask.duration, ask.budget, static_cast<double>(ask.most_pieces),
                            ask.fused ? 1.0 : 0.0};
    for (const Degrees* list : {&ask.from_ideal, &ask.to_ideal, &ask.from, &ask.fastest})
        key.insert(key.end(), list->begin(), list->end());
    for (const std::int64_t k : ask.to) key.push_back(static_cast<double>(k));
    return key;
}

} // namespace

const RampPlan& Walker::planned(const RampAsk& ask) const {
    std::vector<double> key = key_of(ask);
    const auto found = input_.memory.plans.find(key);
    if (found != input_.memory.plans.end()) return found->second;
    return input_.memory.plans.emplace(std::move(key), plan_ramp(keys_, ask)).first->second;
}

const Memory::Line* Walker::one_segment(Index first, Index last, const Degrees& from, const Values& to) const {
    Memory& memory = input_.memory;
    if (memory.line_of.empty()) {
        memory.line_of.resize(recipe_.spans.size());
        memory.lines.reserve(recipe_.spans.size());
    }
    std::uint32_t& at = memory.line_of[first];
    if (at != 0) {
        const Memory::Line& known = memory.lines[at - 1];
        if (known.last == last && known.from == from && known.plan.piece.targets == to) return &known;
    } else {
        memory.lines.emplace_back();
        at = static_cast<std::uint32_t>(memory.lines.size());
    }
    Memory::Line& line = memory.lines[at - 1];
    line.last = timeline::none;
    RampAsk& ask = plain_;
    ask_for(first, last, from, to, ask);
    if (!plan_plainly(keys_, ask, line.plan)) return nullptr;
    line.last = last;
    line.fused = ask.fused;
    line.duration = ask.duration;
    line.from = from;
    return &line;
}

/// Whether a plan that begins `lost` s late, or early, and makes none of it good is within both budgets.
bool Walker::loses_more(const RampAsk& ask, const RampPlan& plan, double lost) const {
    if (plan.pieces.empty()) return false;
    double late = lost - ask.duration;
    for (const RampPiece& piece : plan.pieces) late += piece.duration;
    if (std::abs(late) > instant_budget(keys_) + slack) return false;
    for (std::size_t z = 0; z < zones(); ++z) {
        const double off = std::abs((ask.to_ideal[z] - ask.from_ideal[z]) * lost / ask.duration);
        if (plan.setpoint_error + off > ask.budget + slack) return false;
    }
    return true;
}

/// The last span of what is keyed as one line. From a measured start it goes on only where the set-point has
/// surely left the room before, on one way for all zones.
timeline::Index Walker::end_of_keyed_line(Index first) const {
    const Law& own = law(first, 0);
    const bool known = zones() == 1 && own.rate > 0 && own.to > start_.hi;
    return from_measured_ && c_.rate && !known ? first : end_of_line(first);
}

timeline::Index Walker::line(Index first) {
    const Index last = end_of_keyed_line(first);
    const std::int64_t k = band(first);
    const double room = budget(first);
    const Values to = targets(last, room);
    bool moves = false;
    for (std::size_t z = 0; z < zones(); ++z)
        moves = moves || std::abs(keys_.setpoint.value(to[z]) - setpoint_[z]) > 1e-9;

    // The rest of a line makes good what its first part lost in time. Where it is short for that, it loses
    // more rather than run much faster or slower than the recipe, as long as all of it is within the budgets.
    double lost = continues(first) ? late_ : 0;
    // Most lines are keyed as they were weighed when the set-points were chosen, in one segment.
    if (moves && lost == 0 && !start_moved_)
        if (const Memory::Line* known = one_segment(first, last, setpoint_, to)) {
            key_planned(first, last, to, known->plan, known->duration, k, known->fused);
            // A line that is keyed as a dwell waits in the band itself.
            if (k >= 0 && !c_.band_on_ramps) band_behind_line(first, last, k);
            return last + 1;
        }
    RampAsk ask = asked(first, last, setpoint_, to);
    from_moved_start(ask);
    start_moved_ = false;
    const auto make_good = [&] {
        for (std::size_t z = 0; z < zones(); ++z)
            ask.from_ideal[z] += (ask.to_ideal[z] - ask.from_ideal[z]) * lost / ask.duration;
        ask.duration -= lost;
        lost = 0;
    };
    if (lost != 0 && ask.duration > (moves ? 2 * std::abs(lost) : lost)) make_good();

    RampPlan resting;
    const RampPlan* found = moves ? &planned(ask) : &resting;
    if (lost != 0 && moves && !loses_more(ask, *found, lost)) {
        if (ask.duration > lost) {
            make_good();
            found = &planned(ask);
        } else {
            resting.problem =
                fmt::format("it is {} late where this part of the ramp begins", to_text(lost, Kind::time));
            found = &resting;
        }
    }
    const RampPlan& plan = *found;
    if (moves) {
        // What goes on from a start that cannot be held was told there.
        if (plan.pieces.empty() && !std::exchange(unheld_, false)) report_line(first, last, ask, plan);
    } else {
        // Less than half a step of the set-point: the line lies inside one settable value.
        const DwellPlan rest = plan_dwell(keys_, ask.duration, Rounding::nearest);
        if (std::abs(rest.duration - ask.duration) > instant_budget(keys_) + 1e-9 || rest.pieces.empty())
            out_.error(
                Code::rounding_too_coarse, span(first).source,
                fmt::format("{} holds {} in steps of {} s, too coarse for a line of {} within one set-point",
                            c_.name, to_text(rest.duration, Kind::time), c_.dwell.step.text(),
                            to_text(ask.duration, Kind::time)));
        resting.instant_error = std::abs(rest.duration - ask.duration);
        for (const std::int64_t piece : rest.pieces)
            resting.pieces.push_back({ask.to, {}, -1, piece, keys_.dwell.value(piece)});
        resting.rows = resting.pieces.size();
        resting.why = "the line lies inside one settable set-point";
    }
    if (plan.pieces.empty()) {
        walked_.setpoint_error = std::max(walked_.setpoint_error, plan.setpoint_error);
        walked_.instant_error = std::max(walked_.instant_error, plan.instant_error);
        late_ = 0;
        // Reported: the recipe's own line stands in, so that nothing behind it is judged on a wrong prefix.
        for (Index i = first; i <= last; ++i) {
            if (i != first) enter(i);
            add_span(i, recipe_.laws_of(i), fixed(span(i).ending.duration));
        }
        set_setpoints(to);
        return last + 1;
    }
    key_planned(first, last, to, plan, ask.duration - lost, k, ask.fused);
    if (k >= 0 && !c_.band_on_ramps && moves) band_behind_line(first, last, k);
    return last + 1;
}

void Walker::key_planned(Index first, Index last, const Values& to, const Pieces& plan, double duration,
                         std::int64_t band, bool fused) {
    start_moved_ = false;
    walked_.setpoint_error = std::max(walked_.setpoint_error, plan.errors.setpoint_error);
    late_ = -duration;
    for (const RampPiece& piece : plan.list) late_ += piece.duration;
    walked_.instant_error = std::max(walked_.instant_error, std::abs(late_));
    key_line(plan, first, band, fused);
    line_spans(first, last, plan.list, band);
    set_setpoints(to);
}

} // namespace athanor::legalise
