#pragma once
// The place where a rule stopped, as those who word it look at it.
#include "compiler/quantity/unit.hpp"
#include "grammar/explain.hpp"

#include <algorithm>
#include <array>
#include <initializer_list>
#include <utility>

namespace athanor::grammar {

struct Place {
    const Trouble& trouble;
    FileId file;
    std::string_view text;
    std::uint32_t at;
    std::string_view word; // the identifier at `at`, or empty

    Span span() const { return {file, trouble.begin, std::max(trouble.end, trouble.begin)}; }
    char here(std::uint32_t i = 0) const { return at + i < text.size() ? text[at + i] : '\0'; }
    bool wants(Word wanted) const {
        return std::find(trouble.wanted.begin(), trouble.wanted.end(),
                         Wanted{Wanted::Class::word, static_cast<std::uint8_t>(wanted)}) !=
               trouble.wanted.end();
    }
    bool wants(Wanted::Class kind, char symbol = 0) const {
        return std::find(trouble.wanted.begin(), trouble.wanted.end(),
                         Wanted{kind, static_cast<std::uint8_t>(symbol)}) != trouble.wanted.end();
    }
    /// What was read of the statement before this place.
    std::string_view read() const { return text.substr(trouble.statement_begin, at - trouble.statement_begin); }
    /// Where the statement ends here: at the end of its line, at `;` or `}`.
    bool at_end() const {
        const char c = at < text.size() ? text[at] : '\n';
        return c == '\n' || c == '\r' || c == '#' || c == ';' || c == '}';
    }
    /// The statement would have gone on in the next line, but another one begins there.
    bool next_statement() const {
        Word next = word_of(word);
        bool begins =
            begins_step(next) || begins_declaration(next) || begins_policy_line(next) || here() == '}';
        return begins && text.substr(before(), at - before()).find('\n') != std::string_view::npos;
    }
    /// Offset behind the last byte before `at` that is no blank.
    std::uint32_t before() const {
        std::uint32_t end = at;
        while (end > 0 && (text[end - 1] == ' ' || text[end - 1] == '\t' || text[end - 1] == '\n' ||
                           text[end - 1] == '\r'))
            --end;
        return end;
    }
};

inline bool among(Node node, std::initializer_list<Node> list) {
    return std::find(list.begin(), list.end(), node) != list.end();
}
/// The identifier at `at`; empty where none begins.
inline std::string_view word_at(std::string_view text, std::uint32_t at) {
    std::uint32_t end = at;
    while (end < text.size() && word_byte(text[end])) ++end;
    return end > at && !digit(text[at]) ? text.substr(at, end - at) : std::string_view();
}
/// What stands from `at` to the end of the statement or to its block, without a comment.
std::string_view rest_of_statement(std::string_view text, std::uint32_t at);

/// Does the text, or the standard library, declare an operation of this name?
bool operation_declared(std::string_view text, std::string_view name);

/// The quantity that begins at `at`, and its unit; empty where there is none.
inline std::pair<std::string_view, const Unit*> quantity_at(std::string_view text, std::uint32_t at) {
    if (at >= text.size() || !digit(text[at])) return {};
    const std::uint32_t unit_begin = past_blanks(text, number_end(text, at));
    const Unit* unit = unit_at(text.substr(unit_begin));
    if (unit == nullptr) return {};
    return {text.substr(at, unit_begin + unit->spelling.size() - at), unit};
}

/// The word that a quantity of this kind follows in a statement; `none` where it takes none.
Word word_before(Node statement, Kind kind);

/// Words that begin an action.
inline constexpr std::array action_words{Word::open,     Word::close,    Word::set,  Word::switch_, Word::light,
                                         Word::shut,     Word::start,    Word::stop, Word::note,    Word::blend,
                                         Word::regulate, Word::humidify, Word::move};

/// How a statement is written, its parts in capitals; empty for what is no statement of a recipe.
std::string_view form_of(Node statement);

/// One wording of a place; false where it does not fit.
using Wording = bool (*)(const Place&, Diagnostics&);

// --- numbers.cpp
bool power_of_ten(const Place& p, Diagnostics& out);
bool absolute_pressure(const Place& p, Diagnostics& out);
bool per(const Place& p, Diagnostics& out);
bool digit_group(const Place& p, Diagnostics& out);
bool bare_decimal(const Place& p, Diagnostics& out);
bool apostrophe(const Place& p, Diagnostics& out);
bool vulgar_fraction(const Place& p, Diagnostics& out);
bool minutes_behind_hours(const Place& p, Diagnostics& out);
bool foreign_letter(const Place& p, Diagnostics& out);
// --- everyday.cpp
bool everyday_word(const Place& p, Diagnostics& out);
bool spoken_time(const Place& p, Diagnostics& out);
bool roughly(const Place& p, Diagnostics& out);
// --- forms.cpp
bool joined_steps(const Place& p, Diagnostics& out);
bool steps_side_by_side(const Place& p, Diagnostics& out);
bool second_line(const Place& p, Diagnostics& out);
bool remark(const Place& p, Diagnostics& out);
bool figure_alone(const Place& p, Diagnostics& out);
bool full_stop(const Place& p, Diagnostics& out);
bool note_without_quotes(const Place& p, Diagnostics& out);
bool range_loop(const Place& p, Diagnostics& out);
bool missing_sign(const Place& p, Diagnostics& out);
bool line_and_flow(const Place& p, Diagnostics& out);
bool signal_set(const Place& p, Diagnostics& out);
bool hold_behind_target(const Place& p, Diagnostics& out);
bool time_behind_target(const Place& p, Diagnostics& out);
bool comma_for_word(const Place& p, Diagnostics& out);
bool as_fast_as_possible(const Place& p, Diagnostics& out);
bool start_of_ramp(const Place& p, Diagnostics& out);
bool rate_before_target(const Place& p, Diagnostics& out);
bool no_target(const Place& p, Diagnostics& out);
bool called_step(const Place& p, Diagnostics& out);
bool zone_by_number(const Place& p, Diagnostics& out);
bool numbered_step(const Place& p, Diagnostics& out);
bool set_temperature(const Place& p, Diagnostics& out);
bool held_at(const Place& p, Diagnostics& out);
bool line_switched(const Place& p, Diagnostics& out);
bool wrong_partner(const Place& p, Diagnostics& out);
bool word_before_line(const Place& p, Diagnostics& out);
bool path_without_quotes(const Place& p, Diagnostics& out);
bool controller_before_rig(const Place& p, Diagnostics& out);
bool head_without_brace(const Place& p, Diagnostics& out);
bool operation_without_parentheses(const Place& p, Diagnostics& out);

} // namespace athanor::grammar
