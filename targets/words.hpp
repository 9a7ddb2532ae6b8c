#pragma once
#include "compiler/program/program.hpp"
#include "targets/target.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// What every back end says in the same words.
namespace athanor::targets {

/// "ramp", "dwell", "step", "ramp_dwell", "operator", "end".
std::string_view word(program::SegmentKind kind);
std::optional<program::SegmentKind> segment_kind(std::string_view word);
/// "line", "burner", "pump", "other".
std::string_view word(program::OutputUse use);
std::optional<program::OutputUse> output_use(std::string_view word);
std::string_view word(plant::Verdict verdict);

/// "copper_sinter.ath:18", or nothing where no file is known.
std::string place(athanor::Span source, const Context& context);

/// A figure for people: decimal, no exponent, at most three places; nothing for what is not finite.
std::string nominal(double value);

/// The index of a decimal number on a grid. Nothing when the number is none, or not settable; `why` then says
/// "4.05 K/min is not settable; nearest are 4 and 4.1".
std::optional<std::int64_t> settable(const Grid& grid, const std::string& text, std::string_view unit,
                                     std::string& why);

/// Seconds that a person keys as the length of a segment, and what stands in its place where the controller
/// works the length out by itself (a ramp keyed by its rate).
struct Length {
    std::string duration; // of the ramp, dwell or wait
    std::string dwell;    // behind the ramp, only for `ramp_dwell`
};
Length length(const program::Segment& segment, const program::Controller& controller);

/// What every output about a furnace must say, the general caution first; last the faults that no interlock
/// answers.
std::vector<std::string> cautions(const Context& context);

} // namespace athanor::targets
