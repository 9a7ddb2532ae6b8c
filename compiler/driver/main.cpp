// The command line: what is asked, and nothing else. Each command is one function of commands.hpp.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/page.hpp"
#include "compiler/driver/pipeline.hpp"

#include "compiler/check/equipment_block.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <fcntl.h>
#include <iterator>
#include <memory>
#include <sstream>
#include <string>
#include <string_view>
#include <system_error>
#include <unistd.h>

namespace {

using namespace athanor::driver;

/// A file that is opened must not get the number of a standard stream that the caller has closed.
void keep_standard_streams() {
    for (int number : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO})
        if (::fcntl(number, F_GETFD) == -1 && ::open("/dev/null", O_RDWR) != number) std::_Exit(exit_usage);
}

bool colour_wanted() {
    const char* none = std::getenv("NO_COLOR");
    const char* terminal = std::getenv("TERM");
    if (none && *none) return false;
    return ::isatty(STDERR_FILENO) == 1 && !(terminal && std::string_view(terminal) == "dumb");
}

/// The help for people: no line wider than the page.
class Help : public CLI::Formatter {
public:
    std::string make_help(const CLI::App* app, std::string name, CLI::AppFormatMode mode) const override {
        std::string out;
        std::istringstream lines(CLI::Formatter::make_help(app, std::move(name), mode));
        for (std::string line; std::getline(lines, line);) out += broken(line);
        return out;
    }

private:
    static std::string broken(const std::string& line) {
        if (width(line) <= page_width) return line + '\n';
        const std::size_t text = line.find_first_not_of(' ');
        // An example stays one command.
        if (line.compare(text, 8, "athanor ") == 0) {
            const std::size_t at = line.rfind(" -", page_width - 2);
            if (at == std::string::npos || at <= text) return line + '\n';
            return line.substr(0, at) + " \\\n" + broken("     " + line.substr(at));
        }
        // Behind an option its description, in a column of its own.
        const std::size_t gap = line.find("  ", text);
        const std::size_t column = gap == std::string::npos ? text : line.find_first_not_of(' ', gap);
        return paragraph(line.substr(0, column), line.substr(column), column);
    }
};

struct Line {
    CLI::App app{"athanor: from a furnace recipe in physical units to a controller's table, proven first",
                 "athanor"};
    Options common;
    std::string format = "pretty";
    CheckOptions check;
    AssureOptions assure;
    BuildOptions build;
    TestOptions test;
    FormatOptions format_options;
    DiffOptions diff;
    ReplayOptions replay;
    LiftCommand lift;
    VaryOptions vary;
    PlotOptions plot;
    RigOptions rig;
    EvaluateOptions evaluate;
    bool markdown = false;
    std::string word, file;

    CLI::App* command(const char* name, const char* what, const char* examples) {
        CLI::App* sub = app.add_subcommand(name, what);
        sub->footer(std::string("Examples:\n") + examples);
        sub->add_option("--root", common.root, "No import may leave this folder");
        sub->add_option("--message-format", format, "How messages are printed: pretty, short or json")
            ->check(CLI::IsMember({"pretty", "short", "json"}));
        return sub;
    }
    void selection(CLI::App* sub) {
        sub->add_option("--recipe", common.recipe, "Only the recipe of this name");
        sub->add_option("--rig", common.rig, "Another rig than the recipe names");
        sub->add_option("--controller", common.controller, "Another controller than the recipe names");
        sub->add_option("--set", common.sets, "A parameter's value: --set 'peak=930 degC'")
            ->allow_extra_args(false); // each has its own: what follows is the file
    }
};

template<typename T>
const T& with_common(T& options, const Line& line) {
    static_cast<Options&>(options) = line.common;
    return options;
}

void table_options(CLI::App* sub, ReplayOptions& options) {
    sub->add_option("table", options.table, "A table, whoever wrote it")->required();
    sub->add_option("--from", options.from,
                    "Its format, its layout or FILE:LAYOUT; without it, what its ending says");
    sub->add_option("--flow", options.flows, "A flow that a person sets: --flow 'argon=1.5 L/min'")
        ->allow_extra_args(false);
    sub->add_option("--instruction", options.instructions,
                    "What a person does at a row: --instruction '1.1=tube may be opened; load the boat'")
        ->allow_extra_args(false);
}

/// What one command takes, and what it does.
struct Command {
    std::string_view name;
    void (*declare)(Line&);
    int (*run)(Line&);
    bool shows = false; // what it prints is text; messages are not its result
};

