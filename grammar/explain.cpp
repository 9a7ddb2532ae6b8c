#include "compiler/source/invisible.hpp"
#include "grammar/parse.hpp"
#include "grammar/place.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cstring>

namespace athanor::grammar {
namespace {

/// So that a long text full of slips is told as fast as another: behind that many the edits are left out.
constexpr unsigned most_trials = 100;

std::string hex(std::string_view text, std::uint32_t at) {
    return fmt::format("0x{:02X}", static_cast<unsigned>(static_cast<unsigned char>(text[at])));
}

/// "1h30min" with its blanks, when it is a time of that form; else empty.
std::string spaced_time(std::string_view written) {
    std::string out;
    const Unit* above = nullptr;
    for (std::uint32_t at = 0; at < written.size();) {
        const std::uint32_t number = number_end(written, at);
        std::uint32_t end = number;
        while (end < written.size() && letter(written[end])) ++end;
        const Unit* unit = unit_named(written.substr(number, end - number));
        if (number == at || unit == nullptr || unit->kind != Kind::time) return {};
        if (above != nullptr && unit->factor >= above->factor) return {};
        above = unit;
        out += fmt::format("{}{} {}", out.empty() ? "" : " ", written.substr(at, number - at), unit->spelling);
        at = end;
    }
    return out;
}

/// Units of which only the author knows what they stand for, and powers of ten.
bool other_unit(std::string_view unit, std::string_view text, const Trouble& t, Diagnostic& d) {
    std::string lower(unit);
    for (char& c : lower)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    if (lower == "x10") { // `2 x10-3`, `2x10^-3`
        std::uint32_t at = t.end < text.size() && text[t.end] == '^' ? t.end + 1 : t.end, end = at;
        if (end < text.size() && text[end] == '-') ++end;
        while (end < text.size() && digit(text[end])) ++end;
        const std::string_view exponent = text.substr(at, end - at);
        d.remedy(exponent.empty()
                     ? "a power of ten is written with `e`, as in `1e-3`"
                     : fmt::format("a power of ten is written with `e`: `{}e{}`",
                                   text.substr(t.other_begin, t.other_end - t.other_begin), exponent));
        return true;
    }
    // A cubic foot is 28.31685 L: NIST SP 811 (2008), appendix B.8 (from memory). That "standard" has several
    // meanings is common practice, no source.
    for (std::string_view standard : {"scfh", "scfm", "scf/h", "scf/min", "sft3/h", "sft3/min"})
        if (lower == standard) {
            d.cause("a standard cubic foot is measured at 60 degF, at 68 degF or at 0 degC, as the meter's "
                    "maker has it")
                .remedy(
                    "look up the meter's reference temperature and write the flow in `slm` or `sccm`, which "
                    "are of 0 degC and 1 atm");
            return true;
        }
    for (std::string_view foot : {"cfh", "cfm", "ft3/h", "ft3/min", "cf/h", "cf/min", "ft^3/h", "ft^3/min"})
        if (lower == foot) {
            d.remedy(lower.ends_with('h') ? "a cubic foot per hour is 0.4719 L/min"
                                          : "a cubic foot per minute is 28.32 L/min");
            return true;
        }
    return false;
}

/// `5 C per min`
bool per_time(std::string_view unit, std::string_view text, const Trouble& t, FileId file, Diagnostic& d) {
    const std::uint32_t per = past_blanks(text, t.end), time = past_blanks(text, per + 3);
    std::uint32_t end = time;
    while (end < text.size() && word_byte(text[end])) ++end;
    if (text.substr(per, 4) != "per " || end == time) return false;
    const std::string whole = fmt::format("{}/{}", unit, text.substr(time, end - time));
    if (!surely_unit(whole)) return false;
    const std::string_view meant = suggest_unit(whole);
    d.remedy(fmt::format("write `{} {}`", text.substr(t.other_begin, t.other_end - t.other_begin), meant))
        .mend({file, t.begin, end}, (t.begin == t.other_end ? " " : "") + std::string(meant));
    return true;
}

/// "1 h 30 min" for `1h30`; empty where it is no such time.
std::string unsaid_minutes(std::string_view number, std::string_view unit) {
    std::size_t letters = 0;
    while (letters < unit.size() && letter(unit[letters])) ++letters;
    const std::string_view behind = unit.substr(letters);
    const std::string_view next = unit.substr(0, letters) == "h"     ? "min"
                                  : unit.substr(0, letters) == "min" ? "s"
                                                                     : "";
    if (next.empty() || behind.empty() || behind.find_first_not_of("0123456789") != std::string_view::npos)
        return {};
    return fmt::format("{} {} {} {}", number, unit.substr(0, letters), behind, next);
}

/// What the place of a number takes, by the word before it: a time, a rate; poison where it may take more.
Kind due_at(const Trouble& t, std::string_view text) {
    const std::string_view read = text.substr(t.statement_begin, t.other_begin - t.statement_begin);
    const std::size_t end = read.find_last_not_of(" \t") + 1;
    const std::string_view before = read.substr(0, end);
    const std::string_view word = before.substr(before.find_last_of(" \t") + 1);
    const bool ramps = among(t.statement, {Node::ramp, Node::cool});
    if (word == "at" && ramps) return Kind::rate;
    if (word == "dwell" || word == "after" || (word == "over" && ramps) ||
        (word == "for" && t.statement == Node::purge))
        return Kind::time;
    return Kind::poison;
}

/// `30 M`, `3 K/M`, `3 C/m`: a minute that is written as a metre.
bool unknown_minutes(const Trouble& t, std::string_view unit, FileId file, std::string_view text,
                     Diagnostic& d) {
    if (!unit.ends_with('M') && !unit.ends_with("/m")) return false;
    const std::string written = fmt::format("{}min", unit.substr(0, unit.size() - 1));
    const Unit* meant = unit_named(written);
    if (meant == nullptr && surely_unit(written)) meant = unit_named(suggest_unit(written));
    if (meant == nullptr || (meant->kind != Kind::time && meant->kind != Kind::rate)) return false;
    const bool sure = due_at(t, text) == meant->kind;
    std::string number(text.substr(t.other_begin, t.other_end - t.other_begin));
    std::replace(number.begin(), number.end(), ',', '.'); // `1,5` is told as well
    d.cause(std::string(metre_and_minute));
    d.remedy(fmt::format("{} `{} {}`", sure ? "write" : "perhaps", number, meant->spelling));
    if (sure)
        d.mend({file, t.begin, t.end}, (t.begin == t.other_end ? " " : "") + std::string(meant->spelling));
    return true;
}

void unknown_unit(const Trouble& t, FileId file, std::string_view text, Diagnostics& out) {
    if (foreign_letter({t, file, text, t.begin, {}}, out)) return;
    const std::string_view as_written = text.substr(t.begin, t.end - t.begin);
    const std::string unit = one_unit(as_written);
    std::string_view number = text.substr(t.other_begin, t.other_end - t.other_begin);
    const std::string_view written = text.substr(t.other_begin, t.end - t.other_begin);
    if (const std::string time = spaced_time(written); t.begin == t.other_end && !time.empty()) {
        Span span{file, t.other_begin, t.end};
        out.error(Code::unknown_unit, span,
                  fmt::format("{} is written without blanks, so its unit is not known", quoted(written)))
            .remedy(fmt::format("write `{}`", time))
            .mend(span, time);
        return;
    }
    const bool spaced = as_written.find_first_of(" \t") != std::string_view::npos;
    Diagnostic& d = out.error(Code::unknown_unit, {file, t.begin, t.end},
                              spaced ? fmt::format("{} is one unit, and holds no blank", quoted(as_written))
                                     : fmt::format("unknown unit {}", quoted(as_written)));
    if (const std::string time = unsaid_minutes(number, as_written); !time.empty()) {
        d.remedy(fmt::format("where it is meant so, write `{}`", time));
        return;
    }
    std::string_view meant = suggest_unit(unit);
    if (meant.empty() && unit_named(unit) != nullptr) meant = unit_named(unit)->spelling; // but for its blanks
    bool sure = !meant.empty() && surely_unit(unit);
    if (unit.starts_with("micron") && t.statement == Node::evacuate) {
        meant = "mTorr"; // of mercury; within 2e-7, NIST SP 811 (2008), appendix B.8 (from memory)
        sure = true;
    }
    if (unknown_minutes(t, unit, file, text, d) || other_unit(unit, text, t, d)) return;
    constexpr std::string_view half = "and a half"; // `2 hours and a half`
    if (const std::uint32_t behind = past_blanks(text, t.end);
        meant == "h" && text.substr(behind).starts_with(half) &&
        number.find_first_not_of("0123456789") == std::string_view::npos) {
        const std::string time = fmt::format("{} h 30 min", number);
        d.remedy(fmt::format("write `{}`", time))
            .mend({file, t.other_begin, behind + static_cast<std::uint32_t>(half.size())}, time);
        return;
    }
    if (per_time(unit, text, t, file, d)) return;
    std::string point(number); // `1,5` is told as well
    std::replace(point.begin(), point.end(), ',', '.');
    if (!meant.empty()) {
        d.remedy(fmt::format("{} `{} {}`", sure ? "write" : "perhaps", point, meant));
        if (unit.starts_with("micron") && !sure)
            d.remedy(fmt::format("where a pressure is meant, `{} mTorr`", number));
        if (sure) d.mend({file, t.begin, t.end}, (t.begin == t.other_end ? " " : "") + std::string(meant));
    } else if (unit.find_first_of("/*") != std::string_view::npos) {
        std::size_t sign = unit.find_first_of("/*");
        d.remedy(fmt::format(
            "`athanor units` lists every unit; to divide or multiply by a name, put blanks around the sign: "
            "`{} {} {} {}`",
            number, unit.substr(0, sign), unit[sign], unit.substr(sign + 1)));
    } else {
        d.remedy("`athanor units` lists every unit");
    }
}

void comma_decimal(const Trouble& t, FileId file, std::string_view text, Diagnostics& out) {
    std::string written(text.substr(t.begin, t.end - t.begin));
    std::size_t comma = written.find(',');
    std::string point = written, joined = written;
    point[comma] = '.';
    joined.erase(comma, 1);
    Diagnostic& d =
        out.error(Code::syntax, {file, t.begin, t.end},
                  fmt::format("`{}` is written with a comma; a decimal number takes a point", written));
    if (written.size() - comma == 4 && written.front() != '0') { // may as well be a group of thousands
        d.remedy(fmt::format("write `{}`, or `{}` where thousands are meant", point, joined));
    } else {
        d.remedy(fmt::format("write `{}`", point)).mend({file, t.begin, t.end}, point);
    }
}

void clock_time(const Trouble& t, FileId file, std::string_view text, Diagnostics& out) {
    std::string written(text.substr(t.begin, t.end - t.begin));
    std::size_t first = written.find(':'), second = written.find(':', first + 1);
    auto whole = [](std::string part) {
        std::size_t zeros = part.find_first_not_of('0');
        return zeros == std::string::npos ? std::string("0") : part.substr(zeros);
    };
    std::string hours = whole(written.substr(0, first));
    std::string minutes =
        whole(written.substr(first + 1, second == std::string::npos ? second : second - first - 1));
    std::string time = hours == "0"     ? minutes + " min"
                       : minutes == "0" ? hours + " h"
                                        : hours + " h " + minutes + " min";
    if (second != std::string::npos) time += ' ' + whole(written.substr(second + 1)) + " s";
    Diagnostic& d = out.error(Code::syntax, {file, t.begin, t.end},
                              fmt::format("`{}` is the time of a clock; a duration takes units", written));
    if (second == std::string::npos) // or minutes and seconds
        d.remedy(fmt::format("`{}`, if these are hours and minutes", time));
    else
        d.remedy(fmt::format("write `{}`", time)).mend({file, t.begin, t.end}, time);
}

/// The chain with every run of one of the two words in parentheses.
std::string grouped(const Trouble& t, std::string_view text, Node joined) {
    std::string out;
    for (std::size_t i = 0; i < t.operands.size(); ++i) {
        const bool opens = i + 1 < t.operands.size() && t.operands[i + 1].joined == joined;
        const bool inside = t.operands[i].joined == joined;
        if (i != 0) out += t.operands[i].joined == Node::and_ ? " and " : " or ";
        if (opens && !inside) out += '(';
        out += text.substr(t.operands[i].begin, t.operands[i].end - t.operands[i].begin);
        if (inside && !opens) out += ')';
    }
    return out;
}

void mixed_logic(const Trouble& t, FileId file, std::string_view text, Diagnostics& out) {
    out.error(Code::syntax, {file, t.begin, t.end}, "`and` and `or` are mixed without parentheses")
        .remedy(fmt::format("write {}", quoted(grouped(t, text, Node::and_), whole)))
        .remedy(fmt::format("or write {}", quoted(grouped(t, text, Node::or_), whole)));
}

void chained(const Trouble& t, FileId file, std::string_view text, Diagnostics& out) {
    std::string first(text.substr(t.parts[0], t.parts[1] - t.parts[0]));
    std::string second(text.substr(t.parts[2], t.parts[3] - t.parts[2]));
    out.error(Code::syntax, {file, t.begin, t.end}, "comparisons do not chain")
        .remedy(fmt::format("where both must hold: {}", quoted(first + " and " + second)))
        .remedy(fmt::format("where one is enough: {}", quoted(first + " or " + second)));
}

void misplaced(const Trouble& t, FileId file, Diagnostics& out) {
    std::string word(text_of(t.word));
    if (begins_declaration(t.word) && t.word != Word::let) {
        out.error(Code::syntax, {file, t.begin, t.end},
                  fmt::format("`{}` is declared in a file, not inside a block", word))
            .remedy("move it out of the block, or close the block above it with `}`");
        return;
    }
    std::string what = t.word == Word::none ? "a call of an operation" : "`" + word + "`";
    out.error(Code::syntax, {file, t.begin, t.end},
              fmt::format("{} stands outside every recipe and operation", what))
        .remedy("put it into the block of a recipe, or look for a `}` too many above it");
}

std::string lower_case(std::string_view written) {
    std::string lower(written);
    for (char& c : lower)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return lower;
}

/// Whether the file gives that name, however it is written, to a gas of its own: then it is not the library's
/// that is meant.
bool declares_gas(std::string_view text, std::string_view name) {
    const std::string lower = lower_case(name);
    constexpr std::string_view word = "gas";
    for (std::size_t at = text.find(word); at != std::string_view::npos; at = text.find(word, at + 1)) {
        const std::size_t begin = text.find_first_not_of(" \t", at + word.size());
        if (begin == at + word.size() || begin == std::string_view::npos) continue;
        const std::string_view rest = text.substr(begin);
        if (lower_case(rest.substr(0, name.size())) != lower) continue;
        const std::size_t next = text.find_first_not_of(" \t", begin + name.size());
        if (next != std::string_view::npos && (text[next] == '=' || text[next] == '{')) return true;
    }
    return false;
}

void capital(const Trouble& t, Span span, std::string_view text, Diagnostics& out) {
    std::string_view written = text.substr(t.begin, t.end - t.begin);
    // Behind `let` and its like a new name is given; anywhere else a gas may be meant.
    std::string_view before = text.substr(t.statement_begin, t.begin - t.statement_begin);
    before = before.substr(0, before.find_last_not_of(" \t") + 1);
    const bool declares = before.empty() ? t.statement == Node::parameter
                                         : t.statement != Node::property && begins_declaration(t.word) &&
                                               before == text_of(t.word);
    if (const std::string_view gas = gas_of_formula(written);
        !gas.empty() && !declares && !declares_gas(text, written)) {
        out.error(Code::syntax, span,
                  fmt::format("{} is a formula; a gas is called by its name", quoted(written)))
            .remedy(fmt::format("write `{}`", gas))
            .mend(span, std::string(gas));
        return;
    }
    if (written == "RT" && among(t.statement, {Node::ramp, Node::heat, Node::cool, Node::step_to})) {
        out.error(Code::syntax, span, std::string(room_is_no_target)).remedy(std::string(room_remedy));
        return;
    }
    const std::string lower = lower_case(written);
    out.error(Code::syntax, span,
              fmt::format("the name {} has a capital letter; names are lower case", quoted(written)))
        .remedy(fmt::format("write `{}`", lower))
        .mend(span, lower);
}

void misspelt(const Trouble& t, const Reading& reading, Diagnostics& out) {
    const Span span{reading.file, t.begin, t.end};
    std::string written(reading.text.substr(t.begin, t.end - t.begin));
    const std::string_view meant = text_of(t.word);
    // A line that is none of that word's either only looks like it: `beep` is no slip for `keep`.
    const bool reads = settles(t, reading, {span, std::string(meant)});
    if (!reads && *reading.trials != 0) {
        Trouble line = t;
        line.kind = Trouble::Kind::unexpected;
        line.statement = Node::error;
        explain_unexpected(line, reading, out);
        return;
    }
    Diagnostic& d = out.error(
        Code::syntax, span, fmt::format("{} is no word of the language; read as `{}`", quoted(written), meant));
    written = lower_case(written);
    const bool sure = edit_distance(written, meant) <= surely_meant;
    d.remedy(fmt::format("{} `{}`", sure ? "write" : "perhaps", meant));
    if (sure && reads) d.mend(span, std::string(meant));
}

void other_language(const Trouble& t, Span span, std::string_view text, Diagnostics& out) {
    std::string_view written = text.substr(t.begin, t.end - t.begin);
    Diagnostic& d =
        out.error(Code::syntax, span,
                  fmt::format("the file is written for version {} of the language; this program knows "
                              "version {} only",
                              quoted(written), language_version));
    double value = 0;
    if (parse_number(written, value) && value == language_version)
        d.remedy(fmt::format("a version is a whole number: write `language {}`", language_version))
            .mend(span, std::to_string(language_version));
    else
        d.cause("the same words may mean something else in another version, so nothing of the file is used")
            .remedy(
                fmt::format("use a program that knows this version, or rewrite the file and say `language {}`",
                            language_version));
}

void invisible(Span span, std::string_view text, Diagnostics& out) {
    const Invisible hidden = invisible_at(text, span.begin);
    const std::string name = fmt::format("U+{:04X}", static_cast<std::uint32_t>(hidden.character));
    if (hidden.turns) {
        out.error(
               Code::syntax, span,
               fmt::format("an invisible mark of direction, {}: with it a line shows other words than it holds",
                           name))
            .remedy(
                "delete it, and read the line again: its words stand in the order in which they were typed");
        return;
    }
    out.error(Code::syntax, span, fmt::format("an invisible character, {}: nobody sees that it is there", name))
        .remedy("delete it");
}

void foreign_line_end(const Trouble& t, Span span, std::string_view text, Diagnostics& out) {
    const char c = text[t.begin];
    const bool carriage = c == '\r';
    const std::string_view name = carriage      ? "a carriage return without a line feed"
                                  : c == '\v'   ? "a vertical tab, U+000B"
                                  : c == '\f'   ? "a form feed, U+000C"
                                  : c == '\xC2' ? "a next line, U+0085"
                                  : text.substr(t.begin).starts_with("\u2028")
                                      ? "a line separator, U+2028"
                                      : "a paragraph separator, U+2029";
    Diagnostic& d = out.error(Code::syntax, span,
                              fmt::format("{}: shown as a line end by some programs, and none here", name));
    d.cause("a line that a reader sees behind a comment would belong to the comment");
    d.remedy(carriage ? "save the file with LF, or with CR and LF, at the end of each line"
                      : "put a line end, or a blank, in its place");
}

void explain_kind(const Trouble& t, const Reading& reading, Diagnostics& out) {
    const FileId file = reading.file;
    const std::string_view text = reading.text;
    Span span{file, t.begin, t.end};
    switch (t.kind) {
    case Trouble::Kind::unexpected: explain_unexpected(t, reading, out); break;
    case Trouble::Kind::unknown_unit: unknown_unit(t, file, text, out); break;
    case Trouble::Kind::comma_decimal: comma_decimal(t, file, text, out); break;
    case Trouble::Kind::clock_time: clock_time(t, file, text, out); break;
    case Trouble::Kind::compound_order:
        out.error(Code::syntax, span,
                  fmt::format("{} cannot follow {}: the units of one time fall, and each value is below one of "
                              "the unit before it",
                              quoted(text.substr(t.begin, t.end - t.begin)),
                              quoted(text.substr(t.other_begin, t.begin - t.other_begin))))
            .remedy("write the time in falling units, such as `1 h 30 min`");
        break;
    case Trouble::Kind::two_quantities:
        out.error(Code::syntax, span,
                  fmt::format("{} and {} stand side by side",
                              quoted(text.substr(t.other_begin, t.other_end - t.other_begin)),
                              quoted(text.substr(t.begin, t.end - t.begin))))
            .remedy("put a comma or a word such as `to`, `at` or `by` between them, or write one number "
                    "without a blank");
        break;
    case Trouble::Kind::mixed_logic: mixed_logic(t, file, text, out); break;
    case Trouble::Kind::chained: chained(t, file, text, out); break;
    case Trouble::Kind::equals_in_value:
        out.error(Code::syntax, span, "`==` is no comparison of this language")
            .remedy("compare names with `is`, and measured values with `<`, `<=`, `>` or `>=`");
        break;
    case Trouble::Kind::misspelt: misspelt(t, reading, out); break;
    case Trouble::Kind::capital: capital(t, span, text, out); break;
    case Trouble::Kind::given_twice: {
        std::string_view clause = text.substr(t.begin, t.end - t.begin);
        out.error(Code::syntax, span,
                  fmt::format("`{}` is given twice", clause.substr(0, clause.find_first_of(" \t\n"))))
            .also({file, t.other_begin, t.other_end}, "first given here");
        break;
    }
    case Trouble::Kind::missing_brace:
        out.error(Code::syntax, span, "this block has no closing `}`").remedy("add `}` where the block ends");
        break;
    case Trouble::Kind::stray_brace:
        out.error(Code::syntax, span, "this `}` closes nothing")
            .remedy("remove it, or look for a `{` that is missing above");
        break;
    case Trouble::Kind::too_deep:
        out.error(
               Code::too_large, span,
               fmt::format("nested deeper than {} levels, or more than 1000 operators in a row", max_nesting))
            .remedy("split it: name the inner parts with `let`, or move steps into an `operation`");
        break;
    case Trouble::Kind::misplaced: misplaced(t, file, out); break;
    case Trouble::Kind::bad_byte:
        if (text[t.begin] == '\0')
            out.error(Code::syntax, span, "a zero byte: this is no text file");
        else
            out.error(Code::syntax, span, fmt::format("byte {} is not UTF-8", hex(text, t.begin)))
                .remedy("save the file as UTF-8; an older encoding writes ° and ± as single bytes");
        break;
    case Trouble::Kind::invisible: invisible(span, text, out); break;
    case Trouble::Kind::foreign_line_end: foreign_line_end(t, span, text, out); break;
    case Trouble::Kind::file_too_large:
        // Of a file beyond the limit no more is read than shows that it is.
        out.error(Code::too_large, span,
                  fmt::format("more than {} bytes, the most that a file holds", max_file_bytes))
            .remedy("split it into files that `use` each other");
        break;
    case Trouble::Kind::other_language: other_language(t, span, text, out); break;
    case Trouble::Kind::language_twice:
        out.error(Code::syntax, span, "the version of the language is stated twice")
            .also({file, t.other_begin, t.other_end}, "first stated here")
            .remedy("keep one of the lines, at the head of the file");
        break;
    }
}

} // namespace

void explain_one(const Trouble& trouble, const Reading& reading, Diagnostics& out) {
    // Those two have tried their edits.
    if (trouble.kind == Trouble::Kind::unexpected || trouble.kind == Trouble::Kind::misspelt) {
        explain_kind(trouble, reading, out);
        return;
    }
    Diagnostics told;
    explain_kind(trouble, reading, told);
    for (Diagnostic d : told.all()) {
        if (d.edit && trouble.statement != Node::none && !settles(trouble, reading, *d.edit)) d.edit.reset();
        out.add(std::move(d));
    }
}

void explain(const std::vector<Trouble>& troubles, FileId file, const Files& files, Diagnostics& out) {
    unsigned trials = most_trials;
    for (const Trouble& trouble : troubles) explain_one(trouble, {file, files[file].text(), 0, &trials}, out);
}

std::string quoted(std::string_view text, std::size_t longest) {
    std::size_t first = text.find_first_not_of(" \t\r\n"), last = text.find_last_not_of(" \t\r\n");
    text = first == std::string_view::npos ? std::string_view() : text.substr(first, last - first + 1);
    std::string out = "`";
    std::size_t kept = 0;
    for (char c : text) {
        if (++kept > longest && (static_cast<unsigned char>(c) & 0xC0U) != 0x80U) return out + "…`";
        bool blank = c == '\n' || c == '\r' || c == '\t' || c == ' ';
        if (!blank)
            out += c;
        else if (out.back() != ' ')
            out += ' ';
    }
    return out + '`';
}

} // namespace athanor::grammar
