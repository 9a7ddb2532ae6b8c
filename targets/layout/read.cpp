#include "targets/layout/render.hpp"
#include "targets/sheet/rows.hpp"

#include <algorithm>
#include <charconv>

#include <fmt/format.h>

namespace athanor::targets::layout {
namespace {

using sheet::Cell;
using sheet::Column;
using sheet::Field;

struct Wrong {
    ReadError error;
};
[[noreturn]] void wrong(const Cell& cell, std::string message) {
    throw Wrong{{cell.line, cell.column, std::move(message)}};
}

struct Line {
    std::string_view text;
    std::size_t number = 0;
};

std::vector<Line> lines(const Layout& layout, std::string_view bytes) {
    std::vector<Line> list;
    std::size_t number = 0;
    while (!bytes.empty()) {
        std::size_t end = bytes.find('\n');
        std::string_view text = bytes.substr(0, end);
        bytes.remove_prefix(end == std::string_view::npos ? bytes.size() : end + 1);
        ++number;
        if (text.ends_with('\r')) text.remove_suffix(1);
        if (text.empty() || (!layout.comment.empty() && text.starts_with(layout.comment))) continue;
        list.push_back({text, number});
    }
    return list;
}

std::vector<Cell> split_delimited(const Layout& layout, const Line& line) {
    std::vector<Cell> cells;
    std::string_view text = line.text;
    std::size_t at = 0;
    while (true) {
        Cell cell{"", line.number, at + 1};
        if (at < text.size() && text[at] == '"') {
            for (++at;; ++at) {
                if (at >= text.size()) wrong(cell, "a quote that does not close");
                if (text[at] != '"') {
                    cell.text += text[at];
                    continue;
                }
                if (at + 1 < text.size() && text[at + 1] == '"') {
                    cell.text += '"';
                    ++at;
                    continue;
                }
                ++at;
                break;
            }
            if (at < text.size() && text[at] != layout.delimiter[0]) wrong(cell, "text behind a closing quote");
        } else {
            std::size_t end = std::min(text.find(layout.delimiter[0], at), text.size());
            cell.text = text.substr(at, end - at);
            at = end;
        }
        cells.push_back(std::move(cell));
        if (at >= text.size()) return cells;
        ++at;
    }
}

std::string_view trimmed(std::string_view text) {
    while (text.starts_with(' ')) text.remove_prefix(1);
    while (text.ends_with(' ')) text.remove_suffix(1);
    return text;
}

std::vector<Cell> split_fixed(const Layout& layout, const Line& line) {
    std::vector<Cell> cells;
    std::size_t at = 0;
    auto letters = [&](std::size_t count) {
        std::size_t end = at;
        while (end < line.text.size() && count > 0) {
            ++end;
            while (end < line.text.size() && (static_cast<unsigned char>(line.text[end]) & 0xC0U) == 0x80U)
                ++end;
            --count;
        }
        return end;
    };
    for (std::size_t i = 0; i < layout.items.size(); ++i) {
        bool last = i + 1 == layout.items.size();
        std::size_t end = last ? line.text.size() : letters(width(layout.items[i].title));
        cells.push_back({std::string(trimmed(line.text.substr(at, end - at))), line.number, at + 1});
        at = end;
        if (last) break;
        if (at < line.text.size() && !line.text.substr(at).starts_with(layout.delimiter))
            throw Wrong{
                {line.number, at + 1, fmt::format("\"{}\" stands between two columns", layout.delimiter)}};
        at = std::min(line.text.size(), at + layout.delimiter.size());
    }
    return cells;
}

std::vector<std::vector<Cell>> split_blocks(const Layout& layout, const std::vector<Line>& list) {
    std::vector<std::vector<Cell>> rows;
    std::vector<bool> seen;
    for (const Line& line : list) {
        if (line.text == layout.block) {
            rows.emplace_back(layout.items.size(), Cell{"", line.number, 1});
            seen.assign(layout.items.size(), false);
            continue;
        }
        std::size_t sign = line.text.find(layout.assign);
        Cell at{std::string(line.text), line.number, 1};
        if (sign == std::string_view::npos)
            wrong(at, fmt::format("`{}` is no key{}value", at.text, layout.assign));
        if (rows.empty()) wrong(at, fmt::format("a key before the first line `{}`", layout.block));
        std::string_view key = line.text.substr(0, sign);
        std::size_t i = 0;
        while (i < layout.items.size() && layout.items[i].title != key) ++i;
        if (i == layout.items.size()) wrong(at, fmt::format("the layout has no key `{}`", key));
        if (seen[i]) wrong(at, fmt::format("the key `{}` stands here a second time", key));
        seen[i] = true;
        rows.back()[i] = {std::string(line.text.substr(sign + layout.assign.size())), line.number,
                          sign + layout.assign.size() + 1};
    }
    return rows;
}

/// From the cells of the layout to those of the table.
class Translation {
public:
    Translation(const Layout& layout, const program::Program& shape) : layout_(layout), shape_(shape) {
        columns_ = sheet::every_column(shape);
        std::erase_if(columns_, [&](const Column& column) {
            if (column.field == Field::output || column.field == Field::channel ||
                (column.field == Field::target && column.index > 0))
                return !covers(column); // what cannot be guessed is missed by name
            bool pair = column.field == Field::loop_start || column.field == Field::loop_passes;
            return pair && !layout_.has(column.field);
        });
        // The user's own titles in messages.
        for (Column& column : columns_)
            for (const Item& item : layout_.items)
                if (item.field == column.field && means(item, column) && !item.title.empty())
                    column.name = item.title;
    }

