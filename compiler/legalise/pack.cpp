#include "compiler/legalise/fold.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::legalise {

using program::Part;
using program::Segment;

namespace {

const char* plural(std::size_t n, const char* one, const char* many) {
    return n == 1 ? one : many;
}

/// Ends a part that another one follows: what was held stays held.
Segment end_behind(const Segment& last, const char* why) {
    Segment end;
    end.kind = program::SegmentKind::end;
    end.targets = last.targets;
    end.outputs = last.outputs;
    end.channels = last.channels;
    end.source = last.source;
    end.why.what = why;
    return end;
}

class Packer {
public:
    Packer(Folded& folded, const program::Controller& controller,
           const std::vector<program::ThresholdOutput>& thresholds)
        : folded_(folded), rows_(folded.rows), c_(controller), thresholds_(thresholds) {}

    void run(const Walked& walked) {
        begin("");
        const std::size_t room = c_.segments > 0 ? c_.segments - 1 : 0; // one is `end`
        if (rows_.size() <= room && rows_.starts.empty() && !looped()) {
            parts_.back().segments = std::move(rows_.segments);
        } else {
            parts_.back().segments.reserve(std::min(room, rows_.size()) + 1);
            divide(room);
        }
        if (walked.last_wait) hand_over(*walked.last_wait);
        parts_.back().segments.push_back(walked.end);
        too_long_ = too_long_ || c_.segments == 0;
        last_source_ = walked.end.source;
    }

    std::vector<Part> take() { return std::move(parts_); }
    /// Segments with one `end`, as a person counts what the recipe needs.
    std::size_t needed() const { return rows_.spans.size() + 1; }
    bool linked() const { return links_; }
    bool looped() const { return !folded_.loops.empty(); }
    bool waits() const { return waits_; }
    /// A loop, or the end alone, is longer than a programme.
    bool too_long() const { return too_long_; }
    std::size_t parts() const { return parts_.size(); }
    /// Where the recipe stands when the first programme is full, or ends.
    athanor::Span first_over() const { return over_ == none ? last_source_ : rows_.segments[over_].source; }

private:
    static constexpr std::size_t none = static_cast<std::size_t>(-1);

    /// Among programmes of so many segments.
    void divide(std::size_t room) {
        for (std::size_t row = 0; row < rows_.size();) {
            const std::size_t length = unit(row);
            const ProgramStart* start = rows_.start(row);
            if (start && start->linked) {
                link("the next run is a programme of its own");
            } else if (start) {
                hand_over(*start);
            } else if (parts_.back().segments.size() + length > room && !parts_.back().segments.empty()) {
                link("the programme is full");
                links_ = true;
                if (over_ == none) over_ = row;
            }
            if (length > room) {
                too_long_ = true;
                if (over_ == none) over_ = row;
            }
            add(row, length);
            row += length;
        }
    }
    /// A person stands before the next segment.
    void hand_over(const ProgramStart& next) {
        if (parts_.size() == 1 && parts_.back().segments.empty()) {
            parts_.back().hand_over = next.hand_over;
            return;
        }
        std::vector<Segment>& segments = parts_.back().segments;
        if (segments.back().kind != program::SegmentKind::end)
            segments.push_back(end_behind(segments.back(), "a person stands before the next programme"));
        segments.back().outputs = next.outputs_before; // what is held while the person acts
        segments.back().channels = next.channels_before;
        begin(next.hand_over);
        waits_ = waits_ || next.waits;
    }
    void link(const char* reason) {
        const auto next = static_cast<std::uint32_t>(parts_.size() + 1);
        Segment end = end_behind(parts_.back().segments.back(), reason);
        end.why.more = fmt::format(": it goes on in programme {}", next);
        parts_.back().segments.push_back(std::move(end));
        parts_.back().next = next;
        begin("");
    }
    void begin(const std::string& hand_over) {
        Part part;
        part.number = static_cast<std::uint32_t>(parts_.size() + 1);
        part.hand_over = hand_over;
        part.thresholds = thresholds_;
        parts_.push_back(std::move(part));
    }
    /// Rows that must stay together: an outermost loop.
    std::size_t unit(std::size_t row) {
        std::size_t length = 1;
        for (const program::Loop& loop : loops_at(row))
            length = std::max<std::size_t>(length, loop.last - loop.first + 1);
        return length;
    }
    std::vector<program::Loop> loops_at(std::size_t row) const {
        std::vector<program::Loop> found;
        if (sorted_.empty()) return found;
        // Loops are appended inner before outer, in the order of their rows: few begin at one row.
        const auto begin = std::lower_bound(sorted_.begin(), sorted_.end(), row,
                                            [](const program::Loop& l, std::size_t r) { return l.first < r; });
        for (auto loop = begin; loop != sorted_.end() && loop->first == row; ++loop) found.push_back(*loop);
        return found;
    }
    void add(std::size_t row, std::size_t length) {
        Part& part = parts_.back();
        const auto shift = static_cast<std::uint32_t>(row - part.segments.size());
        for (std::size_t i = row; i < row + length; ++i) {
            for (program::Loop loop : loops_at(i)) {
                loop.first -= shift;
                loop.last -= shift;
                part.loops.push_back(loop);
            }
        }
        for (std::size_t i = row; i < row + length; ++i) part.segments.push_back(std::move(rows_.segments[i]));
    }