constexpr Command commands[] = {
    {"check",
     [](Line& line) {
         CLI::App* check =
             line.command("check", "Parse, type, simulate and prove; say what is wrong",
                          "  athanor check sinter.ath\n  athanor check --emit timeline sinter.ath");
         check->add_option("files", line.check.files, "Recipe files; - for standard input")->required();
         check->add_option("--emit", line.check.emit, "Print an inner form: timeline, program, or state as CSV")
             ->check(CLI::IsMember({"timeline", "program", "state"}));
         check->add_option("--every", line.check.every, "Time between rows of --emit state: --every '10 min'");
         check->add_flag("--explain-segments", line.check.explain_segments,
                         "Say where each segment comes from and why it exists");
         check->add_flag("--fix", line.check.fix,
                         "Change the file until it is proven or no repair is left; print what was changed");
         check->add_flag("--fit", line.check.fit,
                         "With --fix: also declare hardware that would have to be fitted first");
         line.selection(check);
     },
     [](Line& line) { return run_check(with_common(line.check, line)); }},
    {"assure",
     [](Line& line) {
         CLI::App* assure =
             line.command("assure", "Every rule with its verdict, its margin and what it rests on",
                          "  athanor assure sinter.ath\n  athanor assure sinter.ath --message-format json");
         assure->add_option("file", line.assure.file, "Recipe file; - for standard input")->required();
         line.selection(assure);
     },
     [](Line& line) { return run_assure(with_common(line.assure, line)); }},
    {"build",
     [](Line& line) {
         CLI::App* build =
             line.command("build", "Prove everything, then write the controller's table",
                          "  athanor build sinter.ath -o tables\n  athanor build sinter.ath --to json -o -");
         build->add_option("files", line.build.files, "Recipe files, or folders of them; - for standard input")
             ->required();
         build
             ->add_option("--to", line.build.to,
                          "Formats, or layouts of the file: --to csv,json; see `athanor targets`")
             ->delimiter(',')
             ->allow_extra_args(false);
         build->add_option("-o,--output", line.build.output, "Folder, file, or - for standard output");
         build->add_option("--depfile", line.build.depfile,
                           "Write which sources were read, for Make and ninja, to this file");
         build->add_option("-j,--jobs", line.build.jobs, "Files worked on at a time; 0: one for each core");
         line.selection(build);
     },
     [](Line& line) { return run_build(with_common(line.build, line)); }},
    {"plot",
     [](Line& line) {
         CLI::App* plot =
             line.command("plot", "Draw the bounds of temperature, gas and pressure over time, as SVG",
                          "  athanor plot sinter.ath\n  athanor plot sinter.ath -o out.svg --set "
                          "'peak=930 degC'");
         plot->add_option("file", line.plot.file, "Recipe file; - for standard input")->required();
         plot->add_option("-o,--output", line.plot.output, "Folder, file, or - for standard output");
         line.selection(plot);
     },
     [](Line& line) { return run_plot(with_common(line.plot, line)); }},
    {"test",
     [](Line& line) {
         CLI::App* test =
             line.command("test", "Run the tests written in the language",
                          "  athanor test sinter.ath\n  athanor test --junit report.xml recipes/*.ath");
         test->add_option("files", line.test.files, "Files with `test` declarations")->required();
         test->add_option("--junit", line.test.junit, "Write a JUnit report to this file");
     },
     [](Line& line) { return run_test(with_common(line.test, line)); }, true},
    {"format",
     [](Line& line) {
         CLI::App* format = line.command("format", "Bring files into the one canonical layout",
                                         "  athanor format sinter.ath\n  athanor format --check recipes/*.ath");
         format
             ->add_option("files", line.format_options.files,
                          "Files to format in place; - reads standard input, writes standard output")
             ->required();
         format->add_flag("--check", line.format_options.check,
                          "Change nothing; name every file that would change, exit 1");
     },
     [](Line& line) { return run_format(with_common(line.format_options, line)); }},
    {"diff",
     [](Line& line) {
         CLI::App* diff = line.command(
             "diff", "What changes in the process between two versions",
             "  athanor diff old.ath new.ath\n  git -c diff.external='athanor diff' diff sinter.ath");
         diff->add_option("files", line.diff.arguments,
                          "Two files, or the seven arguments of git's external diff")
             ->required();
         line.selection(diff);
     },
     [](Line& line) { return run_diff(with_common(line.diff, line)); }, true},
    {"replay",
     [](Line& line) {
         CLI::App* replay =
             line.command("replay", "Run a table in the interpreter; prove it, or compare it with its recipe",
                          "  athanor replay tables/sinter.csv sinter.ath\n"
                          "  athanor replay sinter.csv --rig bench.ath:bench_two --controller controllers.ath");
         table_options(replay, line.replay);
         replay->add_option("file", line.replay.file, "The recipe it was built from, where there is one");
         line.selection(replay);
     },
     [](Line& line) { return run_replay(with_common(line.replay, line)); }},
    {"lift",
     [](Line& line) {
         CLI::App* lift = line.command("lift", "Write a table as a recipe that builds back to it",
                                       "  athanor lift sinter.json -o sinter.ath\n"
                                       "  athanor lift sinter.csv --rig bench.ath:bench_two --controller "
                                       "controllers.ath -o recipes");
         table_options(lift, line.lift);
         lift->add_option("-o,--output", line.lift.output, "Folder, file, or - for standard output");
         line.selection(lift);
     },
     [](Line& line) { return run_lift(with_common(line.lift, line)); }},
    {"vary",
     [](Line& line) {
         CLI::App* vary = line.command(
             "vary", "A design of experiments: one table for every combination of values, and an index",
             "  athanor vary sinter.ath --over 'peak=900 degC to 980 degC by 20 K' -o trials\n"
             "  athanor vary sinter.ath --over 'peak=[900 degC, 950 degC]' --over 'soak=[30 min, 1 h]' -o "
             "trials");
         vary->add_option("file", line.vary.file, "Recipe file")->required();
         vary->add_option("--over", line.vary.over,
                          "A parameter and its values: NAME=LO to HI by STEP, or NAME=[A, B]")
             ->allow_extra_args(false)
             ->required();
         vary->add_option("--to", line.vary.to, "Formats: --to csv,json; see `athanor targets`")
             ->delimiter(',')
             ->allow_extra_args(false);
         vary->add_option("-o,--output", line.vary.output, "Folder");
         vary->add_option("-j,--jobs", line.vary.jobs, "Points worked on at a time; 0: one for each core");
         vary->add_option("--most", line.vary.most, "Refuse designs of more points than this")
             ->check(CLI::Range(1U, 100000U));
         line.selection(vary);
     },
     [](Line& line) { return run_vary(with_common(line.vary, line)); }},
    {"evaluate",
     [](Line& line) {
         CLI::App* evaluate =
             line.command("evaluate", "The value of an expression, with its unit and source",
                          "  athanor evaluate 'emf(type_k, 900 degC)'\n"
                          "  athanor evaluate 'actual_flow(500 sccm, 900 degC, 1 atm)' --in L/min");
         evaluate
             ->add_option("expression", line.evaluate.expression,
                          "An expression of the language; - reads it from standard input")
             ->required();
         evaluate
             ->add_option("--use", line.evaluate.uses, "A file whose gases, materials and values it may name")
             ->allow_extra_args(false);
         evaluate->add_option("--in", line.evaluate.in, "The unit in which to print the value");
         evaluate->add_flag("--value", line.evaluate.value_only,
                            "Print the value only, not where it comes from");
     },
     [](Line& line) { return run_evaluate(with_common(line.evaluate, line)); }},
    {"functions",
     [](Line& line) {
         CLI::App* functions = line.command("functions", "Functions of the language: signature, source, range",
                                            "  athanor functions\n  athanor functions dew_point_of");
         functions->add_option("name", line.word, "Only this function, or those of this subject");
         functions->add_flag("--markdown", line.markdown, "As the page docs/functions.md");
     },
     [](Line& line) { return run_functions(line.word, line.markdown); }, true},
    {"explain",
     [](Line& line) {
         CLI::App* explain =
             line.command("explain", "Why a rule exists, what breaks it, how to mend it",
                          "  athanor explain no_inert_purge_first\n  athanor explain unit_mismatch");
         explain->add_option("code", line.word, "The name in brackets behind a message")->required();
     },
     [](Line& line) { return run_explain(line.word); }, true},
    {"units",
     [](Line& line) {
         CLI::App* units = line.command("units", "The table of units with their sources",
                                        "  athanor units\n  athanor units pressure");
         units->add_option("quantity", line.word, "Only the units of this quantity");
     },
     [](Line& line) { return run_units(line.word); }, true},
    {"gases",
     [](Line& line) {
         CLI::App* gases = line.command("gases", "Gases with limits, hazards and sources",
                                        "  athanor gases\n  athanor gases hydrogen\n  athanor gases bench.ath");
         gases->add_option("file", line.file, "A file with gases of its own, or one gas of the library");
     },
     [](Line& line) { return run_gases(line.common, line.file); }, true},
    {"materials",
     [](Line& line) {
         CLI::App* materials = line.command("materials", "Tube materials and thermocouples with sources",
                                            "  athanor materials\n  athanor materials bench.ath");
         materials->add_option("file", line.file, "A file with materials of its own");
     },
     [](Line& line) { return run_materials(line.common, line.file); }, true},
    {"rig",
     [](Line& line) {
         CLI::App* rig = line.command("rig", "What a rig can do: heating, cooling, gases",
                                      "  athanor rig bench.ath\n  athanor rig bench.ath --for sinter.ath");
         rig->add_option("file", line.rig.file, "A file with rigs")->required();
         rig->add_option("--rig", line.common.rig, "Only the rig of this name");
         rig->add_option("--for", line.rig.recipes, "Compare with what the recipes of this file need");
         rig->add_option("--plot", line.rig.plot, "Draw its curves into this SVG file");
     },
     [](Line& line) { return run_rig(with_common(line.rig, line)); }, true},
    {"targets",
     [](Line& line) {
         line.command("targets", "The table formats",
                      "  athanor targets\n  athanor build sinter.ath --to json");
     },
     [](Line&) { return run_targets(); }, true},
    {"schema",
     [](Line& line) {
         CLI::App* schema = line.command("schema", "Schemas: table and csvw-profile (JSON), equipment",
                                         "  athanor schema table\n  athanor schema equipment");
         schema->add_option("name", line.word, "Which schema: table, csvw-profile or equipment")->required();
     },
     [](Line& line) { return run_schema(line.word); }, true},
};

