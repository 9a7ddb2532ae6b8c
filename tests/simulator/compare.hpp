#pragma once
#include "compiler/plant/plant.hpp"
#include "tests/simulator/simulate.hpp"

#include <map>
#include <optional>
#include <string>

/// The simulator's course of one drawn rig held against the plant's bounds for all of them.
namespace athanor::simulator {

/// One number that is not inside its bound.
struct Violation {
    std::string signal;
    std::size_t span = 0;
    double since = 0, until = 0; // s since the span's entry; `until` > `since` for a stretch
    double value = 0;
    Interval bound;
    std::string text() const;
};

/// The plant's own chain of states: what each span is entered with, and how it is left.
struct Chain {
    std::vector<plant::State> entries; // one a span, after its actions
    std::vector<plant::Passage> passages;
};
Chain chain(const timeline::Timeline& timeline, const plant::Plant& plant);

/// How much each signal's bound was used, if wanted.
struct Tally {
    std::size_t compared = 0;
    std::map<std::string, std::size_t> by_signal;
};

/// The first number outside its bound; null when all are inside.
std::optional<Violation> outside(const check::Model& model, const timeline::Timeline& timeline,
                                 const plant::Plant& plant, const Chain& chain, const Trajectory& trajectory,
                                 Tally& tally);

/// Every signal of a sample by name, with the plant's signal that bounds it.
struct Reading {
    std::string name;
    timeline::Signal signal;
    double value = 0;
};
std::vector<Reading> readings(const check::Model& model, const timeline::Timeline& timeline,
                              const Sample& sample, bool setpoint_known);

} // namespace athanor::simulator
