// Bad input: a clear error, exit status 1 or 2, no crash, no hang, no partial file.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

namespace {

/// Checks a text as a file; the status must be 1 or 2 and the message must hold `expected`.
void refused(const std::string& text, const std::string& expected) {
    Scratch scratch;
    scratch.write("bad.ath", text);
    Result result = athanor({"build", "bad.ath", "--message-format", "short", "-o", "out/"}, scratch.path());
    CAPTURE(text.substr(0, 200));
    CAPTURE(result.err.substr(0, 2000));
    CHECK((result.status == 1 || result.status == 2));
    CHECK(result.err.find(expected) != std::string::npos);
    CHECK(!scratch.has("out"));
    Result checked = athanor({"check", "bad.ath"}, scratch.path());
    CHECK((checked.status == 1 || checked.status == 2));
    Result formatted = athanor({"format", "-"}, scratch.path(), text);
    CHECK(formatted.status <= 2);
}

std::string times(const std::string& text, int n) {
    std::string out;
    for (int i = 0; i < n; ++i) out += text;
    return out;
}

const std::string head = "recipe r {\n";

} // namespace

TEST_CASE("truncated recipes") {
    std::string whole = read_text(project + "/tests/examples/accepted/copper_sinter.ath");
    REQUIRE(whole.size() > 500);
    for (std::size_t cut : {whole.find("ramp to 300") + 4, whole.find("purge argon at") + 14,
                            whole.find("ramp to peak") + 12, whole.size() - 3}) {
        Scratch scratch;
        scratch.write("accepted/bad.ath", whole.substr(0, cut));
        scratch.write("rigs/bench_two.ath", read_text(project + "/tests/examples/rigs/bench_two.ath"));
        scratch.write("controllers/bench_controller.ath",
                      read_text(project + "/tests/examples/controllers/bench_controller.ath"));
        scratch.write("athanor.root", "");
        Result result = athanor({"check", "accepted/bad.ath", "--message-format", "short"}, scratch.path());
        CAPTURE(result.err);
        CHECK(result.status == 1);
        CHECK(result.err.find("[syntax]") != std::string::npos);
    }
}

TEST_CASE("binary and broken encodings") {
    std::string binary;
    for (int i = 0; i < 4096; ++i) binary += static_cast<char>((i * 7919) >> 3);
    refused(binary, "[syntax]");
    refused(std::string("\x7f"
                        "ELF\0\0\0\1",
                        8),
            "[syntax]");
    refused(head + "    note \"\xff\xfe\"\n}\n", "[syntax]");
}

TEST_CASE("deep nesting is too_large, not a crash") {
    refused(head + times("repeat 2 times {\n", 10000) + times("}\n", 10000) + "}\n", "[too_large]");
    refused(times("{", 10000), "[");
    refused(head + "dwell " + times("(", 10000) + "1 min" + times(")", 10000) + "\n}\n", "[too_large]");
    refused(head + "dwell " + times("-", 10000) + "1 min\n}\n", "[");
}

TEST_CASE("an expansion beyond the limits is too_large") {
    refused(head + "repeat 9999 times {\nrepeat 9999 times {\nrepeat 9999 times {\ndwell 1 min\n}\n}\n}\n}\n",
            "[");
}

TEST_CASE("a hundred megabytes") {
    Scratch scratch;
    Result made = shell("head -c 100000000 /dev/zero | tr '\\0' 'a' > big.ath", scratch.path());
    REQUIRE(made.status == 0);
    Result result = athanor({"check", "big.ath", "--message-format", "short"}, scratch.path());
    CHECK(result.status == 1);
    CHECK(result.err.find("[too_large]") != std::string::npos);
    CHECK(result.err.size() < 1000);
    Result zeros = shell("head -c 100000000 /dev/zero > big.ath", scratch.path());
    REQUIRE(zeros.status == 0);
    CHECK(athanor({"check", "big.ath"}, scratch.path()).status == 1);
}

