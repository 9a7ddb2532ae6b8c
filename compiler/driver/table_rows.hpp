#pragma once
#include "compiler/replay/finding.hpp"
#include "compiler/source/span.hpp"
#include "targets/target.hpp"

#include <optional>
#include <string>
#include <string_view>

/// Where the rows of a table stand in its bytes.
namespace athanor::driver {

/// A table that was read, with what it was read from.
struct ReadTable {
    const targets::Target& target;
    std::string_view bytes;
    const program::Program& program;
};

/// The row's line; in a format whose rows are no lines, where the row begins. Of a row that has no place of its
/// own, and of the table as a whole, its first line. In bytes; file 0.
Span row_span(const ReadTable& table, replay::RowName row);

/// A fault of a table and where it stands; nothing: of its run as a whole.
struct Misfit {
    std::optional<Span> place;
    std::string message;
};

Misfit misfit(const ReadTable& table, const replay::Finding& finding);

/// As narrow as the format allows: the words of a row, where it is they that are wrong.
Span finding_span(const ReadTable& table, const replay::Finding& finding);

} // namespace athanor::driver
