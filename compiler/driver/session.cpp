#include "compiler/driver/session.hpp"

#include "compiler/driver/embedded.hpp"
#include "compiler/driver/memory.hpp"
#include "compiler/driver/text_file.hpp"
#include "compiler/source/render.hpp"

#include <fmt/format.h>

#include <cstdio>
#include <filesystem>

namespace athanor::driver {
namespace {

constexpr std::size_t message_cap = 100;

/// `--set peak=930 degC` becomes a call in a small text beside the file, so that values on the command line are
/// parsed, typed and reported like values in a recipe.
std::string calls_with(const std::string& path, const std::string& recipe,
                       const std::vector<std::string>& sets) {
    std::string text =
        fmt::format("use \"{}\"\ntest \"values of the command line\" {{\n    {}(\n", path, recipe);
    for (std::size_t i = 0; i < sets.size(); ++i)
        text += fmt::format("{}{}\n", sets[i], i + 1 < sets.size() ? "," : "");
    return text + "    ) is proven\n}\n";
}

std::string nearest_hint(std::string_view kind, std::string_view wanted,
                         const std::vector<std::string>& known) {
    std::string text = fmt::format("there is no {} `{}`", kind, wanted);
    if (known.empty()) return text;
    text += "; the file has ";
    for (std::size_t i = 0; i < known.size(); ++i) text += (i == 0 ? "`" : ", `") + known[i] + "`";
    return text;
}

} // namespace

std::vector<check::Source> standard_library() {
    std::vector<check::Source> sources;
    for (const EmbeddedFile& file : embedded_files())
        if (file.path.ends_with(".ath"))
            sources.push_back({"standard/" + std::string(file.path.substr(file.path.rfind('/') + 1)),
                               std::string(file.text), true});
    return sources;
}

bool Session::open(const std::string& path, const Options& options) {
    std::string error;
    std::optional<std::string> text = read_file(path, error);
    if (!text) {
        print_file_error(path, error, options);
        return false;
    }
    expect_text(text->size());
    return open(Given{path == "-" ? "standard input" : path, std::move(*text)}, options);
}

bool Session::open(Given given, const Options& options) {
    auto read = [](const std::string& path) {
        std::string error;
        return read_file(path, error);
    };
    std::vector<check::Source> named;
    named.push_back({given.path, std::move(given.text), false});
    // With values on the command line the text is read twice.
    units = check::load(options.sets.empty() ? std::move(named) : named, standard_library(), options.root, read,
                        files, out);
    model = check::check(units, files, out);
    if (options.sets.empty() || model.own_recipes == 0 || out.any_error()) return true;

    // A second round with the values as a call. The first recipe is meant unless one is named.
    check::Index index = options.recipe.empty() ? 0 : model.recipe_named(options.recipe);
    if (index == check::none) return true;
    std::string name(model.names[model.recipes[index].name]);
    std::filesystem::path beside = std::filesystem::path(given.path).parent_path() / "--set";
    std::string base = std::filesystem::path(given.path).filename().string();
    named.push_back({beside.string(), calls_with(base, name, options.sets), false});
    files = Files{};
    out = Diagnostics{};
    units = check::load(std::move(named), standard_library(), options.root, read, files, out);
    model = check::check(units, files, out);
    for (const check::Test& test : model.tests) {
        if (test.title != "values of the command line" || test.lines.empty()) continue;
        for (auto [id, expr] : test.lines.front().arguments)
            sets.emplace_back(std::string(model.names[id]), expr);
    }
    return true;
}

std::vector<check::Index> Session::recipes(const Options& options) {
    std::vector<check::Index> list;
    std::vector<std::string> names;
    for (check::Index i = 0; i < model.own_recipes; ++i) {
        names.emplace_back(model.names[model.recipes[i].name]);
        if (options.recipe.empty() || options.recipe == names.back()) list.push_back(i);
    }
    if (list.empty() && !options.recipe.empty())
        out.error(Code::unknown_name, Span{}, nearest_hint("recipe", options.recipe, names));
    return list;
}

check::Index Session::rig(const Options& options) {
    if (options.rig.empty()) return check::none;
    check::Index index = model.rig_named(options.rig);
    if (index == check::none) {
        std::vector<std::string> names;
        for (const check::Rig& rig : model.rigs) names.push_back(rig.name);
        out.error(Code::unknown_name, Span{}, nearest_hint("rig", options.rig, names));
    }
    return index;
}

check::Index Session::controller(const Options& options, check::Index recipe) {
    if (options.controller.empty()) return model.recipes[recipe].controller_index;
    check::Index index = model.controller_named(options.controller);
    if (index == check::none) {
        std::vector<std::string> names;
        for (const program::Controller& controller : model.controllers) names.push_back(controller.name);
        out.error(Code::unknown_name, Span{}, nearest_hint("controller", options.controller, names));
    }
    return index;
}

void print_messages(const Diagnostics& out, const Files& files, const Options& options) {
    std::size_t hidden = 0;
    for (const Diagnostic* d : out.sorted(message_cap, hidden)) {
        switch (options.format) {
        case MessageFormat::pretty: fmt::print(stderr, "{}", render_pretty(*d, files, options.colour)); break;
        case MessageFormat::short_: fmt::print(stderr, "{}\n", render_short(*d, files)); break;
        case MessageFormat::json: fmt::print("{}\n", render_json(*d, files)); break;
        }
    }
    if (hidden != 0) fmt::print(stderr, "and {} more\n", hidden);
}

void print_file_error(const std::string& path, const std::string& why, const Options& options) {
    if (options.format == MessageFormat::json) {
        Files files;
        Diagnostics out;
        FileId id = files.add(path, "");
        out.error(Code::file_unreadable, Span{id, 0, 0}, "the file cannot be read: " + why);
        fmt::print("{}\n", render_json(out.all().front(), files));
        return;
    }
    fmt::print(stderr, "{}: error: the file cannot be read: {} [file_unreadable]\n", path, why);
}

} // namespace athanor::driver
