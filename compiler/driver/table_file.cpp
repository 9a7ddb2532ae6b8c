#include "compiler/driver/table_file.hpp"

#include "compiler/driver/text_file.hpp"
#include "targets/json/json.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <bit>
#include <charconv>
#include <filesystem>

namespace athanor::driver {
namespace {

namespace fs = std::filesystem;
using replay::RowName;

template<typename... T>
void say(fmt::format_string<T...> format, T&&... arguments) {
    fmt::print(stderr, "athanor: {}\n", fmt::format(format, std::forward<T>(arguments)...));
}

/// "rigs/bench.ath:bench_two", "rigs/bench.ath" or "bench_two".
struct Spec {
    std::string file, name;
};

Spec spec_of(const std::string& text) {
    std::error_code ignored;
    if (fs::is_regular_file(text, ignored)) return {text, ""};
    std::size_t colon = text.rfind(':');
    if (colon != std::string::npos) return {text.substr(0, colon), text.substr(colon + 1)};
    if (text.ends_with(".ath")) return {text, ""}; // it is not there, and that is said when it is read
    return {"", text};
}

/// The only declaration of a file, or the one that is named.
template<typename T>
const T* chosen(const std::vector<T>& all, const Spec& spec, const Files& files, const char* kind) {
    std::vector<const T*> found;
    std::string names;
    for (const T& one : all) {
        if (!spec.name.empty() && one.name != spec.name) continue;
        const File& file = files[one.source.file];
        if (file.standard()) continue;
        if (spec.name.empty() && !spec.file.empty() && !fs::path(file.path()).filename().empty() &&
            fs::path(file.path()).filename() != fs::path(spec.file).filename())
            continue;
        found.push_back(&one);
        names += (names.empty() ? "" : ", ") + one.name;
    }
    if (found.size() == 1) return found.front();
    if (found.empty() && !spec.name.empty())
        say("there is no {} `{}`", kind, spec.name);
    else if (found.empty())
        say("{} holds no {}; name a file with --{} FILE[:NAME]", spec.file.empty() ? "the table" : spec.file,
            kind, kind);
    else
        say("{} holds more than one {} ({}); name one: --{} FILE:NAME",
            spec.file.empty() ? "the files named" : spec.file, kind, names, kind);
    return nullptr;
}

std::string import_of(const fs::path& file, const fs::path& folder) {
    return "use \"" + fs::relative(file, folder).generic_string() + "\"\n";
}

struct Sources {
    std::string head; // imports, or the declarations themselves
    Spec rig, controller;
    std::string recipe, title; // as the table says
    std::string folder;
    bool embedded = false;
};

std::optional<Sources> embedded_sources(const std::string& bytes, const std::string& table,
                                        const std::string& folder) {
    nlohmann::json json = nlohmann::json::parse(bytes, nullptr, false);
    auto text = [&](const char* a, const char* b) {
        return json.is_object() && json.contains(a) && json[a].is_object() && json[a].contains(b) &&
                       json[a][b].is_string()
                   ? json[a][b].get<std::string>()
                   : std::string();
    };
    Sources sources;
    sources.head = text("rig", "source") + "\n" + text("controller", "source");
    sources.rig.name = text("rig", "name");
    sources.controller.name = text("controller", "name");
    sources.recipe = text("recipe", "name");
    sources.title = text("recipe", "title");
    sources.embedded = true;
    sources.folder = folder.empty() ? fs::path(table).parent_path().string() : folder;
    if (sources.rig.name.empty() || sources.controller.name.empty()) return std::nullopt;
    return sources;
}

void print_unreadable(const TableOptions& options, const targets::ReadError& wrong) {
    fmt::print(stderr, "{}:{}:{}: error: {} [table_mismatch]\n", options.table,
               std::max<std::size_t>(1, wrong.line), std::max<std::size_t>(1, wrong.column), wrong.message);
}

std::optional<Sources> sources_of(const TableOptions& options, const std::string& bytes, int& status) {
    bool json = options.from == "json" || (options.from.empty() && options.table.ends_with(".json"));
    // What is no table at all is told before the rig that it lacks.
    if (json && options.rig.empty())
        if (std::optional<targets::ReadError> wrong = targets::json::malformed(bytes)) {
            print_unreadable(options, *wrong);
            status = exit_refused;
            return std::nullopt;
        }
    if (options.rig.empty() && options.controller.empty() && json)
        if (std::optional<Sources> found = embedded_sources(bytes, options.table, options.folder)) return found;
    if (options.rig.empty()) {
        say("{}: this table does not say on which rig it runs; --rig FILE[:NAME] --controller FILE[:NAME]",
            options.table);
        return std::nullopt;
    }
    Sources sources;
    if (json)
        if (std::optional<Sources> found = embedded_sources(bytes, options.table, options.folder))
            sources.recipe = found->recipe, sources.title = found->title;
    sources.rig = spec_of(options.rig);
    sources.controller = options.controller.empty() ? sources.rig : spec_of(options.controller);
    if (options.controller.empty()) sources.controller.name.clear();
    if (sources.rig.file.empty()) sources.rig.file = sources.controller.file;
    if (sources.controller.file.empty()) sources.controller.file = sources.rig.file;
    if (sources.rig.file.empty()) {
        say("--rig {}: without a recipe, the rig's file is needed: --rig FILE:{}", options.rig, options.rig);
        return std::nullopt;
    }
    fs::path folder =
        options.folder.empty() ? fs::path(sources.rig.file).parent_path() : fs::path(options.folder);
    sources.folder = folder.string();
    if (folder.empty()) folder = ".";
    sources.head = import_of(sources.rig.file, folder);
    if (sources.controller.file != sources.rig.file) sources.head += import_of(sources.controller.file, folder);
    return sources;
}

/// "Out 1 2 4", the heading of a run sheet's outputs; empty: this is none.
std::string output_heading(std::string_view bytes) {
    const std::size_t begin = bytes.find("| Out ");
    if (begin == std::string_view::npos) return {};
    return std::string(bytes.substr(begin + 2, bytes.find('|', begin + 2) - begin - 2));
}

/// Outputs and channels of the rig that the table has a place for: a line that no row ever names has none.
void shape_of(program::Program& shape, const timeline::Timeline& bench, std::string_view bytes,
              std::string_view declaration, bool json) {
    using program::OutputUse;
    auto written = [](std::string_view text, const std::string& word) {
        auto part = [](char c) {
            return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
        };
        for (std::size_t at = text.find(word); at != std::string_view::npos; at = text.find(word, at + 1)) {
            std::size_t end = at + word.size();
            if ((at == 0 || !part(text[at - 1])) && (end == text.size() || !part(text[end]))) return true;
        }
        return false;
    };
    std::vector<program::Output> all;
    for (timeline::Index i = 0; i < bench.lines.size(); ++i)
        if (bench.lines[i].output != 0)
            all.push_back({bench.lines[i].output, bench.lines[i].name, OutputUse::line, i,
                           bench.lines[i].open_without_power});
    auto device = [&](const timeline::Device& d, const char* name, OutputUse use) {
        if (d.present && d.output != 0) all.push_back({d.output, name, use, 0, d.on_without_power});
    };
    device(bench.burner, "burner", OutputUse::burner);
    device(bench.pump, "pump", OutputUse::pump);
    device(bench.bubbler, "bubbler", OutputUse::bubbler);
    device(bench.slide, "slide", OutputUse::slide);
    std::sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.number < b.number; });
    std::string_view first = bytes.substr(0, bytes.find('\n'));
    // Our own CSV names every output in its first line, and a table without any may still say "stop pump".
    bool columns = first.starts_with("program,segment,kind,") ||
                   std::any_of(all.begin(), all.end(), [&](const program::Output& o) {
                       return written(first, fmt::format("out{}_{}", o.number, o.name));
                   });
    // A run sheet numbers its outputs in the heading of their column; their names may stand anywhere in its
    // text.
    const std::string numbers = output_heading(bytes);
    for (const program::Output& output : all) {
        bool there = !declaration.empty() ? written(declaration, output.name)
                     : columns            ? written(first, fmt::format("out{}_{}", output.number, output.name))
                     : !numbers.empty()
                         ? written(numbers, std::to_string(output.number))
                         : written(bytes, output.name) ||
                               written(bytes, fmt::format("out{}_{}", output.number, output.name));
        if (there) shape.outputs.push_back(output);
    }
    for (const timeline::Line& line : bench.lines) {
        if (!line.channel) continue;
        // In JSON a key names it; its words may stand in any text.
        const std::string name = json ? "\"" + line.name + "_sccm\"" : line.name + "_sccm";
        if (written(declaration.empty() ? bytes : declaration, name) ||
            (!declaration.empty() && written(declaration, line.name)))
            shape.channels.push_back(line.name);
    }
}

