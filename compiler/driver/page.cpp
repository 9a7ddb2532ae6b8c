#include "compiler/driver/page.hpp"

#include <algorithm>

namespace athanor::driver {

std::size_t width(std::string_view text) {
    return static_cast<std::size_t>(
        std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xC0) != 0x80; }));
}

std::string padded(std::string text, std::size_t columns) {
    const std::size_t wide = width(text);
    if (wide < columns) text.append(columns - wide, ' ');
    return text;
}

std::string paragraph(std::string first, std::string_view words, std::size_t indent) {
    std::string text, line = std::move(first);
    bool empty = width(line) <= indent; // nothing but what stands in front of the paragraph
    while (!words.empty()) {
        const std::size_t end = std::min(words.find(' '), words.size());
        const std::string_view word = words.substr(0, end);
        words.remove_prefix(std::min(end + 1, words.size()));
        if (word.empty()) continue;
        const bool blank = !line.empty() && line.back() != ' ';
        if (!empty && width(line) + (blank ? 1 : 0) + width(word) > page_width) {
            text += line.substr(0, line.find_last_not_of(' ') + 1) + '\n';
            line = std::string(indent, ' ');
        } else if (blank) {
            line += ' ';
        }
        line += word;
        empty = false;
    }
    return text + line.substr(0, line.find_last_not_of(' ') + 1) + '\n';
}

std::string broken_lines(std::string_view markdown) {
    std::string out, words;
    std::size_t indent = 0;
    const auto flush = [&] {
        if (!words.empty()) out += paragraph("", words, indent);
        words.clear();
        indent = 0;
    };
    bool code = false;
    while (!markdown.empty()) {
        const std::size_t end = std::min(markdown.find('\n'), markdown.size());
        const std::string_view line = markdown.substr(0, end);
        markdown.remove_prefix(std::min(end + 1, markdown.size()));
        const bool fence = line.starts_with("```");
        if (fence || code || line.empty() || line[0] == '#' || line[0] == '|') {
            flush();
            out += std::string(line) + '\n';
            code = code != fence;
            continue;
        }
        if (line.starts_with("- ")) {
            flush();
            indent = 2;
        }
        words += (words.empty() ? "" : " ") + std::string(line);
    }
    flush();
    return out;
}

} // namespace athanor::driver
