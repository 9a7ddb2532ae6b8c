#pragma once
#include "tests/grammar/support.hpp"

#include <doctest/doctest.h>

#include <string>

/// Slips of statements, word for word: what is said, what is offered, and what is written where that is sure.
namespace athanor::grammar_test {

/// One line of a recipe, and what is said of it.
struct Row {
    std::string line, message, remedy;
    std::string mended; // empty: no edit
};

inline std::string recipe(const std::string& line) {
    return "recipe x {\n" + line + "\n}\n";
}

inline std::string with(std::string text, const Edit& edit) {
    return text.replace(edit.span.begin, edit.span.end - edit.span.begin, edit.text);
}

/// The text once every edit is made that is offered, one after another.
inline std::string settled(std::string text) {
    for (int round = 0; round < 5; ++round) {
        const Read read(text);
        if (read.diagnostics.empty() || !read.diagnostics.all().front().edit) break;
        text = with(text, *read.diagnostics.all().front().edit);
    }
    return text;
}

inline void check(const Row& row) {
    CAPTURE(row.line);
    const std::string text = recipe(row.line);
    const Read read(text);
    REQUIRE(read.diagnostics.errors() >= 1);
    std::size_t hidden = 0;
    const Diagnostic& d = *read.diagnostics.sorted(100, hidden).front();
    CHECK(d.message == row.message);
    REQUIRE(!d.remedies.empty());
    CHECK(d.remedies.front() == row.remedy);
    CHECK(d.edit.has_value() == !row.mended.empty());
    if (!d.edit || row.mended.empty()) return;
    CHECK(with(text, *d.edit) == recipe(row.mended));
    // No edit is offered that leaves the statement unread.
    CHECK(Read(settled(text)).messages() == "");
}

} // namespace athanor::grammar_test
