#include "compiler/driver/session.hpp"

#include "compiler/driver/embedded.hpp"
#include "compiler/driver/memory.hpp"
#include "compiler/driver/text_file.hpp"
#include "compiler/source/render.hpp"
#include "grammar/parse.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>

namespace athanor::driver {
namespace {

constexpr std::size_t message_cap = 100;

/// `--set peak=930 degC` becomes a call in a small text beside the file, so that values on the command line are
/// typed like values in a recipe. Messages show them as they were typed.
struct Values {
    struct Piece {
        std::uint32_t read, shown, size; // where a value stands in the text that is read, and in the one shown
    };
    std::string read, shown;
    std::vector<Piece> pieces;

    Values(const std::string& path, const std::string& recipe, const std::vector<std::string>& sets) {
        read = fmt::format("use \"{}\"\ntest \"{}\" {{\n    {}(\n", path, title, recipe);
        for (const std::string& set : sets) {
            if (!pieces.empty()) read += "\n,\n"; // behind a comment, too
            shown += pieces.empty() ? "--set " : " --set ";
            pieces.push_back({static_cast<std::uint32_t>(read.size()), static_cast<std::uint32_t>(shown.size()),
                              static_cast<std::uint32_t>(set.size())});
            read += set;
            shown += set;
        }
        read += "\n    ) is proven\n}\n";
    }

    Span moved(Span span, FileId to) const {
        const Piece* at = nullptr;
        for (const Piece& piece : pieces)
            if (piece.read <= span.begin) at = &piece;
        if (at == nullptr) return {to, 0, static_cast<std::uint32_t>(shown.size())};
        const auto inside = [&](std::uint32_t offset) {
            return at->shown + std::min(offset - at->read, at->size);
        };
        return {to, inside(span.begin), inside(span.end)};
    }

