#include "compiler/driver/instructions.hpp"

#include "targets/csv/text.hpp"
#include "targets/json/locate.hpp"

#include <algorithm>
#include <charconv>
#include <string>
#include <vector>

namespace athanor::driver {
namespace {

using Place = std::pair<std::size_t, std::size_t>;

std::size_t index_of(const program::Program& table, std::uint32_t part) {
    std::size_t p = 0;
    while (p + 1 < table.parts.size() && table.parts[p].number != part) ++p;
    return p;
}

/// `words`: of the instruction, else of its row.
Place in_json(const replay::Asked& asked, bool words, std::string_view bytes, const program::Program& table) {
    using targets::json::Step;
    const std::size_t p = index_of(table, asked.row.first);
    std::vector<Step> path{{"programs", 0}, {"", p}};
    if (asked.threshold) {
        // The list holds those of all programmes; they are looked through in its own order.
        const std::string wanted = std::to_string(asked.row.first);
        std::size_t left = *asked.threshold, all = 0;
        for (const program::Part& part : table.parts) all += part.thresholds.size();
        for (std::size_t i = 0; i < all; ++i) {
            const std::size_t at = targets::json::locate(bytes, {{"thresholds", 0}, {"", i}, {"program", 0}});
            const std::string_view number = bytes.substr(at, bytes.find_first_of(", \r\n}", at) - at);
            if (number == wanted && left-- == 0) path = {{"thresholds", 0}, {"", i}, {"instruction", 0}};
        }
    } else if (!words) {
        if (asked.row.second != 0) path.insert(path.end(), {{"segments", 0}, {"", asked.row.second - 1U}});
    } else if (asked.row.second == 0) {
        path.push_back({"hand_over", 0});
    } else {
        path.insert(path.end(), {{"segments", 0}, {"", asked.row.second - 1U}, {"instruction", 0}});
    }
    const targets::json::Place place = targets::json::place_of(bytes, targets::json::locate(bytes, path));
    return {place.line, place.column};
}

Place in_csv(const replay::Asked& asked, std::string_view bytes) {
    std::vector<std::vector<targets::csv::Cell>> rows;
    targets::ReadError error;
    if (!targets::csv::split(bytes, rows, error) || rows.empty()) return {1, 1};
    const auto column = [&](std::string_view name) {
        std::size_t i = 0;
        while (i < rows[0].size() && rows[0][i].text != name) ++i;
        return i;
    };
    const std::size_t program = column("program"), segment = column("segment"), kind = column("kind"),
                      words = column("instruction");
    const std::string part = std::to_string(asked.row.first);
    const std::string number = asked.row.second == 0 ? "" : std::to_string(asked.row.second);
    std::size_t left = asked.threshold.value_or(0);
    for (std::size_t r = 1; r < rows.size(); ++r) {
        const std::vector<targets::csv::Cell>& row = rows[r];
        if (row.size() != rows[0].size() || row[program].text != part || row[segment].text != number) continue;
        if ((row[kind].text == "threshold") != asked.threshold.has_value() || left-- != 0) continue;
        return {row[words].line, row[words].column};
    }
    return {1, 1};
}

/// A format that is read line by line: a segment's `source` is its line (targets/sheet/rows.hpp).
Place by_line(const replay::Asked& asked, const program::Program& table) {
    if (table.parts.empty() || asked.row.second == 0) return {1, 1};
    const program::Part& part = table.parts[index_of(table, asked.row.first)];
    if (asked.row.second > part.segments.size()) return {1, 1};
    return {std::max<std::size_t>(1, part.segments[asked.row.second - 1].source.begin), 1};
}

} // namespace

Place place_of(const replay::Asked& asked, const targets::Target& target, std::string_view bytes,
               const program::Program& table) {
    if (target.name == "json") return in_json(asked, true, bytes, table);
    if (target.name == "csv") return in_csv(asked, bytes);
    return by_line(asked, table);
}

std::pair<std::size_t, std::size_t> place_of(std::string_view message, const targets::Target& target,
                                             std::string_view bytes, const program::Program& table) {
    const auto number_behind = [&](std::string_view front) -> std::uint32_t {
        if (!message.starts_with(front)) return 0;
        std::uint32_t number = 0;
        const char* end = message.data() + message.size();
        const auto [stop, code] = std::from_chars(message.data() + front.size(), end, number);
        if (code == std::errc{}) message.remove_prefix(static_cast<std::size_t>(stop - message.data()));
        return code == std::errc{} ? number : 0;
    };
    replay::Asked asked;
    if (const std::uint32_t before = number_behind("before programme "); before != 0) {
        asked.row = {before, 0};
    } else {
        asked.row.first = number_behind("programme ");
        asked.row.second = number_behind(" segment ");
        if (asked.row.first == 0 || asked.row.second == 0) return {0, 0};
    }
    if (target.name == "json") return in_json(asked, false, bytes, table);
    return {target.name == "csv" ? in_csv(asked, bytes).first : by_line(asked, table).first, 1};
}

} // namespace athanor::driver
