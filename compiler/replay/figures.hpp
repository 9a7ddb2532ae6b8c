#pragma once
#include "compiler/quantity/type.hpp"
#include "compiler/timeline/timeline.hpp"

#include <optional>
#include <string>
#include <string_view>

/// Figures in the words of a table: how far two of them may lie apart and still be the same.
namespace athanor::replay {

struct Quantity {
    double si = 0;
    Kind kind = Kind::poison;
    double shown = 5e-4; // share of it that its four digits leave open
};

inline constexpr double exact = 0; // of a number that no text has rounded

/// "1.5 L/min", "25 °C"; also "25 ?C", which an ASCII layout makes of it.
std::optional<Quantity> quantity(std::string_view text);
bool near(const Quantity& a, const Quantity& b);

/// mol/s of a flow in words; a meter that shows volumes says how much gas that is.
std::optional<Quantity> flow_said(const timeline::Line& line, std::string_view text);
/// Null: the rig has no line of that name.
const timeline::Line* line_named(const timeline::Timeline& timeline, std::string_view name);

} // namespace athanor::replay
