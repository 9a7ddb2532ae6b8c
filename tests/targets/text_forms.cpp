// The run sheet and the structured text: what they say comes back, and what is wrong is refused at its place.
#include "targets/markdown/text.hpp"
#include "targets/structured_text/structured_text.hpp"
#include "tests/targets/sample.hpp"

#include <doctest/doctest.h>

#include <fmt/format.h>

#include <fstream>
#include <sstream>

using namespace sample;

namespace {

std::string written(const char* format, const program::Program& program) {
    return targets::target_named(format)->write(program, context(), "bench")[0].bytes;
}
std::string refused(const char* format, const std::string& bytes, const program::Program& shape = bench()) {
    targets::ReadError error;
    if (targets::target_named(format)->read(bytes, shape, error)) return "read";
    return fmt::format("{}:{}: {}", error.line, error.column, error.message);
}
std::string replaced(std::string text, const std::string& from, const std::string& to) {
    std::size_t at = text.find(from);
    REQUIRE_MESSAGE(at != std::string::npos, from);
    return text.replace(at, from.size(), to);
}

/// The grammar of the standard, written down apart from the writer; empty when the text conforms.
std::string faults(const std::string& text) {
    Folder folder;
    std::ofstream(folder.path + "/table.st", std::ios::binary) << text;
    std::string command =
        fmt::format("/usr/bin/python3 {1}/tests/targets/iec_grammar.py {0}/table.st > {0}/out 2>&1",
                    folder.path, ATHANOR_ROOT);
    if (std::system(command.c_str()) == 0) return "";
    std::string said = contents(folder.path + "/out");
    return said.empty() ? "refused without a word" : said;
}

} // namespace

TEST_CASE("run sheet and structured text read back equal") {
    for (const char* format : {"markdown", "structured_text"})
        for (const program::Program& p : {bench(), zones()}) {
            CAPTURE(format);
            targets::ReadError error;
            std::string bytes = written(format, p);
            CAPTURE(bytes);
            auto back = targets::target_named(format)->read(bytes, p, error);
            CAPTURE(error.line);
            CAPTURE(error.message);
            REQUIRE(back);
            CHECK(keyed(*back) == keyed(p));
            for (std::size_t i = 0; i < p.parts.size(); ++i)
                CHECK(back->parts[i].hand_over == p.parts[i].hand_over);
            CHECK(written(format, p) == bytes);
        }
}

TEST_CASE("a run sheet keeps every word of an instruction") {
    for (const program::Program& p : {bench(), zones()}) {
        targets::ReadError error;
        auto back = targets::target_named("markdown")->read(written("markdown", p), p, error);
        REQUIRE(back);
        CHECK(hand_over_and_instructions(*back) == hand_over_and_instructions(p));
    }
}

TEST_CASE("a run sheet fits 80 columns outside its tables and never wraps into a mark") {
    program::Program p = bench();
    p.parts[0].segments[0].instruction =
        "Load the boat and fit both of the plugs, then clamp the seals at 3. and 4. position - slowly - "
        "with the torque wrench; # 12 is the blue one | never * the red one, <b>not</b> _any_ of those";
    std::string bytes = written("markdown", p);
    std::istringstream lines(bytes);
    for (std::string line; std::getline(lines, line);)
        if (!line.starts_with("|")) CHECK_MESSAGE(line.size() <= 100, line);
    targets::ReadError error;
    auto back = targets::target_named("markdown")->read(bytes, p, error);
    REQUIRE(back);
    CHECK(hand_over_and_instructions(*back) == hand_over_and_instructions(p));
    for (const char* text :
         {"", "a", "  two  blanks ", "back\\slash", "a|b", "<br>", "line\nline", "[x](y) & *z*"})
        CHECK(targets::markdown::unescaped(targets::markdown::escaped(text)) == text);
}

TEST_CASE("clock times are exact") {
    using targets::markdown::clock;
    using targets::markdown::seconds;
    CHECK(clock("7500") == "2:05:00");
    CHECK(clock("4063.415") == "1:07:43.415");
    CHECK(clock("3596400") == "999:00:00");
    for (const char* text : {"0", "59", "60", "3599.5", "86400", "0.001"})
        CHECK(seconds(clock(text)) == std::string(text));
    for (const char* text : {"", "1:00", "1:60:00", "1:00:61", "1:0x:00", "-1:00:00", "1:00:00.", "1:00:00.x"})
        CHECK_FALSE(seconds(text));
}

TEST_CASE("what is wrong in a run sheet is refused at its place") {
    std::string good = written("markdown", bench());
    CHECK(refused("markdown", replaced(good, "300.5 |", "300.7 |")).find("300.7 degC is not settable") !=
          std::string::npos);
    CHECK(refused("markdown", replaced(good, " 1:00:00 ", " 1:60:00 ")).find("is no time") !=
          std::string::npos);
    CHECK(refused("markdown", replaced(good, "output 2 is energised", "output 3 is energised"))
              .find("no output 3") != std::string::npos);
    CHECK(refused("markdown", replaced(good, "## Programme 3", "## Programmes")).find("does not hold") !=
          std::string::npos);
    CHECK(refused("markdown", "").find("no rows") != std::string::npos);
    // What the figures are read by.
    CHECK(refused("markdown", replaced(replaced(good, "1, energised", "x, energised"), "0, not energised",
                                       "1, not energised"))
              .find("`x, energised` stands here, the title is `1, energised`") != std::string::npos);
    CHECK(refused("markdown", replaced(good, "it is not keyed", "it is keyed as well"))
              .find("not how the sheet is to be read") != std::string::npos);
    good = written("markdown", zones());
    CHECK(good.find("| To degC left/right") != std::string::npos);
    CHECK(good.find("- `/` between figures: one for each zone") != std::string::npos);
    CHECK(refused("markdown", replaced(good, "To degC left/right", "To degC right/left"), zones())
              .find("names other zones than `To degC left/right`") != std::string::npos);
}