bool is_command(std::string_view name) {
    return std::any_of(std::begin(commands), std::end(commands),
                       [&](const Command& command) { return command.name == name; });
}

/// Declares the command that is asked for, and all where it is none of them: the help and the message about it
/// name them, and all of them take as long as a small recipe.
void declare(Line& line, std::string_view asked) {
    line.app.formatter(std::make_shared<Help>());
    line.app.require_subcommand(1);
    line.app.set_version_flag("--version", version_text);
    line.app.footer("Athanor checks a plan against a model. It is no safety device and replaces no\n"
                    "hardware interlock, no risk assessment, no trained supervision. Local codes and\n"
                    "licensed practice prevail.\n"
                    "Exit status: 0 proven and done; 1 refused; 2 usage or file error; 3 internal\n"
                    "error.");
    const bool known = is_command(asked);
    for (const Command& command : commands)
        if (!known || command.name == asked) command.declare(line);
}

/// What a full disk or a closed pipe did not take is no result.
int written(int status) {
    if (std::fflush(stdout) == 0 && std::ferror(stdout) == 0) return status;
    fmt::print(stderr, "athanor: standard output cannot be written\n");
    return exit_usage;
}

int run(Line& line) {
    line.common.colour = colour_wanted();
    line.common.format = line.format == "short"  ? MessageFormat::short_
                         : line.format == "json" ? MessageFormat::json
                                                 : MessageFormat::pretty;
    std::string name = line.app.get_subcommands().front()->get_name();
    const Command& command = *std::find_if(std::begin(commands), std::end(commands),
                                           [&](const Command& one) { return one.name == name; });
    if (command.shows && line.common.format == MessageFormat::json) {
        fmt::print(stderr, "athanor {}: --message-format json: what it shows is text and has no JSON form\n",
                   name);
        return exit_usage;
    }
    const bool streams = line.build.output == "-" || line.plot.output == "-";
    if (streams && line.common.format == MessageFormat::json) {
        fmt::print(stderr, "athanor {}: --message-format json and -o - would both write to standard output\n",
                   name);
        return exit_usage;
    }
    return command.run(line);
}

} // namespace

