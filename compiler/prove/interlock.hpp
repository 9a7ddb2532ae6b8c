#pragma once
#include "compiler/check/model.hpp"
#include "compiler/timeline/timeline.hpp"

#include <string>
#include <vector>

/// Faults that no position of a valve answers: only hardware that acts by itself does. What is asked of an
/// interlock is read from its condition: it must act on that fault alone, shut the flammable line and open an
/// inert one.
namespace athanor::prove {

enum class Fault : std::uint8_t { heater_lost, inert_lost, fuel_lost, burner_out, programme_held };

struct FaultAnswer {
    Fault fault;
    timeline::Index line = timeline::none; // the flammable line in question
    std::string name;                      // "heater lost while hydrogen flows"
    std::string answer;                    // "interlock at rig.ath:47"; empty: none is declared
    std::string needed;                    // what an interlock would have to say, where there is none
    athanor::Span source;                  // of the answer, or of the line
};

/// One entry per fault and used flammable line.
std::vector<FaultAnswer> fault_answers(const check::Model& model, const check::Rig& rig,
                                       const timeline::Timeline& timeline, double sensor_tolerance);

} // namespace athanor::prove
