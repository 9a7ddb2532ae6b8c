// Spans of the legalised timeline and segments of its program, brought together by their lengths.
#include "compiler/driver/segments.hpp"

#include <fmt/format.h>

namespace athanor::driver {
namespace {

constexpr double slack_s = 0.6; // lengths of segments are whole steps of the controller's clock

struct Keyed {
    std::uint32_t part = 0, number = 0;
    const program::Segment* segment = nullptr;
};

/// Segments as they run. `end` keeps no span. `open`: the loop that is being unrolled.
void unroll(const program::Part& part, std::uint32_t first, std::uint32_t last, const program::Loop* open,
            std::vector<Keyed>& list, std::size_t limit) {
    for (std::uint32_t i = first; i <= last && list.size() <= limit; ++i) {
        const program::Loop* widest = nullptr;
        for (const program::Loop& loop : part.loops)
            if (&loop != open && loop.first == i && loop.last <= last && (!widest || loop.last > widest->last))
                widest = &loop;
        if (widest) {
            for (std::uint32_t pass = 0; pass < widest->passes && list.size() <= limit; ++pass)
                unroll(part, widest->first, widest->last, widest, list, limit);
            i = widest->last;
        } else if (part.segments[i].kind != program::SegmentKind::end)
            list.push_back({part.number, i + 1, &part.segments[i]});
    }
}

} // namespace

std::vector<std::string> segments_of(const timeline::Timeline& timeline, const program::Program& program) {
    using program::SegmentKind;
    const std::size_t spans = timeline.spans.size();
    std::vector<Keyed> keyed;
    for (const program::Part& part : program.parts)
        if (!part.segments.empty())
            unroll(part, 0, static_cast<std::uint32_t>(part.segments.size() - 1), nullptr, keyed,
                   8 * spans + 16);
    auto person = [&](std::size_t i) {
        return i < spans && timeline.spans[i].ending.kind == timeline::EndingKind::person;
    };
    std::vector<std::string> list(spans);
    std::size_t i = 0;
    double begun = 0; // s of span i that earlier segments have taken
    for (std::size_t k = 0; k < keyed.size(); ++k) {
        const program::Segment& segment = *keyed[k].segment;
        const bool waits = segment.kind == SegmentKind::operator_wait;
        // A wait that no segment holds stands between two programmes.
        while (!waits && person(i) && k > 0 && keyed[k].part != keyed[k - 1].part) ++i;
        if (i >= spans || waits != person(i)) return {};
        // A segment comes from the text of the first span that it keys whole.
        if (begun == 0 && segment.source != timeline.spans[i].source) return {};
        const std::string number = fmt::format("{}.{}", keyed[k].part, keyed[k].number);
        auto take = [&] {
            std::string& name = list[i];
            name = name.empty() ? number : name.substr(0, name.find('-')) + "-" + number;
        };
        if (waits || segment.kind == SegmentKind::step) {
            take();
            ++i;
            continue;
        }
        for (double rest = segment.duration_lo_s;;) {
            if (i >= spans || person(i)) return {};
            const double own = timeline.spans[i].duration.lo - begun;
            take();
            if (own > rest + slack_s) {
                begun += rest;
                break;
            }
            rest -= own;
            begun = 0;
            ++i;
            if (rest <= slack_s) break;
        }
    }
    while (person(i)) ++i;
    if (i != spans || begun != 0) return {};
    return list;
}

} // namespace athanor::driver