/// A layout need not say the flow of a line that never opens: the table read without the set-points of such
/// lines, of as few as may be.
std::optional<program::Program> without_idle_channels(const targets::Target& target, std::string_view bytes,
                                                      const program::Program& shape) {
    const std::size_t count = shape.channels.size();
    std::vector<std::uint32_t> sets;
    for (std::uint32_t set = 1; count < 16 && set < 1U << count; ++set) sets.push_back(set);
    std::stable_sort(sets.begin(), sets.end(),
                     [](std::uint32_t a, std::uint32_t b) { return std::popcount(a) < std::popcount(b); });
    for (const std::uint32_t set : sets) {
        program::Program less = shape;
        less.channels.clear();
        std::uint32_t idle = 0; // outputs, as bits
        for (std::size_t c = 0; c < count; ++c) {
            if ((set >> c & 1U) == 0) {
                less.channels.push_back(shape.channels[c]);
                continue;
            }
            for (const program::Output& output : shape.outputs)
                if (output.use == program::OutputUse::line && output.name == shape.channels[c] &&
                    !output.on_without_power)
                    idle |= 1U << (output.number - 1);
        }
        if (std::popcount(idle) != std::popcount(set)) continue; // without an output it always flows
        targets::ReadError wrong;
        std::optional<program::Program> program = target.read(bytes, less, wrong);
        if (!program) continue;
        bool rests = true;
        for (const program::Part& part : program->parts) {
            rests = rests && part.thresholds.empty();
            for (const program::Segment& s : part.segments) rests = rests && (s.outputs & idle) == 0;
        }
        if (rests) return program;
    }
    return std::nullopt;
}

