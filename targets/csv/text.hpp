#pragma once
#include "targets/sheet/columns.hpp"
#include "targets/target.hpp"

#include <string>
#include <string_view>
#include <vector>

/// RFC 4180 text: lines end in CR LF, a field that holds a comma, a quote or a line end is quoted, quotes
/// double.
namespace athanor::targets::csv {

using sheet::Cell;

void append_field(std::string& out, std::string_view field);

/// False with `error` set for a quote that does not close, text behind a closing quote, a bare quote, a bare
/// CR, a NUL, bytes that are no UTF-8. LF alone is taken as a line end, and a byte order mark is skipped:
/// spreadsheets write both. Empty lines are skipped.
bool split(std::string_view bytes, std::vector<std::vector<Cell>>& rows, ReadError& error);

/// Text that a spreadsheet would run as a formula (= + - @ TAB CR in front) gets an apostrophe in front; so
/// does text that begins with an apostrophe, so that `disarmed` loses nothing.
std::string harmless(std::string_view text);
std::string disarmed(std::string_view cell);

} // namespace athanor::targets::csv
