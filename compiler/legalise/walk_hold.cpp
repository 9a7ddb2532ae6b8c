// Dwells: fixed times, soak bands, sufficient times.
#include "compiler/legalise/walker.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::legalise {

using program::SegmentKind;
using timeline::EndingKind;
using timeline::LawKind;

bool Walker::waits_alike(const timeline::Ending& a, const timeline::Ending& b) {
    const auto plain = [](EndingKind kind) { return kind == EndingKind::fixed || kind == EndingKind::certain; };
    return (plain(a.kind) && plain(b.kind)) ||
           (a.kind == EndingKind::band && b.kind == EndingKind::band && a.band == b.band);
}

double Walker::certain_time(Index i, const plant::Passage& p) {
    const timeline::Span& s = span(i);
    const double before = std::isfinite(s.duration.lo) ? s.duration.lo : 0;
    if (!p.reachable || !std::isfinite(p.duration.hi)) {
        out_.error(Code::condition_unreachable, s.source,
                   fmt::format("after rounding to the values of {}, this wait never becomes certain{}{}",
                               c_.name, p.why.empty() ? "" : ": ", p.why));
        return before;
    }
    // Never shorter than in the recipe: a prefix that was rounded up is no reason to wait less.
    const double seconds = std::max(p.duration.hi, before);
    const double budget = instant_budget(keys_);
    if (s.ending.at_most > 0 && seconds > s.ending.at_most + budget)
        out_.error(
                Code::rounding_too_coarse, s.source,
                fmt::format("this wait may take {} and needs {} after the steps before it were rounded to the "
                            "values of {}",
                            to_text(s.ending.at_most, Kind::time), to_text(seconds, Kind::time), c_.name))
            .remedy(fmt::format("at most {}", to_text(std::ceil(seconds / 60) * 60, Kind::time)));
    return seconds;
}

void Walker::hold_times(Index first, Index last, std::vector<double>& seconds) {
    seconds.clear();
    if (first == last && span(first).ending.kind != EndingKind::certain) {
        seconds.push_back(span(first).ending.duration);
        return;
    }
    Index last_certain = first;
    for (Index i = first; i <= last; ++i) {
        seconds.push_back(span(i).ending.duration);
        if (span(i).ending.kind == EndingKind::certain) last_certain = i;
    }
    if (span(last_certain).ending.kind != EndingKind::certain) return;
    const Laws laws = holding();
    const plant::State entry = here_.state();
    for (Index i = first; i <= last; ++i) {
        const bool certain = span(i).ending.kind == EndingKind::certain;
        double& own = seconds[i - first];
        if (certain) own = certain_time(i, passage(i, laws.data(), span(i).ending));
        if (i < last_certain) here_.state() = passage(i, laws.data(), fixed(own)).exit;
    }
    here_.state() = entry;
}

bool Walker::merge_into_last(std::int64_t dwell, std::int64_t band, Index i) {
    if (boundary_ || break_ || walked_.rows.empty()) return false;
    program::Segment& s = walked_.rows.segments.back();
    if (s.kind != SegmentKind::step && !(s.kind == SegmentKind::ramp && c_.ramp_and_dwell)) return false;
    put_into_words();
    if (!pending_.empty()) return false;
    if (s.dwell >= 0 || s.outputs != switched(i).outputs || s.channels != switched(i).channels) return false;
    // A line worked by hand changes no output, yet its change needs a row to stand in.
    if (!same_switching(walked_.rows.spans.back(), i)) return false;
    if (s.kind == SegmentKind::ramp) {
        if (c_.band_on_ramps ? s.band != band : s.band >= 0) return false;
        s.kind = SegmentKind::ramp_dwell;
    } else if (s.band >= 0) {
        return false;
    }
    s.dwell = dwell;
    s.band = band;
    return true;
}