TEST_CASE("what structured text declares is exactly what the constants are read by") {
    const std::string good = written("structured_text", bench());
    CHECK(refused("structured_text", good) == "read");
    CHECK(refused("structured_text", replaced(good, "\n        ", "\r\n\t")) == "read"); // blanks are blanks
    const auto says = [&](const char* from, const char* to, const char* words) {
        const std::string said = refused("structured_text", replaced(good, from, to));
        CAPTURE(from);
        CHECK_MESSAGE(said.find(words) != std::string::npos, said);
    };
    says("Dwell : DINT", "Dwell : INT", "`Dwell : DINT; (* in ATHANOR_DWELL_UNIT; -1: none *)` is expected");
    says("(* bit n-1: output n energised *)", "(* bit n-1: output n open *)", "`Outputs : DWORD; (* bit n-1");
    says("0 ramp, 1 dwell", "0 dwell, 1 ramp", "`Kind : INT; (* 0 ramp, 1 dwell");
    says("(* TRUE: energised above it; FALSE: below it *)", "(* TRUE: below it *)", "`Above : BOOL;");
    says("ARRAY [1..8] OF ATHANOR_SEGMENT", "ARRAY [0..7] OF ATHANOR_SEGMENT",
         "ATHANOR_SEGMENTS is declared as `ARRAY [0..7] OF ATHANOR_SEGMENT`, it is `ARRAY [1..8]");
    says("(* K/min *)", "(* K/h *)", "`K/h` stands behind ATHANOR_RATE_UNIT, its unit is K/min");
    says("ATHANOR_BAND_UNIT : LREAL", "ATHANOR_BAND_UNIT : REAL", "ATHANOR_BAND_UNIT is declared as `REAL`");
    says("ATHANOR_BAND_UNIT : LREAL := 1.0", "ATHANOR_BAND_UNIT : LREAL := 1.01",
         "this controller is keyed in units of");
    says("output 1, argon; without power open", "output 1, argon; without power closed",
         "is not so on this rig");
    says("TYPE\n", "", "");
    const std::string of_zones = written("structured_text", zones());
    CHECK(refused("structured_text",
                  replaced(of_zones, "for the zones left, right", "for the zones right, left"), zones())
              .find("for the zones left, right, in ATHANOR_SETPOINT_UNIT *)` is expected") !=
          std::string::npos);
}

TEST_CASE("structured text conforms to the grammar of IEC 61131-3") {
    for (const program::Program& p : {bench(), zones()}) {
        std::string text = written("structured_text", p);
        CAPTURE(text);
        CHECK(faults(text) == "");
    }
    // Comments may hold anything that a recipe's texts hold.
    program::Program p = bench();
    p.title = "stars *) and (* 'quotes' $ \xC3\xA4 *";
    p.parts[1].hand_over = "it's 5 $ \xC2\xB0 *) ok";
    p.parts[0].next = 0;
    std::string text = written("structured_text", p);
    CHECK(faults(text) == "");
    targets::ReadError error;
    auto back = targets::target_named("structured_text")->read(text, p, error);
    REQUIRE(back);
    CHECK(back->parts[1].hand_over == p.parts[1].hand_over);
}

TEST_CASE("the checker of the grammar finds faults") {
    std::string good = written("structured_text", bench());
    auto broken = [&](const char* from, const char* to) {
        CAPTURE(from);
        CHECK(faults(replaced(good, from, to)) != "");
    };
    broken("END_TYPE", "END_TYP");
    broken("Kind : INT;", "Kind : INT");
    broken("HasTarget := TRUE", "HasTarget := 1");
    broken("HasTarget := TRUE", "Has__Target := TRUE");
    broken("ARRAY [1..8] OF ATHANOR_SEGMENT", "ARRAY [1..9] OF ATHANOR_SEGMENT");
    broken("ARRAY [1..8] OF ATHANOR_SEGMENT", "ARRAY [1..8] OF ATHANOR_ROW");
    broken("LREAL := 0.5", "LREAL := 1");
    broken("16#00000000", "16#1FFFFFFFF");
    broken("END_VAR", "");
    broken("Kind := 4", "Kind := 40000");
}

TEST_CASE("counts are whole multiples of the unit, even where a grid begins off its step") {
    using targets::structured_text::count_of;
    using targets::structured_text::unit_of;
    Grid even{{0, 0}, {1200, 0}, {5, -1}}, odd{{5, -1}, {100, 0}, {2, 0}}, one{{1, -1}, {60, 0}, {1, -1}};
    CHECK(unit_of(even).text() == "0.5");
    CHECK(unit_of(odd).text() == "0.5");
    CHECK(unit_of(one).text() == "0.1");
    for (const Grid& grid : {even, odd, one})
        for (std::int64_t k : {0, 1, 7})
            CHECK(static_cast<double>(count_of(grid, k)) * unit_of(grid).value() ==
                  doctest::Approx(grid.value(k)));
}
