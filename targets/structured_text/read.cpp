#include "targets/sheet/rows.hpp"
#include "targets/structured_text/structured_text.hpp"
#include "targets/words.hpp"

#include <algorithm>
#include <array>
#include <charconv>

#include <fmt/format.h>

namespace athanor::targets::structured_text {
namespace {

using sheet::Cell;
using sheet::Column;
using sheet::Field;
using Row = std::vector<Cell>;
using Constants = std::vector<std::pair<std::string, Value>>;

struct Wrong {
    ReadError error;
};
[[noreturn]] void wrong(const Value& at, std::string message) {
    throw Wrong{{at.line, at.column, std::move(message)}};
}

const Value* named(const Constants& list, std::string_view name) {
    for (const auto& [key, value] : list)
        if (key == name) return &value;
    return nullptr;
}
const Value& field(const Value& value, std::string_view name) {
    const Value* found = named(value.fields, name);
    if (!found) wrong(value, fmt::format("`{}` is missing", name));
    return *found;
}

std::int64_t whole(const Value& value, std::int64_t lo, std::int64_t hi) {
    std::string_view text = value.text;
    int base = 10;
    if (text.starts_with("16#")) text.remove_prefix(3), base = 16;
    std::int64_t number = 0;
    auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), number, base);
    if (value.string || code != std::errc{} || end != text.data() + text.size() || number < lo || number > hi)
        wrong(value, fmt::format("`{}` is no whole number from {} to {}", value.text, lo, hi));
    return number;
}
bool boolean(const Value& value) {
    if (value.text != "TRUE" && value.text != "FALSE")
        wrong(value, fmt::format("`{}` is neither TRUE nor FALSE", value.text));
    return value.text == "TRUE";
}

class Reader {
public:
    Reader(const program::Program& shape, const Constants& constants)
        : shape_(shape), constants_(constants), columns_(sheet::every_column(shape)) {}

    const std::vector<Column>& columns() const { return columns_; }

    std::vector<Row> run() {
        const Value& segments = constant("ATHANOR_SEGMENTS");
        std::size_t taken = 0;
        for (const Value& part : constant("ATHANOR_PROGRAMMES").list) {
            std::int64_t number = whole(field(part, "Number"), 1, 1000000);
            if (whole(field(part, "FirstSegment"), 1, 1000000000) != static_cast<std::int64_t>(taken) + 1)
                wrong(field(part, "FirstSegment"), fmt::format("{} comes next", taken + 1));
            auto left = static_cast<std::int64_t>(segments.list.size() - taken);
            auto count = static_cast<std::size_t>(whole(field(part, "SegmentCount"), 1, left));
            before(part, number);
            for (std::size_t i = 0; i < count; ++i)
                segment(segments.list[taken + i], part, number, static_cast<std::int64_t>(i + 1));
            taken += count;
        }
        if (taken != segments.list.size()) wrong(segments, "segments that belong to no programme");
        return std::move(rows_);
    }

private:
    const Value& constant(std::string_view name) const {
        const Value* found = named(constants_, name);
        if (!found) throw Wrong{{0, 0, fmt::format("the constant {} is missing", name)}};
        return *found;
    }

    Cell& cell(Row& row, Field field, std::size_t index = 0) const {
        for (std::size_t i = 0; i < columns_.size(); ++i)
            if (columns_[i].field == field && columns_[i].index == index) return row[i];
        throw Wrong{{0, 0, "the constants say what this controller and rig do not have"}};
    }
    void set(Row& row, Field field, std::size_t index, std::string text, const Value& at) const {
        cell(row, field, index) = {std::move(text), at.line, at.column};
    }
    Row begun(const Value& at, std::int64_t number, std::string_view kind) const {
        Row row(columns_.size(), Cell{"", at.line, at.column});
        cell(row, Field::program).text = std::to_string(number);
        cell(row, Field::kind).text = kind;
        return row;
    }

    /// A count times the unit that the text itself states.
    std::string figure(const Value& value, std::string_view unit_name) const {
        std::int64_t count = whole(value, -1'000'000'000'000, 1'000'000'000'000);
        const Value& unit_value = constant(unit_name);
        std::optional<Decimal> unit =
            unit_value.text.size() > 18 ? std::nullopt : Decimal::parse(unit_value.text);
        std::int64_t product = 0;
        if (!unit || unit->mantissa <= 0 || __builtin_mul_overflow(count, unit->mantissa, &product))
            wrong(unit_value, fmt::format("`{}` is no unit", unit_value.text));
        return Decimal{product, unit->exponent}.text();
    }
    void figure_or_none(Row& row, Field to, std::size_t index, const Value& value,
                        std::string_view unit) const {
        if (value.text != "-1") set(row, to, index, figure(value, unit), value);
    }

