// Commands that show what is known, with its sources: explain, units, targets, schema.
#include "compiler/driver/show.hpp"
#include "compiler/driver/commands.hpp"
#include "compiler/driver/embedded.hpp"
#include "compiler/driver/page.hpp"
#include "compiler/quantity/unit.hpp"
#include "targets/target.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::driver {

std::string hazards(const check::Hazards& h) {
    std::string text;
    auto add = [&](bool is, const char* word) {
        if (is) text += (text.empty() ? "" : ", ") + std::string(word);
    };
    add(h.pyrophoric, "pyrophoric");
    add(h.flammable, "flammable");
    add(h.oxidiser, "oxidiser");
    add(h.toxic, "toxic");
    add(h.inert, "inert");
    add(h.asphyxiant, "asphyxiant");
    return text.empty() ? "none" : text;
}

namespace {

/// The rows of the nearest names, so that a slip in a code costs one look.
std::vector<std::string_view> containing(std::string_view part) {
    std::vector<std::string_view> list;
    for (Code code : all_codes())
        if (name(code).find(part) != std::string_view::npos) list.push_back(name(code));
    return list;
}

} // namespace

int finish(const Session& session, const Options& options) {
    print_messages(session.out, session.files, options);
    return session.status();
}

int run_explain(const std::string& asked) {
    // As it was copied from a message: `[missing_unit]`.
    std::string code = asked;
    if (code.starts_with('[') && code.ends_with(']')) code = code.substr(1, code.size() - 2);
    for (char& c : code)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    std::string path = "docs/diagnostics/" + code + ".md";
    for (const EmbeddedFile& file : embedded_files()) {
        if (file.path != path) continue;
        fmt::print("{}", broken_lines(file.content.text));
        return exit_proven;
    }
    fmt::print(stderr, "athanor explain: there is no code `{}`", asked);
    std::vector<std::string_view> near = code.empty() ? std::vector<std::string_view>{} : containing(code);
    if (!near.empty()) {
        fmt::print(stderr, "; near it:");
        for (std::string_view n : near) fmt::print(stderr, " {}", n);
        fmt::print(stderr, "\n");
    } else {
        fmt::print(stderr, "; the codes are:\n");
        for (Code c : all_codes()) fmt::print(stderr, "  {:<26} {}\n", name(c), meaning(c));
    }
    return exit_usage;
}

int run_units(const std::string& kind) {
    std::optional<Type> type = kind.empty() ? std::nullopt : type_named(kind);
    if (!kind.empty() && !type) {
        fmt::print(stderr, "athanor units: there is no quantity `{}`; there are:", kind);
        for (Kind k : named_kinds()) fmt::print(stderr, " {}", name(k));
        fmt::print(stderr, "\n");
        return exit_usage;
    }
    Kind shown = Kind::poison;
    std::vector<std::string_view> sources; // named by their numbers: with its source no row fits the page
    for (const Unit& unit : units()) {
        if (type && unit.kind != type->kind) continue;
        if (unit.kind != shown) {
            shown = unit.kind;
            fmt::print("{}\n", name(shown));
        }
        std::string meaning = fmt::format("{:.10g}", unit.factor);
        if (unit.offset != 0) meaning += fmt::format(" * x + {:.10g}", unit.offset);
        auto source = std::find(sources.begin(), sources.end(), unit.source);
        if (source == sources.end()) source = sources.insert(source, unit.source);
        fmt::print("    {} {:<30} {:<14} [{}]\n", padded(std::string(unit.spelling), 16), meaning,
                   unit.ucum.empty() ? "no UCUM code" : unit.ucum, source - sources.begin() + 1);
    }
    fmt::print("\n");
    for (std::size_t i = 0; i < sources.size(); ++i)
        fmt::print("{}", paragraph(fmt::format("[{}]", i + 1), sources[i], 4));
    return exit_proven;
}

int run_targets() {
    for (const targets::Target& target : targets::all_targets())
        fmt::print("{}",
                   paragraph(fmt::format("{:<16}", target.name),
                             target.description + (target.read || !target.write ? "; can be read back" : ""),
                             16));
    return exit_proven;
}

int run_schema(const std::string& wanted) {
    std::string known;
    for (const EmbeddedFile& file : embedded_files()) {
        if (!file.path.ends_with(".schema.json")) continue;
        std::string_view base = file.path.substr(file.path.rfind('/') + 1);
        base.remove_suffix(std::string_view(".schema.json").size());
        if (base == wanted) {
            fmt::print("{}", file.content.text);
            return exit_proven;
        }
        known += (known.empty() ? "" : ", ") + std::string(base);
    }
    // The equipment schema is a file of the language, shown as it stands.
    for (const EmbeddedFile& file : embedded_files()) {
        if (file.path != "recipes/standard/schema.ath" || wanted != "equipment") continue;
        fmt::print("{}", file.content.text);
        return exit_proven;
    }
    fmt::print(stderr, "athanor schema: there is no schema `{}`; there are: equipment, {}\n", wanted, known);
    return exit_usage;
}

} // namespace athanor::driver
