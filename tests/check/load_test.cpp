#include "recipes_support.hpp"

#include <fmt/format.h>

using namespace athanor;
using Texts = Checked::Texts;

namespace {

/// A folder of real files that is removed again: links and roots exist only on a file system.
struct Folder {
    std::filesystem::path path;
    Folder() {
        path = std::filesystem::temp_directory_path() /
               fmt::format("athanor_load_{}", reinterpret_cast<std::uintptr_t>(this));
        std::filesystem::remove_all(path);
        std::filesystem::create_directories(path);
    }
    ~Folder() { std::filesystem::remove_all(path); }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;

    std::string write(const std::string& name, const std::string& text) const {
        std::filesystem::create_directories((path / name).parent_path());
        std::ofstream(path / name) << text;
        return (path / name).generic_string();
    }
    /// Short findings with the folder's own name cut out.
    std::string findings(const std::string& name, const std::string& root = "") const {
        Files files;
        Diagnostics out;
        const auto read = [](const std::string& p) -> std::optional<std::string> {
            std::error_code ignored;
            if (!std::filesystem::is_regular_file(p, ignored)) return std::nullopt;
            return Checked::read(p);
        };
        const std::string full = (path / name).generic_string();
        check::load({{full, Checked::read(full), false}}, {}, root, read, files, out);
        std::string text;
        for (const Diagnostic& d : out.all()) {
            text += render_short(d, files) + "\n";
            for (const std::string& remedy : d.remedies) text += "  " + remedy + "\n";
        }
        const std::string own = std::filesystem::weakly_canonical(path).generic_string();
        for (std::size_t at; (at = text.find(own)) != std::string::npos;) text.replace(at, own.size(), "ROOT");
        return text;
    }
};

} // namespace

TEST_CASE("an import is relative to the file that imports, and each file is read once") {
    Checked c(Texts{{"a/main.ath", "use \"../b/one.ath\"\nuse \"two.ath\"\nrecipe r { dwell soak + more }\n"},
                    {"b/one.ath", "use \"../a/two.ath\"\nlet more = 5 min\n"},
                    {"a/two.ath", "let soak = 1 h\n"}},
              ".");
    CHECK(c.findings() == "");
    CHECK(c.reads == 2);
    REQUIRE(c.units.size() == 3 + Checked::standard().size());
    CHECK(c.units[0].named);
    CHECK_FALSE(c.units.back().named);
    CHECK(c.files[0].path() == "a/main.ath");
}

TEST_CASE("two spellings of one path are one file") {
    Checked c(Texts{{"main.ath", "use \"b/x.ath\"\nuse \"./b/../b/x.ath\"\nrecipe r { dwell soak }\n"},
                    {"b/x.ath", "let soak = 1 h\n"}},
              ".");
    CHECK(c.findings() == "");
    CHECK(c.reads == 1);
}

TEST_CASE("an import shows the file's own declarations, not what that file imports") {
    Checked c(Texts{{"main.ath", "use \"near.ath\"\nrecipe r {\n    dwell soak\n    dwell deep\n}\n"},
                    {"near.ath", "use \"far.ath\"\nlet soak = deep\n"},
                    {"far.ath", "let deep = 1 h\n"}},
              ".");
    CHECK(c.findings() == "main.ath:4:11: error: nothing is called `deep` [unknown_name]\n");
}

TEST_CASE("the standard library is in scope everywhere") {
    Checked c("recipe r { inert_purge(limit = 5 ppm) }\n");
    CHECK(c.findings() == "");
}

TEST_CASE("a file that is not there is told with the path that was tried") {
    Checked c(Texts{{"a/main.ath", "use \"../rigs/tube.ath\"\n"}}, ".");
    CHECK(c.findings() == "a/main.ath:1:5: error: no file `rigs/tube.ath` can be read [import_not_found]\n");
    Checked empty("use \"\"\n");
    CHECK(empty.findings() == "t.ath:1:5: error: an import names no file [import_not_found]\n");
}

TEST_CASE("what a missing file may declare is not asked for again") {
    const std::string recipe =
        "recipe r on bench for keyed {\n    let held = peak\n    open argon_line at 1 slm\n"
        "    ramp to held at 5 K/min\n    close argon_line\n}\n";
    Checked c("use \"nowhere.ath\"\n" + recipe);
    CHECK(c.findings() == "t.ath:1:5: error: no file `nowhere.ath` can be read [import_not_found]\n");
    Checked without(recipe);
    CHECK(without.findings().find("[unknown_name]") != std::string::npos);
}

TEST_CASE("a misspelt file name is repaired from what stands in the folder") {
    Folder folder;
    folder.write("rigs/bench_two.ath", "");
    folder.write("main.ath", "use \"rigs/bench_tow.ath\"\n");
    const std::string text = folder.findings("main.ath");
    CHECK(text.find("[import_not_found]\n  use \"rigs/bench_two.ath\"\n") != std::string::npos);
}

