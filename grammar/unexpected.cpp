// Wording for a rule that stopped: slips that people make, then the plain "expected …, found …".
#include "grammar/place.hpp"

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
    LookAlike{"\uFF1A", "wide colon, U+FF1A", ":"},
    LookAlike{"\uFF0C", "wide comma, U+FF0C", ","},
    LookAlike{"\u037E", "question mark, U+037E", ";"},
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

/// `“x”`: the text in plain quotes, where it has both on its line; else empty.
std::string in_plain_quotes(const Place& p, std::uint32_t& end) {
    constexpr std::string_view opening = "\u201C", closing = "\u201D", low = "\u201E";
    const std::string_view first = p.text.substr(p.at, opening.size());
    if (first != opening && first != low && first != closing) return {};
    const auto begin = p.at + static_cast<std::uint32_t>(first.size());
    const std::string_view line = p.text.substr(begin, end_of_line(p.text, begin) - begin);
    const std::size_t close = std::min(line.find(closing), line.find(opening));
    if (close == std::string_view::npos || line.substr(0, close).find('"') != std::string_view::npos) return {};
    end = begin + static_cast<std::uint32_t>(close + closing.size());
    return fmt::format("\"{}\"", line.substr(0, close));
}

/// Does the file give this name to a value: `let slack = …`, `slack : time`?
bool value_declared(std::string_view text, std::string_view name) {
    for (std::size_t at = text.find(name); at != std::string_view::npos; at = text.find(name, at + 1)) {
        const auto begin = static_cast<std::uint32_t>(at);
        if ((at > 0 && word_byte(text[at - 1])) || word_at(text, begin) != name) continue;
        const std::string_view behind =
            text.substr(past_blanks(text, begin + static_cast<std::uint32_t>(name.size())));
        if (behind.starts_with('=') || behind.starts_with(':')) return true;
    }
    return false;
}

/// `at 3 K/min — slow`, `at 3–5 K/min`: such a dash stands before a remark or within a range as well, where a
/// minus sign would only make another wrong text.
bool dash(const Place& p, Diagnostics& out) {
    constexpr std::string_view en = "\u2013", em = "\u2014";
    static_assert(en.size() == em.size());
    const std::string_view sign = p.text.substr(p.at, en.size());
    if (sign != en && sign != em) return false;
    const Span span{p.file, p.at, p.at + static_cast<std::uint32_t>(sign.size())};
    const std::uint32_t next = past_blanks(p.text, span.end);
    const std::string_view name = word_at(p.text, next);
    const bool remark = !name.empty() && !value_declared(p.text, name);
    const bool range =
        next < p.text.size() && digit(p.text[next]) && p.before() > 0 && digit(p.text[p.before() - 1]);
    if (!remark && !range) return false;
    out.error(Code::syntax, span, fmt::format("an {} dash has no meaning here", sign == en ? "en" : "em"))
        .remedy(remark ? "write `#` before a remark, or `-` where something is subtracted"
                       : "write one value, as no range can be keyed, or `-` where something is subtracted");
    return true;
}

bool look_alike(const Place& p, Diagnostics& out) {
    if (dash(p, out)) return true;
    for (const LookAlike& l : look_alikes) {
        if (p.text.substr(p.at, l.wrong.size()) != l.wrong) continue;
        Span span{p.file, p.at, p.at + static_cast<std::uint32_t>(l.wrong.size())};
        const std::string instead = l.right == " " ? "a plain blank" : fmt::format("`{}`", l.right);
        Diagnostic& d =
            out.error(Code::syntax, span,
                      fmt::format("this character ({}) only looks like one of the language", l.name))
                .remedy(fmt::format("write {} instead", instead))
                .mend(span, std::string(l.right));
        if (std::string text = in_plain_quotes(p, span.end); !text.empty())
            d.mend({p.file, p.at, span.end}, std::move(text));
        return true;
    }
    return false;
}