    const std::vector<Column>& columns() const { return columns_; }

    std::vector<std::vector<Cell>> rows(const std::vector<std::vector<Cell>>& given) {
        std::vector<std::vector<Cell>> list;
        for (const std::vector<Cell>& cells : given) list.push_back(row(cells));
        infer(list);
        return list;
    }

private:
    bool means(const Item& item, const Column& column) const {
        if (item.field != column.field) return false;
        bool indexed = item.field == Field::output || item.field == Field::channel ||
                       item.field == Field::target || item.field == Field::rate;
        if (!indexed) return true;
        if (item.names.empty()) return column.index == 0;
        return std::any_of(item.names.begin(), item.names.end(), [&](const std::string& name) {
            return index_of(item.field, name, shape_) == column.index;
        });
    }
    bool covers(const Column& column) const {
        return std::any_of(layout_.items.begin(), layout_.items.end(),
                           [&](const Item& item) { return means(item, column); });
    }

    /// What a cell says of lines and zones that the programme does not use: as it is without power, or nothing.
    void unused(const Item& item, const Cell& cell) const {
        if (cell.text.empty() || cell.text == layout_.empty) return;
        if (item.field != Field::output) {
            if (!item.names.empty() && !index_of(item.field, item.names[0], shape_))
                wrong(cell, fmt::format("{}: `{}`, and this programme does not use `{}`", item.title, cell.text,
                                        item.names[0]));
            return;
        }
        for (std::size_t i = 0; i < item.names.size(); ++i)
            if (!index_of(Field::output, item.names[i], shape_) && energised(item, cell, i))
                wrong(cell,
                      fmt::format("{}: `{}` energises the output of `{}`, which this programme does not use",
                                  item.title, cell.text, item.names[i]));
    }

    std::vector<Cell> row(const std::vector<Cell>& cells) const {
        for (std::size_t i = 0; i < layout_.items.size(); ++i) unused(layout_.items[i], cells[i]);
        std::vector<Cell> out;
        Cell nothing{"", cells.empty() ? 0 : cells.front().line, 0};
        for (const Column& column : columns_) {
            Cell& to = out.emplace_back(nothing);
            for (std::size_t i = 0; i < layout_.items.size(); ++i)
                if (means(layout_.items[i], column)) {
                    to = cells[i];
                    if (to.text == layout_.empty) to.text.clear();
                    field(layout_.items[i], column, to);
                    break;
                }
        }
        return out;
    }

    void field(const Item& item, const Column& column, Cell& cell) const {
        if (cell.text.empty()) return;
        if (item.field == Field::kind) {
            cell.text = kind_word(layout_, cell.text);
        } else if (item.field == Field::output) {
            output(item, column, cell);
        } else if (item.measure != Measure::none) {
            std::string text = cell.text;
            if (layout_.decimal != ".") {
                if (text.find('.') != std::string::npos)
                    wrong(cell, fmt::format("{}: `{}` has a point for the decimal sign", item.title, text));
                std::replace(text.begin(), text.end(), layout_.decimal[0], '.');
            }
            std::optional<Decimal> number = text.size() > 18 ? std::nullopt : Decimal::parse(text);
            std::optional<Decimal> value = number ? table_figure(item.scale, *number) : std::nullopt;
            if (!value) wrong(cell, fmt::format("{}: `{}` is no number", item.title, cell.text));
            cell.text = value->text();
        }
    }

    void output(const Item& item, const Column& column, Cell& cell) const {
        std::size_t place = 0;
        while (place < item.names.size() && index_of(Field::output, item.names[place], shape_) != column.index)
            ++place;
        const bool on = energised(item, cell, place);
        cell.text = item.bits && cell.text[place] == '-' ? "" : on ? "1" : "0";
    }

