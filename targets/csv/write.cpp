#include "targets/csv/csv.hpp"
#include "targets/csv/metadata.hpp"
#include "targets/csv/text.hpp"
#include "targets/sheet/rows.hpp"

namespace athanor::targets::csv {
using sheet::Column;
using sheet::Field;

std::vector<OutputFile> write(const program::Program& program, const Context& context, std::string_view stem) {
    std::vector<Column> columns = sheet::needed_columns(program);
    std::string out;
    for (std::size_t i = 0; i < columns.size(); ++i) {
        if (i != 0) out += ',';
        append_field(out, columns[i].name);
    }
    out += "\r\n";
    for (const std::vector<std::string>& row : sheet::rows(program, columns, context)) {
        for (std::size_t i = 0; i < row.size(); ++i) {
            if (i != 0) out += ',';
            bool free_text = columns[i].field == Field::instruction || columns[i].field == Field::source;
            append_field(out, free_text ? harmless(row[i]) : row[i]);
        }
        out += "\r\n";
    }
    std::string name(stem);
    return {{name + ".csv", out}, {name + ".csv-metadata.json", metadata(program, columns, context, name)}};
}

} // namespace athanor::targets::csv
