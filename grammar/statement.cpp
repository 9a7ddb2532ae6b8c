// Recovery: where a failed statement ends. Works on the text alone, without the parser library.
#include "grammar/build.hpp"
#include "grammar/scan.hpp"

namespace athanor::grammar {
namespace {

/// The first word of the line that begins at `at`.
Word first_word(std::string_view text, std::uint32_t at) {
    at = past_blanks(text, at);
    std::uint32_t end = at;
    while (end < text.size() && word_byte(text[end])) ++end;
    return word_of(text.substr(at, end - at));
}

std::uint32_t behind_text(std::string_view text, std::uint32_t at) {
    at = end_of_text(text, at);
    return at < text.size() && text[at] == '"' ? at + 1 : at;
}

} // namespace

std::uint32_t end_of_failed(Build& build, std::uint32_t from, std::uint32_t error) {
    std::string_view text = build.text();
    auto size = static_cast<std::uint32_t>(text.size());
    int open = 0;
    std::uint32_t at = from;
    while (at < size) {
        char c = text[at];
        if (c == '"') {
            const std::uint32_t begin = at;
            at = behind_text(text, at);
            // A text that is not closed runs over what opens behind it: `recipe x "title(`.
            const std::size_t last = text.find_last_not_of(" \t\r", at - 1);
            if (text[at - 1] != '"' && last > begin && last < at && text[last] == '(') ++open;
            continue;
        }
        if (c == '#') {
            while (at < size && text[at] != '\n') ++at;
            continue;
        }
        if (c == '{' || c == '}') return at;
        if (c == ';' && at >= error) return at;
        if (c == '(' || c == '[') ++open;
        if ((c == ')' || c == ']') && open > 0) --open;
        if (c == '\n') {
            std::uint32_t next = past_blanks(text, at + 1);
            if (next >= size) return at;
            Word word = first_word(text, next);
            bool new_statement = begins_step(word) || begins_declaration(word) || begins_policy_line(word);
            bool blank_line = text[next] == '\n';
            if (new_statement || (at >= error && (open <= 0 || blank_line))) {
                // A head that ends here may still have its block's brace on the next line.
                return text[next] == '{' ? next : at;
            }
        }
        ++at;
    }
    return size;
}

void tell_unclosed(Build& build, const Token& opening, std::uint32_t at) {
    if (build.braces_told) return;
    build.braces_told = true;
    std::uint32_t brace = unclosed_brace(build.text(), build.outermost_brace, at);
    if (brace == nowhere) brace = opening.begin;
    Build::Statement inner = build.statement;
    build.statement.told = 0; // the block's own trouble, not that of its head
    build.tell(Trouble::Kind::missing_brace, brace, brace + 1);
    build.statement = inner;
}

std::uint32_t behind_block(const Build& build, std::uint32_t opening) {
    std::string_view text = build.text();
    std::uint32_t at = opening;
    std::size_t depth = 0;
    while (at < text.size()) {
        char c = text[at];
        if (c == '"') {
            at = behind_text(text, at);
            continue;
        }
        if (c == '#') {
            while (at < text.size() && text[at] != '\n') ++at;
            continue;
        }
        ++at;
        if (c == '{') ++depth;
        if (c == '}' && --depth == 0) break;
    }
    return at;
}

} // namespace athanor::grammar
