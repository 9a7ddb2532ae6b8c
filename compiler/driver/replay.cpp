// `athanor replay TABLE FILE`: does this table do what the recipe says?
#include "compiler/replay/replay.hpp"
#include "compiler/driver/commands.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/text_file.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <filesystem>

namespace athanor::driver {
namespace {

const targets::Target* target_of(const std::string& table) {
    std::string ending = std::filesystem::path(table).extension().string();
    return ending.empty() ? nullptr : targets::target_named(ending.substr(1));
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

} // namespace

int run_replay(const ReplayOptions& options) {
    const targets::Target* target = target_of(options.table);
    if (!target || !target->read) {
        fmt::print(stderr, "athanor replay: {}: a table ends in .csv or .json\n", options.table);
        return exit_usage;
    }
    std::string error;
    std::optional<std::string> bytes = read_file(options.table, error);
    if (!bytes) {
        print_file_error(options.table, error, options);
        return exit_usage;
    }
    Session session;
    if (!session.open(options.file, options)) return exit_usage;
    std::vector<check::Index> list = session.recipes(options);
    // The table carries its recipe's name as its file name; that settles which recipe of several is meant.
    std::string stem = std::filesystem::path(options.table).stem().string();
    check::Index recipe = list.empty() ? check::none : list.front();
    for (check::Index i : list)
        if (session.model.names[session.model.recipes[i].name] == stem) recipe = i;
    Compiled compiled;
    if (recipe != check::none) compiled = compile(session, recipe, options, session.sets, session.out);
    print_messages(session.out, session.files, options);
    if (!compiled.proven || !compiled.legalised.complete) {
        fmt::print("{}: the recipe is refused, so there is nothing to compare the table with\n", options.file);
        return exit_refused;
    }
    targets::ReadError read_error;
    std::optional<program::Program> program = target->read(*bytes, compiled.legalised.program, read_error);
    if (!program) {
        fmt::print(stderr, "{}:{}:{}: error: {} [table_mismatch]\n", options.table, read_error.line,
                   read_error.column, read_error.message);
        return exit_refused;
    }
    const timeline::Timeline& timeline = *compiled.elaborated.timeline;
    double start = timeline.laws.empty() ? 293.15 : timeline.laws_of(0)[0].from;
    replay::Run run = replay::run(*program, start - 273.15);
    print_run(run, *program);
    std::vector<std::string> problems = run.problems;
    for (std::string& line : replay::compare(run, timeline, *program, 1.0)) problems.push_back(std::move(line));
    for (const std::string& problem : problems)
        fmt::print(stderr, "{}: error: {} [table_mismatch]\n", options.table, problem);
    fmt::print("{}: {} {}\n", options.table,
               problems.empty() ? "does what the recipe says:" : "differs from the recipe", compiled.name);
    return problems.empty() ? exit_proven : exit_refused;
}

} // namespace athanor::driver
