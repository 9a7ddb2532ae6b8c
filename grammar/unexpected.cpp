// Wording for a rule that stopped: slips that people make, then the plain "expected …, found …".
#include "grammar/explain.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>

namespace athanor::grammar {
namespace {

struct LookAlike {
    std::string_view wrong, name, right;
};
constexpr std::array look_alikes{
    LookAlike{"\u2013", "en dash, U+2013", "-"},
    LookAlike{"\u2014", "em dash, U+2014", "-"},
    LookAlike{"\u2212", "minus sign, U+2212", "-"},
    LookAlike{"\u2010", "hyphen, U+2010", "-"},
    LookAlike{"\u2011", "hyphen, U+2011", "-"},
    LookAlike{"\u00D7", "multiplication sign, U+00D7", "*"},
    LookAlike{"\u22C5", "dot operator, U+22C5", "*"},
    LookAlike{"\u00B7", "middle dot, U+00B7", "*"},
    LookAlike{"\u00F7", "division sign, U+00F7", "/"},
    LookAlike{"\u2264", "less or equal, U+2264", "<="},
    LookAlike{"\u2265", "greater or equal, U+2265", ">="},
    LookAlike{"\u201C", "curly quote, U+201C", "\""},
    LookAlike{"\u201D", "curly quote, U+201D", "\""},
    LookAlike{"\u201E", "low quote, U+201E", "\""},
    LookAlike{"\u2018", "curly quote, U+2018", "'"},
    LookAlike{"\u2019", "curly quote, U+2019", "'"},
    LookAlike{"\u00A0", "no-break space, U+00A0", " "},
    LookAlike{"\u2009", "thin space, U+2009", " "},
    LookAlike{"\u202F", "narrow no-break space, U+202F", " "},
    LookAlike{"\u200B", "zero-width space, U+200B", ""},
    LookAlike{"\uFEFF", "byte order mark, U+FEFF", ""},
    LookAlike{"\uFF1A", "wide colon, U+FF1A", ":"},
    LookAlike{"\uFF0C", "wide comma, U+FF0C", ","},
    LookAlike{"\u037E", "question mark, U+037E", ";"},
};

/// A word from everyday speech or another language, and what stands for it here.
struct Slip {
    Node statement;                // it is told in this one; `error`: at the head of a line
    std::string_view wrong, right; // `right` empty: the word is left out; `rewrite`: no edit says it
    std::string_view message, remedy;
};
constexpr std::string_view rewrite = "?";
constexpr std::array slips{
    Slip{Node::dwell, "for", "", "`dwell` is followed by its time at once", "leave `for` out"},
    Slip{Node::ramp, "in", "over", "the time of a ramp follows `over`", "write `over`"},
    Slip{Node::cool, "in", "over", "the time of a ramp follows `over`", "write `over`"},
    Slip{Node::if_else, "then", "", "behind the condition of an `if` its block begins at once",
         "write `if CONDITION { … }`, without `then`"},
    Slip{Node::error, "hold", "dwell", "`hold` begins no statement: a set-point is held with `dwell`",
         "write `dwell`"},
    Slip{Node::error, "soak", "dwell", "`soak` begins no statement: a set-point is held with `dwell`",
         "write `dwell`"},
    Slip{Node::error, "pause", "dwell", "`pause` begins no statement: a set-point is held with `dwell`",
         "write `dwell`"},
    Slip{Node::error, "flush", "purge", "`flush` begins no statement: a tube is flushed with `purge`",
         "write `purge`"},
    Slip{Node::error, "pump", rewrite, "`pump` begins no statement: a tube is pumped down with `evacuate`",
         "write `evacuate to PRESSURE`"},
    Slip{Node::error, "vent", rewrite,
         "`vent` begins no statement: a tube is filled to the room's pressure with `backfill`",
         "write `backfill LINE at FLOW to ambient`"},
    Slip{Node::error, "fill", rewrite, "`fill` begins no statement: a tube is filled with `backfill`",
         "write `backfill LINE at FLOW to ambient`"},
    Slip{Node::error, "flow", rewrite, "`flow` begins no statement: a line is opened with `open`",
         "write `open LINE at FLOW`"},
    Slip{Node::error, "turn", rewrite,
         "`turn` begins no statement: a line is opened with `open` and shut with `close`",
         "write `open LINE at FLOW`, or `close LINE`"},
    Slip{Node::stop_pump, "", rewrite, "only the pump is stopped; a gas line is shut with `close`",
         "write `close LINE`"},
    Slip{Node::start_pump, "", rewrite, "only the pump is started; a gas line is opened with `open`",
         "write `open LINE at FLOW`"},
};

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

std::string described(const Wanted& wanted) {
    switch (wanted.kind) {
    case Wanted::Class::word: return fmt::format("`{}`", text_of(static_cast<Word>(wanted.which)));
    case Wanted::Class::symbol: return fmt::format("`{}`", static_cast<char>(wanted.which));
    case Wanted::Class::name: return "a name";
    case Wanted::Class::text: return "a text in quotes";
    case Wanted::Class::number: return "a number";
    case Wanted::Class::value: return "a value";
    case Wanted::Class::unit: return "a unit";
    case Wanted::Class::block: return "`{`";
    case Wanted::Class::statement_end: return "the end of the statement";
    case Wanted::Class::action: return "an action such as `open`, `close` or `switch to`";
    case Wanted::Class::part: return "a share such as `5 %`";
    }
    return "";
}

std::string expected(const Place& p) {
    std::vector<std::string> names;
    for (const Wanted& wanted : p.trouble.wanted) {
        std::string name = described(wanted);
        if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
    }
    // What ends the statement is said last, and only beside few others.
    auto end = std::find(names.begin(), names.end(), "the end of the statement");
    if (end != names.end()) std::rotate(end, end + 1, names.end());
    std::string out;
    for (std::size_t i = 0; i < names.size(); ++i) {
        if (i != 0) out += i + 1 == names.size() ? " or " : ", ";
        out += names[i];
    }
    return out;
}

bool look_alike(const Place& p, Diagnostics& out) {
    for (const LookAlike& l : look_alikes) {
        if (p.text.substr(p.at, l.wrong.size()) != l.wrong) continue;
        Span span{p.file, p.at, p.at + static_cast<std::uint32_t>(l.wrong.size())};
        std::string instead = l.right.empty()  ? "nothing"
                              : l.right == " " ? "a plain blank"
                                               : fmt::format("`{}`", l.right);
        out.error(Code::syntax, span,
                  fmt::format("this character ({}) only looks like one of the language", l.name))
            .remedy(fmt::format("write {} instead", instead))
            .mend(span, std::string(l.right));
        return true;
    }
    if (p.here() == '\'') {
        out.error(Code::syntax, p.span(), "a text stands in double quotes").remedy("write `\"…\"`");
        return true;
    }
    return false;
}

/// Comments of other languages.
bool foreign_comment(const Place& p, Diagnostics& out) {
    // Behind a value the first `/` was read as a division.
    const std::uint32_t begin = p.here() == '/' && p.at > 0 && p.text[p.at - 1] == '/' ? p.at - 1 : p.at;
    const std::string_view sign = p.text.substr(begin, 2);
    if (sign != "//" && sign != "/*") return false;
    Span span{p.file, begin, begin + 2};
    Diagnostic& d =
        out.error(Code::syntax, span, "a comment begins with `#` and ends with its line").remedy("write `#`");
    if (sign == "//") d.mend(span, "#");
    return true;
}

bool everyday_word(const Place& p, Diagnostics& out) {
    if (p.here() == '@' && p.wants(Word::at)) {
        out.error(Code::syntax, p.span(), "a rate or a flow follows the word `at`")
            .remedy("write `at`")
            .mend(p.span(), past_blanks(p.text, p.at + 1) == p.at + 1 ? "at " : "at");
        return true;
    }
    const std::uint32_t end = p.at + static_cast<std::uint32_t>(p.word.size());
    const std::uint32_t next = past_blanks(p.text, end);
    const char behind = next < p.text.size() ? p.text[next] : '\n';
    for (const Slip& slip : slips) {
        if (slip.statement != p.trouble.statement) continue;
        // An empty word: any name in the place of `pump`.
        if (slip.wrong.empty()
                ? p.word.empty() || reserved(word_of(p.word)) || edit_distance(p.word, text_of(Word::pump)) <= 2
                : slip.wrong != p.word)
            continue;
        // At the head of a line it may be a name that is meant otherwise: `hold()`, `hold = 2 h`.
        if (slip.statement == Node::error && (behind == '(' || behind == '=' || behind == ':')) continue;
        Diagnostic& d = out.error(Code::syntax, {p.file, p.at, end}, std::string(slip.message))
                            .remedy(std::string(slip.remedy));
        if (slip.right == rewrite) return true;
        if (!slip.right.empty())
            d.mend({p.file, p.at, end}, std::string(slip.right));
        else if (behind != '\n' && behind != '\r' && (slip.wrong != "then" || behind == '{'))
            d.mend({p.file, p.at, next}, "");
        return true;
    }
    return false;
}

/// `10^-3 mbar`, `1·10⁻³ mbar`, `2 x 10^-3 mbar`
bool power_of_ten(const Place& p, Diagnostics& out) {
    constexpr std::array times{std::string_view("*"), std::string_view("\u00B7"), std::string_view("\u00D7"),
                               std::string_view("\u22C5")};
    constexpr std::array raised{std::string_view("\u2070"), std::string_view("\u00B9"),
                                std::string_view("\u00B2"), std::string_view("\u00B3"),
                                std::string_view("\u2074"), std::string_view("\u2075"),
                                std::string_view("\u2076"), std::string_view("\u2077"),
                                std::string_view("\u2078"), std::string_view("\u2079")};
    const auto is_at = [&](std::uint32_t at, std::string_view sign) {
        return p.text.substr(at, sign.size()) == sign;
    };
    const auto length_at = [&](std::uint32_t at, const auto& signs) -> std::uint32_t {
        for (std::string_view sign : signs)
            if (is_at(at, sign)) return static_cast<std::uint32_t>(sign.size());
        return 0;
    };
    // Where the number that ends at `end` begins; `end` where it is the end of a name.
    const auto number_before = [&](std::uint32_t end) {
        std::uint32_t begin = end;
        while (begin > 0 && (digit(p.text[begin - 1]) || p.text[begin - 1] == '.')) --begin;
        return begin > 0 && word_byte(p.text[begin - 1]) ? end : begin;
    };
    // Reading stopped at the sign of multiplication, or behind the ten.
    std::uint32_t end = p.before(), begin = number_before(end);
    if (begin == end) return false;
    std::uint32_t at = p.at;
    std::string_view mantissa;
    if (const std::uint32_t sign = length_at(at, times); sign != 0) {
        mantissa = p.text.substr(begin, end - begin);
        at = past_blanks(p.text, at + sign);
        if (!is_at(at, "10") || digit(p.text.size() > at + 2 ? p.text[at + 2] : ' ')) return false;
        at += 2;
    } else {
        if (p.text.substr(begin, end - begin) != "10") return false;
        std::uint32_t left = begin;
        while (left > 0 && p.text[left - 1] == ' ') --left;
        if (left > 0 && p.text[left - 1] == '*') { // read as a product
            --left;
            while (left > 0 && p.text[left - 1] == ' ') --left;
            const std::uint32_t number = number_before(left);
            mantissa = p.text.substr(number, left - number);
            if (!mantissa.empty()) begin = number; // else a name stands before the sign: `peak * 10^2`
        }
    }
    std::string exponent;
    if (is_at(at, "^")) {
        ++at;
        for (std::string_view minus : {std::string_view("-"), std::string_view("\u2212")})
            if (exponent.empty() && is_at(at, minus)) {
                exponent = "-";
                at += static_cast<std::uint32_t>(minus.size());
            }
        while (at < p.text.size() && digit(p.text[at])) exponent += p.text[at++];
    } else {
        if (is_at(at, "\u207B")) {
            exponent = "-";
            at += 3;
        }
        for (std::uint32_t length = 0; (length = length_at(at, raised)) != 0; at += length)
            for (std::size_t i = 0; i < raised.size(); ++i)
                if (is_at(at, raised[i])) exponent += static_cast<char>('0' + i);
    }
    if (exponent.empty() || !digit(exponent.back())) return false;
    const std::string written = fmt::format("{}e{}", mantissa.empty() ? "1" : mantissa, exponent);
    const Span span{p.file, begin, at};
    out.error(Code::syntax, span, "a power of ten is written with `e`")
        .remedy(fmt::format("write `{}`", written))
        .mend(span, written);
    return true;
}

/// The quantity that begins at `at`, and its unit; empty where there is none.
std::pair<std::string_view, const Unit*> quantity_at(std::string_view text, std::uint32_t at) {
    if (at >= text.size() || !digit(text[at])) return {};
    const std::uint32_t unit_begin = past_blanks(text, number_end(text, at));
    const Unit* unit = unit_at(text.substr(unit_begin));
    if (unit == nullptr) return {};
    return {text.substr(at, unit_begin + unit->spelling.size() - at), unit};
}

/// `ramp 2 K/min to 500 degC`: the rate or the time stands before the target.
bool rate_before_target(const Place& p, Diagnostics& out) {
    const auto [quantity, unit] = quantity_at(p.text, p.at);
    if (!p.wants(Word::to) || unit == nullptr) return false;
    if (p.trouble.statement != Node::ramp && p.trouble.statement != Node::cool) return false;
    if (unit->kind != Kind::rate && unit->kind != Kind::time) return false;
    const std::string_view word = unit->kind == Kind::rate ? "at" : "over";
    const std::uint32_t end = p.at + static_cast<std::uint32_t>(quantity.size());
    // What stands behind it up to the end of the statement, where it is a target.
    std::string_view rest = p.text.substr(past_blanks(p.text, end));
    rest = rest.substr(0, rest.find_first_of("\n\r{;}#"));
    if (rest.starts_with("to "))
        rest = rest.substr(0, rest.find_last_not_of(' ') + 1);
    else
        rest = "to TARGET";
    out.error(Code::syntax, {p.file, p.at, end}, fmt::format("`{}` stands before the target", quantity))
        .remedy(fmt::format("write `{} {} {} {}`", text_of(p.trouble.word), rest, word, quantity));
    return true;
}

/// `ramp to 800 degC 5 K/min`, `open argon 2.4 slm`
bool missing_at(const Place& p, Diagnostics& out) {
    const auto [quantity, unit] = quantity_at(p.text, p.at);
    if (unit == nullptr) return false;
    const Kind kind = unit->kind;
    const Word word = kind == Kind::time ? Word::over : kind == Kind::difference ? Word::within : Word::at;
    const bool fits = kind == Kind::rate || kind == Kind::flow || kind == Kind::volume_flow ||
                      kind == Kind::time || kind == Kind::difference;
    if (!fits || !p.wants(word)) return false;
    const Span span{p.file, p.at, p.at + static_cast<std::uint32_t>(quantity.size())};
    Diagnostic& d =
        out.error(Code::syntax, span, fmt::format("`{}` is missing before `{}`", text_of(word), quantity))
            .remedy(fmt::format("write `{} {}`", text_of(word), quantity));
    // Behind a temperature a difference may lack its `+` as well.
    if (kind != Kind::difference) d.mend({p.file, p.at, p.at}, std::string(text_of(word)) + ' ');
    return true;
}

/// `1 mbar abs`
bool absolute_pressure(const Place& p, Diagnostics& out) {
    if (p.word != "abs" && p.word != "absolute") return false;
    const std::uint32_t end = p.before();
    std::uint32_t unit = end;
    while (unit > 0 && word_byte(p.text[unit - 1])) --unit;
    const Unit* row = unit_named(p.text.substr(unit, end - unit));
    if (row == nullptr || row->kind != Kind::pressure) return false;
    const std::uint32_t behind = p.at + static_cast<std::uint32_t>(p.word.size());
    out.error(Code::syntax, {p.file, p.at, behind}, "a pressure is absolute where `gauge` does not follow it")
        .remedy(fmt::format("leave `{}` out", p.word))
        .mend({p.file, end, behind}, "");
    return true;
}

/// `cool to room temperature`
bool room_temperature(const Place& p, Diagnostics& out) {
    if (p.word != "temperature" || p.at < 5) return false;
    const std::uint32_t end = p.before();
    if (end < 4 || p.text.substr(end - 4, 4) != "room") return false;
    out.error(
           Code::syntax, {p.file, end - 4, p.at + static_cast<std::uint32_t>(p.word.size())},
           "the room's temperature is no target: a furnace that cools by itself comes near it and never there")
        .remedy("write the temperature at which the run may end, such as `cool to 50 degC`");
    return true;
}

/// `wait 10 min`, `wait for 10 min`, `wait until …`: only a person is waited for.
bool wait_for_time(const Place& p, Diagnostics& out) {
    const bool value = digit(p.here()) || (!p.word.empty() && !reserved(word_of(p.word)));
    const bool due = p.wants(Word::for_) || p.wants(Word::operator_);
    if (p.trouble.statement != Node::wait_operator || !due || (!value && p.word != "until")) return false;
    if (edit_distance(p.word, text_of(Word::operator_)) <= 2) return false;
    const std::string_view behind =
        p.text.substr(past_blanks(p.text, p.at + static_cast<std::uint32_t>(p.word.size())));
    if (behind.starts_with('"') || behind.starts_with("operator")) {
        out.error(Code::syntax, p.span(), fmt::format("`operator` is expected here, found `{}`", p.word))
            .remedy("who acts is always the operator: `wait for operator \"…\"`");
        return true;
    }
    Span head{p.file, p.trouble.statement_begin, p.before()};
    out.error(Code::syntax, head,
              "`wait` waits for a person; for a time, or until a condition holds, a set-point is "
              "held with `dwell`")
        .remedy("write `dwell`")
        .mend(head, "dwell");
    return true;
}

/// `repeat 3 { … }`
bool missing_times(const Place& p, Diagnostics& out) {
    if (!p.wants(Word::times) || (p.here() != '{' && p.word != "as")) return false;
    Span gap{p.file, p.before(), p.before()};
    out.error(Code::syntax, gap, "`times` is missing behind the count")
        .remedy("write `times`")
        .mend(gap, " times");
    return true;
}

/// `5 K per min`
bool per(const Place& p, Diagnostics& out) {
    if (p.word != "per") return false;
    const std::uint32_t unit_end = p.before();
    std::uint32_t unit = unit_end;
    while (unit > 0 && (word_byte(p.text[unit - 1]) || beyond_ascii(p.text[unit - 1]))) --unit;
    const std::uint32_t next = past_blanks(p.text, p.at + 3);
    std::uint32_t end = next;
    while (end < p.text.size() && word_byte(p.text[end])) ++end;
    if (unit == unit_end || end == next) return false;
    std::string whole =
        fmt::format("{}/{}", p.text.substr(unit, unit_end - unit), p.text.substr(next, end - next));
    const bool sure = unit_named(whole) != nullptr || surely_unit(whole);
    if (unit_named(whole) == nullptr) whole = suggest_unit(whole);
    if (whole.empty()) return false;
    Span span{p.file, unit, end};
    Diagnostic& d = out.error(Code::syntax, span, "a unit is divided with `/`");
    d.remedy(fmt::format("{} `{}`", sure ? "write" : "perhaps", whole));
    if (sure) d.mend(span, whole);
    return true;
}

/// `10 500`: digits in groups.
bool digit_group(const Place& p, Diagnostics& out) {
    const std::uint32_t end = number_end(p.text, p.at);
    std::uint32_t begin = p.before();
    if (!digit(p.here()) || begin == p.at || begin == 0 || !digit(p.text[begin - 1])) return false;
    if (end < p.at + 3 || (end > p.at + 3 && p.text[p.at + 3] != '.')) return false;
    const std::uint32_t gap = begin;
    while (begin > 0 && digit(p.text[begin - 1])) --begin;
    if (begin > 0 && (p.text[begin - 1] == '.' || word_byte(p.text[begin - 1])))
        return false; // no whole number
    if (gap - begin > 3 || p.text.substr(gap, p.at - gap).find('\n') != std::string_view::npos) return false;
    const std::string_view left = p.text.substr(begin, gap - begin), right = p.text.substr(p.at, end - p.at);
    Diagnostic& d = out.error(Code::syntax, {p.file, begin, end},
                              fmt::format("`{} {}`: the digits of one number stand together", left, right));
    if (p.wants(Wanted::Class::symbol, ',')) // two values of a list, as well
        d.remedy(fmt::format("write `{}{}`, or `{}, {}` where two are meant", left, right, left, right));
    else
        d.remedy(fmt::format("write `{}{}`", left, right)).mend({p.file, gap, p.at}, "");
    return true;
}

bool conflict_marker(const Place& p, Diagnostics& out) {
    for (std::string_view marker : {"<<<<<<<", "=======", ">>>>>>>", "|||||||"}) {
        if (p.text.substr(p.at, 7) != marker || (p.at != 0 && p.text[p.at - 1] != '\n')) continue;
        out.error(Code::syntax, {p.file, p.at, p.at + 7},
                  fmt::format("`{}` is the marker of a merge conflict", marker))
            .remedy("settle the conflict and remove its markers");
        return true;
    }
    return false;
}

bool unclosed_text(const Place& p, Diagnostics& out) {
    if (p.here() != '"') return false;
    std::uint32_t end = p.at + 1;
    while (end < p.text.size() && p.text[end] != '\n' && p.text[end] != '"') ++end;
    if (end < p.text.size() && p.text[end] == '"') return false;
    while (end > p.at + 1 && p.text[end - 1] == '\r') --end;
    out.error(Code::syntax, {p.file, p.at, end}, "this text has no closing `\"` on its line")
        .remedy("close it with `\"`; a text has no line end in it");
    return true;
}

/// `=` for `:` and the reverse.
bool equals_and_colon(const Place& p, Diagnostics& out) {
    char c = p.here();
    std::uint32_t before = p.before();
    bool value_behind_colon =
        before > 0 && p.text[before - 1] == ':' && (digit(c) || c == '-' || c == '(' || c == '[');
    if (value_behind_colon && (p.trouble.statement == Node::let || p.trouble.statement == Node::parameter)) {
        Span colon{p.file, before - 1, before};
        out.error(Code::syntax, colon, "`:` gives a type; a value follows `=`")
            .remedy("write `=`")
            .mend(colon, "=");
        return true;
    }
    if (c != '=' && c != ':') return false;
    if (c == '=' && p.trouble.statement == Node::gas && before > 0 && p.text[before - 1] == '"') {
        const std::uint32_t open = before < 2 ? 0 : static_cast<std::uint32_t>(p.text.rfind('"', before - 2));
        out.error(Code::syntax, {p.file, open, before}, "a mixture takes no title: `=` follows its name")
            .remedy("leave the title out, or write it as a comment, `## …`, above")
            .mend({p.file, open, p.at}, "");
        return true;
    }
    char other = c == '=' ? ':' : '=';
    if (p.trouble.kind == Trouble::Kind::unexpected && p.wants(Wanted::Class::symbol, other) &&
        !p.wants(Wanted::Class::symbol, c)) {
        bool type = other == ':';
        out.error(Code::syntax, p.span(),
                  type ? "`=` gives a value; a type follows `:`" : "`:` gives a type; a value follows `=`")
            .remedy(fmt::format("write `{}`", other))
            .mend(p.span(), std::string(1, other));
        return true;
    }
    if (p.trouble.statement == Node::property || p.trouble.statement == Node::default_line) {
        out.error(Code::syntax, p.span(),
                  fmt::format("a property takes no `{}` between its name and its value", c))
            .remedy("write the name, a blank and the value")
            .mend(p.span(), "");
        return true;
    }
    if (c == '=' && (p.wants(Wanted::Class::statement_end) || p.wants(Wanted::Class::block)) &&
        p.trouble.statement != Node::error) {
        out.error(Code::syntax, p.span(), "`=` gives a value to a name; it does not compare")
            .remedy("compare names with `is`, and measured values with `<`, `<=`, `>` or `>=`");
        return true;
    }
    if (c == ':' && p.wants(Wanted::Class::symbol, ')')) {
        out.error(Code::syntax, p.span(), "an argument is given with `=`")
            .remedy("write `=`")
            .mend(p.span(), "=");
        return true;
    }
    return false;
}

bool missing_to(const Place& p, Diagnostics& out) {
    if (!p.wants(Word::to)) return false;
    bool begins_value =
        digit(p.here()) || p.here() == '(' || p.here() == '?' || p.here() == '-' || !p.word.empty();
    if (!begins_value || (!p.word.empty() && reserved(word_of(p.word)))) return false;
    if (!p.word.empty() && edit_distance(p.word, "to") <= 1) return false;
    std::string_view value = quantity_at(p.text, p.at).first;
    if (value.empty()) value = p.text.substr(p.at, p.trouble.end - p.at);
    out.error(Code::syntax, p.span(), fmt::format("`to` is missing before {}", found_at(p.text, p.at)))
        .remedy(fmt::format("write `to {}`", value))
        .mend({p.file, p.at, p.at}, "to ");
    return true;
}

bool rate_of_fast_step(const Place& p, Diagnostics& out) {
    bool fast = p.trouble.statement == Node::heat || p.trouble.statement == Node::step_to;
    const Unit* unit = quantity_at(p.text, p.at).second;
    const bool bare = unit != nullptr && (unit->kind == Kind::rate || unit->kind == Kind::time);
    if (!fast || (p.word != "at" && p.word != "over" && !bare)) return false;
    std::string_view step = text_of(p.trouble.word);
    Diagnostic& d = out.error(Code::syntax, p.span(),
                              p.trouble.statement == Node::heat
                                  ? "`heat to` goes as fast as the furnace can and takes no rate or time"
                                  : "`step to` changes the set-point at once and takes no rate or time");
    const std::uint32_t head = p.trouble.statement_begin + static_cast<std::uint32_t>(step.size());
    d.remedy("a rate or a time belongs to `ramp`");
    if (bare)
        d.mend({p.file, p.trouble.statement_begin, p.at},
               fmt::format("ramp{}{} ", p.text.substr(head, p.at - head),
                           unit->kind == Kind::rate ? "at" : "over"));
    else
        d.mend({p.file, p.trouble.statement_begin, head}, "ramp");
    return true;
}

/// A word near one that was expected here.
bool misspelt(const Place& p, Diagnostics& out) {
    if (p.word.size() < 2 || p.next_statement()) return false;
    Word best = Word::none;
    unsigned distance = p.word.size() < 4 || reserved(word_of(p.word)) ? 1 : 2;
    auto compare = [&](Word word) {
        unsigned here = edit_distance(p.word, text_of(word));
        if (here > distance || here >= text_of(word).size() || (here == distance && best != Word::none)) return;
        best = word;
        distance = here;
    };
    for (const Wanted& wanted : p.trouble.wanted) {
        if (wanted.kind == Wanted::Class::word) compare(static_cast<Word>(wanted.which));
        if (wanted.kind != Wanted::Class::action) continue;
        for (Word word :
             {Word::open, Word::close, Word::set, Word::switch_, Word::light, Word::shut, Word::start,
              Word::stop, Word::note, Word::blend, Word::regulate, Word::humidify, Word::move})
            compare(word);
    }
    if (best == Word::none) return false;
    Span span{p.file, p.at, p.at + static_cast<std::uint32_t>(p.word.size())};
    const bool sure = edit_distance(p.word, text_of(best)) <= surely_meant;
    Diagnostic& d =
        out.error(Code::syntax, span, fmt::format("`{}` is expected here, found `{}`", text_of(best), p.word))
            .remedy(fmt::format("{} `{}`", sure ? "write" : "perhaps", text_of(best)));
    if (sure) d.mend(span, std::string(text_of(best)));
    return true;
}

bool reserved_name(const Place& p, Diagnostics& out) {
    if (p.word.empty() || !p.wants(Wanted::Class::name) || !reserved(word_of(p.word)) || p.next_statement())
        return false;
    constexpr std::array with_line{Node::purge,    Node::backfill,  Node::open_line, Node::close_lines,
                                   Node::set_line, Node::switch_to, Node::humidify,  Node::keep};
    constexpr std::array behind_line{Word::at,    Word::until, Word::for_, Word::to,
                                     Word::above, Word::below, Word::open, Word::within};
    const auto in = [](const auto& list, auto one) {
        return std::find(list.begin(), list.end(), one) != list.end();
    };
    if (in(with_line, p.trouble.statement) && in(behind_line, word_of(p.word))) {
        const std::string_view read =
            p.text.substr(p.trouble.statement_begin, p.before() - p.trouble.statement_begin);
        out.error(Code::syntax, p.span(),
                  fmt::format("the gas line is missing between {} and `{}`", quoted(read), p.word))
            .remedy(fmt::format("name the line or its gas, as in {}",
                                quoted(fmt::format("{} argon {}", read, p.word))));
        return true;
    }
    if (p.trouble.statement == Node::let || p.trouble.statement == Node::parameter ||
        p.trouble.wanted.size() == 1) {
        out.error(Code::syntax, p.span(),
                  fmt::format("`{}` is a word of the language and cannot be a name", p.word))
            .remedy("choose another name");
        return true;
    }
    return false;
}

bool bare_decimal(const Place& p, Diagnostics& out) {
    if (p.here() != '.' || !digit(p.here(1))) return false;
    bool leading = p.at == 0 || !digit(p.text[p.at - 1]);
    if (!leading) return false;
    out.error(Code::syntax, p.span(), "a number begins with a digit")
        .remedy("write `0.` and the decimals")
        .mend({p.file, p.at, p.at}, "0");
    return true;
}

/// A line that begins no statement of its block.
bool bad_line(const Place& p, Diagnostics& out) {
    if (p.trouble.statement != Node::error) return false;
    if (p.word.empty()) {
        out.error(Code::syntax, p.span(), fmt::format("{} begins no statement", found_at(p.text, p.at)));
        return true;
    }
    Word word = word_of(p.word);
    std::uint32_t behind = past_blanks(p.text, p.at + static_cast<std::uint32_t>(p.word.size()));
    char next = behind < p.text.size() ? p.text[behind] : '\0';
    if (word == Word::else_) {
        out.error(Code::syntax, p.span(), "`else` without its `if`")
            .remedy("`else` follows the `}` of an `if`, and a block or another `if` follows it");
    } else if (!reserved(word) && next == '=') {
        out.error(Code::syntax, p.span(), fmt::format("`{}` is given a value without `let`", p.word))
            .remedy(fmt::format("write `let {} = …`", p.word))
            .mend({p.file, p.at, p.at}, "let ");
    } else if (reserved(word)) {
        out.error(Code::syntax, p.span(), fmt::format("`{}` begins no statement here", p.word));
    } else {
        Diagnostic& d = out.error(Code::syntax, p.span(), fmt::format("`{}` begins no statement here", p.word));
        std::uint32_t word_end = behind;
        while (word_end < p.text.size() && word_byte(p.text[word_end])) ++word_end;
        if (p.text.substr(behind, word_end - behind) == text_of(Word::at))
            d.remedy(fmt::format("a line is opened with `open {} at FLOW`", p.word));
        else if (next == '\0' || next == '\n' || next == '#' || next == ';' || next == '}')
            d.remedy(fmt::format("an operation is called with parentheses: `{}()`", p.word));
    }
    return true;
}

} // namespace

bool everyday_verb(std::string_view word) {
    return std::any_of(slips.begin(), slips.end(),
                       [&](const Slip& slip) { return slip.statement == Node::error && slip.wrong == word; });
}

std::string found_at(std::string_view text, std::uint32_t at) {
    if (at >= text.size()) return "the end of the file";
    char c = text[at];
    if (c == '\n' || c == '\r' || c == '#') return "the end of the line";
    std::uint32_t end = at;
    if (word_byte(c) && !digit(c))
        while (end < text.size() && word_byte(text[end])) ++end;
    else if (digit(c))
        end = number_end(text, at);
    else if (c == '"') {
        for (++end; end < text.size() && text[end] != '"' && text[end] != '\n';) ++end;
        if (end < text.size() && text[end] == '"') ++end;
    } else
        end = at + character_length(text, at);
    if (c > 0 && c < ' ') return fmt::format("a control character (U+{:04X})", static_cast<unsigned>(c));
    return quoted(text.substr(at, end - at));
}

void explain_unexpected(const Trouble& trouble, FileId file, std::string_view text, Diagnostics& out) {
    Place p{trouble, file, text, trouble.begin, {}};
    std::uint32_t end = p.at;
    while (end < text.size() && word_byte(text[end])) ++end;
    if (end > p.at && !digit(text[p.at])) p.word = text.substr(p.at, end - p.at);

    constexpr std::array known{conflict_marker,  unclosed_text,      power_of_ten, look_alike,
                               foreign_comment,  equals_and_colon,   bare_decimal, digit_group,
                               everyday_word,    wait_for_time,      per,          absolute_pressure,
                               room_temperature, rate_of_fast_step,  misspelt,     missing_times,
                               missing_at,       rate_before_target, missing_to,   reserved_name,
                               bad_line};
    for (auto* told : known)
        if (told(p, out)) return;
    std::string found = found_at(text, p.at);
    Span span = p.span();
    // What is missing at a line's end is shown behind the last thing read, where it has to be written.
    if (p.next_statement()) found = "the end of the line";
    if (found.starts_with("the end of")) span.begin = span.end = p.before();
    std::string what = expected(p);
    std::string message = what.empty() ? fmt::format("{} has no meaning here", found)
                                       : fmt::format("expected {}, found {}", what, found);
    Diagnostic& d = out.error(Code::syntax, span, message);
    // On a later line the reader has to be told which statement this is.
    std::string_view between = text.substr(trouble.statement_begin, span.begin - trouble.statement_begin);
    if (trouble.word != Word::none && trouble.statement != Node::error &&
        between.find('\n') != std::string_view::npos)
        d.also({file, trouble.statement_begin,
                trouble.statement_begin + static_cast<std::uint32_t>(text_of(trouble.word).size())},
               "in the statement that begins here");
}

} // namespace athanor::grammar
