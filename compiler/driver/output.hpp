#pragma once
#include "targets/target.hpp"

#include <string>
#include <vector>

namespace athanor::driver {

/// Where `-o` points: a folder, a file (its ending is the format's affair) or `-`.
struct Destination {
    std::string folder, stem; // stem empty: the recipe's name
    bool standard_output = false;
};
Destination destination(const std::string& output);

/// Writes all files or none and prints their paths; with `-` the first one goes to standard output. Returns an
/// exit status; what went wrong is told on standard error in the name of `command`.
int put(const Destination& to, const std::vector<targets::OutputFile>& files, const char* command);

} // namespace athanor::driver
