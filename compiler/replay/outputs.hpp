#pragma once
#include "compiler/program/program.hpp"
#include "compiler/replay/replay.hpp"
#include "compiler/timeline/timeline.hpp"

#include <optional>
#include <string>
#include <vector>

/// Do the outputs and channels of a program say what a discrete state says?
namespace athanor::replay {

class Outputs {
public:
    Outputs(const timeline::Timeline& timeline, const program::Program& program);

    /// Outputs that the recipe needs and the program lacks, or that stand for something else; thresholds that
    /// follow another temperature, side or line.
    std::vector<std::string> declared() const;

    /// "argon is open, the recipe has it closed" for each difference. [low, high]: K between which the
    /// set-point lies meanwhile; it decides what a standing threshold, keyed as segments, must show.
    std::vector<std::string> differences(const Stretch& stretch, const timeline::State& state, double low,
                                         double high) const;
    bool equal(const Stretch& stretch, const timeline::State& state, double low, double high) const {
        return differences(stretch, state, low, high).empty();
    }
    /// The same of what the last end segment keys.
    std::vector<std::string> end_differences(const Run& run, const timeline::State& state) const;

private:
    const timeline::Threshold* armed(const timeline::State& state, std::size_t line) const;
    const program::ThresholdOutput* threshold_output(std::uint32_t part, std::uint32_t output) const;
    std::string threshold_difference(const program::Output& output, const program::ThresholdOutput& keyed,
                                     const timeline::State& state, double low, double high) const;
    /// What a row shows of a line: its valve as keyed; nothing where no output works it.
    std::optional<bool> shown_open(const std::vector<bool>& energised, std::size_t line) const;
    /// K between which a row's set-point lies.
    struct Reach {
        double low = 0, high = 0;
    };
    void channels(const std::vector<double>& sccm, const std::vector<bool>& energised,
                  const timeline::State& state, const std::optional<Reach>& reach,
                  std::vector<std::string>& list) const;
    bool by_itself(std::size_t line) const;

    const timeline::Timeline& timeline_;
    const program::Program& program_;
    double half_step_; // K, of the set-point
};

} // namespace athanor::replay
