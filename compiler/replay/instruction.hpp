#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// What a table's instruction asks of a person, in the words that our tables use. Whatever reads otherwise is
/// kept as text.
namespace athanor::replay {

enum class Order : std::uint8_t {
    open,  // line, flow (empty: none said)
    close, // line
    set,   // line, flow
    light,
    shut,
    start_pump,
    stop_pump,
    regulate, // value: pressure; empty: no longer
    humidify, // line, value: temperature of the bath
    move,     // value: place
    open_tube,
    after_end, // value: what goes on by itself behind the last row; nobody does it
    text       // value
};

struct Word {
    Order order = Order::text;
    std::string line, value;
};

/// "open argon at 1.5 L/min; close hydrogen" in its parts. Neighbouring parts that are no order are one text.
std::vector<Word> words_of(std::string_view instruction);

/// A threshold's instruction: "open argon above 650 °C, at 0.4 L/min" gives the flow; "" where none is said.
std::string threshold_flow(std::string_view instruction);
/// It says that the line closes on the named side.
bool threshold_closes(std::string_view instruction);

/// All of it, where it is in the words of our tables.
struct ThresholdWords {
    bool opens = true; // on the named side
    std::string line;
    bool above = true;
    std::string temperature; // "650 °C"
};
std::optional<ThresholdWords> threshold_words(std::string_view instruction);

/// "at the end argon falls open and flows until it is shut by hand" in its parts.
struct AfterEnd {
    enum class Goes : std::uint8_t {
        closed, // it falls closed
        open,   // it falls open
        on      // it stays as it is
    } goes = Goes::closed;
    std::string subject; // "argon", "the burner's feed"
};
std::optional<AfterEnd> after_end(std::string_view part);

} // namespace athanor::replay