    static constexpr const char* title = "values of the command line";
};

/// Each value by itself, so that no message speaks of a sign that nobody typed.
void read_alone(const std::vector<std::string>& sets, const Values& values, FileId shown, Diagnostics& out) {
    constexpr std::string_view head = "let ";
    for (std::size_t i = 0; i < sets.size(); ++i) {
        const Values::Piece& piece = values.pieces[i];
        const Span whole{shown, piece.shown, piece.shown + piece.size};
        Files files;
        Diagnostics said;
        const Tree tree = parse(files.add("", std::string(head) + sets[i]), files, said);
        const NodeId first = tree[tree.root].first;
        const bool several = first != no_node && tree[first].next != no_node;
        const bool plain = !several && first != no_node && tree.kind(first) == Node::let &&
                           tree.child(first, Node::type_name) == no_node;
        if (sets[i].find('=') == std::string::npos || several || (!plain && !said.any_error())) {
            const std::string name =
                sets[i].substr(0, sets[i].find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789_"));
            out.error(Code::syntax, whole, "`--set` gives one parameter its value")
                .remedy(fmt::format("write `--set '{}=VALUE'`", name.empty() ? "NAME" : name));
            continue;
        }
        const auto moved = [&](std::uint32_t at) {
            return piece.shown +
                   std::min<std::uint32_t>(at - std::min<std::uint32_t>(at, head.size()), piece.size);
        };
        for (Diagnostic d : said.all()) {
            d.message = in_an_option(d.message, "value");
            d.span = {shown, moved(d.span.begin), moved(d.span.end)};
            d.related.clear();
            d.edit.reset(); // nobody can change what was typed
            out.add(std::move(d));
        }
    }
}

} // namespace

bool is_command_line(const File& file) {
    return file.path() == command_line || std::filesystem::path(file.path()).filename() == values_file;
}

std::string in_an_option(std::string message, std::string_view what) {
    for (std::string_view end : {"the end of the file", "the end of the line", "the end of the statement"})
        if (const std::size_t at = message.find(end); at != std::string::npos)
            message.replace(at, end.size(), fmt::format("the end of the {}", what));
    return message;
}

std::vector<check::Source> standard_library() {
    std::vector<check::Source> sources;
    for (const EmbeddedFile& file : embedded_files()) {
        if (file.content.root == no_node) continue;
        sources.push_back(
            {"standard/" + std::string(file.path.substr(file.path.rfind('/') + 1)), "", true, &file.content});
    }
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
    model = check::check(units, files, out, library);
    files_wrong = out.any_error();
    if (options.sets.empty() || model.own_recipes == 0 || out.any_error()) return true;

    // A second round with the values as a call. The first recipe is meant unless one is named.
    check::Index index = options.recipe.empty() ? 0 : model.recipe_named(options.recipe);
    if (index == check::none) return true;
    std::string name(model.names[model.recipes[index].name]);
    std::filesystem::path beside = std::filesystem::path(given.path).parent_path() / values_file;
    std::string base = std::filesystem::path(given.path).filename().string();
    const Values values(base, name, options.sets);
    read_alone(options.sets, values, files.add(std::string(command_line), values.shown), out);
    if (out.any_error()) {
        asked_wrong = true;
        return true;
    }
    named.push_back({beside.string(), values.read, false});
    files = Files{};
    out = Diagnostics{};
    units = check::load(std::move(named), standard_library(), options.root, read, files, out);
    model = check::check(units, files, out, library);
    for (const check::Test& test : model.tests) {
        if (test.title != Values::title || test.lines.empty()) continue;
        for (auto [id, expr] : test.lines.front().arguments)
            sets.emplace_back(std::string(model.names[id]), expr);
    }
    asked_wrong = out.any_error(); // without the values there was none
    // Whatever is said of the values from here on is shown where they were typed.
    constexpr FileId read_in = 1;
    const FileId shown = files.add(std::string(command_line), values.shown);
    for (check::Expr& e : model.exprs)
        if (e.span.file == read_in) e.span = values.moved(e.span, shown);
    Diagnostics told;
    for (Diagnostic d : out.all()) {
        if (d.span.file == read_in) {
            d.span = values.moved(d.span, shown);
            d.edit.reset();
        }
        for (Label& label : d.related)
            if (label.span.file == read_in) label.span = values.moved(label.span, shown);
        told.add(std::move(d));
    }
    out = std::move(told);
    return true;
}

/// An option names what is not there. Its place is the command line.
Diagnostic& Session::unknown(std::string_view option, std::string_view kind, const std::string& wanted,
                             const std::vector<std::string>& known) {
    asked_wrong = true;
    const std::string text = fmt::format("{} {}", option, wanted);
    FileId id = 0;
    while (id < files.size() && (files[id].path() != command_line || files[id].text() != text)) ++id;
    if (id == files.size()) id = files.add(std::string(command_line), text);
    std::string message = fmt::format("there is no {} `{}`", kind, wanted);
    for (std::size_t i = 0; i < known.size(); ++i)
        message += fmt::format("{}`{}`", i == 0 ? "; the file has " : ", ", known[i]);
    const auto begin = static_cast<std::uint32_t>(option.size() + 1);
    return out.error(Code::unknown_name, Span{id, begin, static_cast<std::uint32_t>(text.size())}, message);
}

std::vector<check::Index> Session::recipes(const Options& options) {
    std::vector<check::Index> list;
    std::vector<std::string> names;
    for (check::Index i = 0; i < model.own_recipes; ++i) {
        names.emplace_back(model.names[model.recipes[i].name]);
        if (options.recipe.empty() || options.recipe == names.back()) list.push_back(i);
    }
    if (list.empty() && !options.recipe.empty()) unknown("--recipe", "recipe", options.recipe, names);
    return list;
}

check::Index Session::rig(const Options& options) {
    if (options.rig.empty()) return check::none;
    check::Index index = model.rig_named(options.rig);
    if (index == check::none) {
        std::vector<std::string> names;
        for (const check::Rig& rig : model.rigs) names.push_back(rig.name);
        unknown("--rig", "rig", options.rig, names);
    }
    return index;
}

check::Index Session::controller(const Options& options, check::Index recipe) {
    if (options.controller.empty()) return model.recipes[recipe].controller_index;
    check::Index index = model.controller_named(options.controller);
    if (index == check::none) {
        std::vector<std::string> names;
        for (const program::Controller& controller : model.controllers) names.push_back(controller.name);
        unknown("--controller", "controller", options.controller, names);
    }
    return index;
}

void print_messages(const Diagnostics& out, const Files& files, const Options& options) {
    std::size_t hidden = 0;
    const std::vector<const Diagnostic*> list = out.sorted(message_cap, hidden);
    for (const Diagnostic* d : list) {
        switch (options.format) {
        case MessageFormat::pretty: fmt::print(stderr, "{}", render_pretty(*d, files, options.colour)); break;
        case MessageFormat::short_: fmt::print(stderr, "{}\n", render_short(*d, files)); break;
        case MessageFormat::json: fmt::print("{}\n", render_json(*d, files)); break;
        }
    }
    if (hidden == 0) return;
    if (options.format != MessageFormat::json) {
        fmt::print(stderr, "and {} more\n", hidden);
        return;
    }
    // Who reads JSON reads nothing else.
    Diagnostics last;
    const std::string more = fmt::format("{} more findings stand behind this one and are not printed", hidden);
    // As grave as the gravest that it stands for may be.
    if (out.any_error())
        last.error(Code::too_large, list.back()->span, more);
    else
        last.warning(Code::too_large, list.back()->span, more);
    fmt::print("{}\n", render_json(last.all().front(), files));
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
