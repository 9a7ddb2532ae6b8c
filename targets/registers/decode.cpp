#include "targets/layout/render.hpp"
#include "targets/registers/registers.hpp"
#include "targets/sheet/rows.hpp"
#include "targets/words.hpp"

#include <cmath>

#include <fmt/format.h>

namespace athanor::targets::registers {
namespace {

using layout::Measure;
using sheet::Cell;
using sheet::Column;
using sheet::Field;
using Row = std::vector<Cell>;

struct Wrong {
    std::string message;
};

class Decoder {
public:
    Decoder(const Map& map, const std::map<std::uint16_t, std::uint16_t>& memory,
            const std::map<std::uint32_t, std::string>& hand_overs, const program::Program& shape)
        : map_(map), memory_(memory), hand_overs_(hand_overs), shape_(shape),
          columns_(sheet::every_column(shape)) {}

    const std::vector<Column>& columns() const { return columns_; }

    std::vector<Row> run() {
        std::vector<Row> rows;
        const Register& kind = *map_.find(What::kind);
        for (std::uint32_t number = 1; number <= std::max(1U, shape_.controller.programs); ++number) {
            number_ = number;
            segment_ = 0;
            if (!written(kind)) continue; // another programme of the controller, not ours
            before(rows);
            // A controller that holds fewer segments than it says would run on into old ones.
            std::int64_t limit = 100'000;
            if (const Register* count = map_.find(What::segments)) limit = whole(*count);
            bool ended = false;
            for (segment_ = 0; segment_ < limit && !ended; ++segment_) {
                rows.push_back(segment());
                ended = cell(rows.back(), Field::kind).text == "end";
            }
            if (!ended)
                throw Wrong{fmt::format("programme {} has no end within its {} segments", number, limit)};
            if (const Register* count = map_.find(What::segments); count && segment_ != limit)
                throw Wrong{fmt::format("programme {} ends at segment {} and is said to hold {}", number,
                                        segment_, limit)};
        }
        return rows;
    }

private:
    bool written(const Register& reg) const {
        std::uint32_t at = address(map_, reg, number_, static_cast<std::size_t>(segment_));
        return at <= 65535 && memory_.contains(static_cast<std::uint16_t>(at));
    }
    double raw(const Register& reg) const {
        std::vector<std::uint16_t> packed;
        for (std::uint32_t i = 0; i < words(reg.type); ++i) {
            std::uint32_t at = address(map_, reg, number_, static_cast<std::size_t>(segment_)) + i;
            auto found = at > 65535 ? memory_.end() : memory_.find(static_cast<std::uint16_t>(at));
            if (found == memory_.end())
                throw Wrong{fmt::format("programme {}, segment {}: register {} at {} was never written",
                                        number_, segment_ + 1, name(reg.what), at)};
            packed.push_back(found->second);
        }
        return unpack(map_, reg.type, packed);
    }
    std::int64_t whole(const Register& reg) const { return static_cast<std::int64_t>(raw(reg)); }

    [[noreturn]] void wrong(const Register& reg, std::string_view why) const {
        throw Wrong{fmt::format("programme {}, segment {}: register {}: {}", number_, segment_ + 1,
                                name(reg.what), why)};
    }

    /// The figure as the table says it; nothing where it stands for nothing.
    std::string figure(const Register& reg, const std::optional<Grid>& grid, bool may_be_none) const {
        double value = raw(reg);
        bool single = reg.type == Type::float32;
        if (may_be_none && (single ? static_cast<float>(value) == static_cast<float>(reg.none)
                                   : static_cast<std::int64_t>(value) == reg.none))
            return "";
        if (single) return single_figure(reg, grid, value);
        const Decimal& step = *reg.scale.step;
        // Counts of 32 bits times a step of a few digits.
        std::optional<Decimal> table =
            layout::table_figure(reg.scale, {static_cast<std::int64_t>(value) * step.mantissa, step.exponent});
        if (!table) wrong(reg, fmt::format("{:g} is no figure", value));
        return table->text();
    }

    /// A binary fraction stands for the settable value that is written by it, bit for bit.
    std::string single_figure(const Register& reg, const std::optional<Grid>& grid, double value) const {
        if (!grid || !std::isfinite(value))
            wrong(reg, fmt::format("{:g} is no figure of this controller", value));
        double scale = static_cast<double>(reg.scale.numerator) / static_cast<double>(reg.scale.denominator);
        double step = reg.scale.step->value(), offset = reg.scale.offset.value();
        std::int64_t k = grid->nearest((value * step - offset) * scale);
        if (!grid->holds(k)) wrong(reg, fmt::format("{:g} {} is not settable", value * step, reg.scale.unit));
        auto again = static_cast<float>((grid->value(k) / scale + offset) / step);
        if (again != static_cast<float>(value))
            wrong(reg, fmt::format("{:g} {} is no settable value; nearest is {}", value * step, reg.scale.unit,
                                   grid->text(k)));
        return grid->text(k);
    }

    Row empty_row() const { return Row(columns_.size(), Cell{"", 0, 0}); }
    Cell& cell(Row& row, Field field, std::size_t index = 0) const {
        for (std::size_t i = 0; i < columns_.size(); ++i)
            if (columns_[i].field == field && columns_[i].index == index) return row[i];
        throw Wrong{"this map names what the controller does not have"};
    }
    bool has(Field field, std::size_t index) const {
        for (const Column& column : columns_)
            if (column.field == field && column.index == index) return true;
        return false;
    }

