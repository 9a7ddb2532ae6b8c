#include "targets/sheet/rows.hpp"

#include "targets/words.hpp"

#include <functional>

namespace athanor::targets::sheet {
namespace {

using program::Segment;
using program::SegmentKind;

std::string join(std::string& list, std::uint32_t number) {
    return list += (list.empty() ? "" : " ") + std::to_string(number);
}

std::string segment_text(const Column& column, const program::Program& program, const program::Part& part,
                         std::size_t index, const Context& context) {
    const Segment& segment = part.segments[index];
    const program::Controller& controller = program.controller;
    bool moves = segment.kind == SegmentKind::ramp || segment.kind == SegmentKind::ramp_dwell;
    switch (column.field) {
    case Field::program: return std::to_string(part.number);
    case Field::segment: return std::to_string(index + 1);
    case Field::kind: return std::string(word(segment.kind));
    case Field::start: return segment.kind == SegmentKind::end ? "" : nominal(segment.start_degC);
    case Field::target:
        return column.index < segment.targets.size() ? controller.setpoint.text(segment.targets[column.index])
                                                     : "";
    case Field::rate:
        return moves && controller.rate && column.index < segment.rates.size()
                   ? controller.rate->text(segment.rates[column.index])
                   : "";
    case Field::duration: return length(segment, controller).duration;
    case Field::dwell: return length(segment, controller).dwell;
    case Field::band:
        return segment.band >= 0 && controller.soak_band ? controller.soak_band->text(segment.band) : "";
    case Field::output:
        return (segment.outputs >> (program.outputs[column.index].number - 1) & 1U) != 0 ? "1" : "0";
    case Field::channel:
        return column.index < segment.channels.size() ? Decimal{segment.channels[column.index], -3}.text() : "";
    case Field::loop_start:
    case Field::loop_passes: {
        // The inner loop first, where two end at one segment.
        std::string list;
        for (const program::Loop& loop : part.loops)
            if (loop.last == index)
                join(list, column.field == Field::loop_start ? loop.first + 1 : loop.passes);
        return list;
    }
    case Field::next:
        return segment.kind == SegmentKind::end && part.next != 0 ? std::to_string(part.next) : "";
    case Field::instruction: return segment.instruction;
    case Field::source: return place(segment.source, context);
    }
    return "";
}

std::string threshold_text(const Column& column, const program::Program& program, const program::Part& part,
                           const program::ThresholdOutput& threshold, const Context& context) {
    switch (column.field) {
    case Field::program: return std::to_string(part.number);
    case Field::kind: return "threshold";
    case Field::target: return column.index == 0 ? program.controller.setpoint.text(threshold.temperature) : "";
    case Field::output:
        if (program.outputs[column.index].number != threshold.output) return "";
        return threshold.energised_above ? "1" : "0";
    case Field::instruction: return threshold.instruction;
    case Field::source: return place(threshold.source, context);
    default: return "";
    }
}

} // namespace

std::vector<std::vector<std::string>> rows(const program::Program& program, const std::vector<Column>& columns,
                                           const Context& context) {
    std::vector<std::vector<std::string>> list;
    auto append = [&](const std::function<std::string(const Column&)>& text) {
        std::vector<std::string>& row = list.emplace_back();
        for (const Column& column : columns) row.push_back(text(column));
    };
    for (const program::Part& part : program.parts) {
        if (!part.hand_over.empty())
            append([&](const Column& column) -> std::string {
                if (column.field == Field::program) return std::to_string(part.number);
                if (column.field == Field::kind) return "operator";
                return column.field == Field::instruction ? part.hand_over : "";
            });
        for (const program::ThresholdOutput& threshold : part.thresholds)
            append([&](const Column& column) {
                return threshold_text(column, program, part, threshold, context);
            });
        for (std::size_t i = 0; i < part.segments.size(); ++i)
            append([&](const Column& column) { return segment_text(column, program, part, i, context); });
    }
    return list;
}

} // namespace athanor::targets::sheet
