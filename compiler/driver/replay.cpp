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
#include "compiler/source/render.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <memory>

namespace athanor::driver {
namespace {

/// NAME.LAYOUT.ending is read by the layout of that name, everything else by its ending; `from` says it where
/// the name does not. A register map also reads its NAME.MAP.csv.
const targets::Target* target_of(const std::string& table, const std::string& from,
                                 const std::vector<targets::Declared>& declared) {
    const std::filesystem::path path(table);
    const std::string ending = path.extension().string(), form = path.stem().extension().string();
    const std::string name = from.substr(from.rfind(':') + 1); // FILE:LAYOUT
    for (const targets::Declared& one : declared) {
        const bool its = "." + one.target.ending == ending || (one.family == "registers" && ending == ".csv");
        if (from.empty() ? "." + one.target.name == form && its : one.target.name == name) return &one.target;
    }
    for (const targets::Target& target : targets::all_targets())
        if (target.read && (from.empty() ? "." + target.ending == ending : target.name == name)) return &target;
    return nullptr;
}

/// Where lines for people go: with JSON, standard output is for objects.
std::FILE* for_people(const Options& options) {
    return options.format == MessageFormat::json ? stderr : stdout;
}

void print_run(const replay::Run& run, const program::Program& program, const Options& options) {
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
        fmt::print(for_people(options), "{}.{:<3} {:<52} {}\n", s.part, s.segment, what, on.empty() ? "-" : on);
    }
}

std::vector<Misfit> misfits(const ReadTable& table, const std::vector<replay::Finding>& findings) {
    std::vector<Misfit> list;
    for (const replay::Finding& finding : findings) list.push_back(misfit(table, finding));
    return list;
}

void print_misfits(const ReplayOptions& options, std::string_view bytes, const std::vector<Misfit>& list) {
    if (list.empty()) return;
    Files files;
    const FileId id = files.add(options.table, std::string(bytes));
    for (const Misfit& one : list) {
        if (options.format == MessageFormat::json) {
            Diagnostics out;
            const Span at = one.place.value_or(Span{});
            out.error(Code::table_mismatch, Span{id, at.begin, at.end}, one.message);
            fmt::print("{}\n", render_json(out.all().front(), files));
            continue;
        }
        const Position at = one.place ? files[id].position(one.place->begin) : Position{};
        const std::string place = one.place ? fmt::format(":{}:{}", at.line, at.column) : "";
        fmt::print(stderr, "{}{}: error: {} [table_mismatch]\n", options.table, place, one.message);
    }
}

/// Lines of what was taken for granted, behind the verdict.
void print_notes(const Table& table, const replay::Lifted& lifted, std::FILE* to) {
    for (const timeline::Line& line : table.bench->timeline->lines) {
        bool column = false;
        for (const program::Output& output : table.program.outputs) column = column || output.name == line.name;
        for (const std::string& channel : table.program.channels) column = column || channel == line.name;
        if (!column && lifted.text.find(" " + line.name + " at ") == std::string::npos)
            fmt::print(to, "   {}: the table has no place for it; it counts as shut by hand\n", line.name);
    }
    for (const std::string& note : lifted.notes) fmt::print(to, "   {}\n", note);
    for (const std::string& ability : abilities(table.program))
        fmt::print(to, "   taken for granted: {}\n", ability);
    if (table.embedded)
        fmt::print(to,
                   "   rig and controller are those that the table brings along; the rules of a site stand in "
                   "no table\n");
}

/// What a table does, as a recipe that is elaborated on its rig.
struct Judged {
    replay::Lifted lifted;
    Session session;
    check::Index recipe = check::none;
    elaborate::Elaborated elaborated;
    std::vector<Misfit> unsaid; // what the recipe does otherwise than the interpreter saw the table do
};

std::unique_ptr<Judged> elaborated(const Table& table, const std::string& root, const replay::Run& run,
                                   const ReadTable& read) {
    auto made = std::make_unique<Judged>();
    Judged& judged = *made;
    judged.lifted = replay::lift(table.program, *table.bench->timeline, table.lift);
    if (!judged.lifted.missing.empty() || !judged.lifted.disagree.empty()) return made;
    Options plain;
    plain.root = root;
    // Imports resolve beside the rig; messages show the table.
    judged.session.open(Given{(std::filesystem::path(table.folder) / "table.ath").string(), judged.lifted.text},
                        plain);
    const check::Model& model = judged.session.model;
    judged.recipe = model.recipe_named(table.lift.name);
    if (judged.recipe == check::none || model.recipes[judged.recipe].broken) return made;
    judged.elaborated = elaborate::elaborate(model, {judged.recipe, model.recipes[judged.recipe].rig_index, {}},
                                             judged.session.files, judged.session.out);
    if (!judged.elaborated.complete) return made;
    const timeline::Timeline& timeline = *judged.elaborated.timeline;
    judged.unsaid = misfits(read, table.lift.exact ? replay::compare_exactly(run, timeline, table.program)
                                                   : replay::compare(run, timeline, table.program, 1.0));
    return made;
}

/// In the words of the language where they say all that the table does, else piece by piece as the controller
/// does it.
std::unique_ptr<Judged> faithful(Table& table, const std::string& root, const replay::Run& run,
                                 const ReadTable& read) {
    std::unique_ptr<Judged> made = elaborated(table, root, run, read);
    if (made->unsaid.empty()) return made;
    table.lift.exact = true;
    std::unique_ptr<Judged> other = elaborated(table, root, run, read);
    return other->elaborated.complete && other->unsaid.empty() ? std::move(other) : std::move(made);
}

int refused(const ReplayOptions& options, std::string_view why) {
    fmt::print(for_people(options), "{}: refused{}\n", options.table, why);
    return exit_refused;
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
        print_misfits(options, read.bytes, misfits(read, run.problems));
        return refused(options, ", the controller cannot run it");
    }
    const std::unique_ptr<Judged> judged = faithful(*table, options.root, run, read);
    if (!print_findings(*table, judged->lifted, wanted))
        return refused(options, judged->lifted.missing.empty() ? ": the table contradicts itself"
                                                               : ", the table does not say enough");
    Session& session = judged->session;
    prove::Assurance assurance;
    std::vector<Misfit> contradictions;
    const elaborate::Elaborated& elaborated = judged->elaborated;
    if (elaborated.complete) {
        contradictions =
            figure_misfits(read, run, elaborated.plant->start().zones[0].control, nullptr, nullptr);
        print_misfits(options, read.bytes, judged->unsaid);
        print_misfits(options, read.bytes, contradictions);
        const check::Recipe& recipe = session.model.recipes[judged->recipe];
        assurance = prove::prove(session.model, session.model.rigs[recipe.rig_index], *elaborated.timeline,
                                 *elaborated.plant, session.files, session.out,
                                 &session.model.controllers[recipe.controller_index]);
    }
    print_messages(at_rows(session.out, *table, options.table, judged->lifted, session.files), session.files,
                   options);
    if (!judged->unsaid.empty()) return refused(options, ": this version has no words for everything it does");
    if (!contradictions.empty()) return refused(options, ": the table contradicts itself");
    if (!elaborated.complete || session.out.any_error()) return refused(options, "");
    const auto applied = std::count_if(assurance.rows.begin(), assurance.rows.end(),
                                       [](const prove::Row& row) { return row.applied; });
    fmt::print(for_people(options), "{}: proven, {}, {} rules apply, on {} for {}\n", options.table,
               to_text(duration(*elaborated.timeline), Kind::time, 3), applied, table->lift.rig,
               table->lift.controller);
    print_notes(*table, judged->lifted, for_people(options));
    return exit_proven;
}

