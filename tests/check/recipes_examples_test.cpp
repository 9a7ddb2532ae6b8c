#include "recipes_support.hpp"

using namespace athanor;

namespace {

Checked check_file(const std::filesystem::path& path) {
    // The loader reads the real files; only the first is handed over.
    Checked result(Checked::Texts{{"unused.ath", ""}});
    const auto read = [](const std::string& p) -> std::optional<std::string> {
        if (!std::filesystem::exists(p)) return std::nullopt;
        return Checked::read(p);
    };
    result.files = Files{};
    result.out = Diagnostics{};
    result.units = check::load({{path.generic_string(), Checked::read(path), false}}, Checked::standard(), "",
                               read, result.files, result.out);
    result.model = check::check(result.units, result.files, result.out);
    return result;
}

std::vector<std::filesystem::path> recipes_in(const std::string& folder) {
    std::vector<std::filesystem::path> list;
    for (const auto& entry : std::filesystem::directory_iterator(std::filesystem::path(ATHANOR_ROOT) / folder))
        if (entry.path().extension() == ".ath") list.push_back(entry.path());
    std::sort(list.begin(), list.end());
    return list;
}

/// Codes that this stage finds; every other refusal needs the model of the rig.
bool found_here(const std::string& code) {
    for (std::string_view own :
         {"unknown_name", "unit_mismatch", "absolute_added", "missing_unit", "syntax", "recursion",
          "duplicate_name", "import_not_found", "import_cycle", "import_escapes", "misplaced"})
        if (code == own) return true;
    return false;
}

} // namespace

TEST_CASE("every accepted example checks without a word") {
    std::size_t count = 0;
    for (const char* folder : {"tests/examples/accepted", "recipes"})
        for (const auto& path : recipes_in(folder)) {
            INFO(path.string());
            const Checked c = check_file(path);
            CHECK(c.findings() == "");
            CHECK(c.model.own_recipes >= 1);
            CHECK_FALSE(c.recipe().broken);
            ++count;
        }
    CHECK(count >= 7);
}

TEST_CASE(
    "a refused example is refused here when its reason is in the text, and passes when it is in the physics") {
    std::size_t count = 0;
    for (const auto& path : recipes_in("tests/examples/refused")) {
        INFO(path.string());
        const Checked c = check_file(path);
        const std::string text = Checked::read(path);
        REQUIRE(text.starts_with("# refused: "));
        const std::string code = text.substr(11, text.find_first_of(",\n") - 11);
        CHECK(c.out.any_error() == found_here(code));
        if (found_here(code)) CHECK(c.out.has(*code_named(code)));
        ++count;
    }
    CHECK(count >= 15);
}

TEST_CASE("adding two temperatures is refused with the repair that compiles") {
    const auto path = std::filesystem::path(ATHANOR_ROOT) / "tests/examples/refused/adds_temperatures.ath";
    Checked c = check_file(path);
    CHECK(c.out.errors() == 1);
    CHECK(c.out.all().front().message ==
          "`peak` and `50 degC` are absolute temperatures, which cannot be added");
    CHECK(c.remedies() == "a step is a difference: `peak + 50 K`\n");
    CHECK(c.mended().find("ramp to peak + 50 K at 5 K/min") != std::string::npos);
}
