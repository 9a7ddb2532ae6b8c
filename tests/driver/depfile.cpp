// Dependencies for build tools, as those tools read them.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

#include <filesystem>

namespace fs = std::filesystem;

namespace {

const std::string sinter = project + "/tests/examples/accepted/copper_sinter.ath";

bool installed(const std::string& program, const std::string& folder) {
    if (shell(program + " --version", folder).status == 0) return true;
    MESSAGE(program << " is not on this machine: it was not asked how it reads a dependency file");
    return false;
}

/// A recipe in a folder of its own, with a source whose path has a blank and a number sign.
struct Sources : Scratch {
    Sources() {
        fs::copy(project + "/tests/examples/rigs", path() + "/my rigs #1");
        fs::copy(project + "/tests/examples/controllers", path() + "/controllers");
        write("athanor.root", "");
        std::string text = read_text(sinter);
        text.replace(text.find("../rigs/bench_two.ath"), 21, "my rigs #1/bench_two.ath");
        text.replace(text.find("../controllers"), 14, "controllers");
        write("sinter.ath", text);
    }
};

} // namespace

TEST_CASE("a dependency file names every source, for ninja") {
    Sources scratch;
    if (!installed("ninja", scratch.path())) return;
    scratch.write("other.txt", "x");
    scratch.write("build.ninja", "rule table\n  command = " + std::string(ATHANOR_PROGRAM) +
                                     " build $in -o $out --depfile $out.d\n  depfile = $out.d\n  deps = gcc\n"
                                     "build tables/sinter.csv: table sinter.ath\n");
    auto ninja = [&] { return shell("ninja", scratch.path()); };
    const Result result = ninja();
    CHECK_MESSAGE(result.status == 0, result.out);
    CHECK(scratch.has("tables/sinter.csv"));
    CHECK(ninja().out.find("no work to do") != std::string::npos);
    shell("touch -d '+5 seconds' other.txt", scratch.path());
    CHECK(ninja().out.find("no work to do") != std::string::npos);
    for (const char* source : {"my rigs #1/bench_two.ath", "controllers/bench_controller.ath", "sinter.ath"}) {
        CAPTURE(source);
        shell("touch -d '+5 seconds' '" + std::string(source) + "'", scratch.path());
        CHECK(shell("ninja -n", scratch.path()).out.find("[1/1]") != std::string::npos);
        shell("touch -d '-5 seconds' '" + std::string(source) + "'", scratch.path());
        ninja();
        CHECK(ninja().out.find("no work to do") != std::string::npos);
    }
}

TEST_CASE("a dependency file names every source, for Make") {
    Sources scratch;
    const Result result =
        athanor({"build", "sinter.ath", "-o", "tables/sinter.csv", "--depfile", "sinter.d"}, scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
    const std::string rule = scratch.read("sinter.d");
    CHECK(rule.starts_with("tables/sinter.csv tables/sinter.csv-metadata.json: \\\n"));
    CHECK(rule.find("my\\ rigs\\ \\#1/bench_two.ath") != std::string::npos);
    CHECK(rule.find("standard/") == std::string::npos);
    if (!installed("make", scratch.path())) return;
    scratch.write("Makefile", "tables/sinter.csv:\n\t@echo again\ninclude sinter.d\n");
    CHECK(shell("touch -d '-60 seconds' 'my rigs #1/bench_two.ath' controllers/*.ath sinter.ath; make -q "
                "tables/sinter.csv",
                scratch.path())
              .status == 0);
    shell("touch -d '+60 seconds' 'my rigs #1/bench_two.ath'", scratch.path());
    CHECK(shell("make", scratch.path()).out.find("again") != std::string::npos);
}

TEST_CASE("odd characters of a path come back from a dependency file") {
    const Sources scratch;
    const bool make = installed("make", scratch.path()), ninja = installed("ninja", scratch.path());
    scratch.write("Makefile", "all: out.csv\ninclude rule.d\nout.csv:\n\t@echo made\n");
    scratch.write("build.ninja",
                  "rule copy\n  command = cp rule.d out.d && touch out.csv out.csv-metadata.json\n"
                  "  depfile = out.d\n  deps = gcc\nbuild out.csv out.csv-metadata.json: copy rule.d\n");
    // ninja has no form for the last two.
    const std::vector<std::string> names{"a b.ath",   "a#b.ath",   "a$b.ath",     "a:b.ath",   "a\\b.ath",
                                         "a\\ b.ath", "\\\\x.ath", "a\\\\ b.ath", "a\\:b.ath", "a\\#b.ath"};
    for (std::size_t i = 0; i < names.size(); ++i) {
        CAPTURE(names[i]);
        scratch.write(names[i], scratch.read("sinter.ath"));
        const Result built =
            athanor({"build", names[i], "-o", "out.csv", "--depfile", "rule.d"}, scratch.path());
        REQUIRE_MESSAGE(built.status == 0, built.err);
        if (make) {
            shell("touch -d '+60 seconds' controllers/*.ath", scratch.path());
            const Result made = shell("make -r", scratch.path());
            CHECK_MESSAGE(made.status == 0, made.err); // every source is a file that is there
            CHECK(made.out.find("made") != std::string::npos);
        }
        if (ninja && i + 2 < names.size()) {
            shell("rm -f out.csv; ninja", scratch.path());
            const std::string read = shell("ninja -t deps out.csv", scratch.path()).out;
            CHECK_MESSAGE(read.find("\n    " + names[i] + "\n") != std::string::npos, read);
        }
    }
}

TEST_CASE("no dependency file for a recipe that is refused, nor with a path that none can hold") {
    const Scratch scratch;
    Result result = athanor(
        {"build", project + "/tests/examples/refused/no_purge.ath", "-o", "no.csv", "--depfile", "no.d"},
        scratch.path());
    CHECK(result.status == 1);
    CHECK(!scratch.has("no.d"));
    const Sources sources;
    sources.write("two\nlines.ath", sources.read("sinter.ath"));
    result = athanor({"build", "two\nlines.ath", "-o", "two.csv", "--depfile", "two.d"}, sources.path());
    CHECK(result.status == 2);
    CHECK(!sources.has("two.d"));
    CHECK_MESSAGE(result.err.find("no place in it: `two lines.ath`") != std::string::npos, result.err);
}
