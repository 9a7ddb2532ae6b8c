#pragma once
#include "compiler/timeline/timeline.hpp"

#include <string>
#include <vector>

namespace athanor::review {

/// One change of the process.
struct Change {
    enum class Kind : std::uint8_t { added, removed, changed } kind = Kind::changed;
    std::string path; // "run first firing / ramp (2)"
    std::string what; // "target 350 degC -> 380 degC"
    /// Of a change of a timeline: where the step stands in each version (nothing: it is not in that one), and
    /// which of its values it is; empty: the step as a whole.
    athanor::Span before{}, after{};
    std::string value{};
};

/// Aligns two timelines by step (block names, kind, subject, ordinal; longest common subsequence) and lists
/// what differs in the process. Formatting, comments, names of operations and line numbers never show.
std::vector<Change> diff(const timeline::Timeline& before, const timeline::Timeline& after);

/// What of a site policy's concessions ("rule: because (approved …)") came, went or changed.
std::vector<Change> concessions(const std::vector<std::string>& before, const std::vector<std::string>& after);

} // namespace athanor::review
