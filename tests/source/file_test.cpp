// Places in a text as people count them.
#include "compiler/source/file.hpp"

#include <doctest/doctest.h>

using namespace athanor;

namespace {

struct Place {
    std::uint32_t line, column;
    bool operator==(const Place&) const = default;
};

Place at(const File& file, std::uint32_t offset) {
    Position p = file.position(offset);
    return {p.line, p.column};
}

} // namespace

TEST_CASE("a column counts characters, not bytes") {
    // U+00B0 and U+00B1 take two bytes each in UTF-8, U+2026 three, U+1F525 four (RFC 3629, section 3).
    File file("a.ath", "5 °C ± 1 K\n…x\n\xF0\x9F\x94\xA5y", false);
    CHECK(at(file, 0) == Place{1, 1});
    CHECK(at(file, 2) == Place{1, 3}); // the degree sign itself
    CHECK(at(file, 4) == Place{1, 4}); // C, after its two bytes
    CHECK(at(file, 6) == Place{1, 6}); // ±
    CHECK(at(file, 9) == Place{1, 8}); // 1
    CHECK(at(file, 13) == Place{2, 1});
    CHECK(at(file, 16) == Place{2, 2});
    CHECK(at(file, 18) == Place{3, 1});
    CHECK(at(file, 22) == Place{3, 2});
}

TEST_CASE("an end of line belongs to the line that it ends") {
    File file("a.ath", "ab\ncd\n", false);
    CHECK(at(file, 2) == Place{1, 3});
    CHECK(at(file, 3) == Place{2, 1});
    CHECK(at(file, 5) == Place{2, 3});
    CHECK(at(file, 99) == Place{2, 4}); // a last end of line opens no third line
    CHECK(file.line_start(2) == 3);
}

TEST_CASE("carriage returns are no part of a line's text") {
    File file("a.ath", "ab\r\n\r\ncd\r\n", false);
    CHECK(at(file, 99).line == 3);
    CHECK(file.line(1) == "ab");
    CHECK(file.line(2).empty());
    CHECK(file.line(3) == "cd");
    CHECK(at(file, 6) == Place{3, 1});
}

TEST_CASE("an empty file has one empty line") {
    File file("a.ath", "", false);
    CHECK(file.line(1).empty());
    CHECK(at(file, 0) == Place{1, 1});
    CHECK(at(file, 7) == Place{1, 1}); // an offset past the end is the end
}

TEST_CASE("the last line needs no end") {
    File file("a.ath", "ab\ncde", false);
    CHECK(file.line(2) == "cde");
    CHECK(at(file, 6) == Place{2, 4});
    CHECK(at(file, 99) == Place{2, 4});
}

TEST_CASE("blank lines are lines") {
    File file("a.ath", "\n\n\nx", false);
    CHECK(file.line(2).empty());
    CHECK(file.line(4) == "x");
    CHECK(at(file, 1) == Place{2, 1});
}

TEST_CASE("files keep their place while others are added") {
    Files files;
    FileId a = files.add("a.ath", "one\ntwo °C\n");
    const File& first = files[a];
    for (int i = 0; i < 200; ++i) files.add("x.ath", "x");
    FileId b = files.add("lib.ath", "library", true);
    CHECK(&first == &files[a]);
    CHECK(files.size() == 202);
    CHECK_FALSE(files[a].standard());
    CHECK(files[b].standard());
    Span degree{a, 8, 11};
    CHECK(files.text(degree) == "°C");
    CHECK(files.place(degree) == "a.ath:2:5");
    CHECK(files.place_line(degree) == "a.ath:2");
    CHECK(files.text({b, 0, 3}) == "lib");
}

TEST_CASE("a text that lies in the program is of the library, and viewed where it is") {
    static constexpr std::string_view text = "one\ntwo °C\n";
    Files files;
    const FileId id = files.add_built_in("lib.ath", text);
    CHECK(files[id].standard());
    CHECK(files[id].text().data() == text.data());
    CHECK(files.place({id, 8, 11}) == "lib.ath:2:5");
    CHECK(files[id].line(2) == "two °C");
}

TEST_CASE("the hull of two spans, in either order") {
    Span a{1, 4, 7}, b{1, 10, 12};
    CHECK(hull(a, b) == Span{1, 4, 12});
    CHECK(hull(b, a) == Span{1, 4, 12});
    CHECK(hull({1, 2, 20}, a) == Span{1, 2, 20});
}