/// Comments of other languages.
bool foreign_comment(const Place& p, Diagnostics& out) {
    // Behind a value the first `/` was read as a division.
    const bool divided = (p.here() == '/' || p.here() == '*') && p.at > 0 && p.text[p.at - 1] == '/';
    const std::uint32_t begin = divided ? p.at - 1 : p.at;
    const std::string_view sign = p.text.substr(begin, 2);
    if (sign != "//" && sign != "/*") return false;
    const Span span{p.file, begin, begin + 2};
    Diagnostic& d = out.error(Code::syntax, span, "a comment begins with `#` and ends with its line");
    if (sign == "//") {
        d.remedy("write `#`").mend(span, "#");
        return true;
    }
    const std::string_view line = p.text.substr(begin + 2, end_of_line(p.text, begin) - begin - 2);
    const std::size_t close = line.find("*/");
    const std::string_view behind = close == std::string_view::npos ? line : line.substr(close + 2);
    if (close == std::string_view::npos) {
        d.remedy("write `#` before each line of the comment, without `/*` and `*/`");
    } else if (behind.find_first_not_of(" \t\r") == std::string_view::npos ||
               behind.find_first_not_of(" \t") == behind.find('#')) {
        std::string_view words = line.substr(0, close);
        words = words.substr(0, words.find_last_not_of(' ') + 1);
        d.remedy(fmt::format("write `#{}`", words));
        d.mend({p.file, begin, begin + 2 + static_cast<std::uint32_t>(close + 2)}, fmt::format("#{}", words));
    } else {
        d.remedy("take the comment out of the line, or to its end, behind `#`");
    }
    return true;
}

/// `ramp to 800 degC 5 K/min`, `open argon 2.4 slm`
bool missing_at(const Place& p, Diagnostics& out) {
    const auto [quantity, unit] = quantity_at(p.text, p.at);
    if (unit == nullptr) return false;
    const Kind kind = unit->kind;
    const bool volumes = kind == Kind::count && p.trouble.statement == Node::purge;
    const Word word = volumes                    ? Word::for_
                      : kind == Kind::difference ? Word::within
                                                 : word_before(p.trouble.statement, kind);
    if (word == Word::none || word == Word::to || !p.wants(word)) return false;
    const Span span{p.file, p.at, p.at + static_cast<std::uint32_t>(quantity.size())};
    Diagnostic& d =
        out.error(Code::syntax, span, fmt::format("`{}` is missing before `{}`", text_of(word), quantity))
            .remedy(fmt::format("write `{} {}`", text_of(word), quantity));
    // Behind a temperature a difference may lack its `+` as well.
    if (kind != Kind::difference) d.mend({p.file, p.at, p.at}, std::string(text_of(word)) + ' ');
    return true;
}

