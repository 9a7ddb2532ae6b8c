#pragma once
#include "compiler/source/diagnostic.hpp"
#include "grammar/syntax.hpp"

namespace athanor {

// Limits that keep every input finite; each breach is one `too_large` message.
inline constexpr std::size_t max_file_bytes = 64U << 20U;
inline constexpr unsigned max_nesting = 200;

/// The version of the language that this program knows: what `language N` must say.
inline constexpr unsigned language_version = 1;

/// Reads a whole file. Never fails: the tree is always complete, statements that could not be read are
/// `error` nodes, and each of them has exactly one diagnostic (`syntax`, `missing_unit`, `unknown_unit`,
/// `too_large`).
Tree parse(FileId file, const Files& files, Diagnostics& out);

} // namespace athanor
