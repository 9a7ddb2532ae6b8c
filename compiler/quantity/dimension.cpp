#include "compiler/quantity/dimension.hpp"

#include <string_view>

namespace athanor {

std::string to_text(Dimension dimension) {
    std::string text;
    const auto append = [&](std::string_view symbol, int exponent) {
        if (exponent == 0) return;
        if (!text.empty()) text += ' ';
        text += symbol;
        if (exponent != 1) text += '^' + std::to_string(exponent);
    };
    append("kg", dimension.mass);
    append("m", dimension.length);
    append("s", dimension.time);
    append("K", dimension.temperature);
    append("mol", dimension.amount);
    append("A", dimension.current);
    return text.empty() ? "1" : text;
}

} // namespace athanor
