#pragma once
#include "compiler/replay/instruction.hpp"
#include "compiler/replay/lift.hpp"

#include <optional>
#include <string>
#include <vector>

/// Valves, burner and pump of a lifted table: from output bits, channels and instructions to actions.
namespace athanor::replay {

class Switches {
public:
    Switches(const program::Program& program, const timeline::Timeline& bench, const LiftOptions& options,
             Lifted& lifted);

    /// What a person and the outputs do at the beginning of a row, in order, as statements. The last text of a
    /// wait for a person is the wait's own: it goes to `person`, with `tube_open`, instead of a note.
    std::vector<std::string> enter(RowName row, std::uint32_t outputs,
                                   const std::vector<std::int64_t>& channels, const std::string& instruction,
                                   std::string* person, bool* tube_open);

    /// A loop comes back to its first row from its last one: whatever differs there must be said in the body.
    void loop_back(std::uint32_t first, std::uint32_t last, const std::vector<std::int64_t>& channels_first,
                   const std::vector<std::int64_t>& channels_last);

    /// Lines with a column that no statement names.
    std::vector<std::string> unnamed_lines() const;
    /// `keep` for each standing threshold of a part.
    std::vector<std::string> thresholds(const program::Part& part);

private:
    struct Valve {
        std::optional<bool> open = false; // nothing: depends on the pass of a loop
        std::string flow;                 // as last set; empty: never
        std::int64_t channel = 0;
        bool named = false;
    };
    struct Device {
        std::optional<bool> on = false;
    };

    void line_order(const Word& word, RowName row);
    void exchange();
    void settle(RowName row, std::uint32_t outputs, const std::vector<std::int64_t>& channels);
    void devices_before(std::uint32_t outputs);
    bool settle_line(std::size_t line, RowName row, std::uint32_t outputs,
                     const std::vector<std::int64_t>& channels);
    void devices_behind(RowName row, std::uint32_t outputs);
    void open(std::size_t line, std::string flow, RowName row);
    std::string flow_for(std::size_t line, const std::string& said, RowName row);
    void device(Device& device, bool on, const char* start, const char* stop);
    std::optional<std::size_t> line_named(const std::string& name) const;
    bool by_threshold(std::uint32_t number) const;
    void missing(RowName row, std::string message, std::string remedy);
    void disagree(RowName row, std::string message);

    const program::Program& program_;
    const timeline::Timeline& bench_;
    const LiftOptions& options_;
    Lifted& lifted_;
    std::vector<Valve> valves_;
    Device burner_, pump_, bubbler_, slide_;
    std::vector<std::string> out_;             // statements of the row at work
    std::vector<std::int64_t> channels_;       // of the row at work
    std::vector<std::optional<bool>> ordered_; // per line: what this row's instruction asks
    std::set<std::string> told_;
};

} // namespace athanor::replay