    void before(const Value& part, std::int64_t number) {
        if (const Value* text = named(part.fields, "Before"); text && !text->text.empty()) {
            Row row = begun(part, number, "operator");
            set(row, Field::instruction, 0, text->text, *text);
            rows_.push_back(std::move(row));
        }
        if (const Value* list = named(constants_, "ATHANOR_THRESHOLDS"))
            for (const Value& threshold : list->list) {
                if (whole(field(threshold, "Programme"), 1, 1000000) != number) continue;
                Row row = begun(threshold, number, "threshold");
                const Value& temperature = field(threshold, "Temperature");
                set(row, Field::target, 0, figure(temperature, "ATHANOR_SETPOINT_UNIT"), temperature);
                const Value& output = field(threshold, "Output");
                std::int64_t wanted = whole(output, 1, 32);
                std::size_t i = 0;
                while (i < shape_.outputs.size() && shape_.outputs[i].number != wanted) ++i;
                if (i == shape_.outputs.size()) wrong(output, fmt::format("there is no output {}", wanted));
                set(row, Field::output, i, boolean(field(threshold, "Above")) ? "1" : "0", output);
                rows_.push_back(std::move(row));
            }
    }

    void segment(const Value& s, const Value& part, std::int64_t programme, std::int64_t number) {
        auto kind = static_cast<program::SegmentKind>(whole(field(s, "Kind"), 0, 5));
        std::string_view kind_word = word(kind);
        Row row = begun(s, programme, kind_word);
        cell(row, Field::segment).text = std::to_string(number);
        std::size_t zones = std::max<std::size_t>(1, shape_.zones.size());
        const Value &targets = field(s, "Target"), &rates = field(s, "Rate");
        if (targets.list.size() != zones || rates.list.size() != zones)
            wrong(targets, fmt::format("a figure for each of {} zones is expected", zones));
        for (std::size_t z = 0; z < zones; ++z) {
            if (boolean(field(s, "HasTarget")))
                set(row, Field::target, z, figure(targets.list[z], "ATHANOR_SETPOINT_UNIT"), targets.list[z]);
            figure_or_none(row, Field::rate, z, rates.list[z], "ATHANOR_RATE_UNIT");
        }
        bool ramp = kind == program::SegmentKind::ramp || kind == program::SegmentKind::ramp_dwell;
        if (const Value& time = field(s, "RampTime"); ramp)
            figure_or_none(row, Field::duration, 0, time, "ATHANOR_RAMP_TIME_UNIT");
        else if (time.text != "-1")
            wrong(time, "only a ramp has one");
        figure_or_none(row, ramp ? Field::dwell : Field::duration, 0, field(s, "Dwell"), "ATHANOR_DWELL_UNIT");
        figure_or_none(row, Field::band, 0, field(s, "Band"), "ATHANOR_BAND_UNIT");
        const Value& outputs = field(s, "Outputs");
        std::int64_t bits = whole(outputs, 0, 0xFFFFFFFF);
        for (std::size_t i = 0; i < shape_.outputs.size(); ++i) {
            std::int64_t bit = std::int64_t{1} << (shape_.outputs[i].number - 1);
            set(row, Field::output, i, (bits & bit) != 0 ? "1" : "0", outputs);
            bits &= ~bit;
        }
        if (bits != 0) wrong(outputs, "a bit that no output has");
        flows(s, row);
        loops(row, programme, number);
        if (kind == program::SegmentKind::end)
            if (const Value& next = field(part, "NextNumber"); next.text != "0")
                set(row, Field::next, 0, next.text, next);
        rows_.push_back(std::move(row));
    }

    void flows(const Value& s, Row& row) const {
        if (shape_.channels.empty()) return;
        const Value& flow = field(s, "Flow");
        if (flow.list.size() != shape_.channels.size())
            wrong(flow, fmt::format("a figure for each of {} channels is expected", shape_.channels.size()));
        for (std::size_t i = 0; i < flow.list.size(); ++i) {
            std::int64_t value = whole(flow.list[i], -1, 1'000'000'000'000);
            if (value >= 0) set(row, Field::channel, i, Decimal{value, -3}.text(), flow.list[i]);
        }
    }

    void loops(Row& row, std::int64_t programme, std::int64_t number) const {
        const Value* list = named(constants_, "ATHANOR_LOOPS");
        if (!list) return;
        std::string starts, passes;
        for (const Value& loop : list->list) {
            if (whole(field(loop, "Programme"), 1, 1000000) != programme ||
                whole(field(loop, "LastSegment"), 1, 1000000) != number)
                continue;
            const char* gap = starts.empty() ? "" : " ";
            starts += gap + std::to_string(whole(field(loop, "FirstSegment"), 1, 1000000));
            passes += gap + std::to_string(whole(field(loop, "Passes"), 1, 1000000000));
        }
        cell(row, Field::loop_start).text = starts;
        cell(row, Field::loop_passes).text = passes;
    }

