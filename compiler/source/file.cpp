#include "compiler/source/file.hpp"

#include <algorithm>
#include <cstring>

namespace athanor {

const std::vector<std::uint32_t>& File::starts() const {
    if (!starts_.empty()) return starts_;
    starts_.reserve(text_.size() / 16 + 1); // most lines are longer
    starts_.push_back(0);
    const char* begin = text_.data();
    const char* end = begin + text_.size();
    for (const char* at = begin; at != end;) {
        const void* found = std::memchr(at, '\n', static_cast<std::size_t>(end - at));
        if (!found) break;
        at = static_cast<const char*>(found) + 1;
        if (at != end) starts_.push_back(static_cast<std::uint32_t>(at - begin));
    }
    return starts_;
}

Position File::position(std::uint32_t offset) const {
    offset = std::min(offset, static_cast<std::uint32_t>(text_.size()));
    const std::vector<std::uint32_t>& lines = starts();
    auto next = std::upper_bound(lines.begin(), lines.end(), offset);
    auto line = static_cast<std::uint32_t>(next - lines.begin());
    std::uint32_t column = 1;
    for (std::uint32_t at = lines[line - 1]; at < offset; ++at)
        if ((static_cast<unsigned char>(text_[at]) & 0xC0U) != 0x80U) ++column; // count no continuation byte
    return {line, column};
}

std::string_view File::line(std::uint32_t number) const {
    const std::vector<std::uint32_t>& lines = starts();
    std::uint32_t begin = lines[number - 1];
    auto end = number < lines.size() ? lines[number] : static_cast<std::uint32_t>(text_.size());
    std::string_view text = text_.substr(begin, end - begin);
    while (!text.empty() && (text.back() == '\n' || text.back() == '\r')) text.remove_suffix(1);
    return text;
}

FileId Files::add(std::string path, std::string text, bool standard) {
    files_.emplace_back(std::move(path), std::move(text), standard);
    return static_cast<FileId>(files_.size() - 1);
}

FileId Files::add_built_in(std::string path, std::string_view text) {
    files_.emplace_back(std::move(path), text);
    return static_cast<FileId>(files_.size() - 1);
}

std::string Files::place(Span span) const {
    Position p = position(span);
    return files_[span.file].path() + ':' + std::to_string(p.line) + ':' + std::to_string(p.column);
}

std::string Files::place_line(Span span) const {
    return files_[span.file].path() + ':' + std::to_string(position(span).line);
}

} // namespace athanor
