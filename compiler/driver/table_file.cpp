#include "compiler/driver/table_file.hpp"

#include "compiler/driver/table_shape.hpp"
#include "compiler/driver/text_file.hpp"
#include "compiler/source/render.hpp"
#include "targets/json/json.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <charconv>
#include <filesystem>

namespace athanor::driver {
namespace fs = std::filesystem;

void print_unreadable(const std::string& table, const std::string& bytes, const targets::ReadError& wrong,
                      const Options& options) {
    const std::size_t line = std::max<std::size_t>(1, wrong.line),
                      column = std::max<std::size_t>(1, wrong.column);
    if (options.format != MessageFormat::json) {
        fmt::print(stderr, "{}:{}:{}: error: {} [table_mismatch]\n", table, line, column, wrong.message);
        return;
    }
    std::size_t at = 0; // where the line begins
    for (std::size_t i = 1; i < line && at < bytes.size(); ++i)
        at = std::min(bytes.find('\n', at), bytes.size() - 1) + 1;
    at = std::min(at + column - 1, bytes.size());
    Files files;
    Diagnostics out;
    const auto begin = static_cast<std::uint32_t>(at);
    out.error(Code::table_mismatch, Span{files.add(table, bytes), begin, begin}, wrong.message);
    fmt::print("{}\n", render_json(out.all().front(), files));
}

namespace {

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
    if (found.size() == 1) {
        // An import brings what the file itself may use, no more.
        const std::string& place = files[found.front()->source.file].path();
        if (spec.file.empty() || fs::path(place).filename() == fs::path(spec.file).filename())
            return found.front();
        say("{} only imports the {} {}; name the file that declares it: --{} {}:{}", spec.file, kind, spec.name,
            kind, place, spec.name);
        return nullptr;
    }
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

/// What `--rig` and `--controller` name: each in its own file, or both in one.
std::optional<Sources> named_sources(const TableOptions& options) {
    Sources sources;
    sources.rig = spec_of(options.rig);
    if (options.controller.empty())
        sources.controller = {sources.rig.file, ""};
    else
        sources.controller = spec_of(options.controller);
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

std::optional<Sources> sources_of(const TableOptions& options, const std::string& bytes, int& status) {
    const bool json = options.from == "json" || (options.from.empty() && options.table.ends_with(".json"));
    // What is no table at all is told before the rig that it lacks.
    if (json && options.rig.empty())
        if (std::optional<targets::ReadError> wrong = targets::json::malformed(bytes)) {
            print_unreadable(options.table, bytes, *wrong, options);
            status = exit_refused;
            return std::nullopt;
        }
    std::optional<Sources> embedded;
    if (json) embedded = embedded_sources(bytes, options.table, options.folder);
    if (options.rig.empty()) {
        if (embedded && options.controller.empty()) return embedded;
        say("{}: this table does not say on which rig it runs; --rig FILE[:NAME] --controller FILE[:NAME]",
            options.table);
        return std::nullopt;
    }
    std::optional<Sources> sources = named_sources(options);
    if (sources && embedded) {
        sources->recipe = embedded->recipe;
        sources->title = embedded->title;
    }
    return sources;
}

/// `--flow LINE=FLOW`
bool read_flows(const TableOptions& options, const timeline::Timeline& bench, replay::LiftOptions& lift) {
    for (const std::string& text : options.flows) {
        const std::size_t equal = text.find('=');
        const std::string line = text.substr(0, equal);
        const bool known = std::any_of(bench.lines.begin(), bench.lines.end(),
                                       [&](const timeline::Line& l) { return l.name == line; });
        if (equal == std::string::npos || !known) {
            std::string names;
            for (const timeline::Line& l : bench.lines) names += (names.empty() ? "" : ", ") + l.name;
            say("--flow {}: LINE=FLOW is expected, with one of the rig's lines: {}", text, names);
            return false;
        }
        lift.flows[line] = text.substr(equal + 1);
    }
    return true;
}

/// `--instruction PROGRAMME.SEGMENT=TEXT`
bool read_instructions(const TableOptions& options, replay::LiftOptions& lift) {
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

namespace {

/// Opens a table step by step; each step says itself what keeps it from going on.
class Opening {
public:
    explicit Opening(const TableOptions& options) : options_(options) {
        plain_.root = options.root;
        plain_.format = options.format;
    }

    std::optional<Table> run(int& status) {
        const bool open = bytes() && sources() && equipment() && bench() && format() && program() && lines();
        status = open ? exit_proven : status_;
        return open ? std::optional<Table>(std::move(table_)) : std::nullopt;
    }

private:
    bool refuse() {
        status_ = exit_refused;
        return false;
    }

    bool bytes() {
        std::string error;
        std::optional<std::string> bytes = read_file(options_.table, error);
        if (bytes) table_.bytes = std::move(*bytes);
        if (!bytes) print_file_error(options_.table, error, options_);
        return bytes.has_value();
    }

    bool sources() {
        std::optional<Sources> found = sources_of(options_, table_.bytes, status_);
        if (!found) return false;
        sources_ = std::move(*found);
        // Told in its own name, not as an import of the text that is made up around it.
        for (const std::string& file : {sources_.rig.file, sources_.controller.file}) {
            std::string error;
            if (file.empty() || read_file(file, error)) continue;
            print_file_error(file, error, options_);
            return false;
        }
        table_.embedded = sources_.embedded;
        table_.folder = sources_.folder;
        path_ = (fs::path(table_.folder) / "table.ath").string();
        return true;
    }

    /// The rig and the controller that are meant.
    bool equipment() {
        Session named;
        named.open(Given{path_, sources_.head}, plain_);
        if (named.out.any_error()) {
            print_messages(named.out, named.files, options_);
            return refuse();
        }
        const check::Rig* rig = chosen(named.model.rigs, sources_.rig, named.files, "rig");
        const program::Controller* controller =
            chosen(named.model.controllers, sources_.controller, named.files, "controller");
        if (!rig || !controller) return false;
        has_lines_ = !rig->lines.empty();
        controller_ = *controller;
        table_.lift.rig = rig->name;
        table_.lift.controller = controller->name;
        table_.lift.name =
            recipe_name(sources_.recipe.empty() ? fs::path(options_.table).stem().string() : sources_.recipe);
        table_.lift.title = sources_.title;
        table_.lift.head = sources_.head;
        return true;
    }

    /// The smallest recipe on that rig: it brings the rig's lines, devices and zones.
    bool bench() {
        std::string head = sources_.head;
        if (options_.from.find(".ath") != std::string::npos) { // a layout that stands in a file of its own
            const Spec layout = spec_of(options_.from);
            layout_ = layout.name;
            std::string error;
            if (!read_file(layout.file, error)) {
                print_file_error(layout.file, error, options_);
                return false;
            }
            head += import_of(layout.file, table_.folder.empty() ? "." : table_.folder);
        } else {
            layout_ = options_.from;
        }
        const auto smallest = [&] {
            session_ = Session{};
            session_.open(Given{path_, fmt::format("{}recipe {} on {} for {} {{\n    dwell 1 min\n}}\n", head,
                                                   table_.lift.name, table_.lift.rig, controller_.name)},
                          plain_);
            return session_.model.recipe_named(table_.lift.name);
        };
        check::Index recipe = smallest();
        if (session_.out.any_error() && session_.model.recipes.empty()) {
            print_messages(session_.out, session_.files, options_);
            return false;
        }
        // The file's stem is a word of the language, or a recipe beside the rig or the controller has the name.
        for (int tries = 0; tries < 9 && (recipe == check::none || session_.out.has(Code::duplicate_name));
             ++tries) {
            table_.lift.name += "_table";
            recipe = smallest();
        }
        Diagnostics quiet;
        if (recipe != check::none)
            table_.bench = std::make_unique<elaborate::Elaborated>(
                elaborate::elaborate(session_.model, {recipe, check::none, {}}, session_.files, quiet));
        // Of a rig with errors the timeline stops before its lines, or before its first span.
        const timeline::Timeline* made = table_.bench ? table_.bench->timeline.get() : nullptr;
        if (made && made->lines.empty() != has_lines_ && !made->laws.empty()) return true;
        print_messages(quiet.any_error() ? quiet : session_.out, session_.files, options_);
        say("the rig {} cannot be used", table_.lift.rig);
        return refuse();
    }

    /// The back end that reads the table, and the text of the declaration that it may come from.
    bool format() {
        std::string ending = fs::path(options_.table).extension().string();
        if (!ending.empty()) ending.erase(0, 1);
        const std::string wanted = options_.from.empty() ? ending : layout_.empty() ? "layout" : layout_;
        const auto meant = [&](const targets::Target& one) {
            return one.read && (one.name == wanted || (options_.from.empty() && one.ending == wanted));
        };
        bool found = false;
        for (const targets::Target& one : targets::all_targets())
            if (meant(one)) table_.target = one, found = true;
        const std::vector<targets::Declared> declared = declared_targets(session_);
        for (const targets::Declared& one : declared) {
            const bool of_ending =
                options_.from.empty() && one.target.ending == wanted && one.controller == controller_.name;
            if (found || !one.target.read || (one.target.name != wanted && one.family != wanted && !of_ending))
                continue;
            table_.target = one.target;
            found = true;
            // The span may be that of the name alone; the declaration goes on to the next one.
            declaration_ = session_.files[one.span.file].text().substr(one.span.begin);
            declaration_ = declaration_.substr(0, declaration_.find("\nlayout "));
        }
        if (!found)
            say("{}: no format `{}` that can be read; --from takes one of {}", options_.table, wanted,
                readable_formats(declared));
        return found;
    }

    bool program() {
        const timeline::Timeline& bench = *table_.bench->timeline;
        program::Program shape;
        shape.recipe = table_.lift.name;
        shape.title = table_.lift.title;
        shape.rig = table_.lift.rig;
        shape.controller = controller_;
        shape.zones = bench.zones;
        shape_of(shape, bench, table_.bytes, declaration_, table_.target.name == "json");
        if (!read_flows(options_, bench, table_.lift) || !read_instructions(options_, table_.lift))
            return false;
        targets::ReadError wrong;
        std::optional<program::Program> read = table_.target.read(table_.bytes, shape, wrong);
        if (!read && !declaration_.empty()) read = without_idle_channels(table_.target, table_.bytes, shape);
        if (!read) {
            print_unreadable(options_.table, table_.bytes, wrong, options_);
            return refuse();
        }
        table_.program = std::move(*read);
        if (table_.program.title.empty()) table_.program.title = table_.lift.title;
        return true;
    }

    /// Whether the lines that its outputs switch are the rig's.
    bool lines() {
        const std::vector<timeline::Line>& bench = table_.bench->timeline->lines;
        for (const program::Output& output : table_.program.outputs)
            if (output.use == program::OutputUse::line &&
                (output.line >= bench.size() || bench[output.line].name != output.name)) {
                fmt::print(stderr,
                           "{}:1:1: error: output {} switches {}, which is no such line of the rig {} "
                           "[table_mismatch]\n",
                           options_.table, output.number, output.name, table_.lift.rig);
                return refuse();
            }
        return true;
    }

    const TableOptions& options_;
    Options plain_;
    int status_ = exit_usage;
    Table table_;
    Sources sources_;
    std::string path_, layout_, declaration_;
    program::Controller controller_;
    bool has_lines_ = false;
    Session session_; // of the smallest recipe
};

} // namespace

std::optional<Table> open_table(const TableOptions& options, int& status) {
    return Opening(options).run(status);
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
        out.error(Code::table_mismatch, finding_span(table.read(), finding), finding.message)
            .with_label(replay::row_text(finding.row));
    print_messages(out, files, options);
    return !out.any_error();
}

} // namespace athanor::driver
