#include "compiler/driver/table_rows.hpp"

#include "targets/csv/text.hpp"
#include "targets/json/locate.hpp"

#include <algorithm>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace athanor::driver {
namespace {

using replay::Finding;
using targets::csv::Cell;
using targets::json::Step;

Span span_of(std::size_t begin, std::size_t end) {
    return {0, static_cast<std::uint32_t>(begin), static_cast<std::uint32_t>(end)};
}

/// A line, counted from 1, without its end.
std::optional<Span> line_span(std::string_view bytes, std::size_t number) {
    if (number == 0) return std::nullopt;
    std::size_t begin = 0;
    for (std::size_t line = 1; line < number; ++line) {
        begin = bytes.find('\n', begin);
        if (begin == std::string_view::npos) return std::nullopt;
        ++begin;
    }
    std::size_t end = std::min(bytes.find('\n', begin), bytes.size());
    while (end > begin && bytes[end - 1] == '\r') --end;
    return span_of(begin, end);
}

std::optional<std::size_t> index_of(const program::Program& program, std::uint32_t number) {
    for (std::size_t p = 0; p < program.parts.size(); ++p)
        if (program.parts[p].number == number) return p;
    return std::nullopt;
}

std::optional<Span> in_json(const ReadTable& table, const Finding& finding) {
    const std::optional<std::size_t> part = index_of(table.program, finding.row.first);
    if (!part) return std::nullopt;
    std::vector<Step> path{{"programs", 0}, {"", *part}};
    if (finding.threshold) {
        // The list holds those of all programmes; they are looked through in its own order.
        const std::string wanted = std::to_string(finding.row.first);
        std::size_t left = *finding.threshold, all = 0;
        for (const program::Part& one : table.program.parts) all += one.thresholds.size();
        for (std::size_t i = 0; i < all; ++i) {
            const std::size_t at =
                targets::json::locate(table.bytes, {{"thresholds", 0}, {"", i}, {"program", 0}});
            const std::size_t end = table.bytes.find_first_of(", \r\n}", at);
            if (table.bytes.substr(at, end - at) == wanted && left-- == 0)
                path = {{"thresholds", 0}, {"", i}, {"instruction", 0}};
        }
    } else if (finding.row.second == 0) {
        if (finding.words) path.push_back({"hand_over", 0});
    } else {
        path.insert(path.end(), {{"segments", 0}, {"", finding.row.second - 1U}});
        if (finding.words) path.push_back({"instruction", 0});
    }
    const std::size_t at = targets::json::locate(table.bytes, path);
    return span_of(at, at + 1);
}

std::optional<Span> in_csv(const ReadTable& table, const Finding& finding) {
    std::vector<std::vector<Cell>> rows;
    targets::ReadError error;
    if (!targets::csv::split(table.bytes, rows, error) || rows.empty()) return std::nullopt;
    const auto column = [&](std::string_view name) {
        const auto found =
            std::find_if(rows[0].begin(), rows[0].end(), [&](const Cell& cell) { return cell.text == name; });
        return static_cast<std::size_t>(found - rows[0].begin());
    };
    const std::size_t program = column("program"), segment = column("segment"), kind = column("kind"),
                      words = column("instruction");
    const std::string part = std::to_string(finding.row.first);
    const std::string number = finding.row.second == 0 ? "" : std::to_string(finding.row.second);
    std::size_t left = finding.threshold.value_or(0);
    for (std::size_t r = 1; r < rows.size(); ++r) {
        const std::vector<Cell>& row = rows[r];
        if (row.size() != rows[0].size() || row[program].text != part || row[segment].text != number) continue;
        if ((row[kind].text == "threshold") != finding.threshold.has_value() || left-- != 0) continue;
        const Cell& from = finding.words ? row[words] : row[0];
        std::optional<Span> line = line_span(table.bytes, from.line);
        if (line) line->begin = std::min(line->begin + static_cast<std::uint32_t>(from.column - 1), line->end);
        return line;
    }
    return std::nullopt;
}

/// A format that is read line by line: a segment's `source` is its line (targets/sheet/rows.hpp).
std::optional<Span> by_line(const ReadTable& table, const Finding& finding) {
    const std::optional<std::size_t> part = index_of(table.program, finding.row.first);
    if (!part || finding.row.second == 0) return std::nullopt;
    const std::vector<program::Segment>& segments = table.program.parts[*part].segments;
    if (finding.row.second > segments.size()) return std::nullopt;
    return line_span(table.bytes, segments[finding.row.second - 1].source.begin);
}

} // namespace

Span row_span(const ReadTable& table, replay::RowName row) {
    return finding_span(table, {row, ""});
}

Span finding_span(const ReadTable& table, const Finding& finding) {
    const auto in_format = [&](const Finding& one) {
        return table.target.name == "json"  ? in_json(table, one)
               : table.target.name == "csv" ? in_csv(table, one)
                                            : by_line(table, one);
    };
    if (const std::optional<Span> found = in_format(finding)) return *found;
    // What is done before a programme may have no row: its first segment's stands nearest.
    if (finding.row.second == 0)
        if (const std::optional<Span> found = in_format({{finding.row.first, 1}, ""})) return *found;
    return line_span(table.bytes, 1).value_or(Span{});
}

Misfit misfit(const ReadTable& table, const Finding& finding) {
    std::optional<Span> place;
    if (finding.row.first != 0) place = finding_span(table, finding);
    return {place, replay::text_of(finding)};
}

} // namespace athanor::driver
