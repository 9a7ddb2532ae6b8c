#pragma once
#include <cstdint>
#include <string_view>

namespace athanor {

struct Character {
    std::uint32_t size = 0; // bytes
    char32_t code = 0;
};

/// A character that shows nothing itself: it turns the direction of what is shown, or only splits words. A text
/// with one reads differently from how it looks (Unicode Technical Report 36, 3.1; Unicode Technical Standard
/// 39, 3.1: none of them is allowed in identifiers; they are of the general category Cf). A control character
/// is one as well (category Cc), but for tabs and what ends a line.
struct Invisible {
    std::uint32_t size = 0; // bytes, 0 where none stands
    char32_t character = 0;
    bool turns = false; // the direction of what stands behind it
};

/// The character of valid UTF-8 at `at`, and its bytes.
inline Character character_at(std::string_view text, std::size_t at) {
    const auto byte = [&](std::size_t i) -> char32_t {
        return at + i < text.size() ? static_cast<unsigned char>(text[at + i]) : 0U;
    };
    const char32_t lead = byte(0);
    if (lead < 0xC2) return {1, lead};
    const std::uint32_t size = lead < 0xE0 ? 2 : lead < 0xF0 ? 3 : 4;
    char32_t c = lead & (0x7FU >> size);
    for (std::uint32_t i = 1; i < size; ++i) c = c << 6U | (byte(i) & 0x3FU);
    return {size, c};
}

inline Invisible invisible_at(std::string_view text, std::size_t at) {
    const Character found = character_at(text, at);
    const char32_t c = found.code;
    const auto in = [c](char32_t first, char32_t last) { return c >= first && c <= last; };
    if (found.size == 1) { // or inside of another character
        const bool control = (c < 0x20 && !in('\t', '\r')) || c == 0x7F;
        return control ? Invisible{1, c, false} : Invisible{};
    }
    const bool turns = in(0x202A, 0x202E) || in(0x2066, 0x2069) || c == 0x200E || c == 0x200F || c == 0x061C;
    const bool hides = turns || in(0x0080, 0x009F) || c == 0x00AD || c == 0x034F || c == 0x180E ||
                       in(0x200B, 0x200D) || in(0x2060, 0x206F) || c == 0x3164 || c == 0xFEFF ||
                       in(0xFFF9, 0xFFFB) || in(0x1BCA0, 0x1BCA3) || in(0x1D173, 0x1D17A) ||
                       in(0xE0000, 0xE007F);
    return hides ? Invisible{found.size, c, turns} : Invisible{};
}

} // namespace athanor
