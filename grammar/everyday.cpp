// Words of everyday speech and of other languages, and what stands for them here.
#include "grammar/place.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace athanor::grammar {
namespace {

/// Statements of one sort; `lines` begin none, so that their first word is the slip.
enum class In : std::uint8_t {
    lines,
    file,
    steps,
    ramps,
    targets,
    targets_read,
    dwells,
    gases,
    behind_gas,
    blends,
    evacuations,
    flows,
    settings,
    all_lines,
    switches,
    compared,
    conditions,
    waits,
    ifs,
    burners,
    placed
};

bool stands_in(In sort, const Place& p) {
    const Node node = p.trouble.statement;
    switch (sort) {
    case In::lines:
    case In::file: return node == Node::error;
    case In::steps: return among(node, {Node::ramp, Node::heat, Node::cool, Node::step_to, Node::dwell});
    case In::ramps: return among(node, {Node::ramp, Node::cool});
    case In::targets:
        return p.wants(Word::to) && among(node, {Node::ramp, Node::heat, Node::cool, Node::step_to});
    case In::targets_read: return node == Node::cool && p.wants(Wanted::Class::statement_end);
    case In::dwells: return node == Node::dwell;
    case In::gases: // where its name is due
        return p.wants(Wanted::Class::name) &&
               among(node, {Node::purge, Node::backfill, Node::open_line, Node::close_lines, Node::set_line,
                            Node::humidify, Node::keep});
    case In::behind_gas: // its name was read
        return (p.wants(Wanted::Class::statement_end) || p.wants(Word::to)) &&
               among(node, {Node::purge, Node::backfill, Node::open_line, Node::close_lines, Node::set_line});
    case In::blends: return among(node, {Node::blend, Node::gas_mix});
    case In::evacuations: return among(node, {Node::evacuate, Node::regulate}) && p.wants(Word::to);
    case In::flows:
        return p.wants(Word::at) && p.read().find(" until ") == std::string_view::npos &&
               among(node, {Node::purge, Node::backfill, Node::open_line, Node::switch_to});
    case In::settings: return p.wants(Word::to) && node == Node::set_line;
    case In::all_lines: return node == Node::close_all;
    case In::switches: return node == Node::switch_to;
    case In::compared: // behind a comparison that is whole
        return among(node, {Node::require, Node::rule_require}) &&
               p.read().find_first_of("<>") != std::string_view::npos;
    case In::waits: return node == Node::wait_operator;
    case In::ifs: return node == Node::if_else;
    case In::burners:
        return among(node, {Node::light_burner, Node::shut_burner, Node::start_pump, Node::stop_pump});
    case In::placed: return among(node, {Node::at_action, Node::after_action});
    case In::conditions:
        if (among(node, {Node::require, Node::expect, Node::rule_require, Node::if_else})) return true;
        return among(node, {Node::dwell, Node::purge}) && p.read().find(" until ") != std::string_view::npos;
    }
    return false;
}

/// What stands behind the slip, up to the end of its statement.
enum class Behind : std::uint8_t {
    any,
    end,
    something,
    number,
    time,
    rate,
    flow,
    temperature,
    gas,
    name,
    block,
    text
};

bool stands_behind(Behind wanted, std::string_view text, std::uint32_t next) {
    const char c = next < text.size() ? text[next] : '\n';
    const bool end = c == '\n' || c == '\r' || c == ';' || c == '}' || c == '#';
    const auto [quantity, unit] = quantity_at(text, next);
    switch (wanted) {
    case Behind::any: return true;
    case Behind::end: return end;
    case Behind::something: return !end;
    case Behind::number: return digit(c);
    case Behind::time: return unit != nullptr && unit->kind == Kind::time;
    case Behind::rate: return unit != nullptr && unit->kind == Kind::rate;
    case Behind::flow: return unit != nullptr && (unit->kind == Kind::flow || unit->kind == Kind::volume_flow);
    case Behind::temperature: return unit != nullptr && unit->kind == Kind::temperature;
    case Behind::gas: return library_gas(word_at(text, next));
    case Behind::name: return letter(c) && !reserved(word_of(word_at(text, next)));
    case Behind::block: return c == '{';
    case Behind::text: return c == '"' || letter(c);
    }
    return false;
}

/// A word or phrase of everyday speech or of another language, and what stands for it here.
struct Slip {
    In in;
    std::string_view words; // with `;` between several; a phrase with one blank between its words
    Behind behind;
    std::string_view message,
        remedy; // `{word}` is the slip, `{rest}` what stands behind it; `{line}` with a flow, `{name}` without
    std::string_view right; // what an edit writes for the slip, or for the statement
    enum Edit : std::uint8_t { none, slip, statement } edit = none;
};

constexpr std::string_view dwells = "`{word}` begins no statement: a set-point is held with `dwell`";
constexpr std::string_view heats =
    "`{word}` begins no statement: a temperature is reached with `ramp`, and held with `dwell`";
constexpr std::string_view repeats = "`{word}` begins no statement: steps come again with `repeat`";
constexpr std::string_view evacuates = "`{word}` begins no statement: a tube is pumped down with `evacuate`";
constexpr std::string_view ends = "`{word}` begins no statement: a run ends with the `}}` of its recipe";
constexpr std::string_view speaks = "`{word}` begins no statement: a person reads a `note`, or is waited for";
constexpr std::string_view moves =
    "`{word}` begins no statement: the set-point is moved with `ramp`, `heat`, `cool` or `step`";
constexpr std::string_view one_line = "a line, or its gas, is named at once behind `{head}`";
constexpr std::string_view no_gas =
    "`{word}` has no place in `{head}`: what gas there is, statements of their own say";
constexpr std::string_view compares = "two values are compared with a sign";

constexpr std::array slips{
    // --- within a statement
    Slip{In::dwells, "for operator;for the operator;for user", Behind::any,
         "a person is waited for with `wait`", "write `wait for operator \"…\"`", ""},
    Slip{In::steps, "while", Behind::something,
         "a step has no `while`: what must hold is a `require` before it",
         "write `require {rest}` on a line before it", ""},
    Slip{In::targets_read, "naturally;freely;by itself", Behind::end,
         "`cool to` alone cools without the heater", "leave `{word}` out", "", Slip::slip},
    Slip{In::dwells, "for", Behind::something, "`dwell` is followed by its time at once", "leave `for` out", "",
         Slip::slip},
    Slip{In::dwells, "for", Behind::end, "`dwell` is followed by its time at once", "write `dwell TIME`", ""},
    Slip{In::ramps, "in", Behind::time, "the time of a ramp follows `over`", "write `over`", "over",
         Slip::slip},
    Slip{In::burners, "on;off;up;down", Behind::end, "behind `{head}` stands one word only",
         "leave `{word}` out", "", Slip::slip},
    Slip{In::placed, ":;,", Behind::something, "the action follows at once", "leave `{word}` out", "",
         Slip::slip},
    Slip{In::dwells, "least", Behind::time, "a dwell lasts as long as it says", "write `dwell {rest}`", ""},
    Slip{In::ramps, "during;in about", Behind::time, "the time of a ramp follows `over`", "write `over`",
         "over", Slip::slip},
    Slip{In::ramps, "with;by", Behind::rate, "the rate of a ramp follows `at`", "write `at`", "at", Slip::slip},
    Slip{In::ramps, "rate of", Behind::rate, "the rate of a ramp follows `at` at once", "write `at {rest}`",
         ""},
    Slip{In::ramps, "slowly;quickly;gradually;fast;linearly", Behind::any,
         "how fast a ramp goes is said by a figure", "write `at RATE`, or `over TIME`", ""},
    Slip{In::ramps, "below;under", Behind::temperature, "`{head} to` takes the temperature that is reached",
         "leave `{word}` out", "", Slip::slip},
    Slip{In::targets, "until temperature <;until temperature <=;until temperature >;until temperature >=;until",
         Behind::temperature, "the target of a step follows `to`", "write `to {rest}`", "to", Slip::slip},
    Slip{In::steps, "in vacuum;under vacuum", Behind::any, no_gas,
         "write `evacuate to PRESSURE` on a line before it", ""},
    Slip{In::steps, "in air;under air", Behind::any, no_gas,
         "leave `{word}` out: what is open, or was opened to the room, stays so", ""},
    Slip{In::ramps, "in", Behind::gas, no_gas, "write `open {line}` on a line before it", ""},
    Slip{In::ramps, "in", Behind::name,
         "`in` has no place in `{head}`: its time follows `over`, and gas is opened by a statement of its own",
         "write `over {rest}` where that is a time, or `open {line}` on a line before where it is a gas", ""},
    Slip{In::steps, "then", Behind::end, "a step ends with its line", "leave `then` out", "", Slip::slip},
    Slip{In::conditions, "than", Behind::something, compares, "write `<` or `>`", ""},
    Slip{In::steps, "in;under;with;using", Behind::name, no_gas, "write `open {line}` on a line before it", ""},
    Slip{In::gases, "with;gas", Behind::name, one_line, "leave `{word}` out", "", Slip::slip},
    Slip{In::flows, "to;with;flow;flow at;flow of;=", Behind::flow, "a flow follows the word `at`",
         "write `at {rest}`", "at", Slip::slip},
    Slip{In::settings, "at;with;flow;flow at", Behind::flow, "the new flow follows the word `to`",
         "write `to {rest}`", "to", Slip::slip},
    Slip{In::behind_gas, "valve;line;gas;flow", Behind::any, "a line, or its gas, is called by its name alone",
         "leave `{word}` out", "", Slip::slip},
    Slip{In::all_lines, "valves;gases;lines;gas", Behind::end, "`close all` shuts every line",
         "leave `{word}` out", "", Slip::slip},
    Slip{In::switches, "off pump", Behind::end, "the pump is stopped with `stop pump`", "write `stop pump`",
         "stop pump", Slip::statement},
    Slip{In::switches, "off burner", Behind::end, "the burner is shut with `shut burner`",
         "write `shut burner`", "shut burner", Slip::statement},
    Slip{In::switches, "off furnace;off heater;off heating;off power", Behind::end,
         "the heater is off while the tube cools by itself", "write `cool to TARGET`", ""},
    Slip{In::switches, "off", Behind::name, "a line is shut with `close`", "write `close {name}`",
         "close {rest}", Slip::statement},
    Slip{In::switches, "on pump", Behind::end, "the pump is started with `start pump`", "write `start pump`",
         "start pump", Slip::statement},
    Slip{In::switches, "on burner", Behind::end, "the burner is lit with `light burner`",
         "write `light burner`", "light burner", Slip::statement},
    Slip{In::switches, "on", Behind::name, "a line is opened with `open`", "write `open {line}`", ""},
    Slip{In::blends, ",", Behind::something, "the parts of a mixture are joined with `+`", "write `+`", " +",
         Slip::slip},
    Slip{In::blends, "and;with", Behind::something, "the parts of a mixture are joined with `+`", "write `+`",
         "+", Slip::slip},
    Slip{In::evacuations, "down;tube;the tube;chamber", Behind::any, "`{head} to` takes the pressure at once",
         "leave `{word}` out", "", Slip::slip},
    Slip{In::evacuations, "at", Behind::number, "the pressure follows the word `to`", "write `to`", "to",
         Slip::slip},
    Slip{In::compared, "above;over", Behind::temperature,
         "at which temperatures a condition must hold is said with `while`",
         "write `while temperature > {rest}`", "while temperature >", Slip::slip},
    Slip{In::compared, "below;under", Behind::temperature,
         "at which temperatures a condition must hold is said with `while`",
         "write `while temperature < {rest}`", "while temperature <", Slip::slip},
    Slip{In::waits, "open tube;the tube open;an open tube;opened tube;tube opened", Behind::end,
         "that the tube is open while a person works is said with `with tube open`", "write `with tube open`",
         "tube open", Slip::slip},
    Slip{In::conditions, "open", Behind::any, "the state of a line is asked with `is`", "write `is open`",
         "is open", Slip::slip},
    Slip{In::conditions, "closed;shut", Behind::any, "the state of a line is asked with `is`",
         "write `is closed`", "is closed", Slip::slip},
    Slip{In::conditions, "on;lit;off", Behind::any,
         "`{word}` is no state: a line is open or closed, and a burner or a pump runs or not",
         "write `NAME is open`, or `burner` and `not burner`", ""},
    Slip{In::conditions, "&&", Behind::something, "two conditions are joined with a word", "write `and`", "and",
         Slip::slip},
    Slip{In::conditions, "||", Behind::something, "two conditions are joined with a word", "write `or`", "or",
         Slip::slip},
    Slip{In::conditions, "when;whenever", Behind::something, "when a condition must hold is said with `while`",
         "write `while`", "while", Slip::slip},
    Slip{In::conditions, "is less than;less than;lower than;is below;below;under", Behind::something, compares,
         "write `<`", "<", Slip::slip},
    Slip{In::conditions, "is greater than;greater than;higher than;is more than;more than;is above;above;over",
         Behind::something, compares, "write `>`", ">", Slip::slip},
    Slip{In::ifs, "then", Behind::block, "behind the condition of an `if` its block begins at once",
         "write `if CONDITION {{ … }}`, without `then`", "", Slip::slip},
    Slip{In::ifs, "then", Behind::any, "behind the condition of an `if` its block begins at once",
         "write `if CONDITION {{ … }}`, without `then`", ""},
    // --- at the head of a line
    Slip{In::lines, "hold temperature for", Behind::time, dwells, "write `dwell {rest}`", "dwell", Slip::slip},
    Slip{In::lines, "hold temperature;hold for", Behind::any, dwells, "write `dwell TIME`", ""},
    Slip{In::lines, "call;do", Behind::name, "an operation is called by its name alone", "leave `{word}` out",
         "", Slip::slip},
    Slip{In::lines, "hold;soak;pause;sleep;delay", Behind::number, dwells, "write `dwell`", "dwell",
         Slip::slip},
    Slip{In::lines, "hold until;soak until;pause until;sleep until", Behind::something, dwells,
         "write `dwell until`", "dwell until", Slip::slip},
    Slip{In::lines, "hold;soak;pause;sleep;delay", Behind::gas, dwells, "write `dwell TIME`", ""},
    Slip{In::lines, "hold;soak;pause;sleep;delay", Behind::something, dwells,
         "write `dwell {rest}` where that is a time", ""},
    Slip{In::lines, "hold;soak;pause;sleep;delay", Behind::end, dwells, "write `dwell TIME`", ""},
    Slip{In::lines, "flush", Behind::any, "`flush` begins no statement: a tube is flushed with `purge`",
         "write `purge`", "purge", Slip::slip},
    Slip{In::lines, "vacuum to", Behind::something, evacuates, "write `evacuate to {rest}`", "evacuate to",
         Slip::slip},
    Slip{In::lines, "vacuum off", Behind::end,
         "`vacuum` begins no statement: the pump is stopped with `stop pump`", "write `stop pump`", ""},
    Slip{In::lines, "vacuum", Behind::any, evacuates, "write `evacuate to PRESSURE`", ""},
    Slip{In::lines, "vent", Behind::any,
         "`vent` begins no statement: a tube is filled to the room's pressure with `backfill`",
         "write `backfill LINE at FLOW to ambient`", ""},
    Slip{In::lines, "fill", Behind::any, "`fill` begins no statement: a tube is filled with `backfill`",
         "write `backfill LINE at FLOW to ambient`", ""},
    Slip{In::lines, "flow", Behind::any, "`flow` begins no statement: a line is opened with `open`",
         "write `open LINE at FLOW`", ""},
    Slip{In::lines, "turn", Behind::any,
         "`turn` begins no statement: a line is opened with `open` and shut with `close`",
         "write `open LINE at FLOW`, or `close LINE`", ""},
    Slip{In::lines, "pump on", Behind::end, "`pump` begins no statement: it is started with `start pump`",
         "write `start pump`", "start pump", Slip::slip},
    Slip{In::lines, "pump off", Behind::end, "`pump` begins no statement: it is stopped with `stop pump`",
         "write `stop pump`", "stop pump", Slip::slip},
    Slip{In::lines, "pump", Behind::any, evacuates, "write `evacuate to PRESSURE`", ""},
    Slip{In::lines, "burner on", Behind::end, "`burner` begins no statement: it is lit with `light burner`",
         "write `light burner`", "light burner", Slip::slip},
    Slip{In::lines, "burner off", Behind::end, "`burner` begins no statement: it is shut with `shut burner`",
         "write `shut burner`", "shut burner", Slip::slip},
    Slip{In::lines, "heater off;furnace off;heating off;power off", Behind::end,
         "`{word}` begins no statement: the heater is off while the tube cools by itself",
         "write `cool to TARGET`", ""},
    Slip{In::lines, "ignite burner", Behind::end,
         "`ignite` begins no statement: the burner is lit with `light burner`", "write `light burner`",
         "light burner", Slip::slip},
    Slip{In::lines, "ignite", Behind::any,
         "`ignite` begins no statement: the burner is lit with `light burner`", "write `light burner`", ""},
    Slip{In::lines, "extinguish burner", Behind::end,
         "`extinguish` begins no statement: the burner is shut with `shut burner`", "write `shut burner`",
         "shut burner", Slip::slip},
    Slip{In::lines, "extinguish", Behind::any,
         "`extinguish` begins no statement: the burner is shut with `shut burner`", "write `shut burner`", ""},
    Slip{In::lines, "anneal;sinter;fire;bake;cure;calcine;roast;treat", Behind::any, heats,
         "write `ramp to TARGET at RATE`, and `dwell TIME` on the line behind it", ""},
    Slip{In::lines, "loop;do;while", Behind::number, repeats, "write `repeat N times {{ … }}`", "repeat",
         Slip::slip},
    Slip{In::lines, "loop;do", Behind::any, repeats, "write `repeat N times {{ … }}`", ""},
    Slip{In::lines, "when;whenever;once;as soon as;on", Behind::something,
         "`{word}` begins no statement: a condition is waited for with `dwell until`, and an action is placed "
         "inside a step",
         "write `dwell until CONDITION` before it, or `at TEMPERATURE ACTION` in the block of a step", ""},
    Slip{In::lines, "until", Behind::something,
         "`until` begins no statement: a condition is waited for with `dwell until`",
         "write `dwell until CONDITION`", ""},
    Slip{In::lines, "while", Behind::any,
         "`while` begins no statement: a condition is waited for with `dwell until`, and steps come again with "
         "`repeat`",
         "write `dwell until CONDITION`, or `repeat N times {{ … }}`", ""},
    Slip{In::lines, "jump;gosub", Behind::any,
         "`{word}` begins no statement: nothing jumps, and steps come again with `repeat`",
         "write `repeat N times {{ … }}`", ""},
    Slip{In::lines, "end;done;finish;finished;exit;quit;halt", Behind::end, ends, "leave `{word}` out", ""},
    Slip{In::lines, "off", Behind::any,
         "`off` begins no statement: a line is shut with `close`, and the heater is off while the tube cools "
         "by itself",
         "write `close LINE`, or `cool to TARGET`", ""},
    Slip{In::lines, "alarm;beep;buzzer;alert;message;print;say;display;log;ask;prompt", Behind::any, speaks,
         "write `note \"…\"`, or `wait for operator \"…\"`", ""},
    Slip{In::lines, "goto;go to;go;raise to;raise;warm to;warm;bring to;bring;increase to;increase;heatup",
         Behind::temperature, moves,
         "write `ramp to {rest} at RATE`, or `heat to {rest}` as fast as the furnace can", ""},
    Slip{In::lines, "goto;go to;go", Behind::any,
         "`{word}` begins no statement: nothing jumps, and steps come again with `repeat`",
         "write `repeat N times {{ … }}`", ""},
    Slip{In::lines, "raise;warm;bring;increase", Behind::any, moves,
         "write `ramp to TARGET at RATE`, or `heat to TARGET`", ""},
    Slip{In::lines, "lower to;lower;decrease to;decrease;reduce to", Behind::temperature, moves,
         "write `cool to {rest}`", ""},
    Slip{In::lines, "setpoint to;setpoint;temperature", Behind::temperature, moves,
         "write `ramp to {rest} at RATE`, or `step to {rest}` at once", ""},
    Slip{In::lines, "setpoint", Behind::any, moves,
         "write `ramp to TARGET at RATE`, or `step to TARGET` at once", ""},
    Slip{In::lines, "mix", Behind::number, "`mix` begins no statement: gases are mixed with `blend`",
         "write `blend`", "blend", Slip::slip},
    Slip{In::lines, "const;var;def", Behind::name,
         "`{word}` begins no statement: a name is given a value with `let`", "write `let`", "let", Slip::slip},
    Slip{In::file, "import;include", Behind::text,
         "`{word}` begins no statement: a file is imported with `use`", "write `use`", "use", Slip::slip},
};

/// Where the phrase that stands at `at` ends, its words divided by any blanks; 0 where another text stands.
std::uint32_t phrase_end(std::string_view text, std::uint32_t at, std::string_view phrase) {
    for (char c : phrase) {
        if (c == ' ') {
            const std::uint32_t next = past_blanks(text, at);
            if (next == at) return 0;
            at = next;
        } else if (at < text.size() && text[at] == c) {
            ++at;
        } else {
            return 0;
        }
    }
    const bool whole_word = !word_byte(phrase.back()) || at >= text.size() || !word_byte(text[at]);
    return whole_word ? at : 0;
}

/// Where the one of the slip's phrases that stands at `at` ends, else 0.
std::uint32_t slip_end(const Slip& slip, std::string_view text, std::uint32_t at) {
    for (std::string_view words = slip.words; !words.empty();) {
        const std::size_t bar = std::min(words.find(';'), words.size());
        if (const std::uint32_t end = phrase_end(text, at, words.substr(0, bar)); end != 0) return end;
        words.remove_prefix(std::min(bar + 1, words.size()));
    }
    return 0;
}

} // namespace

