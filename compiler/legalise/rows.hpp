#pragma once
#include "compiler/program/program.hpp"
#include "compiler/timeline/timeline.hpp"

#include <cstddef>
#include <cstdint>
#include <map>
#include <string>
#include <utility>
#include <vector>

namespace athanor::legalise {

/// What stands before a row that begins a programme: a person, or a new run.
struct ProgramStart {
    bool linked = false;              // the programme before goes on in this one by itself
    bool waits = false;               // the hand-over stands in for an operator wait
    std::string hand_over;            // what the person does
    std::uint32_t outputs_before = 0; // while the person acts
    program::Values channels_before;
};

/// Segments, unrolled: loops and programmes come later. What only few rows have stands beside them, so that the
/// segments of a programme that holds them all move into it as they are.
struct Rows {
    std::vector<program::Segment> segments;
    std::vector<timeline::Index> spans;         // per row: the first recipe span that it belongs to
    std::map<std::size_t, ProgramStart> starts; // by the row that begins a programme

    std::size_t size() const { return segments.size(); }
    bool empty() const { return segments.empty(); }
    /// nullptr where no programme begins.
    const ProgramStart* start(std::size_t row) const {
        const auto found = starts.find(row);
        return found == starts.end() ? nullptr : &found->second;
    }
    void push_back(program::Segment segment, timeline::Index span) {
        segments.push_back(std::move(segment));
        spans.push_back(span);
    }
    /// Appends the rows [first, last) of another list.
    void append(const Rows& from, std::size_t first, std::size_t last) {
        for (auto start = from.starts.lower_bound(first); start != from.starts.end() && start->first < last;
             ++start)
            starts.emplace(size() + (start->first - first), start->second);
        const auto at = [](const auto& list, std::size_t i) {
            return list.begin() + static_cast<std::ptrdiff_t>(i);
        };
        segments.insert(segments.end(), at(from.segments, first), at(from.segments, last));
        spans.insert(spans.end(), at(from.spans, first), at(from.spans, last));
    }
};

} // namespace athanor::legalise
