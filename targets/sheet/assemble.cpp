#include "targets/sheet/rows.hpp"

#include "targets/words.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <set>

#include <fmt/format.h>

namespace athanor::targets::sheet {
namespace {

using program::Segment;
using program::SegmentKind;

/// The first thing that is wrong with a table; thrown inside this file only.
struct Wrong {
    ReadError error;
};

[[noreturn]] void wrong(const Cell& cell, std::string message) {
    throw Wrong{{cell.line, cell.column, std::move(message)}};
}

std::optional<std::uint32_t> whole(std::string_view text) {
    std::uint32_t value = 0;
    auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (code != std::errc{} || end != text.data() + text.size()) return std::nullopt;
    return value;
}

std::uint32_t whole_number(const Cell& cell, const std::string& column, std::uint32_t lo, std::uint32_t hi) {
    std::optional<std::uint32_t> value = whole(cell.text);
    if (!value || *value < lo || *value > hi)
        wrong(cell, fmt::format("{}: `{}` is no whole number from {} to {}", column, cell.text, lo, hi));
    return *value;
}

std::int64_t on_grid(const Cell& cell, const std::string& column, const std::optional<Grid>& grid,
                     std::string_view unit) {
    if (!grid) wrong(cell, column + ": this controller takes none");
    std::string why;
    std::optional<std::int64_t> k = settable(*grid, cell.text, unit, why);
    if (!k) wrong(cell, column + ": " + why);
    return *k;
}

class Reader {
public:
    Reader(const program::Program& shape, const std::vector<Column>& columns)
        : shape_(shape), columns_(columns) {
        program_ = shape;
        program_.parts.clear();
        for (const Column& column : every_column(shape))
            if (column.always && !has(column.field, column.index))
                throw Wrong{{1, 0, "the column " + column.name + " is missing"}};
        if (has(Field::loop_start, 0) != has(Field::loop_passes, 0))
            throw Wrong{{1, 0, "loop_start and loop_passes stand only together"}};
    }

    void row(const std::vector<Cell>& cells) {
        if (cells.size() != columns_.size())
            throw Wrong{{cells.back().line, cells.back().column,
                         fmt::format("{} fields in a table of {} columns", cells.size(), columns_.size())}};
        cells_ = &cells;
        last_ = cells.front();
        program::Part& part = part_of_row();
        const Cell& kind = cell(Field::kind);
        if (kind.text == "threshold") return threshold(part);
        std::optional<SegmentKind> found = segment_kind(kind.text);
        if (!found)
            wrong(kind,
                  fmt::format("kind: `{}` is none of ramp, dwell, step, ramp_dwell, operator, threshold, end",
                              kind.text));
        if (*found == SegmentKind::operator_wait && cell(Field::segment).text.empty()) return hand_over(part);
        segment(part, *found);
    }

    program::Program finish() {
        // What lacks at the end is told at the last row.
        if (program_.parts.empty()) wrong(last_, "the table has no rows");
        for (const program::Part& part : program_.parts) {
            if (part.segments.empty() || part.segments.back().kind != SegmentKind::end)
                wrong(last_,
                      fmt::format("programme {} has no row of kind end{}", part.number,
                                  &part == &program_.parts.back() ? ": is the table cut off here?" : ""));
            if (part.next != 0 && std::none_of(program_.parts.begin(), program_.parts.end(),
                                               [&](const program::Part& p) { return p.number == part.next; }))
                wrong(last_, fmt::format("programme {} goes on in programme {}, which the table does not hold",
                                         part.number, part.next));
        }
        return std::move(program_);
    }

private:
    bool has(Field field, std::size_t index) const {
        return std::any_of(columns_.begin(), columns_.end(),
                           [&](const Column& c) { return c.field == field && c.index == index; });
    }
    const Cell& cell(Field field, std::size_t index = 0) const {
        static const Cell empty;
        for (std::size_t i = 0; i < columns_.size(); ++i)
            if (columns_[i].field == field && columns_[i].index == index) return (*cells_)[i];
        return empty;
    }
    const std::string& column_name(Field field, std::size_t index = 0) const {
        static const std::string none;
        for (const Column& column : columns_)
            if (column.field == field && column.index == index) return column.name;
        return none;
    }
    void must_be_empty(Field field, std::string_view where) const {
        for (std::size_t i = 0; i < columns_.size(); ++i)
            if (columns_[i].field == field && !(*cells_)[i].text.empty())
                wrong((*cells_)[i], fmt::format("{}: a row of kind {} has none", columns_[i].name, where));
    }

    program::Part& part_of_row() {
        const Cell& at = cell(Field::program);
        std::uint32_t number = whole_number(at, column_name(Field::program), 1, 1000000);
        if (program_.parts.empty() || program_.parts.back().number != number) {
            for (const program::Part& part : program_.parts)
                if (part.number == number)
                    wrong(at, fmt::format("programme {} was already closed by another", number));
            program_.parts.emplace_back().number = number;
        }
        program::Part& part = program_.parts.back();
        if (!part.segments.empty() && part.segments.back().kind == SegmentKind::end)
            wrong(at, fmt::format("a row behind the end of programme {}", number));
        return part;
    }