    const program::Program& shape_;
    const Constants& constants_;
    std::vector<Column> columns_;
    std::vector<Row> rows_;
};

/// A constant's own type, and the unit in the comment behind it, as the writer has them.
void check_constants(const Constants& constants, const program::Controller& c) {
    constexpr std::array<std::pair<std::string_view, std::string_view>, 5> units{
        std::pair{"ATHANOR_SETPOINT_UNIT", "degC"}, std::pair{"ATHANOR_RATE_UNIT", "K/min"},
        std::pair{"ATHANOR_RAMP_TIME_UNIT", "s"}, std::pair{"ATHANOR_DWELL_UNIT", "s"},
        std::pair{"ATHANOR_BAND_UNIT", "K"}};
    constexpr std::array<std::pair<std::string_view, std::string_view>, 4> arrays{
        std::pair{"ATHANOR_PROGRAMMES", "ATHANOR_PROGRAMME"}, std::pair{"ATHANOR_SEGMENTS", "ATHANOR_SEGMENT"},
        std::pair{"ATHANOR_LOOPS", "ATHANOR_LOOP"}, std::pair{"ATHANOR_THRESHOLDS", "ATHANOR_THRESHOLD"}};
    for (const auto& [name, value] : constants) {
        bool known = false;
        const auto is = [&, &name = name, &value = value](std::string_view wanted, std::string_view unit) {
            known = true;
            if (value.type != wanted)
                wrong(value, fmt::format("{} is declared as `{}`, it is `{}`", name, value.type, wanted));
            if (value.unit != unit)
                wrong(value, fmt::format("`{}` stands behind {}, its unit is {}", value.unit, name, unit));
        };
        for (const auto& [unit, text] : units)
            if (name == unit) is("LREAL", text);
        const std::optional<Grid> grids[] = {c.setpoint, c.rate, c.ramp_time, c.dwell, c.soak_band};
        for (std::size_t i = 0; i < units.size(); ++i) {
            if (name != units[i].first || !grids[i]) continue;
            const std::optional<Decimal> said =
                value.text.size() > 18 ? std::nullopt : Decimal::parse(value.text);
            if (const Decimal unit = unit_of(*grids[i]); !said || said->text() != unit.text())
                wrong(value, fmt::format("`{}` stands here, this controller is keyed in units of {} {}",
                                         value.text, unit.text(), units[i].second));
        }
        for (const auto& [array, type] : arrays)
            if (name == array) is(fmt::format("ARRAY [1..{}] OF {}", value.list.size(), type), value.unit);
        if (!known) wrong(value, fmt::format("there is no constant {}", name));
    }
}

/// What programs and people take from beside the figures.
void check_declared(const Parsed& parsed, const program::Program& program) {
    const std::string wanted = type_declarations(program);
    if (parsed.types != single_blanks(wanted)) {
        std::size_t line = parsed.types_line;
        std::string_view rest = wanted;
        std::string_view said = parsed.types;
        for (; !rest.empty(); ++line) {
            const std::string one = single_blanks(rest.substr(0, rest.find('\n')));
            if (!said.starts_with(one))
                throw Wrong{{line, 1, fmt::format("`{}` is expected in the declarations of types", one)}};
            said.remove_prefix(std::min(said.size(), one.size() + 1));
            rest.remove_prefix(std::min(rest.size(), rest.find('\n') + 1));
        }
        throw Wrong{{parsed.types_line, 1, "more types are declared than the constants have"}};
    }
    for (const auto& [text, line] : parsed.outputs)
        if (std::none_of(program.outputs.begin(), program.outputs.end(),
                         [&text = text](const auto& output) { return output_comment(output) == text; }))
            throw Wrong{{line, 1, fmt::format("`{}` is not so on this rig", text)}};
}

} // namespace

std::optional<program::Program> read(std::string_view bytes, const program::Program& shape, ReadError& error) {
    Parsed parsed;
    if (!parse(bytes, parsed, error)) return std::nullopt;
    try {
        Reader reader(shape, parsed.constants);
        std::vector<Row> rows = reader.run();
        check_constants(parsed.constants, shape.controller);
        std::optional<program::Program> program = sheet::assemble(reader.columns(), rows, shape, error);
        if (program) check_declared(parsed, *program);
        return program;
    } catch (const Wrong& wrong) {
        error = wrong.error;
        return std::nullopt;
    }
}

} // namespace athanor::targets::structured_text