bool read_pairs(const TableOptions& options, const timeline::Timeline& bench, replay::LiftOptions& lift) {
    for (const std::string& text : options.flows) {
        std::size_t equal = text.find('=');
        std::string line = text.substr(0, equal);
        bool known = std::any_of(bench.lines.begin(), bench.lines.end(),
                                 [&](const timeline::Line& l) { return l.name == line; });
        if (equal == std::string::npos || !known) {
            std::string names;
            for (const timeline::Line& l : bench.lines) names += (names.empty() ? "" : ", ") + l.name;
            say("--flow {}: LINE=FLOW is expected, with one of the rig's lines: {}", text, names);
            return false;
        }
        lift.flows[line] = text.substr(equal + 1);
    }
    for (const std::string& text : options.instructions) {
        std::uint32_t part = 0, segment = 0;
        const char* end = text.data() + text.size();
        auto [dot, first] = std::from_chars(text.data(), end, part);
        bool good = first == std::errc{} && dot != end && *dot == '.';
        if (good) {
            auto [equal, second] = std::from_chars(dot + 1, end, segment);
            good = second == std::errc{} && equal != end && *equal == '=';
            if (good) lift.instructions[{part, segment}] = std::string(equal + 1, end);
        }
        if (good) continue;
        say("--instruction {}: PROGRAMME.SEGMENT=TEXT is expected, as 1.3=open argon at 1 L/min", text);
        return false;
    }
    return true;
}

} // namespace

std::string recipe_name(const std::string& text) {
    std::string name;
    for (char c : text) {
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
        bool good = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_';
        name += good ? c : '_';
    }
    if (name.empty() || (name[0] >= '0' && name[0] <= '9')) name = "table_" + name;
    return name;
}