int main(int argc, char** argv) {
    keep_standard_streams();
    // Answered before the options are even declared: scripts ask it often.
    if (argc == 2 && std::string_view(argv[1]) == "--version") {
        std::fputs((std::string(version_text) + '\n').c_str(), stdout);
        return written(exit_proven);
    }
    try {
        Line line;
        const std::string_view asked = argc > 1 ? argv[1] : "";
        if (!asked.empty() && !asked.starts_with("-") && !is_command(asked)) {
            std::vector<std::string_view> names;
            for (const Command& command : commands) names.push_back(command.name);
            const std::string near = athanor::check::nearest(asked, names);
            fmt::print(stderr, "athanor: there is no command `{}`{}; `athanor --help` lists them\n", asked,
                       near.empty() ? "" : fmt::format(", did you mean `{}`?", near));
            return exit_usage;
        }
        declare(line, asked);
        try {
            line.app.parse(argc, argv);
        } catch (const CLI::ParseError& error) {
            int status = line.app.exit(error);
            // The parser's own numbers mean nothing to a script.
            return status == 0 ? written(exit_proven) : exit_usage;
        }
        return written(run(line));
    } catch (const std::system_error&) {
        // No `print`: where standard error is what cannot be written it would throw once more.
        std::fputs(std::ferror(stdout) != 0 ? "athanor: standard output cannot be written\n"
                                            : "athanor: its output cannot be written\n",
                   stderr);
        return exit_usage;
    } catch (const std::exception& error) {
        std::fputs(
            ("athanor: internal error: " + std::string(error.what()) + "; nothing was written\n").c_str(),
            stderr);
        return exit_internal;
    }
}
