#pragma once
#include "compiler/check/equipment.hpp"
#include "compiler/quantity/type.hpp"

#include <string>
#include <string_view>

/// Rows of a name and what it says, for a terminal of 80 columns.
namespace athanor::driver {

/// Words behind `line`, broken at 80 columns; every further line begins in one column.
void print_wrapped(std::string line, const std::string& words);
/// Nothing where the value is empty. The reference, in parentheses, says where it comes from.
void print_row(std::string_view name, const std::string& value, const std::string& reference = {});
/// Nothing where the figure is not given.
void print_row(std::string_view name, const check::Figure& figure, Kind kind);
/// "18 °C to 28 °C"; empty where it is not given.
std::string shown(const check::Figure& figure, Kind kind);
/// The figure's reference; of one that was not declared: "assumed", and by what.
std::string origin(const check::Figure& figure);

} // namespace athanor::driver
