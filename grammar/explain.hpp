#pragma once
#include "compiler/source/diagnostic.hpp"
#include "grammar/build.hpp"

#include <string>
#include <vector>

namespace athanor::grammar {

/// Turns what the rules noted into messages: where, what, and what to do, with an edit where one is certain.
void explain(const std::vector<Trouble>& troubles, FileId file, const Files& files, Diagnostics& out);

/// The message for a rule that stopped at an unexpected token: known slips first, else what was expected.
void explain_unexpected(const Trouble& trouble, FileId file, std::string_view text, Diagnostics& out);

/// A word that people write at the head of a line in place of another one: told with what stands for it here,
/// not as a misspelling.
bool everyday_verb(std::string_view word);
/// Letters by which a misspelling may differ for an edit to write the word; one that is further away is a
/// guess.
inline constexpr unsigned surely_meant = 1;

/// "`word`", "the end of the line", "`}`", as a message names what it found at an offset.
std::string found_at(std::string_view text, std::uint32_t at);
/// A text in back quotes, shortened when long, its line ends as blanks.
std::string quoted(std::string_view text, std::size_t longest = 60);
/// For `quoted`: words that are to be copied, so that nothing may be cut off.
inline constexpr std::size_t whole = 1000;

} // namespace athanor::grammar