/// `cool to room temperature`
bool room_temperature(const Place& p, Diagnostics& out) {
    if (p.word != "temperature" || p.at < 5) return false;
    const std::uint32_t end = p.before();
    if (end < 4 || p.text.substr(end - 4, 4) != "room") return false;
    out.error(Code::syntax, {p.file, end - 4, p.at + static_cast<std::uint32_t>(p.word.size())},
              std::string(room_is_no_target))
        .remedy(std::string(room_remedy));
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
    const Span head{p.file, p.trouble.statement_begin, p.before()};
    const std::string_view rest = rest_of_statement(p.text, p.at);
    const bool compares = rest.find_first_of("<>") != std::string_view::npos;
    const std::string right = compares && p.word != "until" ? "dwell until" : "dwell";
    Diagnostic& d =
        out.error(Code::syntax, head,
                  "`wait` waits for a person; for a time, or until a condition holds, a set-point is "
                  "held with `dwell`");
    d.remedy(fmt::format("write `{}`", right));
    // A name may be a time, or a person.
    if (compares || p.word == "until" || digit(p.here()))
        d.mend(head, right);
    else
        d.remedy("where a person is meant, write `wait for operator \"…\"`");
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

/// `recipe nickel-reduction`
bool dashed_name(const Place& p, Diagnostics& out) {
    if (!among(p.trouble.statement, {Node::recipe, Node::operation, Node::rig, Node::controller, Node::gas,
                                     Node::policy, Node::rule, Node::let, Node::parameter}) ||
        p.here() != '-' || p.before() != p.at)
        return false;
    std::uint32_t begin = p.at, end = p.at;
    while (begin > 0 && word_byte(p.text[begin - 1])) --begin;
    while (end < p.text.size() && (word_byte(p.text[end]) || p.text[end] == '-')) ++end;
    std::string written(p.text.substr(begin, end - begin));
    if (begin == p.at || digit(written.front()) || written.back() == '-') return false;
    std::replace(written.begin(), written.end(), '-', '_');
    out.error(Code::syntax, {p.file, begin, end}, "a name is made of letters, digits and `_`")
        .remedy(fmt::format("write `{}`", written))
        .mend({p.file, begin, end}, written);
    return true;
}

/// `temperature peak = 500 degC`: the type as other languages have it.
bool type_before_name(const Place& p, Diagnostics& out) {
    std::uint32_t begin = p.before();
    while (begin > 0 && word_byte(p.text[begin - 1])) --begin;
    const std::string_view type = word_at(p.text, begin);
    if (p.trouble.statement != Node::parameter || p.word.empty() || !type_named(type)) return false;
    const std::string written = fmt::format("{} : {}", p.word, type);
    const Span span{p.file, begin, p.at + static_cast<std::uint32_t>(p.word.size())};
    out.error(Code::syntax, span, "the type of a parameter stands behind its name")
        .remedy(fmt::format("write `{}`", written))
        .mend(span, written);
    return true;
}

/// `peak : temperature = 500 degC` and the next parameter on its line.
bool missing_comma(const Place& p, Diagnostics& out) {
    const std::uint32_t behind = past_blanks(p.text, p.at + static_cast<std::uint32_t>(p.word.size()));
    if (p.trouble.statement != Node::parameter || p.word.empty() || !p.wants(Wanted::Class::symbol, ',') ||
        behind >= p.text.size() || p.text[behind] != ':')
        return false;
    out.error(Code::syntax, {p.file, p.before(), p.before()},
              fmt::format("a comma is missing before `{}`", p.word))
        .remedy("write `,` between two parameters")
        .mend({p.file, p.before(), p.before()}, ",");
    return true;
}

/// `let hold : 20 min`, `peak : 500 degC`
bool value_behind_colon(const Place& p, Diagnostics& out) {
    const char c = p.here();
    const std::uint32_t before = p.before();
    if (!among(p.trouble.statement, {Node::let, Node::parameter}) || before == 0 || p.text[before - 1] != ':' ||
        (!digit(c) && c != '-' && c != '(' && c != '['))
        return false;
    const Span colon{p.file, before - 1, before};
    out.error(Code::syntax, colon, "`:` gives a type; a value follows `=`")
        .remedy("write `=`")
        .mend(colon, "=");
    return true;
}

/// `let hold := 20 min`
bool colon_equals(const Place& p, Diagnostics& out) {
    if (p.here() != '=' || p.at == 0 || p.text[p.at - 1] != ':') return false;
    const Span sign{p.file, p.at - 1, p.at + 1};
    out.error(Code::syntax, sign, "a value follows `=` alone").remedy("write `=`").mend(sign, "=");
    return true;
}

/// `let hold 20 min`
bool let_without_equals(const Place& p, Diagnostics& out) {
    if (p.trouble.statement != Node::let || !p.wants(Wanted::Class::symbol, '=') ||
        (!digit(p.here()) && p.here() != '('))
        return false;
    out.error(Code::syntax, p.span(), fmt::format("`=` is missing before {}", found_at(p.text, p.at)))
        .remedy("write `=` before the value")
        .mend({p.file, p.at, p.at}, "= ");
    return true;
}

/// `gas forming "Forming gas" = …`
bool titled_mixture(const Place& p, Diagnostics& out) {
    const std::uint32_t before = p.before();
    if (p.here() != '=' || p.trouble.statement != Node::gas || before == 0 || p.text[before - 1] != '"')
        return false;
    const std::uint32_t open = before < 2 ? 0 : static_cast<std::uint32_t>(p.text.rfind('"', before - 2));
    out.error(Code::syntax, {p.file, open, before}, "a mixture takes no title: `=` follows its name")
        .remedy("leave the title out, or write it as a comment, `## …`, above")
        .mend({p.file, open, p.at}, "");
    return true;
}

/// `open argon = 1 slm`
bool flow_behind_sign(const Place& p, Diagnostics& out) {
    if (!among(p.trouble.statement,
               {Node::open_line, Node::switch_to, Node::set_line, Node::purge, Node::blend}) ||
        p.read().find(" until ") != std::string_view::npos || (!p.wants(Word::at) && !p.wants(Word::to)))
        return false;
    const std::string_view word = p.wants(Word::to) ? "to" : "at";
    const bool glued = past_blanks(p.text, p.at + 1) == p.at + 1;
    out.error(Code::syntax, p.span(), fmt::format("a flow follows the word `{}`, no `{}`", word, p.here()))
        .remedy(fmt::format("write `{}`", word))
        .mend(p.span(), fmt::format("{}{}{}", p.before() == p.at ? " " : "", word, glued ? " " : ""));
    return true;
}

/// `=` where only `:` can stand, and the reverse.
bool sign_for_sign(const Place& p, Diagnostics& out) {
    const bool type = p.here() == '=';
    const char other = type ? ':' : '=';
    if (p.trouble.kind != Trouble::Kind::unexpected || !p.wants(Wanted::Class::symbol, other) ||
        p.wants(Wanted::Class::symbol, p.here()))
        return false;
    out.error(Code::syntax, p.span(),
              type ? "`=` gives a value; a type follows `:`" : "`:` gives a type; a value follows `=`")
        .remedy(fmt::format("write `{}`", other))
        .mend(p.span(), std::string(1, other));
    return true;
}

/// `wall = 3 mm`
bool property_with_sign(const Place& p, Diagnostics& out) {
    if (!among(p.trouble.statement, {Node::property, Node::default_line})) return false;
    out.error(Code::syntax, p.span(),
              fmt::format("a property takes no `{}` between its name and its value", p.here()))
        .remedy("write the name, a blank and the value")
        .mend(p.span(), "");
    return true;
}

/// `if gas = argon {`
bool comparing_equals(const Place& p, Diagnostics& out) {
    if (p.here() != '=' || p.trouble.statement == Node::error ||
        (!p.wants(Wanted::Class::statement_end) && !p.wants(Wanted::Class::block)))
        return false;
    out.error(Code::syntax, p.span(), "`=` gives a value to a name; it does not compare")
        .remedy("compare names with `is`, and measured values with `<`, `<=`, `>` or `>=`");
    return true;
}

/// `inert_purge(feed : 1 slm)`
bool argument_with_colon(const Place& p, Diagnostics& out) {
    if (p.here() != ':' || !p.wants(Wanted::Class::symbol, ')')) return false;
    out.error(Code::syntax, p.span(), "an argument is given with `=`").remedy("write `=`").mend(p.span(), "=");
    return true;
}

bool equals_and_colon(const Place& p, Diagnostics& out) {
    const auto first_of = [&](std::initializer_list<Wording> wordings) {
        return std::any_of(wordings.begin(), wordings.end(), [&](Wording w) { return w(p, out); });
    };
    if (first_of({value_behind_colon, colon_equals, let_without_equals})) return true;
    // Reading stopped at the sign itself.
    return (p.here() == '=' || p.here() == ':') &&
           first_of({titled_mixture, flow_behind_sign, sign_for_sign, property_with_sign, comparing_equals,
                     argument_with_colon});
}

bool missing_to(const Place& p, Diagnostics& out) {
    if (!p.wants(Word::to)) return false;
    bool begins_value =
        digit(p.here()) || p.here() == '(' || p.here() == '?' || p.here() == '-' || !p.word.empty();
    if (!begins_value || (!p.word.empty() && reserved(word_of(p.word)))) return false;
    if (!p.word.empty() && edit_distance(p.word, "to") <= 1) return false;
    if (p.before() > 0 && p.text[p.before() - 1] == ',') return false; // a second target of one zone
    std::string_view value = quantity_at(p.text, p.at).first;
    if (value.empty()) value = p.text.substr(p.at, p.trouble.end - p.at);
    out.error(Code::syntax, p.span(), fmt::format("`to` is missing before {}", found_at(p.text, p.at)))
        .remedy(fmt::format("write `to {}`", value))
        .mend({p.file, p.at, p.at}, p.before() == p.at ? " to " : "to ");
    return true;
}

bool rate_of_fast_step(const Place& p, Diagnostics& out) {
    bool fast = p.trouble.statement == Node::heat || p.trouble.statement == Node::step_to;
    const Unit* unit = quantity_at(p.text, p.at).second;
    const bool bare = unit != nullptr && unit->kind == Kind::rate;
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
               fmt::format("ramp{}at ", p.text.substr(head, p.at - head)));
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
        for (Word word : action_words) compare(word);
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
        Diagnostic& d = out.error(Code::syntax, p.span(),
                                  fmt::format("`{}` is a word of the language and cannot be a name", p.word));
        // Where a thing is called that has its name already, no other one helps.
        const std::string_view form = form_of(p.trouble.statement);
        const bool declares =
            form.empty() || p.trouble.statement == Node::let || p.trouble.statement == Node::recipe;
        d.remedy(declares ? std::string("choose another name") : fmt::format("it is written `{}`", form));
        return true;
    }
    return false;
}