std::optional<Table> open_table(const TableOptions& options, int& status) {
    status = exit_usage;
    Table table;
    std::string error;
    std::optional<std::string> bytes = read_file(options.table, error);
    if (!bytes) {
        print_file_error(options.table, error, options);
        return std::nullopt;
    }
    table.bytes = std::move(*bytes);
    std::optional<Sources> sources = sources_of(options, table.bytes, status);
    if (!sources) return std::nullopt;
    table.embedded = sources->embedded;
    table.folder = sources->folder;

    // The smallest recipe on that rig: it brings the rig's lines, devices and zones.
    Options probe_options;
    probe_options.root = options.root;
    probe_options.format = options.format;
    Session named;
    std::string path = (fs::path(table.folder) / "table.ath").string();
    named.open(Given{path, sources->head}, probe_options);
    if (named.out.any_error()) {
        print_messages(named.out, named.files, options);
        status = exit_refused;
        return std::nullopt;
    }
    const check::Rig* rig = chosen(named.model.rigs, sources->rig, named.files, "rig");
    const program::Controller* controller =
        chosen(named.model.controllers, sources->controller, named.files, "controller");
    if (!rig || !controller) return std::nullopt;
    table.lift.rig = rig->name;
    table.lift.controller = controller->name;
    table.lift.name = sources->recipe.empty() ? fs::path(options.table).stem().string() : sources->recipe;
    table.lift.name = recipe_name(table.lift.name);
    table.lift.title = sources->title;
    table.lift.head = sources->head;

    // A layout may stand in a file of its own.
    Spec layout{"", options.from};
    std::string probe = sources->head;
    if (options.from.find(".ath") != std::string::npos) {
        layout = spec_of(options.from);
        probe += import_of(layout.file, table.folder.empty() ? "." : table.folder);
    }
    auto smallest = [&] {
        return Given{path, fmt::format("{}recipe {} on {} for {} {{\n    dwell 1 min\n}}\n", probe,
                                       table.lift.name, rig->name, controller->name)};
    };
    Session session;
    session.open(smallest(), probe_options);
    if (session.out.any_error() && session.model.recipes.empty()) {
        print_messages(session.out, session.files, options);
        return std::nullopt;
    }
    check::Index recipe = session.model.recipe_named(table.lift.name);
    // The file's stem is a word of the language, or a recipe beside the rig or the controller has the name.
    for (int tries = 0; tries < 9 && (recipe == check::none || session.out.has(Code::duplicate_name));
         ++tries) {
        table.lift.name += "_table";
        session = Session{};
        session.open(smallest(), probe_options);
        recipe = session.model.recipe_named(table.lift.name);
    }
    Diagnostics quiet;
    if (recipe != check::none)
        table.bench = std::make_unique<elaborate::Elaborated>(
            elaborate::elaborate(session.model, {recipe, check::none, {}}, session.files, quiet));
    if (!table.bench || !table.bench->timeline || table.bench->timeline->lines.empty() != rig->lines.empty()) {
        print_messages(quiet.any_error() ? quiet : session.out, session.files, options);
        say("the rig {} cannot be used", rig->name);
        status = exit_refused;
        return std::nullopt;
    }
    const timeline::Timeline& bench = *table.bench->timeline;

    std::string ending = fs::path(options.table).extension().string();
    if (!ending.empty()) ending.erase(0, 1);
    std::string wanted = options.from.empty() ? ending : layout.name.empty() ? "layout" : layout.name;
    const targets::Target* target = nullptr;
    for (const targets::Target& one : targets::all_targets())
        if (one.read && (one.name == wanted || (options.from.empty() && one.ending == wanted))) target = &one;
    std::vector<targets::Declared> declared = declared_targets(session);
    std::string_view declaration;
    for (const targets::Declared& one : declared)
        if (!target && one.target.read &&
            (one.target.name == wanted || one.family == wanted ||
             (options.from.empty() && one.target.ending == wanted && one.controller == controller->name))) {
            target = &one.target;
            // The span may be that of the name alone; the declaration goes on to the next one.
            declaration = session.files[one.span.file].text().substr(one.span.begin);
            declaration = declaration.substr(0, declaration.find("\nlayout "));
        }
    if (!target) {
        std::string names;
        for (const targets::Target& one : targets::all_targets())
            if (one.read) names += (names.empty() ? "" : ", ") + one.name;
        for (const targets::Declared& one : declared)
            if (one.target.read) names += ", " + one.target.name;
        say("{}: no format `{}` that can be read; --from takes one of {}", options.table, wanted, names);
        return std::nullopt;
    }
    program::Program shape;
    shape.recipe = table.lift.name;
    shape.title = table.lift.title;
    shape.rig = rig->name;
    shape.controller = *controller;
    shape.zones = bench.zones;
    shape_of(shape, bench, table.bytes, declaration, target->name == "json");
    if (!read_pairs(options, bench, table.lift)) return std::nullopt;
    targets::ReadError wrong;
    std::optional<program::Program> program = target->read(table.bytes, shape, wrong);
    if (!program && !declaration.empty()) program = without_idle_channels(*target, table.bytes, shape);
    if (!program) {
        print_unreadable(options, wrong);
        status = exit_refused;
        return std::nullopt;
    }
    table.program = std::move(*program);
    table.target = *target;
    for (const program::Output& output : table.program.outputs)
        if (output.use == program::OutputUse::line &&
            (output.line >= bench.lines.size() || bench.lines[output.line].name != output.name)) {
            fmt::print(
                stderr,
                "{}:1:1: error: output {} switches {}, which is no such line of the rig {} [table_mismatch]\n",
                options.table, output.number, output.name, rig->name);
            status = exit_refused;
            return std::nullopt;
        }
    if (table.program.title.empty()) table.program.title = table.lift.title;
    status = exit_proven;
    return table;
}

