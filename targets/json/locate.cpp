#include "targets/json/locate.hpp"

#include <algorithm>
#include <optional>

namespace athanor::targets::json {
namespace {

std::size_t blanks(std::string_view text, std::size_t at) {
    while (at < text.size() && (text[at] == ' ' || text[at] == '\n' || text[at] == '\r' || text[at] == '\t'))
        ++at;
    return at;
}

std::size_t behind_string(std::string_view text, std::size_t at) {
    for (++at; at < text.size() && text[at] != '"'; ++at)
        if (text[at] == '\\') ++at;
    return std::min(at + 1, text.size());
}

/// Behind the value at `at`, without recursion: brackets are counted, strings skipped.
std::size_t behind_value(std::string_view text, std::size_t at) {
    std::size_t depth = 0;
    do {
        at = blanks(text, at);
        if (at >= text.size()) return at;
        char c = text[at];
        if (c == '"') {
            at = behind_string(text, at);
        } else if (c == '{' || c == '[') {
            ++depth;
            ++at;
        } else if (c == '}' || c == ']') {
            --depth;
            ++at;
        } else if (c == ',' || c == ':') {
            ++at;
        } else {
            while (at < text.size() && std::string_view(",:]} \n\r\t").find(text[at]) == std::string_view::npos)
                ++at;
        }
    } while (depth != 0);
    return at;
}

std::optional<std::size_t> descend(std::string_view text, std::size_t at, const Step& step) {
    at = blanks(text, at);
    if (at >= text.size() || text[at] != (step.key.empty() ? '[' : '{')) return std::nullopt;
    at = blanks(text, at + 1);
    for (std::size_t i = 0; at < text.size() && text[at] != ']' && text[at] != '}'; ++i) {
        std::string_view key;
        if (!step.key.empty()) {
            std::size_t end = behind_string(text, at);
            key = text.substr(at + 1, end - at - 2);
            at = blanks(text, blanks(text, end) + 1); // behind the colon
        }
        if (step.key.empty() ? i == step.index : key == step.key) return at;
        at = blanks(text, behind_value(text, at));
        if (at < text.size() && text[at] == ',') at = blanks(text, at + 1);
    }
    return std::nullopt;
}

} // namespace

Place place_of(std::string_view text, std::size_t offset) {
    std::string_view before = text.substr(0, std::min(offset, text.size()));
    std::size_t last = before.rfind('\n');
    return {static_cast<std::size_t>(std::count(before.begin(), before.end(), '\n')) + 1,
            before.size() - (last == std::string_view::npos ? 0 : last + 1) + 1};
}

std::size_t locate(std::string_view text, const std::vector<Step>& path) {
    std::size_t at = blanks(text, 0);
    for (const Step& step : path) {
        std::optional<std::size_t> next = descend(text, at, step);
        if (!next) break;
        at = *next;
    }
    return at;
}

} // namespace athanor::targets::json