    void threshold(program::Part& part) {
        if (!part.segments.empty()) wrong(cell(Field::kind), "a threshold stands before segment 1");
        for (Field field : {Field::segment, Field::rate, Field::duration, Field::dwell, Field::band,
                            Field::channel, Field::loop_start, Field::loop_passes, Field::next, Field::start})
            must_be_empty(field, "threshold");
        program::ThresholdOutput threshold;
        threshold.temperature =
            on_grid(cell(Field::target), column_name(Field::target, 0), shape_.controller.setpoint, "degC");
        for (std::size_t z = 1; z < shape_.zones.size(); ++z)
            if (const Cell& other = cell(Field::target, z); !other.text.empty())
                wrong(other, "a threshold follows the first zone only");
        for (std::size_t i = 0; i < shape_.outputs.size(); ++i) {
            const Cell& bit = cell(Field::output, i);
            if (bit.text.empty()) continue;
            if (threshold.output != 0) wrong(bit, "a threshold moves one output; this row names a second");
            threshold.output = shape_.outputs[i].number;
            threshold.energised_above = whole_number(bit, column_name(Field::output, i), 0, 1) == 1;
        }
        if (threshold.output == 0) wrong(cell(Field::kind), "this threshold names no output");
        threshold.instruction = cell(Field::instruction).text;
        part.thresholds.push_back(std::move(threshold));
    }

    void hand_over(program::Part& part) {
        if (!part.segments.empty())
            wrong(cell(Field::segment), "segment: only a row before segment 1 has no number");
        if (!part.hand_over.empty()) wrong(cell(Field::kind), "a second hand-over for one programme");
        for (Field field :
             {Field::start, Field::target, Field::rate, Field::duration, Field::dwell, Field::band,
              Field::output, Field::channel, Field::loop_start, Field::loop_passes, Field::next})
            must_be_empty(field, "operator before segment 1");
        part.hand_over = cell(Field::instruction).text;
        if (part.hand_over.empty()) wrong(cell(Field::instruction), "a hand-over without a word on what to do");
    }

    void segment(program::Part& part, SegmentKind kind) {
        Segment segment;
        segment.kind = kind;
        auto number = static_cast<std::uint32_t>(part.segments.size() + 1);
        const Cell& at = cell(Field::segment);
        if (whole(at.text) != number)
            wrong(at, fmt::format("segment: `{}` where {} comes next", at.text, number));
        targets(segment);
        moves(segment);
        bits(segment);
        channels(segment);
        if (kind != SegmentKind::end) must_be_empty(Field::next, cell(Field::kind).text);
        if (const Cell& next = cell(Field::next); !next.text.empty())
            part.next = whole_number(next, column_name(Field::next), 1, 1000000);
        loops(part, number, kind);
        nominal_start(segment);
        segment.instruction = cell(Field::instruction).text;
        const auto line = static_cast<std::uint32_t>(cells_->front().line);
        segment.source = {0, line, line};
        part.segments.push_back(std::move(segment));
    }

    void targets(Segment& segment) {
        std::size_t zones = std::max<std::size_t>(1, shape_.zones.size());
        bool optional = segment.kind == SegmentKind::end || segment.kind == SegmentKind::operator_wait;
        for (std::size_t z = 0; z < zones; ++z) {
            const Cell& at = cell(Field::target, z);
            if (at.text.empty() && optional && segment.targets.empty()) continue;
            if (z != segment.targets.size()) wrong(at, "a target for some zones and not for others");
            segment.targets.push_back(
                on_grid(at, column_name(Field::target, z), shape_.controller.setpoint, "degC"));
        }
    }

    void moves(Segment& segment) {
        const program::Controller& controller = shape_.controller;
        const std::string& kind = cell(Field::kind).text;
        bool ramp = segment.kind == SegmentKind::ramp || segment.kind == SegmentKind::ramp_dwell;
        const Cell& duration = cell(Field::duration);
        const Cell& band = cell(Field::band);
        if (!ramp) must_be_empty(Field::rate, kind);
        if (segment.kind != SegmentKind::ramp_dwell) must_be_empty(Field::dwell, kind);
        if (segment.kind == SegmentKind::end || segment.kind == SegmentKind::operator_wait) {
            must_be_empty(Field::duration, kind);
            must_be_empty(Field::band, kind);
            return;
        }
        if (!band.text.empty())
            segment.band = on_grid(band, column_name(Field::band), controller.soak_band, "K");
        if (ramp) {
            ramp_form(segment, duration);
            if (segment.kind == SegmentKind::ramp_dwell && !has(Field::dwell, 0))
                wrong(cell(Field::kind),
                      "kind: a ramp_dwell has a dwell of its own, and the table no column for it");
            if (segment.kind == SegmentKind::ramp_dwell)
                segment.dwell = on_grid(cell(Field::dwell), column_name(Field::dwell), controller.dwell, "s");
            if (segment.dwell >= 0) segment.duration_s += controller.dwell.value(segment.dwell);
            return;
        }
        if (segment.kind == SegmentKind::dwell || !duration.text.empty())
            segment.dwell = on_grid(duration, column_name(Field::duration), controller.dwell, "s");
        if (segment.dwell >= 0) segment.duration_s = controller.dwell.value(segment.dwell);
    }

