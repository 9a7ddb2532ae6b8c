#include "targets/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace athanor::targets {
namespace {

using program::OutputUse;
using program::SegmentKind;

constexpr std::array<std::pair<SegmentKind, std::string_view>, 6> kinds{
    {{SegmentKind::ramp, "ramp"},
     {SegmentKind::dwell, "dwell"},
     {SegmentKind::step, "step"},
     {SegmentKind::ramp_dwell, "ramp_dwell"},
     {SegmentKind::operator_wait, "operator"},
     {SegmentKind::end, "end"}}};
constexpr std::array<std::pair<OutputUse, std::string_view>, 6> uses{{{OutputUse::line, "line"},
                                                                      {OutputUse::burner, "burner"},
                                                                      {OutputUse::pump, "pump"},
                                                                      {OutputUse::bubbler, "bubbler"},
                                                                      {OutputUse::slide, "slide"},
                                                                      {OutputUse::other, "other"}}};

template<typename Table, typename Key>
std::string_view word_in(const Table& table, Key key) {
    for (const auto& [value, text] : table)
        if (value == key) return text;
    return "";
}

template<typename Key, std::size_t N>
std::optional<Key> key_in(const std::array<std::pair<Key, std::string_view>, N>& table, std::string_view text) {
    for (const auto& [value, name] : table)
        if (name == text) return value;
    return std::nullopt;
}

} // namespace

std::string_view word(SegmentKind kind) {
    return word_in(kinds, kind);
}
std::optional<SegmentKind> segment_kind(std::string_view text) {
    return key_in(kinds, text);
}
std::string_view word(OutputUse use) {
    return word_in(uses, use);
}
std::optional<OutputUse> output_use(std::string_view text) {
    return key_in(uses, text);
}

std::string_view word(plant::Verdict verdict) {
    switch (verdict) {
    case plant::Verdict::proven: return "proven";
    case plant::Verdict::violated: return "violated";
    default: return "not_provable";
    }
}

std::string place(athanor::Span source, const Context& context) {
    if (!context.files || source.file >= context.files->size() || source.end == 0) return "";
    return context.files->place_line(source);
}

std::string nominal(double value) {
    if (!std::isfinite(value) || std::abs(value) > 1e12) return "";
    return Decimal::nearest(value, 3).text();
}

std::optional<std::int64_t> settable(const Grid& grid, const std::string& text, std::string_view unit,
                                     std::string& why) {
    // Longer than any settable value, and than what the exact decimals hold.
    std::optional<Decimal> number = text.size() > 18 ? std::nullopt : Decimal::parse(text);
    if (!number || !std::isfinite(number->value()) || std::abs(number->value()) > 1e9) {
        why = fmt::format("`{}` is no number", text);
        return std::nullopt;
    }
    double value = number->value();
    std::int64_t k = grid.nearest(value);
    if (grid.holds(k) && std::abs(grid.value(k) - value) <= 1e-9 * std::max(1.0, std::abs(value))) return k;
    if (value < grid.lo.value() || value > grid.hi.value()) {
        why = fmt::format("{0} {1} is not settable: the controller takes {2} {1} to {3} {1}", number->text(),
                          unit, grid.lo.text(), grid.hi.text());
        return std::nullopt;
    }
    std::int64_t low = std::clamp<std::int64_t>(grid.below(value), 0, grid.count());
    std::int64_t high = std::clamp<std::int64_t>(grid.above(value), 0, grid.count());
    why = fmt::format("{0} {1} is not settable: nearest are {2} {1} and {3} {1}", number->text(), unit,
                      grid.text(low), grid.text(high));
    return std::nullopt;
}

Length length(const program::Segment& segment, const program::Controller& controller) {
    std::string dwell = segment.dwell >= 0 ? controller.dwell.text(segment.dwell) : "";
    bool timed = segment.ramp_time >= 0 && controller.ramp_time;
    switch (segment.kind) {
    case SegmentKind::ramp:
        return {timed ? controller.ramp_time->text(segment.ramp_time) : nominal(segment.duration_s), ""};
    case SegmentKind::ramp_dwell: {
        double both = segment.duration_s - (segment.dwell >= 0 ? controller.dwell.value(segment.dwell) : 0);
        return {timed ? controller.ramp_time->text(segment.ramp_time) : nominal(std::max(0.0, both)), dwell};
    }
    case SegmentKind::dwell:
    case SegmentKind::step: return {dwell, ""};
    default: return {};
    }
}

std::vector<std::string> cautions(const Context& context) {
    std::vector<std::string> list{
        "Athanor checks a plan against a model. It is no safety device and replaces no hardware interlock, no "
        "risk "
        "assessment, no trained supervision. Local codes and licensed practice prevail."};
    for (const std::string& text : context.assurance.cautions)
        if (text != list.front()) list.push_back(text);
    std::string open;
    for (const prove::Row& row : context.assurance.rows)
        if (row.rule == "fault" && row.outcome() == prove::Outcome::needs_interlock)
            open += (open.empty() ? "" : "; ") + row.title;
    if (!open.empty())
        list.push_back("No interlock is declared for these faults, and no valve answers them: " + open + ".");
    return list;
}

} // namespace athanor::targets