std::string_view rest_of_statement(std::string_view text, std::uint32_t at) {
    at = past_blanks(text, at);
    std::string_view rest = text.substr(at, end_of_line(text, at) - at);
    rest = rest.substr(0, rest.find_first_of("\r;{}#"));
    return rest.substr(0, rest.find_last_not_of(" \t") + 1);
}

bool everyday_word(const Place& p, Diagnostics& out) {
    if (p.here() == '@' && p.wants(Word::at)) {
        out.error(Code::syntax, p.span(), "a rate or a flow follows the word `at`")
            .remedy("write `at`")
            .mend(p.span(), past_blanks(p.text, p.at + 1) == p.at + 1 ? "at " : "at");
        return true;
    }
    for (const Slip& slip : slips) {
        if (!stands_in(slip.in, p)) continue;
        const std::uint32_t end = slip_end(slip, p.text, p.at);
        if (end == 0) continue;
        const std::uint32_t next = past_blanks(p.text, end);
        if (!stands_behind(slip.behind, p.text, next)) continue;
        // At the head of a line it may be a name that is meant otherwise: `hold()`, `hold = 2 h`.
        const char behind = next < p.text.size() ? p.text[next] : '\n';
        if (slip.in == In::lines && (behind == '(' || behind == '=' || behind == ':')) continue;
        const std::string_view rest = rest_of_statement(p.text, end);
        const std::string line =
            fmt::format("{}{}", rest, rest.find(" at ") == std::string_view::npos ? " at FLOW" : "");
        const auto written = [&](std::string_view form) {
            return fmt::format(fmt::runtime(form), fmt::arg("word", p.text.substr(p.at, end - p.at)),
                               fmt::arg("rest", rest), fmt::arg("line", line),
                               fmt::arg("name", rest.substr(0, rest.find(" at "))),
                               fmt::arg("head", text_of(p.trouble.word)));
        };
        Diagnostic& d =
            out.error(Code::syntax, {p.file, p.at, end}, written(slip.message)).remedy(written(slip.remedy));
        const bool left_out = slip.right.empty();
        if (slip.edit == Slip::slip) {
            Span span{p.file, p.at, end};
            // With one of the blanks around it.
            if (left_out && stands_behind(Behind::end, p.text, next))
                span.begin = p.before();
            else if (left_out && p.before() != p.at)
                span.end = next;
            d.mend(span, std::string(slip.right));
        }
        if (slip.edit == Slip::statement) {
            const auto stop = static_cast<std::uint32_t>(rest.data() + rest.size() - p.text.data());
            d.mend({p.file, p.trouble.statement_begin, rest.empty() ? end : stop}, written(slip.right));
        }
        return true;
    }
    return false;
}

