// A unified diff of two texts by the longest common subsequence of their lines.
#include "compiler/driver/repair.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>

namespace athanor::driver {
namespace {

constexpr std::size_t around = 3;             // lines of context, as patch(1) expects
constexpr std::size_t most_cells = 4'000'000; // of the table; beyond it the changed middle is one block

std::vector<std::string_view> lines_of(std::string_view text) {
    std::vector<std::string_view> lines;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find('\n'), text.size() - 1) + 1;
        lines.push_back(text.substr(0, end));
        text.remove_prefix(end);
    }
    return lines;
}

struct Line {
    char mark; // ' ', '-', '+'
    std::string_view text;
};

/// The lines of both, equal ones once. Equal beginnings and ends are set aside first: the table is small.
std::vector<Line> aligned(const std::vector<std::string_view>& a, const std::vector<std::string_view>& b) {
    std::vector<Line> out;
    std::size_t front = 0, back = 0;
    while (front < a.size() && front < b.size() && a[front] == b[front]) ++front;
    while (back < a.size() - front && back < b.size() - front &&
           a[a.size() - 1 - back] == b[b.size() - 1 - back])
        ++back;
    const std::size_t n = a.size() - front - back, m = b.size() - front - back;
    for (std::size_t i = 0; i < front; ++i) out.push_back({' ', a[i]});
    std::vector<std::uint32_t> common; // longest common subsequence of the tails
    if ((n + 1) * (m + 1) <= most_cells) {
        common.assign((n + 1) * (m + 1), 0);
        for (std::size_t i = n; i-- > 0;)
            for (std::size_t j = m; j-- > 0;)
                common[i * (m + 1) + j] = a[front + i] == b[front + j] ? common[(i + 1) * (m + 1) + j + 1] + 1
                                                                       : std::max(common[(i + 1) * (m + 1) + j],
                                                                                  common[i * (m + 1) + j + 1]);
    }
    std::size_t i = 0, j = 0;
    while (i < n || j < m) {
        const bool table = !common.empty();
        if (table && i < n && j < m && a[front + i] == b[front + j]) {
            out.push_back({' ', a[front + i]});
            ++i, ++j;
        } else if (i < n &&
                   (j == m || !table || common[(i + 1) * (m + 1) + j] >= common[i * (m + 1) + j + 1])) {
            out.push_back({'-', a[front + i++]});
        } else {
            out.push_back({'+', b[front + j++]});
        }
    }
    for (std::size_t k = a.size() - back; k < a.size(); ++k) out.push_back({' ', a[k]});
    return out;
}

} // namespace

std::string unified_diff(const std::string& before, const std::string& after, const std::string& path) {
    if (before == after) return {};
    const std::vector<Line> lines = aligned(lines_of(before), lines_of(after));
    std::string text = fmt::format("--- {0}\n+++ {0}\n", path);
    std::size_t old_line = 1, new_line = 1; // of lines[done]
    std::size_t done = 0;
    const auto changed = [&](std::size_t k) { return lines[k].mark != ' '; };
    while (done < lines.size()) {
        std::size_t first = done;
        while (first < lines.size() && !changed(first)) ++first;
        if (first == lines.size()) break;
        std::size_t last = first; // of the hunk's changes: gaps of up to twice the context are bridged
        for (std::size_t k = first; k < lines.size() && k <= last + 2 * around; ++k)
            if (changed(k)) last = k;
        const std::size_t begin = std::max(done, first - std::min(first, around)),
                          end = std::min(lines.size(), last + around + 1);
        for (; done < begin; ++done) ++old_line, ++new_line;
        std::size_t old_count = 0, new_count = 0;
        std::string body;
        for (; done < end; ++done) {
            const Line& line = lines[done];
            old_count += line.mark != '+';
            new_count += line.mark != '-';
            body += line.mark;
            body += line.text;
            if (!line.text.ends_with('\n')) body += "\n\\ No newline at end of file\n";
        }
        // An empty side counts from the line before it (POSIX diff, unified format).
        text += fmt::format("@@ -{},{} +{},{} @@\n{}", old_count == 0 ? old_line - 1 : old_line, old_count,
                            new_count == 0 ? new_line - 1 : new_line, new_count, body);
        old_line += old_count;
        new_line += new_count;
    }
    return text;
}

} // namespace athanor::driver