/// The back end that reads this table; null where there is none, which is told.
const targets::Target* reading_target(const ReplayOptions& options,
                                      const std::vector<targets::Declared>& declared) {
    const targets::Target* target = target_of(options.table, options.from, declared);
    if (target && target->read) return target;
    if (!options.from.empty()) {
        fmt::print(stderr, "athanor replay: --from {}: no format of that name; it takes one of {}\n",
                   options.from, readable_formats(declared));
        return nullptr;
    }
    std::string endings;
    for (const targets::Target& t : targets::all_targets())
        if (t.read) endings += (endings.empty() ? "." : ", .") + t.ending;
    fmt::print(stderr,
               "athanor replay: {}: a table ends in one of {}, or has the name of a layout before its ending\n",
               options.table, endings);
    return nullptr;
}

/// The table carries its recipe's name as its file name; that settles which recipe of several is meant.
check::Index meant(const std::string& table, const Session& session, const std::vector<check::Index>& recipes) {
    std::string stem = std::filesystem::path(table).stem().string();
    stem = stem.substr(0, stem.find('.'));
    for (auto recipe = recipes.rbegin(); recipe != recipes.rend(); ++recipe)
        if (session.model.names[session.model.recipes[*recipe].name] == stem) return *recipe;
    return recipes.empty() ? check::none : recipes.front();
}

int tell(const ReplayOptions& options, const ReadTable& read, const Compared& compared, const Session& session,
         const Compiled& compiled) {
    std::FILE* to = for_people(options);
    print_run(compared.run, read.program, options);
    print_misfits(options, read.bytes, compared.differences);
    const bool same = compared.differences.empty();
    fmt::print(to, "{}: {} {}\n", options.table,
               same ? "does what the recipe says:" : "differs from the recipe", compiled.name);
    if (same && of_other_texts(read, session, compiled))
        fmt::print(to,
                   "   it was built of another text of the recipe or its files, or by another version of this "
                   "program:\n   the lines that it names were not compared\n");
    if (!compared.instructions)
        fmt::print(to, "   instructions and hand-set flows are not in this table and were not compared\n");
    if (!same)
        fmt::print(to, "   key what the recipe needs, or build the table again: athanor build {} --to {}\n",
                   options.file, read.target.name);
    return same ? exit_proven : exit_refused;
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
    const std::vector<targets::Declared> declared = declared_targets(session);
    const targets::Target* target = reading_target(options, declared);
    if (!target) return exit_usage;
    const check::Index recipe = meant(options.table, session, session.recipes(options));
    Compiled compiled;
    if (recipe != check::none) compiled = compile(session, recipe, options, session.sets, session.out);
    print_messages(session.out, session.files, options);
    if (!compiled.proven || !compiled.legalised.complete) {
        fmt::print(for_people(options), "{}: the recipe is {}, so there is nothing to compare the table with\n",
                   options.file, compiled.judged ? "refused" : "not judged");
        return session.asked_wrong ? exit_usage : exit_refused;
    }
    targets::ReadError wrong;
    std::optional<program::Program> program = target->read(*bytes, compiled.legalised.program, wrong);
    if (!program) {
        print_unreadable(options.table, *bytes, wrong, options);
        return exit_refused;
    }
    const ReadTable read{*target, *bytes, *program};
    return tell(options, read, compare_with_recipe(read, session, compiled), session, compiled);
}

} // namespace athanor::driver