namespace {

/// Is what stands between these two a part of a longer number: behind `one and`, `twenty` or `3`, before `and
/// ten minutes`? A unit of time ends one: `2 h and`.
bool within_number(std::string_view before, std::string_view behind) {
    const std::uint32_t joiner = past_blanks(behind, 0);
    if (word_at(behind, joiner) == "and" && !word_at(behind, past_blanks(behind, joiner + 3)).empty())
        return true;
    const auto last_word = [&] {
        before = before.substr(0, before.find_last_not_of(" \t") + 1);
        const std::size_t begin = before.find_last_of(" \t");
        const std::string_view word = before.substr(begin + 1);
        before.remove_suffix(word.size());
        return word;
    };
    std::string_view word = last_word();
    if (word == "a") word = last_word();
    if (word == "and") {
        word = last_word();
        const Unit* unit = unit_named(word);
        return unit == nullptr || unit->kind != Kind::time;
    }
    constexpr std::array tens{"twenty", "thirty", "forty", "fifty", "sixty", "hundred"};
    return (!word.empty() && digit(word.front()) && number_end(word, 0) == word.size()) ||
           std::find(tens.begin(), tens.end(), word) != tens.end();
}

} // namespace

/// `half an hour`, `an hour and a half`: reading stops inside of it, behind what it took for a name.
bool spoken_time(const Place& p, Diagnostics& out) {
    struct Time {
        std::string_view words, figure;
    };
    constexpr std::array times{Time{"three quarters of an hour", "45 min"},
                               Time{"a quarter of an hour", "15 min"},
                               Time{"quarter of an hour", "15 min"},
                               Time{"half of an hour", "30 min"},
                               Time{"half an hour", "30 min"},
                               Time{"half a minute", "30 s"},
                               Time{"half a day", "12 h"},
                               Time{"a half hour", "30 min"},
                               Time{"half hour", "30 min"},
                               Time{"an hour and a half", "1 h 30 min"},
                               Time{"one hour and a half", "1 h 30 min"},
                               Time{"one and a half hours", "1 h 30 min"},
                               Time{"one and a half hour", "1 h 30 min"},
                               Time{"two and a half hours", "2 h 30 min"},
                               Time{"two and a half hour", "2 h 30 min"},
                               Time{"two hours and a half", "2 h 30 min"},
                               Time{"three and a half hours", "3 h 30 min"},
                               Time{"an hour and a quarter", "1 h 15 min"},
                               Time{"an hour", "1 h"},
                               Time{"one hour", "1 h"},
                               Time{"a minute", "1 min"},
                               Time{"one minute", "1 min"},
                               Time{"two hours", "2 h"},
                               Time{"a day", "1 d"}};
    const std::uint32_t from = std::min(p.trouble.statement_begin, p.at);
    for (std::uint32_t begin = from; begin <= p.at; ++begin) {
        if (begin > 0 && word_byte(p.text[begin - 1])) continue;
        for (const auto& [words, figure] : times) {
            const std::uint32_t end = phrase_end(p.text, begin, words);
            if (end <= p.at || within_number(p.text.substr(from, begin - from), p.text.substr(end))) continue;
            const Span span{p.file, begin, end};
            out.error(Code::missing_unit, span, "a time is written with a figure and its unit")
                .remedy(fmt::format("write `{}`", figure))
                .mend(span, std::string(figure));
            return true;
        }
    }
    return false;
}

