#pragma once
#include "compiler/source/span.hpp"

#include <cstddef>
#include <deque>
#include <string>
#include <string_view>
#include <vector>

namespace athanor {

/// Line and column as people count them: both from 1, columns in Unicode code points.
struct Position {
    std::uint32_t line = 1;
    std::uint32_t column = 1;
};

/// One source text. `path` is what messages print; it is never opened again.
class File {
public:
    File(std::string path, std::string text, bool standard)
        : path_(std::move(path)), own_(std::move(text)), text_(own_), standard_(standard) {}
    /// Of the library, with a text that lies in the program for good.
    File(std::string path, std::string_view text) : path_(std::move(path)), text_(text), standard_(true) {}
    File(const File&) = delete;
    File& operator=(const File&) = delete;

    const std::string& path() const { return path_; }
    std::string_view text() const { return text_; }
    /// True for the library that is built into the program.
    bool standard() const { return standard_; }

    Position position(std::uint32_t offset) const;
    /// Text of a line, counted from 1, without its end.
    std::string_view line(std::uint32_t number) const;
    /// Offset of the first byte of a line, counted from 1.
    std::uint32_t line_start(std::uint32_t number) const { return starts()[number - 1]; }

private:
    const std::vector<std::uint32_t>& starts() const;

    std::string path_;
    std::string own_;
    std::string_view text_;
    bool standard_;
    mutable std::vector<std::uint32_t> starts_; // of the lines, when one is first asked for
};

/// Every file of one compilation. References stay valid while files are added.
class Files {
public:
    FileId add(std::string path, std::string text, bool standard = false);
    /// A file of the library, whose text lies in the program for good.
    FileId add_built_in(std::string path, std::string_view text);
    const File& operator[](FileId id) const { return files_[id]; }
    std::size_t size() const { return files_.size(); }
    std::string_view text(Span span) const {
        return files_[span.file].text().substr(span.begin, span.end - span.begin);
    }
    Position position(Span span) const { return files_[span.file].position(span.begin); }
    /// "path:line:column", or "path:line" for the form used inside sentences.
    std::string place(Span span) const;
    std::string place_line(Span span) const;

private:
    std::deque<File> files_;
};

} // namespace athanor
