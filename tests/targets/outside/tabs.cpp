// The smallest back end that can be read back: the table's columns with tabs between them.
#include "targets/sheet/rows.hpp"
#include "targets/target.hpp"

#include <algorithm>
#include <sstream>

namespace {

using namespace athanor;
using targets::sheet::Cell;
using targets::sheet::Column;
using Rows = std::vector<std::vector<Cell>>;

std::vector<targets::OutputFile> write(const program::Program& program, const targets::Context& context,
                                       std::string_view stem) {
    std::vector<Column> columns = targets::sheet::needed_columns(program);
    std::string text;
    for (const Column& column : columns) text += column.name + '\t';
    for (const std::vector<std::string>& row : targets::sheet::rows(program, columns, context)) {
        text += '\n';
        for (std::string cell : row) {
            std::replace(cell.begin(), cell.end(), '\t', ' ');
            std::replace(cell.begin(), cell.end(), '\n', ' ');
            text += cell + '\t';
        }
    }
    return {{std::string(stem) + ".tabs", text + '\n'}};
}

std::optional<program::Program> read(std::string_view bytes, const program::Program& shape,
                                     targets::ReadError& error) {
    Rows rows;
    std::istringstream lines{std::string(bytes)};
    for (std::string line; std::getline(lines, line);) {
        std::vector<Cell>& row = rows.emplace_back();
        std::istringstream cells(line);
        for (std::string cell; std::getline(cells, cell, '\t');) row.push_back({cell, rows.size(), 1});
    }
    std::vector<Column> known = targets::sheet::every_column(shape), columns;
    for (const Cell& title : rows.empty() ? std::vector<Cell>{} : rows.front())
        for (const Column& column : known)
            if (column.name == title.text) columns.push_back(column);
    if (rows.empty() || columns.size() != rows.front().size()) {
        error = {1, 1, "a title is missing or unknown"};
        return std::nullopt;
    }
    rows.erase(rows.begin());
    // Whatever is not settable, missing or too much is refused there.
    return targets::sheet::assemble(columns, rows, shape, error);
}

const targets::Registration tabs{
    targets::Target{"tabs", "the table's columns with tabs between them", write, read, "tabs", {}, true}};

} // namespace
