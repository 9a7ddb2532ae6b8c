#pragma once
#include "compiler/driver/session.hpp"

#include <optional>
#include <string>
#include <vector>

/// One function a command; each returns the process's exit status and prints nothing but its own result to
/// standard output and messages to standard error.
namespace athanor::driver {

struct CheckOptions : Options {
    std::vector<std::string> files;
    std::string emit;  // "", "timeline", "program", "state"
    std::string every; // "10 min", for "state"; empty: as close as the curves need
    bool explain_segments = false;
    bool fix = false; // write the repairs that prove the file
    bool fit = false; // with `fix`: also those that change what the rig or the controller is declared to have
};
int run_check(const CheckOptions& options);
int emit_state(const CheckOptions& options);

struct AssureOptions : Options {
    std::string file;
};
int run_assure(const AssureOptions& options);

struct BuildOptions : Options {
    std::vector<std::string> files; // recipes, or folders of them
    std::string output = ".", depfile;
    std::vector<std::string> to{"csv"};
    unsigned jobs = 0; // 0: as many as there are cores
};
int run_build(const BuildOptions& options);

struct PlotOptions : Options {
    std::string file, output = ".";
};
int run_plot(const PlotOptions& options);

struct RigOptions : Options {
    std::string file, plot;
    std::string recipes; // `--for`: what this file's recipes need, against what the rigs have
};
int run_rig(const RigOptions& options);
int run_fitting(const RigOptions& options); // `rig --for`

struct TestOptions : Options {
    std::vector<std::string> files;
    std::string junit;
};
int run_test(const TestOptions& options);

struct FormatOptions : Options {
    std::vector<std::string> files;
    bool check = false;
};
int run_format(const FormatOptions& options);

struct DiffOptions : Options {
    std::vector<std::string> arguments; // two files, or git's seven
};
int run_diff(const DiffOptions& options);

struct ReplayOptions : Options {
    std::string table, file, from;
    std::vector<std::string> flows, instructions;
};
int run_replay(const ReplayOptions& options);

struct LiftCommand : ReplayOptions {
    std::string output = "-";
};
int run_lift(const LiftCommand& options);

struct VaryOptions : Options {
    std::string file, output = ".";
    std::vector<std::string> over, to{"csv"};
    unsigned jobs = 0, most = 1000; // 0: as many as there are cores
};
int run_vary(const VaryOptions& options);

struct EvaluateOptions : Options {
    std::string expression, in; // `in`: a unit; empty: the one in which the value is readable
    std::vector<std::string> uses;
    bool value_only = false;
};
int run_evaluate(const EvaluateOptions& options);

/// What `evaluate` prints of an expression of the standard library's names; nullopt when it has an error.
std::optional<std::string> value_text(const std::string& expression);
int run_functions(const std::string& name, bool markdown);

int run_explain(const std::string& code);
int run_units(const std::string& kind);
int run_gases(const Options& options, const std::string& file);
int run_materials(const Options& options, const std::string& file);
int run_targets();
int run_schema(const std::string& name);

} // namespace athanor::driver