    void before(std::vector<Row>& rows) const {
        if (auto found = hand_overs_.find(number_); found != hand_overs_.end() && !found->second.empty()) {
            Row row = empty_row();
            cell(row, Field::program).text = std::to_string(number_);
            cell(row, Field::kind).text = "operator";
            cell(row, Field::instruction).text = found->second;
            rows.push_back(std::move(row));
        }
        const Register* output = map_.find(What::threshold_output);
        const Register* temperature = map_.find(What::threshold_temperature);
        const Register* above = map_.find(What::threshold_above);
        if (!output || whole(*output) == output->none) return;
        if (!temperature || !above) wrong(*output, "a threshold without its temperature or its side");
        Row row = empty_row();
        cell(row, Field::program).text = std::to_string(number_);
        cell(row, Field::kind).text = "threshold";
        cell(row, Field::target).text = figure(*temperature, shape_.controller.setpoint, false);
        bool found = false;
        for (std::size_t i = 0; i < shape_.outputs.size(); ++i)
            if (shape_.outputs[i].number == whole(*output)) {
                cell(row, Field::output, i).text = whole(*above) != 0 ? "1" : "0";
                found = true;
            }
        if (!found) wrong(*output, fmt::format("there is no output {}", whole(*output)));
        rows.push_back(std::move(row));
    }

    Row segment() const {
        Row row = empty_row();
        cell(row, Field::program).text = std::to_string(number_);
        cell(row, Field::segment).text = std::to_string(segment_ + 1);
        const std::string kind = segment_word();
        cell(row, Field::kind).text = kind;
        for (const Register& reg : map_.registers)
            if (const std::optional<std::size_t> place = place_of(reg)) take(reg, *place, kind, row);
        return row;
    }

    std::string segment_word() const {
        const Register& reg = *map_.find(What::kind);
        const std::int64_t code = whole(reg);
        for (const auto& [name, value] : map_.kinds)
            if (value == code) return name;
        wrong(reg, fmt::format("{} is no kind", code));
    }

    /// Which zone, output or channel a register is of, 0 for one of none; nothing where this rig has none of
    /// its name.
    std::optional<std::size_t> place_of(const Register& reg) const {
        if (reg.of.empty() || reg.what == What::outputs) return 0;
        return layout::index_of(names_of(reg.what), reg.of[0], shape_);
    }

    /// What a register says of a segment into the cell where a table has it.
    void take(const Register& reg, std::size_t place, const std::string& kind, Row& row) const {
        const program::Controller& c = shape_.controller;
        const bool ramp = kind == "ramp" || kind == "ramp_dwell", still = kind == "operator" || kind == "end";
        const bool either =
            map_.find(What::rate) && map_.find(What::ramp_time); // one of them stands for nothing
        switch (reg.what) {
        case What::target: cell(row, Field::target, place).text = figure(reg, c.setpoint, still); break;
        case What::rate:
            if (ramp) cell(row, Field::rate, place).text = figure(reg, c.rate, either);
            break;
        case What::ramp_time:
            if (ramp) cell(row, Field::duration).text = figure(reg, c.ramp_time, either);
            break;
        case What::dwell:
            if (kind == "ramp_dwell")
                cell(row, Field::dwell).text = figure(reg, c.dwell, false);
            else if (kind == "dwell" || kind == "step")
                cell(row, Field::duration).text = figure(reg, c.dwell, kind == "step");
            break;
        case What::soak_band:
            if (!still) cell(row, Field::band).text = figure(reg, c.soak_band, true);
            break;
        case What::output: cell(row, Field::output, place).text = std::to_string(whole(reg)); break;
        case What::outputs: bits(reg, row); break;
        case What::channel:
            if (has(Field::channel, place))
                cell(row, Field::channel, place).text =
                    figure(reg, Grid{{0, 0}, {1000000000, 0}, {1, -3}}, false);
            break;
        case What::loop_start: unless_none(reg, Field::loop_start, row); break;
        case What::loop_passes: unless_none(reg, Field::loop_passes, row); break;
        case What::next:
            if (kind == "end") unless_none(reg, Field::next, row);
            break;
        default: break;
        }
    }

    void unless_none(const Register& reg, Field field, Row& row) const {
        if (const std::int64_t value = whole(reg); value != reg.none)
            cell(row, field).text = std::to_string(value);
    }

    void bits(const Register& reg, Row& row) const {
        std::int64_t value = whole(reg);
        if (value < 0 || (reg.of.size() < 32 && value >> reg.of.size() != 0))
            wrong(reg, fmt::format("{} has a bit that no output has", value));
        for (std::size_t i = 0; i < reg.of.size(); ++i)
            if (auto found = layout::index_of(Field::output, reg.of[i], shape_))
                cell(row, Field::output, *found).text = (value >> i & 1) != 0 ? "1" : "0";
    }

    const Map& map_;
    const std::map<std::uint16_t, std::uint16_t>& memory_;
    const std::map<std::uint32_t, std::string>& hand_overs_;
    const program::Program& shape_;
    std::vector<Column> columns_;
    std::uint32_t number_ = 1;
    std::int64_t segment_ = 0;
};

} // namespace

std::optional<program::Program> decode(const Map& map, const std::map<std::uint16_t, std::uint16_t>& memory,
                                       const std::map<std::uint32_t, std::string>& hand_overs,
                                       const program::Program& shape, ReadError& error) {
    try {
        Decoder decoder(map, memory, hand_overs, shape);
        std::vector<Row> rows = decoder.run();
        return sheet::assemble(decoder.columns(), rows, shape, error);
    } catch (const Wrong& wrong) {
        error = {0, 0, wrong.message};
        return std::nullopt;
    }
}

} // namespace athanor::targets::registers
