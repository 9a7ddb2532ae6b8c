// Why each segment exists, and why no fewer would do.
#include "compiler/legalise/fold.hpp"

namespace athanor::legalise {

using program::Segment;
using program::SegmentKind;

namespace {

bool moves(const Segment& s) {
    return s.kind == SegmentKind::ramp || s.kind == SegmentKind::ramp_dwell;
}

const char* kind_reason(const Segment& before, const Segment& s, const program::Controller& c) {
    if (s.kind == SegmentKind::operator_wait) return "a person is waited for";
    if (before.kind == SegmentKind::operator_wait) return "the wait for a person ends before it";
    if (s.kind == SegmentKind::step) return "the set-point jumps";
    if (before.kind == SegmentKind::step) return "the jump before it is keyed alone";
    if (moves(s) && moves(before)) return "one segment has one rate and one target";
    if (moves(s)) return "a dwell stands before the ramp";
    if (moves(before) && !c.ramp_and_dwell) return "a segment holds a ramp or a dwell, not both";
    return nullptr;
}

const char* reason(const Segment& before, const Segment& s, const ProgramStart* start,
                   const program::Controller& c) {
    if (start)
        return start->linked ? "a run is a programme of its own" : "a person stands before this programme";
    if (s.outputs != before.outputs) return "outputs change only between segments";
    if (s.channels != before.channels) return "channels change only between segments";
    if (const char* kind = kind_reason(before, s, c)) return kind;
    if (s.band != before.band) return "a segment has one soak band";
    if (!s.instruction.empty()) return "a person is told something here";
    return "one of the two is as long as a segment can be, or a pass of a loop ends here";
}

} // namespace

void explain(Folded& folded, const program::Controller& controller) {
    std::vector<Segment>& segments = folded.rows.segments;
    for (std::size_t i = 1; i < segments.size(); ++i)
        segments[i].why.apart = reason(segments[i - 1], segments[i], folded.rows.start(i), controller);
}

} // namespace athanor::legalise
