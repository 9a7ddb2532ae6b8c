#pragma once
#include <compare>
#include <cstdint>

namespace athanor {

/// Index into `Files`. File 0 is always the first file given on the command line.
using FileId = std::uint32_t;

/// A half-open range of bytes [begin, end) of one source file.
/// Line and column are computed from it only when a person reads them.
struct Span {
    FileId file = 0;
    std::uint32_t begin = 0;
    std::uint32_t end = 0;

    auto operator<=>(const Span&) const = default;
};

/// The smallest span that holds both; they must be of one file.
inline Span hull(Span a, Span b) {
    return {a.file, a.begin < b.begin ? a.begin : b.begin, a.end > b.end ? a.end : b.end};
}

} // namespace athanor