    void ramp_form(Segment& segment, const Cell& duration) {
        const program::Controller& controller = shape_.controller;
        std::size_t zones = std::max<std::size_t>(1, shape_.zones.size());
        bool rates = false;
        for (std::size_t z = 0; z < zones; ++z) rates = rates || !cell(Field::rate, z).text.empty();
        if (!rates) {
            segment.ramp_time = on_grid(duration, column_name(Field::duration) + " (a ramp without a rate)",
                                        controller.ramp_time, "s");
            segment.duration_s = controller.ramp_time->value(segment.ramp_time);
            return;
        }
        for (std::size_t z = 0; z < zones; ++z)
            segment.rates.push_back(
                on_grid(cell(Field::rate, z), column_name(Field::rate, z), controller.rate, "K/min"));
        segment.duration_s = std::nan(""); // not said
        if (duration.text.empty()) return;
        std::optional<Decimal> nominal =
            duration.text.size() > 18 ? std::nullopt : Decimal::parse(duration.text);
        if (!nominal || nominal->value() < 0)
            wrong(duration, fmt::format("{}: `{}` is no length", column_name(Field::duration), duration.text));
        segment.duration_s = nominal->value();
    }

    void bits(Segment& segment) {
        for (std::size_t i = 0; i < shape_.outputs.size(); ++i) {
            std::uint32_t bit = whole_number(cell(Field::output, i), column_name(Field::output, i), 0, 1);
            segment.outputs |= bit << (shape_.outputs[i].number - 1);
        }
    }

    void channels(Segment& segment) {
        for (std::size_t i = 0; i < shape_.channels.size(); ++i) {
            const Cell& at = cell(Field::channel, i);
            if (at.text.empty() && segment.kind == SegmentKind::end && segment.channels.empty()) continue;
            if (i != segment.channels.size()) wrong(at, "a set-point for some channels and not for others");
            Grid fine{{0, 0}, {1000000000, 0}, {1, -3}};
            segment.channels.push_back(on_grid(at, column_name(Field::channel, i), fine, "sccm"));
        }
    }

    void loops(program::Part& part, std::uint32_t number, SegmentKind kind) {
        const Cell& start = cell(Field::loop_start);
        const Cell& passes = cell(Field::loop_passes);
        if (start.text.empty() && passes.text.empty()) return;
        if (kind == SegmentKind::end) wrong(start, "a loop cannot end at the end of the programme");
        std::string_view a = start.text, b = passes.text;
        while (!a.empty() || !b.empty()) {
            auto take = [](std::string_view& text) {
                std::string_view word = text.substr(0, text.find(' '));
                text.remove_prefix(std::min(text.size(), word.size() + 1));
                return word;
            };
            std::optional<std::uint32_t> first = whole(take(a)), times = whole(take(b));
            if (!first || *first < 1 || *first > number)
                wrong(start, fmt::format("loop_start: `{}` is no segment from 1 to {}", start.text, number));
            if (!times || *times < 1)
                wrong(passes, fmt::format("loop_passes: `{}` is no count for each loop", passes.text));
            part.loops.push_back({*first - 1, number - 1, *times});
        }
    }

    void nominal_start(Segment& segment) {
        const Cell& start = cell(Field::start);
        segment.start_degC = std::nan(""); // not said
        if (start.text.empty()) return;
        std::optional<Decimal> value = start.text.size() > 18 ? std::nullopt : Decimal::parse(start.text);
        if (!value) wrong(start, fmt::format("start_degC: `{}` is no temperature", start.text));
        segment.start_degC = value->value();
    }

    const program::Program& shape_;
    program::Program program_;
    const std::vector<Column>& columns_;
    const std::vector<Cell>* cells_ = nullptr;
    Cell last_; // the first of the last row
};

} // namespace

std::optional<program::Program> assemble(const std::vector<Column>& columns,
                                         const std::vector<std::vector<Cell>>& rows,
                                         const program::Program& shape, ReadError& error) {
    try {
        Reader reader(shape, columns);
        for (const std::vector<Cell>& row : rows) reader.row(row);
        return reader.finish();
    } catch (const Wrong& found) {
        error = found.error;
        return std::nullopt;
    }
}

} // namespace athanor::targets::sheet