/// `about 30 min`, `approx. 30 min`, `~30 min`
bool roughly(const Place& p, Diagnostics& out) {
    constexpr std::array words{"approximately", "approx.", "approx", "about", "around", "circa",
                               "roughly",       "ca.",     "ca",     "~",     "\u2248"};
    std::uint32_t before = p.before();
    while (before > 0 && word_byte(p.text[before - 1])) --before;
    for (const std::uint32_t begin : {p.at, before}) {
        if (begin < p.trouble.statement_begin) continue;
        for (const std::string_view word : words) {
            if (p.text.substr(begin, word.size()) != word) continue;
            const auto end = begin + static_cast<std::uint32_t>(word.size());
            const std::uint32_t number = past_blanks(p.text, end);
            if (number >= p.text.size() || !digit(p.text[number]) || number < p.at) continue;
            if (word_byte(word.back()) && number == end) continue; // `ca5`, a name
            out.error(Code::syntax, {p.file, begin, end},
                      fmt::format("`{}` has no place before a figure: the controller is given one value", word))
                .remedy(fmt::format("leave `{}` out", word))
                .mend({p.file, begin, number}, "");
            return true;
        }
    }
    return false;
}

bool everyday_verb(std::string_view word) {
    return std::any_of(slips.begin(), slips.end(), [&](const Slip& slip) {
        if (slip.in != In::lines && slip.in != In::file) return false;
        for (std::string_view words = slip.words; !words.empty();) {
            const std::size_t bar = std::min(words.find(';'), words.size());
            if (word == words.substr(0, std::min(bar, words.find(' ')))) return true;
            words.remove_prefix(std::min(bar + 1, words.size()));
        }
        return false;
    });
}

} // namespace athanor::grammar