void Walker::key_dwell(const DwellPlan& plan, std::int64_t band, Index i, double excess,
                       const program::Why& why) {
    const std::size_t count = plan.pieces.size();
    for (std::size_t n = 0; n < count; ++n) {
        const double length = keys_.dwell.value(plan.pieces[n]);
        const double longer = n + 1 == count ? excess : 0;
        if (n == 0 && merge_into_last(plan.pieces[0], band, i)) {
            program::Segment& s = walked_.rows.segments.back();
            // Two reasons in one row: the second one stands behind the first.
            if (input_.texts == Texts::all) s.why.more += "; " + text(why, input_.files);
            s.duration_s += length;
            s.duration_lo_s += length;
            s.duration_hi_s += length + longer;
            continue;
        }
        program::Segment& s = add_row(SegmentKind::dwell, i);
        s.targets = setpoints();
        if (input_.texts == Texts::all) {
            s.why = why;
            if (count > 1)
                s.why.more += fmt::format("; piece {} of {}: a dwell lasts at most {}", n + 1, count,
                                          to_text(keys_.dwell.value(keys_.dwell.count()), Kind::time));
        }
        s.dwell = plan.pieces[n];
        s.band = band;
        s.duration_s = s.duration_lo_s = length;
        s.duration_hi_s = length + longer;
    }
}

timeline::Index Walker::hold(Index first) {
    const Index last = end_of_hold(first);
    const std::int64_t k = band(first);
    const bool measured = from_measured_;
    hold_at(targets(first, budget(first)));

    std::vector<double>& seconds = seconds_;
    hold_times(first, last, seconds);
    bool sufficient = false;
    std::size_t absorbs = 0; // the span that takes what rounding adds or takes away
    double asked = 0;
    for (Index i = first; i <= last; ++i) {
        const std::size_t n = i - first;
        const bool certain = span(i).ending.kind == EndingKind::certain;
        if (certain || (!sufficient && seconds[n] >= seconds[absorbs])) absorbs = n;
        sufficient = sufficient || certain;
        asked += seconds[n];
    }
    const double total = sufficient ? std::max(asked, input_.at_least[first]) : asked;
    DwellPlan plan;
    if (total > 0 || k >= 0) plan = plan_dwell(keys_, total, sufficient ? Rounding::up : Rounding::nearest);
    if (plan.pieces.empty() && total <= 0) from_measured_ = measured; // no row keys a set-point
    if (plan.pieces.empty() && total > 0) {
        out_.error(Code::value_not_settable, span(first).source,
                   fmt::format("{} cannot hold a dwell of {}", c_.name, to_text(total, Kind::time)));
        plan.duration = total;
    }
    const double error = plan.duration - asked;
    if (!sufficient) {
        walked_.instant_error = std::max(walked_.instant_error, std::abs(error));
        if (std::abs(error) > instant_budget(keys_) + 1e-9)
            out_.error(Code::rounding_too_coarse, span(first).source,
                       fmt::format("a dwell of {} becomes {} on {}, whose dwells go from {} s in steps of {} s",
                                   to_text(asked, Kind::time), to_text(plan.duration, Kind::time), c_.name,
                                   c_.dwell.lo.text(), c_.dwell.step.text()))
                .also(c_.source, "the controller's dwells")
                .remedy(
                    fmt::format("dwell {}{}", to_text(plan.duration, Kind::time),
                                k >= 0 ? " within " + to_text(span(first).ending.band, Kind::difference) : ""));
    }
    if (sufficient) walked_.waits[first] = plan.duration;
    seconds[absorbs] = std::max(0.0, seconds[absorbs] + error);

    double longest = 0;
    const Laws laws = holding();
    for (Index i = first; i <= last; ++i) {
        if (i != first) enter(i);
        timeline::Ending ending = fixed(seconds[i - first]);
        if (k >= 0) {
            ending.kind = EndingKind::band;
            ending.band = c_.soak_band->value(k);
        }
        longest += add_span(i, laws.data(), ending).hi;
    }
    program::Why reason;
    if (input_.texts == Texts::all) reason = why(sufficient ? "wait for a condition" : "dwell", first, last);
    if (input_.ordering[first]) {
        reason.what = "the shortest dwell: what follows";
        reason.behind_place = " is safe only behind what comes before it";
    }
    key_dwell(plan, k, first, std::max(0.0, longest - plan.duration), reason);
    return last + 1;
}

} // namespace athanor::legalise
