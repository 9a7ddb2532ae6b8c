#pragma once
#include "compiler/plant/plant.hpp"
#include "compiler/program/program.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/timeline/timeline.hpp"

#include <vector>

/// How discrete states become output bits, channel values and threshold outputs.
namespace athanor::legalise {

struct Wiring {
    std::vector<program::Output> outputs;       // used ones, in the order of their numbers
    std::vector<timeline::Index> channel_lines; // in the order of their channels
    std::vector<program::ThresholdOutput> thresholds;
    std::uint32_t threshold_bits =
        0; // standing thresholds (bits of State::armed) that an output follows by itself

    /// Bit n-1: output n energised. A valve that is open without power is energised to close it.
    std::uint32_t bits(const timeline::State& state) const;
    program::Values channels(const timeline::State& state) const; // sccm times 1000
    std::vector<std::string> channel_names(const timeline::Timeline& timeline) const;
};

/// Numbers the outputs and channels that the recipe uses; reports `too_many_outputs`.
Wiring wire(const timeline::Timeline& timeline, const program::Controller& controller, Diagnostics& out);

/// Gives standing thresholds to outputs that follow a temperature by themselves, where the controller has some,
/// the line has an output and nothing else ever opens it, and the furnace is certain to lie on the idle side
/// whenever the recipe does not arm the threshold.
void assign_thresholds(Wiring& wiring, const timeline::Timeline& timeline, const plant::Plant& plant,
                       const program::Controller& controller);

/// Replaces the thresholds that no output follows by spans that end where the set-point passes the temperature.
/// Reports natural cooling through the temperature, where no set-point says when. `bits`: the thresholds to
/// replace.
struct Split {
    timeline::Timeline timeline;
    std::vector<timeline::Index> map; // as Retimed::map
};
Split split_thresholds(const timeline::Timeline& timeline, std::uint32_t bits,
                       const program::Controller& controller, Diagnostics& out);

} // namespace athanor::legalise
