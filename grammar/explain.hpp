#pragma once
#include "compiler/source/diagnostic.hpp"
#include "grammar/build.hpp"
#include "grammar/scan.hpp"

#include <string>
#include <vector>

namespace athanor::grammar {

/// Turns what the rules noted into messages: where, what, and what to do, with an edit where one is certain.
void explain(const std::vector<Trouble>& troubles, FileId file, const Files& files, Diagnostics& out);

/// A text that was read, and how far its repairs are followed.
struct Reading {
    FileId file;
    std::string_view text;
    unsigned depth;   // of repairs made one after another
    unsigned* trials; // texts that may still be read again
};
/// The same for one of them.
void explain_one(const Trouble& trouble, const Reading& reading, Diagnostics& out);
/// The message for a rule that stopped at an unexpected token: known slips first, else what was expected.
void explain_unexpected(const Trouble& trouble, const Reading& reading, Diagnostics& out);

/// Is the trouble's statement read once the edit is made, or after further edits of that sort? Only then is it
/// a repair.
bool settles(const Trouble& trouble, const Reading& reading, const Edit& edit);
/// What is wrong in a text. Of the parser, which wording knows nothing of.
std::vector<Trouble> troubles_in(std::string_view text);
/// From the line in the first column that begins the declaration at `at` to the next one.
Span declaration_around(std::string_view text, FileId file, std::uint32_t at);

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
