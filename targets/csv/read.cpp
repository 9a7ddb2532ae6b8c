#include "targets/csv/csv.hpp"
#include "targets/csv/text.hpp"
#include "targets/sheet/rows.hpp"

#include <algorithm>
#include <set>

#include <fmt/format.h>

namespace athanor::targets::csv {
namespace {

using sheet::Column;
using sheet::Field;

/// The columns of a header row; nothing, with `error` set, where one is unknown or stands twice.
std::optional<std::vector<Column>> header(const std::vector<Cell>& cells, const program::Program& shape,
                                          ReadError& error) {
    std::vector<Column> known = sheet::every_column(shape), columns;
    std::set<std::string> seen;
    for (const Cell& cell : cells) {
        auto found =
            std::find_if(known.begin(), known.end(), [&](const Column& c) { return c.name == cell.text; });
        if (found == known.end()) {
            std::string list;
            for (const Column& column : known) list += (list.empty() ? "" : ", ") + column.name;
            error = {cell.line, cell.column,
                     fmt::format("there is no column `{}` for this controller and rig; there are {}", cell.text,
                                 list)};
            return std::nullopt;
        }
        if (!seen.insert(cell.text).second) {
            error = {cell.line, cell.column, "the column " + cell.text + " stands here a second time"};
            return std::nullopt;
        }
        columns.push_back(*found);
    }
    return columns;
}

} // namespace

std::optional<program::Program> read(std::string_view bytes, const program::Program& shape, ReadError& error) {
    std::vector<std::vector<Cell>> rows;
    if (!split(bytes, rows, error)) return std::nullopt;
    if (rows.empty()) {
        error = {1, 1, "the file is empty"};
        return std::nullopt;
    }
    std::optional<std::vector<Column>> columns = header(rows.front(), shape, error);
    if (!columns) return std::nullopt;
    rows.erase(rows.begin());
    for (std::vector<Cell>& row : rows)
        for (std::size_t i = 0; i < row.size() && i < columns->size(); ++i)
            if ((*columns)[i].field == Field::instruction) row[i].text = disarmed(row[i].text);
    return sheet::assemble(*columns, rows, shape, error);
}

} // namespace athanor::targets::csv
