#include "compiler/replay/finding.hpp"

#include <fmt/format.h>

namespace athanor::replay {

std::string row_text(RowName row) {
    if (row.first == 0) return "the rig and controller of the table";
    if (row.second == 0) return fmt::format("before programme {}", row.first);
    return fmt::format("programme {}, segment {}", row.first, row.second);
}

std::string text_of(const Finding& finding) {
    return finding.row.first == 0 ? finding.message : row_text(finding.row) + ": " + finding.message;
}

} // namespace athanor::replay
