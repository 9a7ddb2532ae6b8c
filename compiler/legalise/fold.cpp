#include "compiler/legalise/fold.hpp"
#include "compiler/legalise/loops.hpp"

#include <algorithm>

namespace athanor::legalise {

using timeline::Index;
using timeline::Repeat;

bool keyed_alike(const Rows& rows, std::size_t a, std::size_t b) {
    const program::Segment& x = rows.segments[a];
    const program::Segment& y = rows.segments[b];
    if (rows.start(a) || rows.start(b)) return false; // a person stands between: no loop goes round that
    if (x.kind == program::SegmentKind::operator_wait && x.instruction != y.instruction) return false;
    return x.kind == y.kind && x.targets == y.targets && x.rates == y.rates && x.ramp_time == y.ramp_time &&
           x.dwell == y.dwell && x.band == y.band && x.outputs == y.outputs && x.channels == y.channels;
}

namespace {

void append(Folded& to, const Folded& part) {
    const auto offset = static_cast<std::uint32_t>(to.rows.size());
    to.rows.append(part.rows, 0, part.rows.size());
    for (program::Loop loop : part.loops) {
        loop.first += offset;
        loop.last += offset;
        to.loops.push_back(loop);
    }
}

class Folder {
public:
    Folder(const Walked& walked, const program::Controller& controller) : walked_(walked), c_(controller) {}

    /// Spans [first, last) with the repeats that lie inside, in order of their first span.
    Folded range(Index first, Index last, const std::vector<Repeat>& inside, std::uint32_t levels) const {
        Folded result;
        Index at = first;
        for (std::size_t i = 0; i < inside.size(); ++i) {
            const Repeat& repeat = inside[i];
            if (repeat.first < at) continue; // nested in one that was done
            plain(result, at, repeat.first);
            const Index end = repeat.first + repeat.spans * repeat.passes;
            std::vector<Repeat> nested;
            for (std::size_t n = i + 1; n < inside.size() && inside[n].first < end; ++n)
                nested.push_back(inside[n]);
            append(result, one(repeat, nested, levels));
            at = end;
        }
        plain(result, at, last);
        return result;
    }

    /// Takes passes in front of the listed ones into a repeat: a first pass that does other things in the
    /// recipe (its valves stand otherwise before it) may still be keyed alike.
    void extend(Repeat& repeat, Index not_before) const {
        while (repeat.passes > 0 && repeat.first >= not_before + repeat.spans) {
            Repeat longer = repeat;
            longer.first -= repeat.spans;
            ++longer.passes;
            if (!alike(longer, 0, 1)) return;
            repeat = longer;
        }
    }

private:
    void plain(Folded& to, Index first, Index last) const {
        const Index from = walked_.row_of[first];
        to.rows.append(walked_.rows, from, std::max(from, walked_.row_of[last]));
    }

    Folded pass(const Repeat& repeat, const std::vector<Repeat>& nested, Index number,
                std::uint32_t levels) const {
        const Index first = repeat.first + number * repeat.spans;
        std::vector<Repeat> own;
        for (Repeat inner : nested)
            if (inner.first >= first && inner.first < first + repeat.spans) own.push_back(inner);
        if (own.empty()) // listed once, in the first pass
            for (Repeat inner : nested)
                if (inner.first < repeat.first + repeat.spans) {
                    inner.first += number * repeat.spans;
                    own.push_back(inner);
                }
        return range(first, first + repeat.spans, own, levels);
    }

    bool alike(const Repeat& repeat, Index a, Index b) const {
        const Index a0 = walked_.row_of[repeat.first + a * repeat.spans];
        const Index a1 = walked_.row_of[repeat.first + (a + 1) * repeat.spans];
        const Index b0 = walked_.row_of[repeat.first + b * repeat.spans];
        const Index b1 = walked_.row_of[repeat.first + (b + 1) * repeat.spans];
        if (a1 - a0 != b1 - b0 || a1 == a0) return false;
        for (Index i = 0; i < a1 - a0; ++i)
            // A loop's row is read in every pass: what is to be done in one alone would be done in all, or in
            // none.
            if (!keyed_alike(walked_.rows, a0 + i, b0 + i) ||
                walked_.rows.segments[a0 + i].instruction != walked_.rows.segments[b0 + i].instruction)
                return false;
        return true;
    }