    Folded& folded_;
    Rows& rows_;
    const program::Controller& c_;
    const std::vector<program::ThresholdOutput>& thresholds_;
    std::vector<program::Loop> sorted_ = [this] {
        std::vector<program::Loop> loops = folded_.loops;
        std::sort(loops.begin(), loops.end(), [](const program::Loop& a, const program::Loop& b) {
            return a.first != b.first ? a.first < b.first : a.last > b.last;
        });
        return loops;
    }();
    std::vector<Part> parts_;
    bool links_ = false, waits_ = false, too_long_ = false;
    athanor::Span last_source_;
    std::size_t over_ = none;
};

void report(const Packer& packer, const program::Controller& c, const std::function<std::size_t()>& with_loops,
            Diagnostics& out) {
    const bool too_many_parts = packer.parts() > c.programs;
    const bool needs_link = packer.linked() && !c.linking;
    const bool full = needs_link || packer.too_long() || (packer.linked() && too_many_parts);
    if (!full && !too_many_parts) return;
    const athanor::Span source = packer.first_over();
    if (!full) {
        const char* reason = packer.waits() ? "because a person stands between them" : "for its runs";
        out.error(packer.waits() ? Code::no_operator_wait : Code::too_many_segments, source,
                  fmt::format("the recipe needs {} programmes {}, {} holds {}", packer.parts(), reason, c.name,
                              c.programs))
            .also(c.source, "the controller")
            .remedy(fmt::format("a controller with {} programmes{}", packer.parts(),
                                packer.waits() ? ", or one with `operator_wait yes`" : ""));
        return;
    }
    const std::size_t needed = packer.needed();
    std::string has =
        fmt::format("{} holds {} {}", c.name, c.segments, plural(c.segments, "segment", "segments"));
    if (c.programs > 1 && c.linking)
        has += fmt::format(" in each of {} linked programmes", c.programs);
    else if (c.programs > 1)
        has += " in each programme and does not link them";
    Diagnostic& d = out.error(Code::too_many_segments, source,
                              fmt::format("the recipe needs {} {} with its end, {}", needed,
                                          plural(needed, "segment", "segments"), has));
    d.with_label(fmt::format("segment {} and what follows do not fit", c.segments));
    d.also(c.source, "the controller");
    if (packer.too_long() && packer.looped())
        d.cause("a loop cannot go on in a linked programme, so its body must fit into one");
    const std::size_t folded = with_loops();
    if (folded < needed) d.remedy(fmt::format("a controller with loops needs {} segments for it", folded));
    if (needs_link && c.segments > 1)
        d.remedy(fmt::format("a controller that links programmes needs {} of them for it",
                             (needed - 1 + c.segments - 2) / (c.segments - 1)));
    d.remedy(fmt::format("a controller with {} segments, or fewer steps", needed));
}

} // namespace

std::vector<Part> pack(Folded& folded, const Walked& walked, const program::Controller& controller,
                       const std::vector<program::ThresholdOutput>& thresholds,
                       const std::function<std::size_t()>& with_loops, Diagnostics& out) {
    Packer packer(folded, controller, thresholds);
    packer.run(walked);
    report(packer, controller, with_loops, out);
    return packer.take();
}

} // namespace athanor::legalise
