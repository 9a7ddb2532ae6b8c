#pragma once
#include "compiler/program/program.hpp"

#include <cstddef>
#include <cstdint>
#include <vector>

/// What an output works, and whether that is on: not whether the output is energised.
namespace athanor::replay {

/// Null: this table works it by hand, whatever the rig could.
inline const program::Output* output_of(const program::Program& program, program::OutputUse use,
                                        std::size_t line = 0) {
    for (const program::Output& output : program.outputs)
        if (output.use == use && (use != program::OutputUse::line || output.line == line)) return &output;
    return nullptr;
}

inline bool energised(std::uint32_t outputs, std::uint32_t number) {
    return number >= 1 && number <= 32 && (outputs >> (number - 1) & 1U) != 0;
}
inline bool energised(const std::vector<bool>& outputs, std::uint32_t number) {
    return number >= 1 && number <= outputs.size() && outputs[number - 1];
}

/// `outputs`: those of a row, as keyed or as run.
template<class Outputs>
bool works(const program::Output& output, const Outputs& outputs) {
    return energised(outputs, output.number) != output.on_without_power;
}

} // namespace athanor::replay
