#pragma once
#include "compiler/driver/session.hpp"

#include <string>
#include <vector>

/// One function a command; each returns the process's exit status and prints nothing but its own result to
/// standard output and messages to standard error.
namespace athanor::driver {

struct CheckOptions : Options {
    std::vector<std::string> files;
    std::string emit; // "", "timeline", "program"
    bool explain_segments = false;
};
int run_check(const CheckOptions& options);

struct BuildOptions : Options {
    std::string file, output = ".";
    std::vector<std::string> to{"csv"};
};
int run_build(const BuildOptions& options);

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
    std::string table, file;
};
int run_replay(const ReplayOptions& options);

int run_explain(const std::string& code);
int run_units(const std::string& kind);
int run_gases(const Options& options, const std::string& file);
int run_materials(const Options& options, const std::string& file);
int run_rig(const Options& options, const std::string& file);
int run_targets();
int run_schema(const std::string& name);

} // namespace athanor::driver
