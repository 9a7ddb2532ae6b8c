#include "grammar/scan.hpp"
#include "compiler/source/invisible.hpp"

#include <algorithm>

namespace athanor::grammar {
namespace {

/// Calls `visit(offset, byte)` for every byte outside comments and quoted texts.
template<class Visit>
void walk(std::string_view text, std::size_t begin, std::size_t end, Visit visit) {
    for (std::size_t at = begin; at < end; ++at) {
        char c = text[at];
        if (c == '#') {
            std::size_t stop = text.find('\n', at);
            if (stop == std::string_view::npos || stop > end) stop = end;
            at = stop - 1;
        } else if (c == '"') {
            for (++at; at < end && text[at] != '"' && text[at] != '\n';) ++at;
            if (at < end && text[at] == '\n') --at; // never closed: the line's end still counts
        } else {
            visit(at, c);
        }
    }
}

/// Length of the UTF-8 sequence at `at`, 0 when it is none.
std::size_t sequence(std::string_view text, std::size_t at) {
    auto byte = [&](std::size_t i) -> unsigned {
        return at + i < text.size() ? static_cast<unsigned char>(text[at + i]) : 0U;
    };
    auto tail = [&](std::size_t i) { return (byte(i) & 0xC0U) == 0x80U; };
    unsigned lead = byte(0);
    if (lead >= 0xC2 && lead <= 0xDF) return tail(1) ? 2 : 0;
    if (lead >= 0xE0 && lead <= 0xEF) {
        if (!tail(1) || !tail(2)) return 0;
        if (lead == 0xE0 && byte(1) < 0xA0) return 0; // overlong
        if (lead == 0xED && byte(1) > 0x9F) return 0; // surrogate
        return 3;
    }
    if (lead >= 0xF0 && lead <= 0xF4) {
        if (!tail(1) || !tail(2) || !tail(3)) return 0;
        if (lead == 0xF0 && byte(1) < 0x90) return 0; // overlong
        if (lead == 0xF4 && byte(1) > 0x8F) return 0; // beyond U+10FFFF
        return 4;
    }
    return 0;
}

constexpr std::size_t block = 64; // bytes that are judged together

/// Are all bytes of a block printable ASCII or line ends? Most texts are nothing else.
bool plain(const char* bytes) {
    unsigned char odd = 0;
    for (std::size_t i = 0; i < block; ++i) {
        const auto c = static_cast<signed char>(bytes[i]); // what lies beyond ASCII is below zero
        odd |= static_cast<unsigned char>(((c < ' ') & (c != '\n')) | (c == 0x7F));
    }
    return odd == 0;
}

/// Does the text begin with what other programs show as a line end?
bool line_end_elsewhere(std::string_view text) {
    if (text[0] == '\r') return !text.starts_with("\r\n");
    if (text[0] == '\v' || text[0] == '\f') return true;
    return text.starts_with("\u0085") || text.starts_with("\u2028") || text.starts_with("\u2029");
}

} // namespace

Unfit unfit_in(std::string_view text) {
    constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";
    Unfit foreign{Unfit::Kind::foreign_line_end}, invisible{Unfit::Kind::invisible};
    std::size_t at = text.starts_with(byte_order_mark) ? byte_order_mark.size() : 0;
    while (at < text.size()) {
        const std::size_t end = std::min(at + block, text.size());
        if (end - at == block && plain(text.data() + at)) {
            at = end;
            continue;
        }
        while (at < end) {
            const auto c = static_cast<unsigned char>(text[at]);
            const auto here = static_cast<std::uint32_t>(at);
            const std::size_t length = c == 0 ? 0 : c < 0x80 ? 1 : sequence(text, at);
            if (length == 0) return {Unfit::Kind::bad_byte, here};
            if (foreign.at == nowhere && line_end_elsewhere(text.substr(at))) foreign.at = here;
            if (invisible.at == nowhere && invisible_at(text, at).size != 0) invisible.at = here;
            at += length;
        }
    }
    return foreign.at != nowhere ? foreign : invisible;
}

std::uint32_t end_of_line(std::string_view text, std::size_t at) {
    return static_cast<std::uint32_t>(std::min(text.find('\n', at), text.size()));
}

std::uint32_t end_of_text(std::string_view text, std::size_t at) {
    // The quote first: a text is short, but a line may be the whole file.
    const std::size_t quote = std::min(text.find('"', at + 1), text.size());
    return end_of_line(text.substr(0, quote), at + 1);
}

std::vector<Comment> comments_of(std::string_view text) {
    constexpr auto none = std::string_view::npos;
    std::vector<Comment> out;
    std::size_t hash = text.find('#'), quote = text.find('"');
    while (hash != none) {
        if (quote < hash) {
            const std::size_t stop = end_of_text(text, quote);
            quote = text.find('"', stop + 1);
            if (hash < stop) hash = text.find('#', stop);
            continue;
        }
        const std::size_t stop = end_of_line(text, hash);
        std::size_t end = stop;
        while (end > hash + 1 && (text[end - 1] == '\r' || text[end - 1] == ' ' || text[end - 1] == '\t'))
            --end;
        out.push_back({static_cast<std::uint32_t>(hash), static_cast<std::uint32_t>(end)});
        hash = text.find('#', stop);
        if (quote < stop) quote = text.find('"', stop);
    }
    return out;
}

std::uint32_t unclosed_brace(std::string_view text, std::uint32_t begin, std::uint32_t end) {
    struct Open {
        std::uint32_t at;
        std::size_t indent;
    };
    std::vector<Open> open;
    std::uint32_t suspect = nowhere;
    std::size_t line = begin, indent = 0;
    bool leading = true;
    auto visit = [&](std::size_t at, char c) {
        if (c == '\n') {
            line = at + 1;
            leading = true;
            return;
        }
        bool first = leading && c != ' ' && c != '\t' && c != '\r';
        if (first) {
            indent = at - line;
            leading = false;
        }
        if (c == '{') open.push_back({static_cast<std::uint32_t>(at), indent});
        if (c != '}' || open.empty()) return;
        // A closing brace that leads its line should stand under the line that opened its block.
        if (first && suspect == nowhere && indent < open.back().indent) suspect = open.back().at;
        open.pop_back();
    };
    walk(text, begin, end, visit);
    if (open.empty()) return nowhere;
    return suspect != nowhere ? suspect : open.back().at;
}

} // namespace athanor::grammar