Diagnostics at_rows(const Diagnostics& out, const Table& table, const std::string& path,
                    const replay::Lifted& lifted, Files& files) {
    const FileId text = 0; // the lifted recipe
    const std::string mark = files[text].path() + ":";
    const FileId id = files.add(path, table.bytes);
    auto row_of = [&](Span span) -> RowName {
        std::uint32_t line = files.position(span).line;
        return line >= 1 && line <= lifted.rows.size() ? lifted.rows[line - 1] : RowName{0, 0};
    };
    auto moved = [&](Span span) {
        if (span.file != text) return span;
        Span at = row_span(table.read(), row_of(span));
        at.file = id;
        return at;
    };
    /// Places in sentences: "table.ath:12" is row so-and-so.
    auto named = [&](std::string& words) {
        for (std::size_t at = words.find(mark); at != std::string::npos; at = words.find(mark, at + 1)) {
            std::size_t end = at + mark.size();
            std::uint32_t line = 0;
            auto [stop, code] = std::from_chars(words.data() + end, words.data() + words.size(), line);
            if (code != std::errc{} || line == 0 || line > lifted.rows.size()) continue;
            words.replace(at, static_cast<std::size_t>(stop - words.data()) - at,
                          replay::row_text(lifted.rows[line - 1]));
        }
    };
    Diagnostics result;
    for (Diagnostic d : out.all()) {
        named(d.message);
        for (std::string& cause : d.causes) named(cause);
        for (std::string& remedy : d.remedies) named(remedy);
        if (d.span.file == text) {
            RowName row = row_of(d.span);
            std::string words(files.text(d.span));
            words = words.substr(0, words.find('\n'));
            if (row.first != 0) d.cause(fmt::format("{}: the table does `{}`", replay::row_text(row), words));
            d.edit.reset();
        }
        d.span = moved(d.span);
        for (Label& label : d.related) label.span = moved(label.span);
        result.add(std::move(d));
    }
    return result;
}

bool print_findings(const Table& table, const replay::Lifted& lifted, const TableOptions& options) {
    Files files;
    Diagnostics out;
    files.add(options.table, table.bytes);
    for (const replay::Finding& finding : lifted.missing)
        out.error(Code::value_missing, row_span(table.read(), finding.row), finding.message)
            .with_label(replay::row_text(finding.row))
            .remedy(finding.remedy);
    for (const replay::Finding& finding : lifted.disagree)
        out.error(Code::table_mismatch, row_span(table.read(), finding.row), finding.message)
            .with_label(replay::row_text(finding.row));
    print_messages(out, files, options);
    return !out.any_error();
}

} // namespace athanor::driver