/// One slip of the pen apart, and not in the first letter, which is seldom the wrong one.
bool near(std::string_view written, std::string_view word) {
    return !word.empty() && written != word && written.front() == word.front() &&
           edit_distance(written, word) <= surely_meant;
}

bool in_steps(const Place& p) {
    const Span around = declaration_around(p.text, p.file, p.trouble.statement_begin);
    const Word head = word_of(word_at(p.text, around.begin));
    return head == Word::recipe || head == Word::operation;
}

/// `dwell 30 min ; soak`: a comment of other languages.
bool behind_semicolon(const Place& p) {
    std::uint32_t at = p.trouble.statement_begin;
    while (at > 0 && (p.text[at - 1] == ' ' || p.text[at - 1] == '\t')) --at;
    return at > 0 && p.text[at - 1] == ';';
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
    } else if (!reserved(word) && p.text.substr(behind, 2) == ":=") {
        out.error(Code::syntax, p.span(), fmt::format("`{}` is given a value without `let`", p.word))
            .remedy(fmt::format("write `let {} = …`", p.word))
            .mend({p.file, p.at, behind + 2}, fmt::format("let {} =", p.word));
    } else if (!reserved(word) && next == '=') {
        out.error(Code::syntax, p.span(), fmt::format("`{}` is given a value without `let`", p.word))
            .remedy(fmt::format("write `let {} = …`", p.word))
            .mend({p.file, p.at, p.at}, "let ");
    } else {
        Diagnostic& d = out.error(Code::syntax, p.span(), fmt::format("`{}` begins no statement here", p.word));
        const std::uint32_t at = past_blanks(p.text, behind + 2);
        const Unit* unit = quantity_at(p.text, at).second;
        const bool flow = unit == nullptr || unit->kind == Kind::flow || unit->kind == Kind::volume_flow;
        if (!reserved(word) && word_at(p.text, behind) == text_of(Word::at) && flow)
            d.remedy(fmt::format("a line is opened with `open {} at FLOW`", p.word));
        else if (!reserved(word) && near(p.word, text_of(p.trouble.word)))
            d.remedy(fmt::format("perhaps `{}`", text_of(p.trouble.word)));
        else if (in_steps(p))
            d.remedy("docs/language.md lists the words that begin one, under \"Steps\" and \"Actions\"");
    }
    return true;
}

