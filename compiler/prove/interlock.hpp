#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/timeline/timeline.hpp"

#include <optional>
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
    /// The inert line that is lost where `low_pressure trips` is the answer: whoever has the rules judges them
    /// for a failure of power without it.
    timeline::Index without = timeline::none;
    /// The inert line that an interlock opens on this fault, and from which nothing may come then.
    timeline::Index unset = timeline::none;
};

class PowerFailure;

/// One entry per fault and used flammable line.
std::vector<FaultAnswer> fault_answers(const check::Model& model, const check::Rig& rig,
                                       const timeline::Timeline& timeline, const plant::Plant& plant,
                                       const PowerFailure& failure);

/// What shuts a flammable line in a tube that is too cold, whatever else it acts on.
struct Cutoff {
    double trips = 0, needed = 0; // K as measured: it surely trips below; safety temperature and tolerance
    const check::Interlock* by = nullptr; // the one that trips at the highest; nullptr: none does
    bool holds() const { return trips >= needed; }
};
/// Nothing for a line without flammable gas, or whose gas has no safety temperature.
std::optional<Cutoff> cold_cutoff(const check::Model& model, const check::Rig& rig, timeline::Index line,
                                  const plant::Plant& plant);

/// What an interlock watches; nothing where it cannot be told, which `out`, if given, then reports. What is not
/// in this rig is not in its tube. Without a timeline no gas is known.
std::optional<timeline::Condition> condition_of(const check::Model& model, const check::Rig& rig,
                                                const timeline::Timeline* timeline,
                                                const check::Interlock& interlock, Diagnostics* out = nullptr);

/// ", opens argon": the inert line to name in an interlock, a used one where there is one; empty where the rig
/// has none.
std::string opens_inert(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline);

} // namespace athanor::prove
