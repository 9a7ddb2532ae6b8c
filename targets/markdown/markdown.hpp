#pragma once
#include "targets/target.hpp"

/// A run sheet as plain text (CommonMark 0.31.2 with the pipe tables that many readers know): to print, to read
/// raw, to review in a diff.
namespace athanor::targets::markdown {

/// STEM.md
std::vector<OutputFile> write(const program::Program& program, const Context& context, std::string_view stem);
std::optional<program::Program> read(std::string_view bytes, const program::Program& shape, ReadError& error);

/// A row of the sheet's outputs: number, what it drives, where that is when energised and when not.
std::vector<std::string> output_words(const program::Output& output);

/// Titles of the table of outputs.
std::vector<std::string> output_titles();
/// "To degC", with the zones in their order where there are several: "To degC front/middle/back".
std::string target_title(const program::Program& program);
/// What `How to read it` may say, as the lines are told.
std::vector<std::string> legend();

} // namespace athanor::targets::markdown