struct Known {
    Wording wording;
    bool guess; // told only where its edit leads to a statement that can be read
};
constexpr std::array known_slips{
    Known{conflict_marker, false},
    Known{unclosed_text, false},
    Known{power_of_ten, false},
    Known{spoken_time, false},
    Known{roughly, false},
    Known{vulgar_fraction, false},
    Known{path_without_quotes, false},
    Known{apostrophe, false},
    Known{look_alike, false},
    Known{foreign_letter, false},
    Known{foreign_comment, false},
    Known{hold_behind_target, false},
    Known{time_behind_target, false},
    Known{comma_for_word, true},
    Known{joined_steps, false},
    Known{called_step, false},
    Known{numbered_step, true},
    Known{dashed_name, false},
    Known{type_before_name, false},
    Known{missing_comma, false},
    Known{equals_and_colon, false},
    Known{bare_decimal, false},
    Known{digit_group, true},
    Known{minutes_behind_hours, false},
    Known{held_at, false},
    Known{as_fast_as_possible, true},
    Known{set_temperature, false},
    Known{line_switched, false},
    Known{line_and_flow, false},
    Known{signal_set, false},
    Known{wrong_partner, false},
    Known{word_before_line, true},
    Known{controller_before_rig, true},
    Known{start_of_ramp, false},
    Known{zone_by_number, false},
    Known{everyday_word, false},
    Known{operation_without_parentheses, false},
    Known{wait_for_time, false},
    Known{per, false},
    Known{absolute_pressure, false},
    Known{room_temperature, false},
    Known{rate_before_target, false},
    Known{rate_of_fast_step, false},
    Known{steps_side_by_side, false},
    Known{misspelt, true},
    Known{missing_sign, false},
    Known{full_stop, false},
    Known{second_line, false},
    Known{remark, false},
    Known{figure_alone, false},
    Known{note_without_quotes, false},
    Known{range_loop, false},
    Known{missing_times, true},
    Known{missing_at, true},
    Known{no_target, false},
    Known{missing_to, true},
    Known{head_without_brace, false},
    Known{reserved_name, false},
    Known{bad_line, false},
};

} // namespace

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
    return quoted(text.substr(at, end - at));
}

