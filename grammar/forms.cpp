// Statements that are written in a form of another language.
#include "grammar/place.hpp"

#include <fmt/format.h>

#include <array>
#include <vector>

namespace athanor::grammar {
Word word_before(Node statement, Kind kind) {
    const bool ramps = among(statement, {Node::ramp, Node::cool});
    switch (kind) {
    case Kind::rate: return ramps ? Word::at : Word::none;
    case Kind::flow:
    case Kind::volume_flow: return statement == Node::set_line ? Word::to : Word::at;
    case Kind::time: return ramps ? Word::over : statement == Node::purge ? Word::for_ : Word::none;
    case Kind::temperature: return Word::to;
    case Kind::pressure: return statement == Node::evacuate ? Word::to : Word::none;
    default: return Word::none;
    }
}

namespace {

std::uint32_t end_at(const Place& p, std::string_view part) {
    return static_cast<std::uint32_t>(part.data() + part.size() - p.text.data());
}

/// Behind a comma, `and` and `then`, from `at` on.
std::uint32_t past_joiners(std::string_view text, std::uint32_t at) {
    for (;;) {
        at = past_blanks(text, at);
        const std::string_view word = word_at(text, at);
        if (at < text.size() && text[at] == ',')
            ++at;
        else if (word == "and" || word == "then")
            at += static_cast<std::uint32_t>(word.size());
        else
            return at;
    }
}

/// Before a comma, `and` and `then`, back from `at`.
std::uint32_t before_joiners(std::string_view text, std::uint32_t at) {
    for (;;) {
        while (at > 0 && (text[at - 1] == ' ' || text[at - 1] == '\t')) --at;
        const std::string_view read = text.substr(0, at);
        if (read.ends_with(','))
            --at;
        else if (read.ends_with(" and"))
            at -= 3;
        else if (read.ends_with(" then"))
            at -= 4;
        else
            return at;
    }
}

/// "at 300 degC " where the statement is an action that is placed there and another one follows, which needs
/// its place as well; else empty.
std::string_view place_of_action(const Place& p, Word next) {
    if (std::find(action_words.begin(), action_words.end(), next) == action_words.end()) return {};
    const std::string_view before = p.text.substr(0, p.trouble.statement_begin);
    const std::size_t apart = before.find_last_of("\n;{");
    const std::uint32_t begin =
        past_blanks(p.text, apart == std::string_view::npos ? 0U : static_cast<std::uint32_t>(apart) + 1U);
    const std::string_view word = word_at(before, begin);
    return word == "at" || word == "after" ? before.substr(begin) : std::string_view();
}

} // namespace

/// `ramp …, dwell 30 min`, `ramp … and dwell 30 min`, `ramp … then dwell 30 min`
bool joined_steps(const Place& p, Diagnostics& out) {
    const std::uint32_t left = before_joiners(p.text, p.at), right = past_joiners(p.text, p.at);
    const std::string_view next = word_at(p.text, right);
    const bool calls = !next.empty() && p.text.substr(right + next.size()).starts_with('(');
    if (among(p.trouble.statement, {Node::error, Node::if_else}) || left <= p.trouble.statement_begin)
        return false;
    if (past_blanks(p.text, left) == right || (!begins_step(word_of(next)) && !calls)) return false;
    const std::uint32_t begin = past_blanks(p.text, left);
    const std::string_view joiner = p.text.substr(begin);
    const std::uint32_t end =
        begin + (joiner.starts_with(',') ? 1U : static_cast<std::uint32_t>(word_at(p.text, begin).size()));
    const Span span{p.file, begin, end};
    const std::string_view joining = p.text.substr(begin, end - begin);
    if (among(p.trouble.statement, {Node::at_action, Node::after_action})) { // `at 300 degC, close argon`
        out.error(Code::syntax, span, "the action follows at once")
            .remedy(fmt::format("leave `{}` out", joining))
            .mend({p.file, left, right}, " ");
        return true;
    }
    const std::string_view place = place_of_action(p, word_of(next));
    out.error(Code::syntax, span, fmt::format("`{}` joins no steps: a statement ends with its line", joining))
        .remedy(fmt::format("write `{}{}` on a line of its own, or `;` before it", place,
                            rest_of_statement(p.text, right)))
        .mend({p.file, left, right}, fmt::format(" ; {}", place));
    return true;
}

/// `ramp to 700 degC at 5 K/min dwell 30 min`
bool steps_side_by_side(const Place& p, Diagnostics& out) {
    const bool step = begins_step(word_of(p.word)) && p.word != "for" && p.word != "if" && p.word != "at";
    if (!p.wants(Wanted::Class::statement_end) || p.trouble.statement == Node::error) return false;
    const bool verb = everyday_verb(p.word) && !reserved(word_of(p.word)) &&
                      among(p.trouble.statement, {Node::ramp, Node::heat, Node::cool, Node::step_to,
                                                  Node::dwell, Node::purge, Node::evacuate, Node::backfill});
    if ((!step && !verb) || p.before() <= p.trouble.statement_begin || p.next_statement()) return false;
    const std::string_view place = place_of_action(p, word_of(p.word));
    out.error(Code::syntax, p.span(), "a statement ends with its line, and another one begins here")
        .remedy(fmt::format("write `{}{}` on a line of its own, or `;` before it", place,
                            rest_of_statement(p.text, p.at)))
        .mend({p.file, p.before(), p.at}, fmt::format(" ; {}", place));
    return true;
}

/// `open argon, hydrogen`, `close argon and hydrogen`
bool second_line(const Place& p, Diagnostics& out) {
    if (!among(p.trouble.statement, {Node::open_line, Node::close_lines}) ||
        !p.wants(Wanted::Class::statement_end))
        return false;
    const std::string_view name = word_at(p.text, past_joiners(p.text, p.at));
    if (name.empty() || reserved(word_of(name)) || unit_named(name) != nullptr) return false;
    const bool opens = p.trouble.statement == Node::open_line;
    Diagnostic& d = out.error(Code::syntax, p.span(),
                              opens ? "`open` opens one line" : "several lines stand with commas between them");
    if (opens)
        d.remedy(fmt::format("write `open {} at FLOW` on a line of its own", name));
    else
        d.remedy(fmt::format("write `, {}`", name));
    return true;
}

/// `dwell 30 min "soak"`, `dwell 30 min (soak)`
bool remark(const Place& p, Diagnostics& out) {
    if (!among(p.trouble.statement,
               {Node::ramp, Node::heat, Node::cool, Node::step_to, Node::dwell, Node::purge, Node::evacuate,
                Node::backfill, Node::open_line, Node::close_lines, Node::close_all}))
        return false;
    if ((p.here() != '"' && p.here() != '(') || !p.wants(Wanted::Class::statement_end)) return false;
    std::string_view words = rest_of_statement(p.text, p.at);
    if (words.size() < 3 || (words.back() != '"' && words.back() != ')') || digit(words[1])) return false;
    const Span span{p.file, p.at, end_at(p, words)};
    words = words.substr(1, words.size() - 2);
    out.error(Code::syntax, span, "a remark is no part of a statement")
        .remedy(
            fmt::format("write it as a comment, `# {}`, or on a line of its own, `note \"{}\"`", words, words));
    return true;
}

/// `700 degC`, `30 min`: a figure at the head of a line.
bool figure_alone(const Place& p, Diagnostics& out) {
    const auto [quantity, unit] = quantity_at(p.text, p.at);
    if (p.trouble.statement != Node::error || unit == nullptr) return false;
    const std::string_view form = unit->kind == Kind::temperature ? "ramp to {} at RATE"
                                  : unit->kind == Kind::time      ? "dwell {}"
                                  : unit->kind == Kind::rate      ? "ramp to TARGET at {}"
                                  : unit->kind == Kind::pressure  ? "evacuate to {}"
                                                                  : "";
    if (form.empty()) return false;
    out.error(Code::syntax, p.span(),
              fmt::format("`{}` begins no statement: a figure stands behind what it is for", quantity))
        .remedy(fmt::format("write `{}`", fmt::format(fmt::runtime(form), quantity)));
    return true;
}

/// `dwell 30 min,`, `dwell 30 min.`
bool full_stop(const Place& p, Diagnostics& out) {
    if (p.here() != ',' && p.here() != '.' && p.here() != '!') return false;
    const std::string_view rest = rest_of_statement(p.text, p.at + 1);
    if (!p.wants(Wanted::Class::statement_end) || !rest.empty()) return false;
    out.error(Code::syntax, p.span(), fmt::format("a statement ends with its line, without `{}`", p.here()))
        .remedy(fmt::format("leave `{}` out", p.here()))
        .mend({p.file, p.before(), p.at + 1}, "");
    return true;
}

/// `note hello`
bool note_without_quotes(const Place& p, Diagnostics& out) {
    if (p.trouble.statement != Node::note || p.word.empty()) return false;
    const std::string_view words = rest_of_statement(p.text, p.at);
    if (words.find_first_of("\"'") != std::string_view::npos) return false;
    const Span span{p.file, p.at, end_at(p, words)};
    out.error(Code::syntax, span, "a note stands in double quotes")
        .remedy(fmt::format("write `note \"{}\"`", words))
        .mend(span, fmt::format("\"{}\"", words));
    return true;
}

/// `for i in 1 to 3 { … }`
bool range_loop(const Place& p, Diagnostics& out) {
    if (p.trouble.statement != Node::for_each || (!digit(p.here()) && p.here() != '=')) return false;
    const std::uint32_t behind = p.trouble.statement_begin + 3;
    const std::string_view name = word_at(p.text, past_blanks(p.text, behind));
    if (name.empty()) { // `for 3 times { … }`
        out.error(Code::syntax, {p.file, p.trouble.statement_begin, behind},
                  "`for` goes through a list; what counts is `repeat`")
            .remedy("write `repeat`")
            .mend({p.file, p.trouble.statement_begin, behind}, "repeat");
        return true;
    }
    out.error(Code::syntax, p.span(), "`for` goes through a list; what counts is `repeat`")
        .remedy(
            fmt::format("write `repeat N times as {} {{ … }}`, or `for {} in [1, 2, 3] {{ … }}`", name, name));
    return true;
}

/// `dwell until temperature 700 degC`
bool missing_sign(const Place& p, Diagnostics& out) {
    if (!among(p.trouble.statement,
               {Node::dwell, Node::require, Node::expect, Node::purge, Node::if_else, Node::rule_require}))
        return false;
    const std::string_view quantity = quantity_at(p.text, p.at).first;
    std::uint32_t begin = p.before();
    while (begin > 0 && word_byte(p.text[begin - 1])) --begin;
    const std::string_view name = word_at(p.text, begin);
    if (quantity.empty() || name.empty() || reserved(word_of(name)) || begin <= p.trouble.statement_begin)
        return false;
    const bool condition = !among(p.trouble.statement, {Node::dwell, Node::purge}) ||
                           p.read().find(" until ") != std::string_view::npos;
    if (!condition || unit_named(name) != nullptr) return false;
    out.error(Code::syntax, {p.file, begin, p.at + static_cast<std::uint32_t>(quantity.size())},
              fmt::format("no sign compares `{}` with `{}`", name, quantity))
        .remedy(fmt::format("write `{} < {}`, or `{} > {}`", name, quantity, name, quantity));
    return true;
}

/// `argon 2.5 L/min`, `argon = 2.5 L/min`: the line's name, and its flow at the end of the statement.
bool line_and_flow(const Place& p, Diagnostics& out) {
    if (p.trouble.statement != Node::error || p.word.empty() || reserved(word_of(p.word))) return false;
    const std::uint32_t end = p.at + static_cast<std::uint32_t>(p.word.size());
    std::string_view name = p.word;
    std::uint32_t at = past_blanks(p.text, end);
    if (p.word == "flow" && !word_at(p.text, at).empty()) {
        name = word_at(p.text, at);
        at = past_blanks(p.text, at + static_cast<std::uint32_t>(name.size()));
    }
    if (at < p.text.size() && (p.text[at] == '=' || p.text[at] == ':')) at = past_blanks(p.text, at + 1);
    for (std::string_view word : {"flow", "at"})
        if (word_at(p.text, at) == word) at = past_blanks(p.text, at + static_cast<std::uint32_t>(word.size()));
    const auto [quantity, unit] = quantity_at(p.text, at);
    if (unit == nullptr || (unit->kind != Kind::flow && unit->kind != Kind::volume_flow)) return false;
    if (rest_of_statement(p.text, at) != quantity) return false;
    if (operation_declared(p.text, name)) return false;
    // A flow may well have a name of its own.
    if (p.text.substr(end, at - end).find('=') != std::string_view::npos && !library_gas(name)) return false;
    out.error(Code::syntax, {p.file, p.at, at + static_cast<std::uint32_t>(quantity.size())},
              fmt::format("`{}` begins no statement: a line is opened with `open`", p.word))
        .remedy(fmt::format("write `open {} at {}`", name, quantity));
    return true;
}

/// `temperature = 700 degC`: what is measured is given no value.
bool signal_set(const Place& p, Diagnostics& out) {
    if (p.trouble.statement != Node::error) return false;
    constexpr std::array temperatures{"temperature", "setpoint", "temp"};
    const bool temperature = std::find(temperatures.begin(), temperatures.end(), p.word) != temperatures.end();
    const std::uint32_t sign = past_blanks(p.text, p.at + static_cast<std::uint32_t>(p.word.size()));
    if ((!temperature && p.word != "pressure") || sign >= p.text.size() ||
        (p.text[sign] != '=' && p.text[sign] != ':'))
        return false;
    const std::string_view value = rest_of_statement(p.text, sign + 1);
    Diagnostic& d =
        out.error(Code::syntax, p.span(), fmt::format("`{}` is measured, and given no value", p.word));
    if (temperature)
        d.remedy(fmt::format("write `ramp to {} at RATE`, or `step to {}` at once", value, value));
    else
        d.remedy(fmt::format("write `evacuate to {}`, or `regulate pressure to {}` while the pump runs", value,
                             value));
    return true;
}

/// The time that begins at `at`, as far as its units fall: `2 h 30 min`; empty where there is none.
std::string_view time_at(std::string_view text, std::uint32_t at) {
    std::uint32_t end = at;
    for (std::uint32_t next = at;;) {
        const auto [quantity, unit] = quantity_at(text, next);
        if (unit == nullptr || unit->kind != Kind::time) return text.substr(at, end - at);
        end = next + static_cast<std::uint32_t>(quantity.size());
        next = past_blanks(text, end);
    }
}

/// `heat to 500 degC, hold 2 h`, `ramp to 500 degC and soak for 2 h`: the word says which time it is.
bool hold_behind_target(const Place& p, Diagnostics& out) {
    if (!among(p.trouble.statement, {Node::ramp, Node::heat, Node::cool, Node::step_to})) return false;
    const std::string_view read = p.text.substr(0, p.before());
    std::uint32_t hold = past_joiners(p.text, p.at);
    for (std::string_view zone : {"hold", "soak"}) // read as the name of a zone
        if (read.ends_with(zone) && !word_byte(read[read.size() - zone.size() - 1]))
            hold = static_cast<std::uint32_t>(read.size() - zone.size());
    const std::string_view word = word_at(p.text, hold);
    const std::uint32_t left = before_joiners(p.text, hold);
    if ((word != "hold" && word != "soak") || left <= p.trouble.statement_begin ||
        past_blanks(p.text, left) == hold)
        return false;
    std::uint32_t value = past_blanks(p.text, hold + 4);
    if (word_at(p.text, value) == "for") value = past_blanks(p.text, value + 3);
    const std::string_view time = time_at(p.text, value);
    if (time.empty()) return false;
    out.error(Code::syntax, {p.file, hold, value + static_cast<std::uint32_t>(time.size())},
              "a set-point is held with `dwell`, a step of its own")
        .remedy(fmt::format("write `dwell {}` on a line of its own behind it", time))
        .mend({p.file, left, value}, " ; dwell ");
    return true;
}

/// `ramp to 500 degC, 2 h`, `heat to 500 degC for 2 h`: the time of the ramp, or of a hold behind it. They are
/// different heatings, so that no edit takes the choice from the author.
bool time_behind_target(const Place& p, Diagnostics& out) {
    const Node step = p.trouble.statement;
    const std::string_view read = p.read();
    if (!among(step, {Node::ramp, Node::heat, Node::cool, Node::step_to}) ||
        read.find(" to ") == std::string_view::npos)
        return false;
    const std::uint32_t end = p.before();
    const bool takes = p.word == "in" || p.word == "during"; // how long it takes, not how long it is held
    std::uint32_t begin = p.at, value = p.at;
    if (p.here() == ',') {
        value = past_blanks(p.text, p.at + 1);
    } else if (takes || p.word == "for") {
        value = past_blanks(p.text, p.at + static_cast<std::uint32_t>(p.word.size()));
        if (word_at(p.text, value) == "about") value = past_blanks(p.text, value + 5);
    } else if (end > 0 && p.text[end - 1] == ',') {
        begin = end - 1;
    }
    const std::string_view time = time_at(p.text, value);
    if (time.empty()) return false;
    const bool rate = read.find(" at ") != std::string_view::npos;
    const bool over = read.find(" over ") != std::string_view::npos;
    const bool fast = among(step, {Node::heat, Node::step_to});
    if (takes && !rate && !over && !fast) return false;
    const Span span{p.file, begin, value + static_cast<std::uint32_t>(time.size())};
    const std::string_view head = text_of(p.trouble.word);
    if (rate || over) {
        out.error(Code::syntax, span,
                  fmt::format("`{}` has its {} already, and a set-point is held with `dwell`", head,
                              rate ? "rate" : "time"))
            .remedy(fmt::format("write `dwell {}` on a line of its own behind it", time));
        return true;
    }
    if (fast) {
        const std::string_view target = rest_of_statement(p.text.substr(0, begin), p.trouble.statement_begin);
        out.error(Code::syntax, span,
                  fmt::format("`{} to` takes no time: a set-point is held with `dwell`, and the time of a ramp "
                              "follows `over`",
                              head))
            .remedy(fmt::format("write `dwell {}` on a line of its own behind it, or `ramp{} over {}` where it "
                                "is to take that long",
                                time, target.substr(head.size()), time));
        return true;
    }
    out.error(Code::syntax, span,
              fmt::format("`{}` behind a target is unclear: the time of a ramp follows `over`, and a "
                          "set-point is held with `dwell`",
                          time))
        .remedy(fmt::format("write `over {}` where the {} is to take that long, or `dwell {}` on a line of its "
                            "own behind it",
                            time, step == Node::cool ? "cooling" : "ramp", time));
    return true;
}

/// `ramp to 700 degC, 5 K/min`
bool comma_for_word(const Place& p, Diagnostics& out) {
    std::uint32_t comma = p.at, value = p.at;
    if (p.here() == ',') {
        value = past_blanks(p.text, p.at + 1);
    } else {
        comma = p.before() - 1;
        if (p.before() == 0 || p.text[comma] != ',') return false;
    }
    const auto [quantity, unit] = quantity_at(p.text, value);
    if (unit == nullptr) return false;
    const Word word = word_before(p.trouble.statement, unit->kind);
    if (word == Word::none || unit->kind == Kind::temperature) return false;
    out.error(Code::syntax, {p.file, comma, comma + 1},
              fmt::format("`{}` stands before `{}`, no comma", text_of(word), quantity))
        .remedy(fmt::format("write `{} {}`", text_of(word), quantity))
        .mend({p.file, comma, value}, fmt::format(" {} ", text_of(word)));
    return true;
}

/// `ramp to 700 degC as fast as possible`
bool as_fast_as_possible(const Place& p, Diagnostics& out) {
    const Node step = p.trouble.statement;
    const std::string_view rest = rest_of_statement(p.text, p.at);
    if (!among(step, {Node::ramp, Node::heat, Node::cool, Node::step_to})) return false;
    if (rest != "as fast as possible" && rest != "as quickly as possible" && rest != "as fast as it can")
        return false;
    const Span span{p.file, p.at, end_at(p, rest)};
    if (step == Node::ramp) {
        const std::uint32_t head = p.trouble.statement_begin + 4;
        out.error(Code::syntax, span, "a ramp has a rate or a time; as fast as the furnace can is `heat to`")
            .remedy(fmt::format("write `heat {}`", rest_of_statement(p.text.substr(0, p.before()), head)))
            .mend({p.file, p.trouble.statement_begin, span.end},
                  fmt::format("heat{}", p.text.substr(head, p.before() - head)));
        return true;
    }
    out.error(Code::syntax, span, fmt::format("`{}` alone goes as fast as it can", text_of(p.trouble.word)))
        .remedy(fmt::format("leave `{}` out", rest))
        .mend({p.file, p.before(), span.end}, "");
    return true;
}

/// `ramp from 23 degC to 700 degC`
bool start_of_ramp(const Place& p, Diagnostics& out) {
    if (!among(p.trouble.statement, {Node::ramp, Node::heat, Node::cool}) || p.word != "from") return false;
    const std::string_view rest = rest_of_statement(p.text, p.at);
    const std::size_t to = rest.find(" to ");
    const std::string_view head = text_of(p.trouble.word);
    Diagnostic& d =
        out.error(Code::syntax, p.span(),
                  fmt::format("`{}` begins at the present set-point, and is told its target only", head));
    if (to == std::string_view::npos)
        d.remedy(fmt::format("write `{} to TARGET`", head));
    else if (p.read().find(" to ") == std::string_view::npos)
        d.remedy(fmt::format("write `{}{}`", head, rest.substr(to)));
    else
        d.remedy(fmt::format("leave `{}` out", rest));
    return true;
}

/// `ramp 2 K/min to 500 degC`, `ramp at 2 K/min to 500 degC`: the rate or the time stands before the target.
bool rate_before_target(const Place& p, Diagnostics& out) {
    const bool said = p.word == "at" || p.word == "over";
    const std::uint32_t begin =
        said ? past_blanks(p.text, p.at + static_cast<std::uint32_t>(p.word.size())) : p.at;
    const auto [quantity, unit] = quantity_at(p.text, begin);
    if (!p.wants(Word::to) || unit == nullptr || p.read().find(" to ") != std::string_view::npos) return false;
    if (!among(p.trouble.statement, {Node::ramp, Node::heat, Node::cool})) return false;
    if (unit->kind != Kind::rate && unit->kind != Kind::time) return false;
    const std::string_view word = unit->kind == Kind::rate ? "at" : "over";
    const std::uint32_t end = begin + static_cast<std::uint32_t>(quantity.size());
    // What stands behind it up to the end of the statement, where it is a target.
    std::string_view rest = rest_of_statement(p.text, end);
    if (!rest.starts_with("to ")) rest = "to TARGET";
    out.error(Code::syntax, {p.file, begin, end}, fmt::format("`{}` stands before the target", quantity))
        .remedy(fmt::format("write `{} {} {} {}`", p.trouble.statement == Node::cool ? "cool" : "ramp", rest,
                            word, quantity));
    return true;
}

/// `cool`, `cool down`, `ramp up`
bool no_target(const Place& p, Diagnostics& out) {
    if (!among(p.trouble.statement, {Node::ramp, Node::heat, Node::cool, Node::step_to})) return false;
    if (!p.wants(Word::to) || !p.at_end()) return false;
    const std::string_view head = text_of(p.trouble.word);
    Diagnostic& d = out.error(Code::syntax, {p.file, p.trouble.statement_begin, p.before()},
                              fmt::format("{} has no target", quoted(p.read())));
    if (p.trouble.statement == Node::cool)
        d.remedy("write the temperature at which the run may end, such as `cool to 50 degC`");
    else
        d.remedy(
            fmt::format("write `{} to TARGET{}`", head, p.trouble.statement == Node::ramp ? " at RATE" : ""));
    return true;
}

/// `ramp(700 degC, 5 K/min)`
bool called_step(const Place& p, Diagnostics& out) {
    const std::string_view head = text_of(p.trouble.word);
    if (p.here() != '(' || p.before() != p.trouble.statement_begin + head.size() || head.empty()) return false;
    const std::size_t close = p.text.find(')', p.at);
    if (close >= end_of_line(p.text, p.at)) return false;
    std::string_view inside = p.text.substr(p.at + 1, close - p.at - 1);
    if (inside.find('(') != std::string_view::npos) return false;
    std::string written(head);
    std::string_view time; // of a ramp: the ramp's own, or that of a hold behind it
    bool known = true, rate = false;
    const bool gases = among(p.trouble.statement, {Node::open_line, Node::close_lines, Node::set_line});
    for (bool more = true; more;) {
        const std::size_t comma = inside.find(',');
        more = comma != std::string_view::npos;
        std::string_view argument = inside.substr(0, comma);
        if (more) inside.remove_prefix(comma + 1);
        argument.remove_prefix(std::min(argument.find_first_not_of(' '), argument.size()));
        argument = argument.substr(0, argument.find_last_not_of(' ') + 1);
        const auto [quantity, unit] = quantity_at(argument, 0);
        const Word word = unit == nullptr ? Word::none : word_before(p.trouble.statement, unit->kind);
        const bool line = gases && unit == nullptr && !argument.empty() && word_at(argument, 0) == argument;
        known = line || (known && quantity.size() == argument.size() && word != Word::none);
        rate = rate || (unit != nullptr && unit->kind == Kind::rate);
        if (word == Word::over) {
            known = known && time.empty();
            time = quantity;
            continue;
        }
        written += fmt::format("{}{} {}", line ? "" : " ", line ? "" : text_of(word), argument);
    }
    Diagnostic& d = out.error(Code::syntax, p.span(),
                              fmt::format("`{}` is a word of the language, and takes no parentheses", head));
    if (known && !time.empty() && rate)
        d.remedy(fmt::format("write `{}`, and `dwell {}` on a line of its own behind it", written, time));
    else if (known && !time.empty())
        d.remedy(fmt::format("write `{} over {}` where it is to take that long, or `dwell {}` on a line of its "
                             "own behind it",
                             written, time, time));
    else if (known)
        d.remedy(fmt::format("write `{}`", written))
            .mend({p.file, p.trouble.statement_begin, static_cast<std::uint32_t>(close + 1)}, written);
    else
        d.remedy(fmt::format("write `{}`, and what it takes, with blanks between the words", head));
    return true;
}

/// `ramp zone 1 to 700 degC`
bool zone_by_number(const Place& p, Diagnostics& out) {
    const std::string_view read =
        p.text.substr(p.trouble.statement_begin, p.before() - p.trouble.statement_begin);
    if (!among(p.trouble.statement, {Node::ramp, Node::heat, Node::cool, Node::step_to})) return false;
    if (!digit(p.here()) || !p.wants(Word::to) || !read.ends_with(" zone")) return false;
    const std::uint32_t end = number_end(p.text, p.at);
    const std::string zone = fmt::format("zone {}", p.text.substr(p.at, end - p.at));
    out.error(Code::syntax, {p.file, p.before() - 4, end}, "a zone is called by its name, and has no number")
        .remedy(fmt::format("write the name that the rig gives it, such as `front`, in place of `{}`", zone))
        .remedy(fmt::format("or leave `{}` out where the furnace has one zone only", zone));
    return true;
}

/// `step 3: dwell 30 min`, `1. ramp to …`
bool numbered_step(const Place& p, Diagnostics& out) {
    if (!among(p.trouble.statement, {Node::step_to, Node::error})) return false;
    std::uint32_t at = p.trouble.statement_begin;
    const std::string_view word = word_at(p.text, at);
    if (!word.empty() && word != "step" && word != "segment") return false;
    at = past_blanks(p.text, at + static_cast<std::uint32_t>(word.size()));
    if (at >= p.text.size() || !digit(p.text[at])) return false;
    while (at < p.text.size() && digit(p.text[at])) ++at;
    if (at >= p.text.size() || (p.text[at] != ':' && p.text[at] != '.' && p.text[at] != ')')) return false;
    const std::uint32_t next = past_blanks(p.text, at + 1);
    if (!begins_step(word_of(word_at(p.text, next)))) return false;
    const std::string_view number =
        p.text.substr(p.trouble.statement_begin, at + 1 - p.trouble.statement_begin);
    out.error(Code::syntax, {p.file, p.trouble.statement_begin, at + 1},
              "steps have no numbers: they run in the order in which they stand")
        .remedy(fmt::format("leave `{}` out", number))
        .mend({p.file, p.trouble.statement_begin, next}, "");
    return true;
}

/// `set temperature 700 degC`
bool set_temperature(const Place& p, Diagnostics& out) {
    if (p.trouble.statement != Node::set_line) return false;
    const std::uint32_t name = past_blanks(p.text, p.trouble.statement_begin + 3);
    const std::string_view word = word_at(p.text, name);
    constexpr std::array meant{"temperature", "temp", "setpoint", "furnace", "heater", "oven", "zone"};
    if (std::find(meant.begin(), meant.end(), word) == meant.end()) return false;
    const std::string_view target = quantity_at(p.text, p.at).first;
    const std::string to = target.empty() ? "TARGET" : std::string(target);
    out.error(Code::syntax, {p.file, name, name + static_cast<std::uint32_t>(word.size())},
              std::string(set_moves_no_temperature))
        .remedy(fmt::format("write `ramp to {} at RATE`, or `step to {}` at once", to, to));
    return true;
}

/// `dwell at 700 degC for 30 min`, `anneal at 700 degC for 30 min`, `dwell 30 min at 700 degC`
bool held_at(const Place& p, Diagnostics& out) {
    if (!among(p.trouble.statement, {Node::dwell, Node::error})) return false;
    const std::string_view head = word_at(p.text, p.trouble.statement_begin);
    std::string_view temperature, time;
    std::uint32_t at = past_blanks(p.text, p.trouble.statement_begin + static_cast<std::uint32_t>(head.size()));
    while (at < p.text.size()) {
        const std::string_view word = word_at(p.text, at);
        if (word == "at" || word == "for")
            at = past_blanks(p.text, at + static_cast<std::uint32_t>(word.size()));
        const auto [quantity, unit] = quantity_at(p.text, at);
        if (unit == nullptr) break;
        (unit->kind == Kind::temperature ? temperature : time) = quantity;
        at = past_blanks(p.text, at + static_cast<std::uint32_t>(quantity.size()));
    }
    const bool there = p.trouble.statement == Node::dwell || head == "hold" || head == "soak";
    if (temperature.empty() || (!there && (time.empty() || !everyday_verb(head)))) return false;
    const std::string dwell = time.empty() ? "dwell TIME" : fmt::format("dwell {}", time);
    const Span span{p.file, p.trouble.statement_begin, std::max(at, p.trouble.statement_begin + 1)};
    const std::string_view whole = rest_of_statement(p.text, p.trouble.statement_begin);
    const Span all{p.file, span.begin, end_at(p, whole)};
    if (there)
        out.error(Code::syntax, all, "a set-point is held where it stands: `dwell` takes no temperature")
            .remedy(fmt::format("write `{}`, behind a ramp to {}", dwell, temperature));
    else
        out.error(Code::syntax, all,
                  fmt::format(
                      "`{}` begins no statement: a temperature is reached with `ramp`, and held with `dwell`",
                      head))
            .remedy(
                fmt::format("write `ramp to {} at RATE`, and `{}` on the line behind it", temperature, dwell));
    return true;
}

/// `argon on`, `argon off`
bool line_switched(const Place& p, Diagnostics& out) {
    if (p.trouble.statement != Node::error || p.word.empty() || reserved(word_of(p.word)) ||
        everyday_verb(p.word))
        return false;
    const std::uint32_t next = past_blanks(p.text, p.at + static_cast<std::uint32_t>(p.word.size()));
    const std::string_view state = word_at(p.text, next);
    if (state != "on" && state != "off" && state != "open" && state != "closed") return false;
    const bool opens = state == "on" || state == "open";
    std::uint32_t behind = past_blanks(p.text, next + static_cast<std::uint32_t>(state.size()));
    if (word_at(p.text, behind) == "at") behind = past_blanks(p.text, behind + 2);
    const std::string_view flow = quantity_at(p.text, behind).first;
    out.error(
           Code::syntax, p.span(),
           fmt::format("`{}` begins no statement: a line is opened with `open` and shut with `close`", p.word))
        .remedy(opens ? fmt::format("write `open {} at {}`", p.word, flow.empty() ? "FLOW" : flow)
                      : fmt::format("write `close {}`", p.word));
    return true;
}

/// `stop argon`, `shut argon`, `stop`: only one thing stands behind these words.
bool wrong_partner(const Place& p, Diagnostics& out) {
    struct Pair {
        Node statement;
        Word partner;
        std::string_view only, lines;
    };
    constexpr std::array pairs{
        Pair{Node::stop_pump, Word::pump, "only the pump is stopped; a gas line is shut with `close`",
             "close {}"},
        Pair{Node::start_pump, Word::pump, "only the pump is started; a gas line is opened with `open`",
             "open {} at FLOW"},
        Pair{Node::light_burner, Word::burner, "only the burner is lit", "light burner"},
        Pair{Node::shut_burner, Word::burner, "only the burner is shut; a gas line is shut with `close`",
             "close {}"},
    };
    for (const Pair& pair : pairs) {
        if (pair.statement != p.trouble.statement || !p.wants(pair.partner)) continue;
        constexpr std::array all{"down", "up", "run", "program", "programme", "everything"};
        const bool of_all = p.at_end() || std::find(all.begin(), all.end(), p.word) != all.end();
        if (of_all && (pair.partner == Word::pump || !p.at_end())) {
            const std::string_view whole = rest_of_statement(p.text, p.trouble.statement_begin);
            out.error(Code::syntax, {p.file, p.trouble.statement_begin, end_at(p, whole)},
                      fmt::format(
                          "`{}` belongs to the {}; a run begins with its first step and ends with the `}}` of "
                          "its recipe",
                          text_of(p.trouble.word), text_of(pair.partner)))
                .remedy(fmt::format("leave `{}` out, or write `{} {}`", whole, text_of(p.trouble.word),
                                    text_of(pair.partner)));
            return true;
        }
        if (p.word == "burner" || p.word == "pump") { // the verb of the other one
            const bool begins = among(pair.statement, {Node::start_pump, Node::light_burner});
            const std::string right = fmt::format(
                "{} {}", p.word == "burner" ? (begins ? "light" : "shut") : (begins ? "start" : "stop"),
                p.word);
            const Span span{p.file, p.trouble.statement_begin,
                            p.at + static_cast<std::uint32_t>(p.word.size())};
            out.error(
                   Code::syntax, span,
                   fmt::format("`{}` belongs to the {}: a {}", text_of(p.trouble.word), text_of(pair.partner),
                               p.word == "burner" ? "burner is lit, and shut" : "pump is started, and stopped"))
                .remedy(fmt::format("write `{}`", right))
                .mend(span, right);
            return true;
        }
        if (p.word.empty() || reserved(word_of(p.word)) || edit_distance(p.word, text_of(pair.partner)) <= 2)
            return false;
        const std::string_view partner = text_of(pair.partner);
        const std::uint32_t behind = p.at + static_cast<std::uint32_t>(p.word.size());
        const bool article = p.word == "the" && word_at(p.text, past_blanks(p.text, behind)) == partner;
        if (article || p.word.starts_with(partner)) { // `start the pump`, `start pumping`
            const std::uint32_t end =
                article ? past_blanks(p.text, behind) + static_cast<std::uint32_t>(partner.size()) : behind;
            out.error(Code::syntax, {p.file, p.at, end},
                      fmt::format("`{}` is expected here, found `{}`", partner, p.word))
                .remedy(fmt::format("write `{}`", partner))
                .mend({p.file, p.at, end}, std::string(partner));
            return true;
        }
        Diagnostic& d = out.error(Code::syntax, p.span(), std::string(pair.only));
        if (p.word == "furnace" || p.word == "heater" || p.word == "heating")
            d.remedy("the heater is off while the tube cools by itself: `cool to TARGET`");
        else
            d.remedy(fmt::format("write `{}`", fmt::format(fmt::runtime(pair.lines), p.word)));
        return true;
    }
    return false;
}

/// `open valve argon`, `set flow argon 2.5 L/min`
bool word_before_line(const Place& p, Diagnostics& out) {
    if (!among(p.trouble.statement,
               {Node::open_line, Node::close_lines, Node::set_line, Node::purge, Node::backfill}))
        return false;
    if (p.word.empty() || reserved(word_of(p.word))) return false;
    const std::string_view head = text_of(p.trouble.word);
    const std::uint32_t begin =
        past_blanks(p.text, p.trouble.statement_begin + static_cast<std::uint32_t>(head.size()));
    const std::string_view before = word_at(p.text, begin);
    if (begin + before.size() != p.before()) return false;
    constexpr std::array names{"valve", "line", "flow", "using", "the"};
    if (std::find(names.begin(), names.end(), before) == names.end()) return false;
    out.error(Code::syntax, {p.file, begin, p.before()},
              fmt::format("a line, or its gas, is named at once behind `{}`", head))
        .remedy(fmt::format("leave `{}` out", before))
        .mend({p.file, begin, p.at}, "");
    return true;
}

/// `use rigs/bench.ath`
bool path_without_quotes(const Place& p, Diagnostics& out) {
    if (p.trouble.statement != Node::use || !p.wants(Wanted::Class::text)) return false;
    std::string_view path = rest_of_statement(p.text, p.at);
    while (!path.empty() && (path.front() == '\'' || path.front() == '<')) path.remove_prefix(1);
    while (!path.empty() && (path.back() == '\'' || path.back() == '>')) path.remove_suffix(1);
    if (!path.ends_with(".ath") || path.find_first_of("\" ") != std::string_view::npos) return false;
    const Span span{p.file, p.at, end_at(p, rest_of_statement(p.text, p.at))};
    out.error(Code::syntax, span, "the file that is used stands in double quotes")
        .remedy(fmt::format("write `use \"{}\"`", path))
        .mend(span, fmt::format("\"{}\"", path));
    return true;
}

/// `recipe s for CONTROLLER on RIG`
bool controller_before_rig(const Place& p, Diagnostics& out) {
    if (p.trouble.statement != Node::recipe || p.word != "on") return false;
    const std::size_t from = p.read().rfind(" for ");
    if (from == std::string_view::npos) return false;
    const std::uint32_t begin = p.trouble.statement_begin + static_cast<std::uint32_t>(from) + 1;
    const std::string_view rig = word_at(p.text, past_blanks(p.text, p.at + 2));
    if (rig.empty()) return false;
    const Span span{p.file, begin, end_at(p, rig)};
    const std::string right = fmt::format("on {} {}", rig, p.text.substr(begin, p.before() - begin));
    out.error(Code::syntax, span, "the rig stands before the controller")
        .remedy(fmt::format("write `{}`", right))
        .mend(span, right);
    return true;
}

/// `recipe s on RIG for CONTROLLER` and its steps, without `{`
bool head_without_brace(const Place& p, Diagnostics& out) {
    if (!p.wants(Wanted::Class::block) || p.trouble.statement == Node::error) return false;
    if (!p.next_statement() && !(p.at_end() && p.here() != '}')) return false;
    if (!among(p.trouble.statement, {Node::recipe, Node::operation, Node::repeat, Node::repeat_until,
                                     Node::for_each, Node::if_else, Node::run}))
        return false;
    const Span gap{p.file, p.before(), p.before()};
    out.error(Code::syntax, gap,
              fmt::format("`{{` is missing behind the head of this `{}`", text_of(p.trouble.word)))
        .remedy("write `{` at the end of the line, and `}` behind the last of its steps")
        .mend(gap, " {");
    return true;
}

bool operation_declared(std::string_view text, std::string_view name) {
    if (name == "inert_purge" || name == "clear_flammable") return true; // of the standard library
    for (std::size_t at = text.find("operation"); at != std::string_view::npos;
         at = text.find("operation", at + 9)) {
        const std::uint32_t word = past_blanks(text, static_cast<std::uint32_t>(at + 9));
        if ((at == 0 || text[at - 1] == '\n' || text[at - 1] == ' ') && word_at(text, word) == name)
            return true;
    }
    return false;
}

/// `foo 3 h`, `foo` where the file declares `operation foo`
bool operation_without_parentheses(const Place& p, Diagnostics& out) {
    if (p.trouble.statement != Node::error || p.word.empty() || reserved(word_of(p.word))) return false;
    if (!operation_declared(p.text, p.word)) return false;
    const std::uint32_t end = p.at + static_cast<std::uint32_t>(p.word.size());
    const std::string_view rest = rest_of_statement(p.text, end);
    if (!rest.empty() && !digit(rest.front()) && !letter(rest.front())) return false;
    if (reserved(word_of(word_at(rest, 0)))) { // `inert_purge at 2.4 slm`
        out.error(Code::syntax, p.span(), "an operation is called with parentheses")
            .remedy(fmt::format("write `{}(…)`, with what it takes between them", p.word));
        return true;
    }
    const std::string call = fmt::format("{}({})", p.word, rest);
    Diagnostic& d = out.error(Code::syntax, p.span(), "an operation is called with parentheses")
                        .remedy(fmt::format("write `{}`", call));
    if (!rest.empty()) d.mend({p.file, p.at, end_at(p, rest)}, call);
    return true;
}

} // namespace athanor::grammar
