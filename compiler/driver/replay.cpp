// `athanor replay TABLE FILE`: does this table do what the recipe says? `athanor replay TABLE --rig R`: may the
// rig run this table, whoever wrote it?
#include "compiler/replay/replay.hpp"
#include "compiler/driver/commands.hpp"
#include "compiler/driver/copied.hpp"
#include "compiler/driver/declared.hpp"
#include "compiler/driver/figures.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/table_file.hpp"
#include "compiler/driver/text_file.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

namespace athanor::driver {
namespace {

/// NAME.LAYOUT.ending is read by the layout of that name, everything else by its ending.
const targets::Target* target_of(const std::string& table, const std::vector<targets::Declared>& declared) {
    std::filesystem::path path(table);
    std::string ending = path.extension().string(), form = path.stem().extension().string();
    if (ending.empty()) return nullptr;
    for (const targets::Declared& one : declared)
        if ("." + one.target.name == form && "." + one.target.ending == ending) return &one.target;
    for (const targets::Target& target : targets::all_targets())
        if (target.read && "." + target.ending == ending) return &target;
    return nullptr;
}

void print_run(const replay::Run& run, const program::Program& program) {
    for (const replay::Stretch& s : run.stretches) {
        std::string what;
        using K = replay::Stretch::Kind;
        switch (s.kind) {
        case K::line:
            what = fmt::format("ramp {:g} to {:g} degC at {:g} K/min", s.from_degC[0], s.to_degC[0],
                               s.rate_K_per_min);
            break;
        case K::hold: what = fmt::format("hold {:g} degC", s.to_degC[0]); break;
        case K::jump: what = fmt::format("step to {:g} degC", s.to_degC[0]); break;
        case K::person: what = "wait for a person"; break;
        }
        if (s.kind != K::person) what += ", " + to_text(s.duration_s, Kind::time, 6);
        if (s.band_K > 0) what += fmt::format(", within {:g} K", s.band_K);
        std::string on;
        for (const program::Output& output : program.outputs) {
            bool energised = s.outputs[output.number - 1];
            bool active = energised != output.on_without_power;
            if (active) on += (on.empty() ? "" : ", ") + output.name;
        }
        fmt::print("{}.{:<3} {:<52} {}\n", s.part, s.segment, what, on.empty() ? "-" : on);
    }
}

std::vector<Misfit> misfits(const ReadTable& table, const std::vector<replay::Finding>& findings) {
    std::vector<Misfit> list;
    for (const replay::Finding& finding : findings) list.push_back(misfit(table, finding));
    return list;
}

void print_misfits(const std::string& path, const ReadTable& table, const std::vector<Misfit>& list) {
    if (list.empty()) return;
    const File file(path, std::string(table.bytes), false);
    for (const Misfit& one : list) {
        const Position at = one.place ? file.position(one.place->begin) : Position{};
        const std::string place = one.place ? fmt::format(":{}:{}", at.line, at.column) : "";
        fmt::print(stderr, "{}{}: error: {} [table_mismatch]\n", path, place, one.message);
    }
}

/// Lines of what was taken for granted, behind the verdict.
void print_notes(const Table& table, const replay::Lifted& lifted) {
    for (const timeline::Line& line : table.bench->timeline->lines) {
        bool column = false;
        for (const program::Output& output : table.program.outputs) column = column || output.name == line.name;
        for (const std::string& channel : table.program.channels) column = column || channel == line.name;
        if (!column && lifted.text.find(" " + line.name + " at ") == std::string::npos)
            fmt::print("   {}: the table has no place for it; it counts as shut by hand\n", line.name);
    }
    for (const std::string& note : lifted.notes) fmt::print("   {}\n", note);
    for (const std::string& ability : abilities(table.program))
        fmt::print("   taken for granted: {}\n", ability);
    if (table.embedded)
        fmt::print("   rig and controller are those that the table brings along; the rules of a site stand in "
                   "no table\n");
}

/// Everything that is proven of a recipe, proven of what the table makes the controller do.
int judge(const ReplayOptions& options) {
    TableOptions wanted;
    static_cast<Options&>(wanted) = options;
    wanted.table = options.table;
    wanted.from = options.from;
    wanted.flows = options.flows;
    wanted.instructions = options.instructions;
    int status = exit_proven;
    std::optional<Table> table = open_table(wanted, status);
    if (!table) return status;
    table->lift.literal = true;
    const ReadTable read = table->read();
    replay::Run run =
        replay::run(table->program, table->bench->timeline->laws_of(0)->from - physics::zero_celsius);
    if (!run.problems.empty()) {
        print_misfits(options.table, read, misfits(read, run.problems));
        fmt::print("{}: refused, the controller cannot run it\n", options.table);
        return exit_refused;
    }
    replay::Lifted lifted = replay::lift(table->program, *table->bench->timeline, table->lift);
    if (!print_findings(*table, lifted, wanted)) {
        fmt::print("{}: refused{}\n", options.table,
                   lifted.missing.empty() ? ": the table contradicts itself"
                                          : ", the table does not say enough");
        return exit_refused;
    }
    Options plain;
    plain.root = options.root;
    Session session;
    // Imports resolve beside the rig; messages show the table.
    std::string path = (std::filesystem::path(table->folder) / "table.ath").string();
    session.open(Given{path, lifted.text}, plain);
    check::Index recipe = session.model.recipe_named(table->lift.name);
    elaborate::Elaborated elaborated;
    prove::Assurance assurance;
    std::vector<Misfit> unsaid, contradictions;
    if (recipe != check::none && !session.model.recipes[recipe].broken) {
        check::Index rig = session.model.recipes[recipe].rig_index;
        check::Index controller = session.model.recipes[recipe].controller_index;
        elaborated = elaborate::elaborate(session.model, {recipe, rig, {}}, session.files, session.out);
        if (elaborated.complete) {
            // The text that is judged must do what the interpreter saw the table do.
            unsaid = misfits(read, replay::compare(run, *elaborated.timeline, table->program, 1.0));
            const Interval tube = elaborated.plant->start().zones[0].control;
            contradictions = figure_misfits(read, run, tube, nullptr, nullptr);
            print_misfits(options.table, read, unsaid);
            print_misfits(options.table, read, contradictions);
            assurance =
                prove::prove(session.model, session.model.rigs[rig], *elaborated.timeline, *elaborated.plant,
                             session.files, session.out, &session.model.controllers[controller]);
        }
    }
    print_messages(at_rows(session.out, *table, options.table, lifted, session.files), session.files, options);
    if (!unsaid.empty()) {
        fmt::print("{}: refused: this version has no words for everything it does\n", options.table);
        return exit_refused;
    }
    if (!contradictions.empty()) {
        fmt::print("{}: refused: the table contradicts itself\n", options.table);
        return exit_refused;
    }
    if (!elaborated.complete || session.out.any_error()) {
        fmt::print("{}: refused\n", options.table);
        return exit_refused;
    }
    std::size_t judged = 0;
    for (const prove::Row& row : assurance.rows) judged += row.applied ? 1 : 0;
    fmt::print("{}: proven, {}, {} rules apply, on {} for {}\n", options.table,
               to_text(duration(*elaborated.timeline), Kind::time, 3), judged, table->lift.rig,
               table->lift.controller);
    print_notes(*table, lifted);
    return exit_proven;
}

} // namespace

int run_replay(const ReplayOptions& options) {
    if (options.file.empty()) return judge(options);
    std::string error;
    std::optional<std::string> bytes = read_file(options.table, error);
    if (!bytes) {
        print_file_error(options.table, error, options);
        return exit_usage;
    }
    Session session;
    if (!session.open(options.file, options)) return exit_usage;
    std::vector<targets::Declared> declared = declared_targets(session);
    const targets::Target* target = target_of(options.table, declared);
    if (!target || !target->read) {
        std::string endings;
        for (const targets::Target& t : targets::all_targets())
            if (t.read) endings += (endings.empty() ? "." : ", .") + t.ending;
        fmt::print(
            stderr,
            "athanor replay: {}: a table ends in one of {}, or has the name of a layout before its ending\n",
            options.table, endings);
        return exit_usage;
    }
    std::vector<check::Index> list = session.recipes(options);
    // The table carries its recipe's name as its file name; that settles which recipe of several is meant.
    std::string stem = std::filesystem::path(options.table).stem().string();
    stem = stem.substr(0, stem.find('.'));
    check::Index recipe = list.empty() ? check::none : list.front();
    for (check::Index i : list)
        if (session.model.names[session.model.recipes[i].name] == stem) recipe = i;
    Compiled compiled;
    if (recipe != check::none) compiled = compile(session, recipe, options, session.sets, session.out);
    print_messages(session.out, session.files, options);
    if (!compiled.proven || !compiled.legalised.complete) {
        fmt::print("{}: the recipe is {}, so there is nothing to compare the table with\n", options.file,
                   compiled.judged ? "refused" : "not judged");
        return session.asked_wrong ? exit_usage : exit_refused;
    }
    targets::ReadError read_error;
    std::optional<program::Program> program = target->read(*bytes, compiled.legalised.program, read_error);
    if (!program) {
        fmt::print(stderr, "{}:{}:{}: error: {} [table_mismatch]\n", options.table,
                   std::max<std::size_t>(1, read_error.line), std::max<std::size_t>(1, read_error.column),
                   read_error.message);
        return exit_refused;
    }
    const ReadTable read{*target, *bytes, *program};
    Compared compared = compare_with_recipe(read, session, compiled);
    print_run(compared.run, *program);
    print_misfits(options.table, read, compared.differences);
    const bool same = compared.differences.empty();
    fmt::print("{}: {} {}\n", options.table, same ? "does what the recipe says:" : "differs from the recipe",
               compiled.name);
    if (same && of_other_texts(read, session, compiled))
        fmt::print("   it was built of another text of the recipe or its files, or by another version of this "
                   "program:\n   the lines that it names were not compared\n");
    if (!compared.instructions)
        fmt::print("   instructions and hand-set flows are not in this table and were not compared\n");
    if (!same)
        fmt::print("   key what the recipe needs, or build the table again: athanor build {} --to {}\n",
                   options.file, target->name);
    return same ? exit_proven : exit_refused;
}

} // namespace athanor::driver
