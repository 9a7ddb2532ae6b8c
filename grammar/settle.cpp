// What a repair would make of a text: it is read again, so that no edit is offered that leaves its statement as
// unreadable as before.
#include "grammar/explain.hpp"

#include <algorithm>

namespace athanor::grammar {
namespace {

constexpr unsigned deepest = 3; // slips of one statement that are mended one after another

/// Reading went on behind these.
bool read_past(const Trouble& t) {
    return t.kind == Trouble::Kind::unknown_unit || t.kind == Trouble::Kind::comma_decimal ||
           t.kind == Trouble::Kind::clock_time || t.kind == Trouble::Kind::capital;
}

std::ptrdiff_t stops(const std::vector<Trouble>& troubles) {
    return std::count_if(troubles.begin(), troubles.end(), [](const Trouble& t) { return !read_past(t); });
}

} // namespace

Span declaration_around(std::string_view text, FileId file, std::uint32_t at) {
    Span around{file, 0, static_cast<std::uint32_t>(text.size())};
    for (std::size_t line = 0; line < text.size();) {
        std::size_t end = line;
        while (end < text.size() && word_byte(text[end])) ++end;
        const Word word = word_of(text.substr(line, end - line));
        // A property or a step may begin with these words.
        if (begins_declaration(word) && word != Word::let && word != Word::gas && word != Word::material) {
            if (line > at) {
                around.end = static_cast<std::uint32_t>(line);
                break;
            }
            around.begin = static_cast<std::uint32_t>(line);
        }
        line = end_of_line(text, line) + std::size_t{1};
    }
    return around;
}

bool settles(const Trouble& trouble, const Reading& reading, const Edit& edit) {
    if (*reading.trials == 0) return false;
    --*reading.trials;
    const Span around = declaration_around(reading.text, reading.file, trouble.statement_begin);
    if (edit.span.begin < around.begin || edit.span.end > around.end) return false;
    const std::string_view before = reading.text.substr(around.begin, around.end - around.begin);
    const std::uint32_t begin = edit.span.begin - around.begin, end = edit.span.end - around.begin;
    const std::string after =
        std::string(before.substr(0, begin)) + edit.text + std::string(before.substr(end));
    const std::vector<Trouble> was = troubles_in(before), is = troubles_in(after);
    const auto behind = static_cast<std::uint32_t>(begin + edit.text.size());
    const std::uint32_t statement = trouble.statement_begin - around.begin;
    for (const Trouble& t : is) {
        // A word that runs over an end of what was written is made of both: `degCopen`.
        const auto runs_over = [&](std::uint32_t at) { return t.begin < at && at < t.end; };
        if (read_past(t) && (runs_over(begin) || runs_over(behind))) return false;
        if (read_past(t) || t.statement_begin != statement) continue;
        // What was read past is mended whatever else its statement lacks, but for what stands at once behind
        // it.
        if (read_past(trouble) && t.begin != past_blanks(after, behind)) continue;
        if (reading.depth == deepest || stops(is) > stops(was) + (read_past(trouble) ? 1 : 0)) return false;
        Diagnostics next;
        explain_one(t, {reading.file, after, reading.depth + 1, reading.trials}, next);
        return std::any_of(next.all().begin(), next.all().end(),
                           [](const Diagnostic& d) { return d.edit.has_value(); });
    }
    return read_past(trouble) || stops(is) < stops(was);
}

} // namespace athanor::grammar
