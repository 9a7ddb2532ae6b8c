#pragma once
#include <optional>
#include <string>
#include <vector>

/// A design of experiments as the command line says it: parameters, and the values each of them takes.
namespace athanor::driver {

struct Factor {
    std::string parameter;
    std::vector<std::string> values; // expressions of the language
};

/// "peak=900 degC to 980 degC by 20 K" or "soak=[30 min, 45 min]". A range ends with its last value when steps
/// meet it, else below it. `most`: values that are not worth listing any more. Nothing: `why` says what is
/// wrong, and `too_many` that there are more than `most`.
std::optional<Factor> factor_of(const std::string& text, std::size_t most, std::string& why, bool& too_many);

/// Points of the full design, or more than `most`.
std::size_t points_of(const std::vector<Factor>& factors, std::size_t most);

/// The value of each factor at a point; the first factor changes slowest.
std::vector<std::string> point_at(const std::vector<Factor>& factors, std::size_t point);

} // namespace athanor::driver
