// Broken input of every sort: no crash, a sound tree, a formatter that keeps what is there.
#include "tests/grammar/support.hpp"

#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <random>

namespace athanor::grammar_test {
namespace {

/// What must hold for every text; returns what does not.
std::string fault(const std::string& text) {
    Read read(text);
    std::string trouble = unsound(read.tree, text.size());
    if (!trouble.empty()) return trouble;
    bool has_error = read.dumped().find("(broken)") != std::string::npos;
    if (has_error && !read.diagnostics.any_error()) return "a broken node without a message";
    std::string once = read.formatted();
    if (substance(once) != substance(text)) return "the formatter lost something";
    Read again(once);
    if (again.formatted() != once) return "the formatter is not idempotent";
    if (again.diagnostics.errors() != read.diagnostics.errors())
        return "the formatter changed the number of errors";
    return "";
}

/// Halves, quarters, … are cut out of a failing text as long as it goes on failing, so that a person can read
/// it.
std::string shrunk(std::string text) {
    for (std::size_t size = text.size() / 2; size > 0; size = size > 16 ? size / 2 : size - 1)
        for (std::size_t at = 0; at + size <= text.size();) {
            std::string shorter = text;
            shorter.erase(at, size);
            if (fault(shorter).empty())
                at += size;
            else
                text = std::move(shorter);
        }
    return text;
}

void require_sound(const std::string& text) {
    if (fault(text).empty()) return;
    std::string small = shrunk(text);
    FAIL_CHECK(fault(small) << " in:\n" << small);
}

std::string mutated(const std::string& text, std::mt19937& random) {
    auto at = [&](std::size_t size) { return std::uniform_int_distribution<std::size_t>(0, size)(random); };
    static const std::string pieces[] = {"{",     "}",    "(",    ")", "[", "]",    "\"",    ";",
                                         "\n",    "#",    ",",    "=", "±", " 5 ",  " K ",   " ramp ",
                                         " rig ", "\n\n", "else", "-", "?", "\r\n", "while "};
    std::string out = text;
    for (std::size_t i = at(3) + 1; i > 0; --i) {
        std::size_t begin = at(out.size());
        switch (at(4)) {
        case 0: out.resize(begin); break;
        case 1: out.erase(begin, at(6) + 1); break;
        case 2: out.insert(begin, out.substr(begin, at(30))); break;
        case 3: out.insert(begin, pieces[at(std::size(pieces) - 1)]); break;
        default: {
            std::size_t length = at(12), other = at(out.size());
            std::string moved = out.substr(begin, length);
            out.erase(begin, length);
            out.insert(std::min(other, out.size()), moved);
        }
        }
    }
    return out;
}

} // namespace

namespace {

/// An error at which reading stopped: a capital letter or a unit is read past, and told with what stands
/// behind.
bool stopped(const Diagnostic& d) {
    return d.code != Code::unknown_unit && d.message.find("capital letter") == std::string::npos;
}

std::ptrdiff_t stops(const Read& read) {
    const auto& all = read.diagnostics.all();
    return std::count_if(all.begin(), all.end(), stopped);
}

} // namespace

TEST_CASE("recipes of the repository parse without an error") {
    CHECK(recipes().size() >= 1);
    for (const auto& path : recipes()) {
        CAPTURE(path.string());
        Read read(file_text(path));
        CHECK(read.messages() == "");
        require_sound(file_text(path));
    }
}

TEST_CASE("mutated recipes leave a sound tree and a stable layout") {
    std::mt19937 random(20240611);
    for (const auto& path : recipes()) {
        std::string text = file_text(path);
        for (int i = 0; i < 2000; ++i) require_sound(mutated(text, random));
    }
}

TEST_CASE("an edit that is offered leaves no text with more errors than it had") {
    std::mt19937 random(20240611);
    std::size_t edits = 0;
    for (const auto& path : recipes()) {
        const std::string text = file_text(path);
        for (int i = 0; i < 1000; ++i) {
            const Read read(mutated(text, random));
            for (const Diagnostic& d : read.diagnostics.all()) {
                if (!d.edit || !stopped(d)) continue;
                std::string after(read.files[d.edit->span.file].text());
                after.replace(d.edit->span.begin, d.edit->span.end - d.edit->span.begin, d.edit->text);
                CAPTURE(render_short(d, read.files));
                CAPTURE(read.files.text(d.span));
                CAPTURE(d.edit->text);
                CHECK(stops(Read(after)) <= stops(read));
                ++edits;
            }
        }
    }
    CHECK(edits > 100);
}

TEST_CASE("any bytes at all leave a sound tree") {
    CHECK(rc::check("random text over the language's own characters", [] {
        auto text = *rc::gen::container<std::string>(
            rc::gen::elementOf(std::string("{}()[]\";#,=:+-*/<>?5.e \n\trampxKdwl_\xC2\xB1")));
        RC_ASSERT(fault(text) == "");
    }));
    CHECK(rc::check("random bytes", [](const std::string& text) {
        Read read(text);
        RC_ASSERT(unsound(read.tree, text.size()) == "");
    }));
}

TEST_CASE("nesting beyond the limit is one message, and quick") {
    for (unsigned depth : {10000U, 300000U}) {
        for (const char* bracket : {"(", "[", "not ", "- ", "f("}) {
            std::string text = "let x = ";
            for (unsigned i = 0; i < depth; ++i) text += bracket;
            Read read(text);
            CHECK(read.diagnostics.errors() == 1);
            CHECK(read.diagnostics.has(Code::too_large));
        }
        for (const char* head : {"if a ", "rig x ", "layout x "}) {
            bool steps = head[0] == 'i';
            std::string text = steps ? "recipe x { if a " : head;
            for (unsigned i = 0; i < depth; ++i) text += steps ? "{ if a " : "{ a ";
            Read read(text);
            CAPTURE(text.substr(0, 40));
            CHECK(read.diagnostics.errors() == 2); // too deep, and no closing brace
            CHECK(unsound(read.tree, text.size()) == "");
        }
        // A brace that begins no statement, and no closing brace.
        CHECK(Read(std::string(depth, '{')).diagnostics.errors() == 2);
        std::string closed = "rig x ", branches = "recipe x { ";
        for (unsigned i = 0; i < depth; ++i) {
            closed += "{ a ";
            branches += "if a { } else ";
        }
        closed.append(depth, '}');
        Read read(closed);
        CHECK(read.messages() == "recipe.ath:1:807: error: nested deeper than 200 levels, or more than 1000 "
                                 "operators in a row [too_large]\n");
        CHECK(unsound(Read(branches).tree, branches.size()) == "");
    }
    std::string sum = "let x = 1";
    for (unsigned i = 0; i < 100000; ++i) sum += " + 1";
    Read read(sum);
    CHECK(read.diagnostics.errors() == 1);
    CHECK(read.diagnostics.has(Code::too_large));
}

TEST_CASE("a file beyond the limit is one message") {
    std::string text(max_file_bytes + 1, '{');
    Read read(std::move(text));
    CHECK(read.messages() ==
          "recipe.ath:1:1: error: more than 67108864 bytes, the most that a file holds [too_large]\n");
    CHECK(read.formatted() == read.files[0].text());
}

} // namespace athanor::grammar_test