TEST_CASE("numbers, units and names") {
    refused(head + "dwell 1e999 h\n}\n", "[");
    refused(head + "dwell 5 parsecs\n}\n", "[unknown_unit]");
    refused(head + "dwell 30\n}\n", "[missing_unit]");
    refused(head + "dwell 30 K\n}\n", "[unit_mismatch]");
    refused("recipe r {\n dwell 1 min\n}\nrecipe r {\n dwell 1 min\n}\n", "[duplicate_name]");
    refused("operation a {\n b()\n}\noperation b {\n a()\n}\nrecipe r {\n a()\n}\n", "[recursion]");
    refused(head + "frobnicate()\n}\n", "[unknown_name]");
}

TEST_CASE("imports") {
    refused("use \"nowhere.ath\"\n" + head + "dwell 1 min\n}\n", "[import_not_found]");
    refused("use \"../../../../etc/passwd\"\n" + head + "dwell 1 min\n}\n", "[import_escapes]");
    refused("use \"/etc/passwd\"\n" + head + "dwell 1 min\n}\n", "[import_escapes]");
    refused("use \"bad.ath\"\n" + head + "dwell 1 min\n}\n", "[import_cycle]");
    Scratch scratch;
    scratch.write("a.ath", "use \"b.ath\"\nrecipe r {\n dwell 1 min\n}\n");
    scratch.write("b.ath", "use \"c.ath\"\n");
    scratch.write("c.ath", "use \"a.ath\"\n");
    Result result = athanor({"check", "a.ath", "--message-format", "short"}, scratch.path());
    CHECK(result.status == 1);
    CHECK(result.err.find("[import_cycle]") != std::string::npos);
}

TEST_CASE("files that cannot be read") {
    Scratch scratch;
    CHECK(athanor({"check", "missing.ath"}, scratch.path()).status == 2);
    CHECK(athanor({"check", "."}, scratch.path()).status == 2);
    CHECK(athanor({"build", "missing.ath"}, scratch.path()).status == 2);
    CHECK(athanor({"format", "missing.ath"}, scratch.path()).status == 2);
    CHECK(athanor({"replay", "missing.csv", "missing.ath"}, scratch.path()).status == 2);
    CHECK(athanor({"diff", "missing.ath", "missing.ath"}, scratch.path()).status == 2);
}

TEST_CASE("output that cannot be written") {
    std::string folder = project + "/tests/examples/accepted";
    CHECK(athanor({"build", "air_calcine.ath", "-o", "/proc/nowhere/"}, folder).status == 2);
    CHECK(athanor({"build", "air_calcine.ath", "-o", "/dev/full"}, folder).status == 2);
    Scratch scratch;
    scratch.write("in_the_way", "x");
    CHECK(athanor({"build", "air_calcine.ath", "-o", scratch.path() + "/in_the_way/deep/"}, folder).status ==
          2);
    CHECK(scratch.names() == std::vector<std::string>{"in_the_way"});
    // A folder stands where one of the files should go: none of them appears.
    scratch.write("air_calcine.csv-metadata.json/kept", "x");
    CHECK(athanor({"build", "air_calcine.ath", "-o", scratch.path()}, folder).status == 2);
    CHECK(scratch.names() == std::vector<std::string>{"air_calcine.csv-metadata.json", "in_the_way"});
    CHECK(shell("'" ATHANOR_PROGRAM "' build air_calcine.ath -o - >/dev/full", folder).status == 2);
}

TEST_CASE("usage errors give 2") {
    Scratch scratch;
    for (const std::vector<std::string>& arguments :
         std::vector<std::vector<std::string>>{{},
                                               {"frobnicate"},
                                               {"check"},
                                               {"check", "--nonsense", "x.ath"},
                                               {"explain", "nonsense"},
                                               {"units", "nonsense"},
                                               {"schema", "nonsense"},
                                               {"check", "x.ath", "--message-format", "loud"}})
        CHECK(athanor(arguments, scratch.path()).status == 2);
}