    bool energised(const Item& item, const Cell& cell, std::size_t place) const {
        if (item.bits) {
            if (cell.text.size() != item.names.size() ||
                cell.text.find_first_not_of("01-") != std::string::npos)
                wrong(cell, fmt::format("{}: `{}` is no row of {} 0 and 1", item.title, cell.text,
                                        item.names.size()));
            return cell.text[place] == '1';
        }
        std::uint64_t number = 0;
        const char* end = cell.text.data() + cell.text.size();
        auto [stop, code] = std::from_chars(cell.text.data(), end, number);
        if (code != std::errc{} || stop != end || (item.names.size() < 64 && number >> item.names.size() != 0))
            wrong(cell,
                  fmt::format("{}: `{}` is no number of {} bits", item.title, cell.text, item.names.size()));
        return (number >> place & 1U) != 0;
    }

    Cell& at(std::vector<Cell>& row, Field field) const {
        static Cell spare;
        for (std::size_t i = 0; i < columns_.size(); ++i)
            if (columns_[i].field == field && columns_[i].index == 0) return row[i];
        return spare;
    }

    /// What a layout without these columns leaves to the order of its rows and to what they hold.
    void infer(std::vector<std::vector<Cell>>& list) const {
        std::uint32_t number = 0;
        std::string programme, target;
        for (std::size_t i = 0; i < list.size(); ++i) {
            std::vector<Cell>& row = list[i];
            if (!layout_.has(Field::program)) at(row, Field::program).text = "1";
            const std::string& now = at(row, Field::program).text;
            if (now != programme) number = 0, target.clear();
            programme = now;
            bool last = i + 1 == list.size() || at(list[i + 1], Field::program).text != now;
            if (!layout_.has(Field::kind)) at(row, Field::kind).text = kind(row, last, target);
            const std::string& kind = at(row, Field::kind).text;
            if (!layout_.has(Field::segment) && kind != "threshold")
                at(row, Field::segment).text = std::to_string(++number);
            if (!at(row, Field::target).text.empty() && kind != "threshold")
                target = at(row, Field::target).text;
        }
    }

    std::string kind(std::vector<Cell>& row, bool last, const std::string& before) const {
        bool rate = !at(row, Field::rate).text.empty(), time = !at(row, Field::duration).text.empty();
        bool dwell = !at(row, Field::dwell).text.empty(), band = !at(row, Field::band).text.empty();
        const std::string& target = at(row, Field::target).text;
        if (last && !rate && !time && !dwell && !band) return "end";
        if (target.empty()) return "operator";
        if (dwell) return "ramp_dwell";
        if (rate) return "ramp";
        if (time && (before.empty() || target == before)) return "dwell";
        return time && shape_.controller.ramp_time ? "ramp" : "step";
    }

    const Layout& layout_;
    const program::Program& shape_;
    std::vector<Column> columns_;
};

} // namespace

std::optional<program::Program> read(const Layout& layout, std::string_view bytes,
                                     const program::Program& shape, ReadError& error) {
    try {
        if (bytes.starts_with("\xEF\xBB\xBF")) bytes.remove_prefix(3);
        std::vector<Line> list = lines(layout, bytes);
        std::vector<std::vector<Cell>> rows;
        if (layout.form == Form::blocks) {
            rows = split_blocks(layout, list);
        } else {
            for (const Line& line : list)
                rows.push_back(layout.form == Form::fixed ? split_fixed(layout, line)
                                                          : split_delimited(layout, line));
            if (layout.header && !rows.empty()) {
                for (std::size_t i = 0; i < layout.items.size(); ++i)
                    if (i >= rows.front().size() ||
                        trimmed(rows.front()[i].text) != trimmed(layout.items[i].title))
                        wrong(rows.front()[std::min(i, rows.front().size() - 1)],
                              fmt::format("the title \"{}\" is expected here", layout.items[i].title));
                rows.erase(rows.begin());
            }
        }
        for (const std::vector<Cell>& row : rows)
            if (row.size() != layout.items.size())
                wrong(row.back(),
                      fmt::format("{} fields in a layout of {} columns", row.size(), layout.items.size()));
        Translation translation(layout, shape);
        std::vector<std::vector<Cell>> table = translation.rows(rows);
        return sheet::assemble(translation.columns(), table, shape, error);
    } catch (const Wrong& found) {
        error = found.error;
        return std::nullopt;
    }
}

} // namespace athanor::targets::layout
