#pragma once
#include "compiler/program/program.hpp"
#include "targets/target.hpp"

#include <string>

/// Programs that use everything a table can hold.
namespace sample {

using namespace athanor;

/// One zone, three outputs, loop, threshold, soak band, operator wait, step, link to a second programme.
program::Program bench();
/// Two zones, ramps by time with a dwell in the same segment, one channel, no outputs, programmes handed over
/// by hand.
program::Program zones();
targets::Context context();

/// Every field that is keyed, as text: equal text, equal program.
std::string keyed(const program::Program& program);
std::string hand_over_and_instructions(const program::Program& program);

/// Runs the JSON Schema validator on text; empty when it is valid, else its message.
std::string schema_errors(const std::string& schema, const std::string& json);
/// A folder of its own under the temporary one, removed at the end.
class Folder {
public:
    Folder();
    ~Folder();
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    std::string path;
};
std::string contents(const std::string& path);

} // namespace sample
