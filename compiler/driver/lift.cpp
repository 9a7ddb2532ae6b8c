// `athanor lift TABLE`: the recipe that builds to this table, as far as a table knows it.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/output.hpp"
#include "compiler/driver/table_file.hpp"
#include "grammar/format.hpp"
#include "grammar/parse.hpp"
#include "targets/sheet/rows.hpp"

#include <fmt/format.h>

#include <filesystem>

namespace athanor::driver {
namespace {

using replay::RowName;

std::string formatted(const std::string& text) {
    Files files;
    Diagnostics out;
    FileId id = files.add("lifted", text);
    return format(parse(id, files, out), files);
}

/// Steps that were written as natural cooling and come back as another row.
std::set<RowName> unlike(const program::Program& table, const program::Program& back) {
    std::set<RowName> rows;
    for (std::size_t p = 0; p < table.parts.size(); ++p)
        for (std::size_t i = 0; i < table.parts[p].segments.size(); ++i) {
            const program::Segment& a = table.parts[p].segments[i];
            if (a.kind != program::SegmentKind::step) continue;
            if (p < back.parts.size() && i < back.parts[p].segments.size()) {
                const program::Segment& b = back.parts[p].segments[i];
                if (b.kind == a.kind && b.targets == a.targets && b.dwell == a.dwell && b.band == a.band)
                    continue;
            }
            rows.insert({table.parts[p].number, static_cast<std::uint32_t>(i + 1)});
            return rows; // what lies behind may only follow from this one
        }
    return rows;
}

struct Trial {
    replay::Lifted lifted;
    std::string text;
    Session session;
    Compiled compiled;
    std::vector<std::string> differences;
    bool keyed = false; // it builds to some table
};

Trial attempt(const Table& table, const std::string& path, const Options& options) {
    Trial trial;
    trial.lifted = replay::lift(table.program, *table.bench->timeline, table.lift);
    trial.text = formatted(trial.lifted.text);
    Options plain;
    plain.root = options.root;
    trial.session.open(Given{path, trial.text}, plain);
    if (trial.session.out.any_error()) return trial; // it cannot be built
    check::Index recipe = trial.session.model.recipe_named(table.lift.name);
    if (recipe == check::none) return trial;
    trial.compiled = compile(trial.session, recipe, plain, {}, trial.session.out);
    trial.keyed = trial.compiled.legalised.complete;
    if (trial.keyed)
        trial.differences = targets::sheet::differences(table.program, trial.compiled.legalised.program);
    return trial;
}

/// Natural cooling is taken for what it looks like until the rebuilt table says otherwise.
Trial cooled(Table& table, const std::string& path, const Options& options) {
    Trial trial = attempt(table, path, options);
    constexpr int rounds = 50;
    for (int i = 0; i < rounds && !trial.lifted.text.empty(); ++i) {
        if (trial.keyed && trial.differences.empty()) break;
        if (table.lift.literal) break;
        std::set<RowName> rows;
        if (trial.keyed) rows = unlike(table.program, trial.compiled.legalised.program);
        std::size_t before = table.lift.literal_rows.size();
        table.lift.literal_rows.insert(rows.begin(), rows.end());
        if (table.lift.literal_rows.size() == before) table.lift.literal = true;
        Trial next = attempt(table, path, options);
        // Where nothing helps, the reading in the words of the trade stays.
        if (table.lift.literal && !(next.keyed && next.differences.empty()) && (trial.keyed || !next.keyed))
            break;
        trial = std::move(next);
    }
    return trial;
}

/// Of several zones, rows are first taken for pieces of one line.
Trial best(Table& table, const std::string& path, const Options& options) {
    if (table.bench->timeline->zones.size() > 1) {
        const replay::LiftOptions plain = table.lift;
        for (const std::int64_t steps : {2, 1}) {
            table.lift.joined = steps;
            if (Trial trial = cooled(table, path, options); trial.keyed && trial.differences.empty())
                return trial;
            table.lift = plain;
        }
    }
    return cooled(table, path, options);
}

} // namespace

int run_lift(const LiftCommand& options) {
    TableOptions wanted;
    static_cast<Options&>(wanted) = options;
    wanted.table = options.table;
    wanted.from = options.from;
    wanted.flows = options.flows;
    wanted.instructions = options.instructions;
    std::filesystem::path output(options.output);
    std::error_code ignored;
    bool to_folder = options.output != "-" &&
                     (std::filesystem::is_directory(output, ignored) || options.output.ends_with('/'));
    if (!to_folder && options.output != "-" && output.extension() != ".ath") {
        fmt::print(stderr, "athanor lift: -o {}: a recipe's file ends in .ath\n", options.output);
        return exit_usage;
    }
    // What goes to standard output is taken to be kept here, if the rig lies below here.
    const std::string rig = wanted.rig.substr(0, wanted.rig.find(':'));
    const std::filesystem::path from_here = std::filesystem::relative(rig.empty() ? "." : rig, ".", ignored);
    if (options.output == "-" && !rig.empty() && !from_here.empty() && *from_here.begin() != "..")
        wanted.folder = ".";
    if (options.output != "-") {
        wanted.folder = to_folder ? output.string() : output.parent_path().string();
        if (wanted.folder.empty()) wanted.folder.assign(1, '.'); // GCC 12 warns of an assigned literal
    }
    int status = exit_proven;
    std::optional<Table> table = open_table(wanted, status);
    if (!table) return status;
    std::string name =
        to_folder || options.output == "-" ? table->lift.name + ".ath" : output.filename().string();
    table->lift.head =
        fmt::format("# Lifted from {}: what the controller does. The reasons stand in no table.\n{}\n",
                    std::filesystem::path(options.table).filename().string(), table->lift.head);
    std::string path = (std::filesystem::path(table->folder) / name).string();
    Trial trial = best(*table, path, options);
    if (!print_findings(*table, trial.lifted, wanted)) {
        fmt::print(stderr, "{}: not lifted, the table {}\n", options.table,
                   trial.lifted.missing.empty() ? "contradicts itself" : "does not say enough");
        return exit_refused;
    }
    Destination to;
    to.standard_output = options.output == "-";
    to.folder = wanted.folder;
    status = put(to, {{name, trial.text}}, "lift");
    if (status != exit_proven) return status;
    print_messages(trial.session.out, trial.session.files, options);
    for (const std::string& difference : trial.differences)
        fmt::print(stderr, "{}: the recipe builds to another table: {}\n", options.table, difference);
    std::string line =
        trial.compiled.name.empty() ? table->lift.name + ": refused" : summary(trial.compiled, trial.session);
    bool same = trial.keyed && trial.differences.empty();
    fmt::print(stderr, "{}{}\n", line, same ? "; it builds back to the same table" : "");
    return same && trial.compiled.proven ? exit_proven : exit_refused;
}

} // namespace athanor::driver