    Folded one(const Repeat& repeat, const std::vector<Repeat>& nested, std::uint32_t levels) const {
        Folded unrolled;
        for (Index p = 0; p < repeat.passes; ++p) append(unrolled, pass(repeat, nested, p, levels));
        if (levels == 0 || repeat.passes < 2) return unrolled;
        // The first passes may differ (another start); all from `equal` on are one body.
        Index equal = repeat.passes - 1;
        while (equal > 0 && alike(repeat, equal - 1, repeat.passes - 1)) --equal;
        const Index count = repeat.passes - equal;
        const Index fewest = std::max(2U, c_.passes_lo);
        if (count < fewest || c_.passes_hi < fewest) return unrolled;

        Folded folded;
        for (Index p = 0; p < equal; ++p) append(folded, pass(repeat, nested, p, levels));
        for (Index left = count; left > 0;) {
            const Index take = std::min(left, c_.passes_hi);
            const Index begin = repeat.passes - left;
            if (take < fewest) {
                for (Index p = begin; p < repeat.passes; ++p) append(folded, pass(repeat, nested, p, levels));
                break;
            }
            // Each loop from its own first pass: only the whole repeat starts from where the recipe comes.
            Folded body = pass(repeat, nested, begin, levels - 1);
            // A loop must lie in one programme.
            if (body.rows.size() + 1 > c_.segments) return unrolled;
            if (body.loops.empty()) hull_times(body, repeat, begin, begin + take);
            const auto first = static_cast<std::uint32_t>(folded.rows.size());
            append(folded, body);
            folded.loops.push_back({first, static_cast<std::uint32_t>(folded.rows.size() - 1), take});
            left -= take;
        }
        return folded.rows.size() < unrolled.rows.size() ? folded : unrolled;
    }

    /// A folded row lasts between the shortest and the longest of its passes.
    void hull_times(Folded& body, const Repeat& repeat, Index begin, Index end) const {
        for (Index p = begin; p < end; ++p) {
            const Index first = walked_.row_of[repeat.first + p * repeat.spans];
            for (std::size_t i = 0; i < body.rows.size(); ++i) {
                const program::Segment& other = walked_.rows.segments[first + i];
                program::Segment& s = body.rows.segments[i];
                s.duration_lo_s = std::min(s.duration_lo_s, other.duration_lo_s);
                s.duration_hi_s = std::max(s.duration_hi_s, other.duration_hi_s);
            }
        }
    }

    const Walked& walked_;
    const program::Controller& c_;
};

} // namespace

Folded fold(Walked& walked, const timeline::Timeline& timeline, const program::Controller& controller) {
    if (controller.loop_levels == 0) return {std::move(walked.rows), {}};
    std::vector<Repeat> sorted = timeline.repeats;
    std::sort(sorted.begin(), sorted.end(), [](const Repeat& a, const Repeat& b) {
        return a.first != b.first ? a.first < b.first : a.spans * a.passes > b.spans * b.passes;
    });
    const auto spans = static_cast<Index>(walked.row_of.size() - 1);
    const Folder folder(walked, controller);
    Index end = 0;
    for (Repeat& repeat : sorted) {
        if (repeat.first < end) continue; // an inner one: its passes are those of the outer body
        const Index last = repeat.first + repeat.spans * repeat.passes;
        folder.extend(repeat, end);
        end = last;
    }
    Folded folded = folder.range(0, spans, sorted, controller.loop_levels);
    std::optional<Folded> anywhere = fold_anywhere(walked, timeline, controller);
    return anywhere && anywhere->rows.size() < folded.rows.size() ? std::move(*anywhere) : folded;
}

} // namespace athanor::legalise