TEST_CASE("files that import each other are refused with the whole ring") {
    Checked c(Texts{{"a.ath", "use \"b.ath\"\n"}, {"b.ath", "use \"c.ath\"\n"}, {"c.ath", "\nuse \"a.ath\"\n"}},
              ".");
    CHECK(c.findings() ==
          "c.ath:2:5: error: these files import each other: a.ath -> b.ath -> c.ath -> a.ath [import_cycle]\n");
    Checked self(Texts{{"a.ath", "use \"a.ath\"\n"}}, ".");
    CHECK(self.findings() == "a.ath:1:5: error: this file imports itself: a.ath -> a.ath [import_cycle]\n");
}

TEST_CASE("a diamond of imports is no ring") {
    Checked c(Texts{{"a.ath", "use \"b.ath\"\nuse \"c.ath\"\n"},
                    {"b.ath", "use \"d.ath\"\n"},
                    {"c.ath", "use \"d.ath\"\n"},
                    {"d.ath", ""}},
              ".");
    CHECK(c.findings() == "");
    CHECK(c.reads == 3);
}

TEST_CASE("a ring of a thousand files is told in a line that can be read") {
    Texts texts;
    for (int i = 0; i < 1000; ++i)
        texts.emplace_back(fmt::format("f{}.ath", i), fmt::format("use \"f{}.ath\"\n", (i + 1) % 1000));
    Checked c(texts, ".");
    REQUIRE(c.out.errors() == 1);
    CHECK(c.findings().find("f7.ath -> 984 more -> f992.ath") != std::string::npos);
    CHECK(c.findings().size() < 400);
}

TEST_CASE("a chain of a thousand imports needs no deep stack") {
    Texts texts;
    for (int i = 0; i < 1000; ++i)
        texts.emplace_back(fmt::format("f{}.ath", i), fmt::format("use \"f{}.ath\"\n", i + 1));
    texts.emplace_back("f1000.ath", "");
    Checked c(texts, ".");
    CHECK(c.findings() == "");
    CHECK(c.units.size() == 1001 + Checked::standard().size());
}

TEST_CASE("no import leaves the root") {
    Folder folder;
    folder.write("outside.ath", "");
    folder.write("inner/athanor.root", "");
    folder.write("inner/deep/main.ath", "use \"../../outside.ath\"\n");
    folder.write("inner/deep/fine.ath", "use \"../near.ath\"\n");
    folder.write("inner/near.ath", "");
    CHECK(folder.findings("inner/deep/fine.ath") == "");
    CHECK(folder.findings("inner/deep/main.ath") ==
          "ROOT/inner/deep/main.ath:1:5: error: `../../outside.ath` leaves the root folder ROOT/inner "
          "[import_escapes]\n"
          "  copy the file into the root folder, or name a wider one with `--root`\n");
    // A wider root lets it in, a narrower one keeps the near file out.
    CHECK(folder.findings("inner/deep/main.ath", folder.path.string()) == "");
    CHECK(folder.findings("inner/deep/fine.ath", (folder.path / "inner/deep").string())
              .find("[import_escapes]") != std::string::npos);
}

TEST_CASE("a folder whose name begins like the root's is outside") {
    Folder folder;
    folder.write("inner_two/x.ath", "");
    folder.write("inner/athanor.root", "");
    folder.write("inner/main.ath", "use \"../inner_two/x.ath\"\n");
    CHECK(folder.findings("inner/main.ath").find("[import_escapes]") != std::string::npos);
}

TEST_CASE("a symbolic link does not lead out of the root") {
    Folder folder;
    folder.write("outside.ath", "");
    folder.write("inner/athanor.root", "");
    folder.write("inner/main.ath", "use \"link.ath\"\n");
    std::filesystem::create_symlink("../outside.ath", folder.path / "inner/link.ath");
    CHECK(folder.findings("inner/main.ath")
              .find("`link.ath` leaves the root folder ROOT/inner [import_escapes]") != std::string::npos);
    // A link inside the root is one file with its target.
    folder.write("inner/near.ath", "");
    folder.write("inner/both.ath", "use \"near.ath\"\nuse \"same.ath\"\n");
    std::filesystem::create_symlink("near.ath", folder.path / "inner/same.ath");
    CHECK(folder.findings("inner/both.ath") == "");
}

TEST_CASE("a link that leads to itself is a file that cannot be read") {
    Folder folder;
    folder.write("athanor.root", "");
    folder.write("main.ath", "use \"loop.ath\"\n");
    std::filesystem::create_symlink("loop.ath", folder.path / "loop.ath");
    CHECK(folder.findings("main.ath").find("[import_not_found]") != std::string::npos);
}

TEST_CASE("an absolute path is no import, wherever it leads") {
    Folder folder;
    const std::string full = folder.write("near.ath", "");
    folder.write("athanor.root", "");
    folder.write("main.ath", "use \"" + full + "\"\n");
    CHECK(folder.findings("main.ath").find("[import_escapes]") != std::string::npos);
}

TEST_CASE("without a marked ancestor the file's own folder is the root") {
    Folder folder;
    folder.write("near.ath", "");
    folder.write("sub/main.ath", "use \"../near.ath\"\n");
    folder.write("sub/fine.ath", "use \"part/x.ath\"\n");
    folder.write("sub/part/x.ath", "");
    CHECK(folder.findings("sub/main.ath").find("[import_escapes]") != std::string::npos);
    CHECK(folder.findings("sub/fine.ath") == "");
}
