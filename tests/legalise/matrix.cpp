// Twelve controllers of different kinds by every example recipe: keyed, and then it replays, or refused by
// name.
#include "compiler/check/load.hpp"
#include "compiler/driver/embedded.hpp"
#include "compiler/elaborate/elaborate.hpp"
#include "compiler/legalise/limits.hpp"
#include "compiler/replay/replay.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <set>
#include <string>
#include <vector>

using namespace athanor;
namespace fs = std::filesystem;

namespace {

std::optional<std::string> text_of(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    if (!in) return std::nullopt;
    return std::string(std::istreambuf_iterator<char>(in), {});
}

std::vector<fs::path> files_in(const fs::path& folder) {
    std::vector<fs::path> list;
    for (const fs::directory_entry& entry : fs::directory_iterator(folder))
        if (entry.path().extension() == ".ath") list.push_back(entry.path());
    std::sort(list.begin(), list.end());
    return list;
}

/// One recipe on every controller of the folder: "name count" or "name code".
std::string row_of(const fs::path& recipe, const std::vector<fs::path>& controllers) {
    const fs::path root = ATHANOR_ROOT;
    std::vector<check::Source> library, own{{recipe.string(), *text_of(recipe), false}};
    for (const EmbeddedFile& file : embedded_files())
        if (file.path.starts_with("recipes/standard/"))
            library.push_back({std::string(file.path), std::string(file.content.text), true});
    for (const fs::path& controller : controllers)
        own.push_back({controller.string(), *text_of(controller), false});
    Files files;
    Diagnostics out;
    const auto units = check::load(
        own, library, root.string(), [](const std::string& path) { return text_of(path); }, files, out);
    const check::Model model = check::check(units, files, out);
    std::string said;
    for (const Diagnostic& d : out.all()) said += d.message + "; ";
    REQUIRE_MESSAGE(!out.any_error(), recipe.string(), ": ", said);
    const elaborate::Elaborated done = elaborate::elaborate(model, {0, check::none, {}}, files, out);
    REQUIRE_MESSAGE(done.complete, recipe.string());

    std::string row = recipe.stem().string() + "\n";
    for (const fs::path& file : controllers) {
        const auto found = std::find_if(model.controllers.begin(), model.controllers.end(),
                                        [&](const auto& c) { return c.name == file.stem().string(); });
        REQUIRE(found != model.controllers.end());
        Diagnostics said;
        const legalise::Legalised l =
            legalise::legalise_within({}, *done.timeline, *done.plant, *found, files, said);
        std::string result;
        if (l.complete) {
            result = std::to_string(program::segment_count(l.program));
            if (l.program.parts.size() > 1) result += fmt::format(" in {}", l.program.parts.size());
            const double start = done.timeline->laws_of(0)->from - 273.15;
            const replay::Run run = replay::run(l.program, start);
            auto differences = replay::compare(run, *done.timeline, l.program, 1.0);
            // And it does exactly what would be proven.
            if (differences.empty()) differences = replay::compare_exactly(run, l.timeline, l.program);
            CHECK_MESSAGE(differences.empty(), recipe.stem().string(), " on ", found->name, ": ",
                          replay::text_of(!run.problems.empty()  ? run.problems[0]
                                          : !differences.empty() ? differences[0]
                                                                 : replay::Finding{}));
        } else {
            std::set<std::string> codes;
            for (const Diagnostic& d : said.all()) {
                if (d.severity != Severity::error) continue;
                codes.insert(std::string(name(d.code)));
                CHECK_MESSAGE(group(d.code) == Group::controller, name(d.code));
            }
            CHECK(!codes.empty());
            for (const std::string& code : codes) result += (result.empty() ? "" : " ") + code;
        }
        row += fmt::format("    {:<12} {}\n", found->name, result);
    }
    return row;
}

} // namespace

TEST_CASE("twelve controllers by every example recipe") {
    const fs::path root = ATHANOR_ROOT;
    const std::vector<fs::path> controllers = files_in(root / "tests/legalise/controllers");
    REQUIRE(controllers.size() == 12);
    std::vector<fs::path> recipes = files_in(root / "recipes");
    for (const fs::path& path : files_in(root / "tests/examples/accepted")) recipes.push_back(path);
    std::string text;
    for (const fs::path& recipe : recipes) text += row_of(recipe, controllers);
    const fs::path golden = root / "tests/legalise/goldens/segments.txt";
    if (const char* refresh = std::getenv("ATHANOR_REFRESH"); refresh && *refresh) {
        fs::create_directories(golden.parent_path());
        std::ofstream(golden, std::ios::binary) << text;
    }
    CHECK(text == text_of(golden).value_or(""));
}