void explain_unexpected(const Trouble& trouble, const Reading& reading, Diagnostics& out) {
    const FileId file = reading.file;
    const std::string_view text = reading.text;
    Place p{trouble, file, text, trouble.begin, {}};
    std::uint32_t end = p.at;
    while (end < text.size() && word_byte(text[end])) ++end;
    if (end > p.at && !digit(text[p.at])) p.word = text.substr(p.at, end - p.at);

    for (const Known& known : known_slips) {
        Diagnostics trial;
        if (!known.wording(p, trial)) continue;
        Diagnostic d = trial.all().front();
        if (d.edit && !settles(trouble, reading, *d.edit)) {
            // A guess that leads nowhere was none.
            if (known.guess && *reading.trials != 0) continue;
            d.edit.reset();
        }
        if (!d.edit && trouble.statement == Node::error && behind_semicolon(p))
            d.remedy("a comment begins with `#`; `;` ends a statement");
        out.add(std::move(d));
        return;
    }
    std::string found = found_at(text, p.at);
    Span span = p.span();
    // What is missing at a line's end is shown behind the last thing read, where it has to be written.
    if (p.next_statement()) found = "the end of the line";
    if (found.starts_with("the end of")) span.begin = span.end = p.before();
    std::string what = expected(p);
    std::string message = what.empty() ? fmt::format("{} has no meaning here", found)
                                       : fmt::format("expected {}, found {}", what, found);
    Diagnostic& d = out.error(Code::syntax, span, message);
    if (const std::string_view form = form_of(trouble.statement); !form.empty())
        d.remedy(fmt::format("it is written `{}`", form));
    // On a later line the reader has to be told which statement this is.
    std::string_view between = text.substr(trouble.statement_begin, span.begin - trouble.statement_begin);
    if (trouble.word != Word::none && trouble.statement != Node::error &&
        between.find('\n') != std::string_view::npos)
        d.also({file, trouble.statement_begin,
                trouble.statement_begin + static_cast<std::uint32_t>(text_of(trouble.word).size())},
               "in the statement that begins here");
}

} // namespace athanor::grammar
