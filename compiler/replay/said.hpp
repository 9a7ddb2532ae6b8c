#pragma once
#include "compiler/program/program.hpp"
#include "compiler/replay/finding.hpp"
#include "compiler/timeline/timeline.hpp"

#include <cstdint>
#include <string>
#include <vector>

/// What the words of a table say against what the same table keys, and against where its rig falls: a person
/// reads the one and the controller does the other. Whoever wrote the table; no recipe is asked. `rig`: any
/// timeline of the rig's lines and devices.
namespace athanor::replay {

/// What one row keys, beside its words.
struct Keyed {
    std::uint32_t outputs = 0;
    const std::vector<std::int64_t>& channels;
    bool end = false; // of its programme
};

/// "it says that argon flows at 1 L/min, its channel sets 900 sccm" for each channel of a row.
std::vector<std::string> said_flows(const std::string& instruction, const std::vector<std::string>& names,
                                    const std::vector<std::int64_t>& channels, const timeline::Timeline& rig);

/// "it says that argon is open, its output has it closed" for each valve, burner or pump that the row's last
/// word about it has otherwise than the row keys; also of a line that a threshold moves, and of what goes on
/// behind the end. Words may be fewer than what is keyed.
std::vector<std::string> said_switches(const std::string& instruction, const Keyed& row,
                                       const program::Program& program, const program::Part& part,
                                       const timeline::Timeline& rig);

/// "the threshold of argon says 500 °C, 600 °C is keyed": line, temperature and side in a threshold's words.
std::vector<std::string> said_threshold(const program::ThresholdOutput& threshold,
                                        const program::Program& program, const timeline::Timeline& rig);

/// All of these, in every row of a table.
std::vector<Finding> compare_said(const program::Program& table, const timeline::Timeline& rig);

} // namespace athanor::replay
