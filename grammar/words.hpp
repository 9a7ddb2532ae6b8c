#pragma once
#include "compiler/source/spelling.hpp"

#include <array>
#include <cstdint>
#include <string_view>

namespace athanor::grammar {

/// Every word with a meaning of its own; `none` is any other identifier.
enum class Word : std::uint8_t {
    none,
#define WORD(identifier, text, flags) identifier,
#include "grammar/words.def"
#undef WORD
};

/// How each word is written, from the one behind `none` on.
inline constexpr std::array word_texts{
#define WORD(identifier, text, flags) std::string_view(text),
#include "grammar/words.def"
#undef WORD
};

/// Number of words; `none` is none of them, and the others are 1 to this.
constexpr unsigned word_count() {
    return static_cast<unsigned>(word_texts.size());
}
/// All of them, by how they are written.
extern const Lexicon<word_count()> lexicon;
/// The word that the first `size` bytes of a text are, else `Word::none`.
inline Word word_of(std::string_view text, std::size_t size) {
    return static_cast<Word>(lexicon.number(Spelling(text, size), text.substr(0, size)));
}
inline Word word_of(std::string_view text) {
    return word_of(text, text.size());
}
constexpr std::string_view text_of(Word word) {
    return word == Word::none ? std::string_view() : word_texts[static_cast<std::size_t>(word) - 1];
}

enum WordFlag : std::uint8_t { reserved_flag = 1, step_flag = 2, declares_flag = 4, policy_flag = 8 };
/// By `Word`.
inline constexpr auto word_flags = [] {
    constexpr unsigned reserved = reserved_flag, step = step_flag, declares = declares_flag,
                       in_policy = policy_flag;
    return std::array{
        std::uint8_t{0},
#define WORD(identifier, text, flags) static_cast<std::uint8_t>(flags),
#include "grammar/words.def"
#undef WORD
    };
}();
constexpr bool has_flag(Word word, WordFlag flag) {
    return (word_flags[static_cast<std::size_t>(word)] & flag) != 0;
}

/// A reserved word is never a name.
constexpr bool reserved(Word word) {
    return has_flag(word, reserved_flag);
}
/// Words that begin a statement of a block, a declaration of a file, a line of a policy.
constexpr bool begins_step(Word word) {
    return has_flag(word, step_flag);
}
constexpr bool begins_declaration(Word word) {
    return has_flag(word, declares_flag);
}
constexpr bool begins_policy_line(Word word) {
    return has_flag(word, policy_flag);
}

/// Number of edits (a letter changed, added, dropped, or two neighbours exchanged) between two words, at
/// most 3.
unsigned edit_distance(std::string_view a, std::string_view b);

/// Whether a name that is not known surely means one that is: one edit, inside a part (between `_`) of four
/// letters or more. Names that differ in a number or in one letter that stands alone are two things.
bool surely_named(std::string_view wrong, std::string_view right);

/// "oxygen" for "O2" or "o2", the formula of a gas of the standard library; empty for anything else.
std::string_view gas_of_formula(std::string_view formula);
/// Is it the name of a gas of the standard library that has a formula?
bool library_gas(std::string_view name);

/// What is said of `cool to RT`, by whoever reads it.
inline constexpr std::string_view room_is_no_target =
    "the room's temperature is no target: a furnace that cools by itself comes near it and never there";
inline constexpr std::string_view room_remedy =
    "write the temperature at which the run may end, such as `cool to 50 degC`";
/// The same for `set temperature to 700 degC`.
inline constexpr std::string_view set_moves_no_temperature =
    "`set` changes the flow of a line; the set-point is moved with `ramp`, `heat` or `step`";
/// And of `30 M` and `3 K/m`, where minutes are meant.
inline constexpr std::string_view metre_and_minute = "`m` is the metre; a minute is `min`";
/// Names are lower case; a capital letter in one is told where it is read, and nothing more is said of it.
bool has_capital(std::string_view name);

} // namespace athanor::grammar
