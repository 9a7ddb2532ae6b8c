#pragma once
#include "compiler/program/program.hpp"
#include "compiler/replay/replay.hpp"
#include "compiler/timeline/timeline.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// What a person does at the furnace, as a table's instructions ask it: compared by meaning where they use our
/// own words, letter for letter where they are free.
namespace athanor::replay {

struct Instructions {
    bool alike = true; // both tables have the same rows, so that each could be compared with its own
    std::vector<Finding> otherwise; // of words
};

/// Row by row against the program that was made from the recipe. Where the rows are others, free texts are
/// compared by their order, thresholds by their outputs, and what goes on behind the end; orders are then left
/// to `Hands` along the run.
Instructions compare_instructions(const program::Program& table, const program::Program& wanted,
                                  const timeline::Timeline& recipe);

/// What an instruction says in no words of ours, as one text.
std::string texts_in(std::string_view instruction);
/// Also where a layout in ASCII has a mark for each letter that it does not know.
bool same_text(std::string_view table, std::string_view wanted);

/// Meters, taps and devices that no output works, and whether the burner is lit, along a run: as the
/// instructions of its rows leave them. An output may do its work unsaid; that no words speak against it,
/// `compare_said` asks of each row.
class Hands {
public:
    Hands(const timeline::Timeline& timeline, const program::Program& program, const Run& run);

    /// "argon is set to 0.3 L/min, the recipe has 1.5 L/min" for each difference.
    std::vector<std::string> differences(const Run& run, std::size_t stretch,
                                         const timeline::State& state) const;
    /// The same behind the last row.
    std::vector<std::string> end_differences(const timeline::State& state) const;

private:
    struct Hand {
        std::vector<std::optional<double>> flows; // mol/s; nothing: no row has said it yet
        std::vector<bool> open;
        bool burner = false, pump = false, tube_open = false, bubbler = false;
        double regulated = 0, bath = 0; // Pa, K
        timeline::Index place = timeline::none;
        bool operator==(const Hand&) const = default;
    };
    void follow(Hand& hand, const std::string& instruction) const;
    void compare(const Hand& hand, const timeline::State& state, std::vector<std::string>& list) const;
    void compare_flow(const Hand& hand, timeline::Index line, double recipe,
                      std::vector<std::string>& list) const;
    void compare_shut(const Hand& hand, timeline::Index line, std::vector<std::string>& list) const;
    void compare_thresholds(const Hand& hand, const Stretch& stretch, const timeline::State& state,
                            std::vector<std::string>& list) const;
    bool by_threshold(timeline::Index line, const timeline::State& state) const;
    bool has_channel(const std::string& line) const;

    const timeline::Timeline& timeline_;
    const program::Program& program_;
    std::vector<Hand> hands_;        // each other than the one before it
    std::vector<std::size_t> which_; // a stretch's
    Hand end_;
};

} // namespace athanor::replay
