#pragma once
#include "tests/mutation/condition.hpp"

#include <functional>
#include <optional>
#include <string>

/// What makes a simulated run unsafe, decided without the prover and without the policy.
namespace athanor::mutation {

enum class Harm {
    cold_fuel,          // flammable gas and a point of the hot zone below the safety temperature; no failure
    fuel_and_oxygen,    // over 25 % of the lower limit together with over 1 % oxygen, at one place
    unburnt,            // leaves the tube without a flame; after a failure: without extraction either
    cold_after_failure, // below the safety temperature with air in it, with no inert flow, or fed with fuel
    opened_or_pumped,   // tube opened, pump started or the run ended with fuel in the tube
    over_rated,         // pressure over what seals and tube are rated for
    requirement         // a `require` or `expect` that this rig breaks
};
std::string_view name(Harm harm);

struct Danger {
    Harm harm{};
    double time = 0; // s since the start
    std::string text;
};

/// One run, without a failure or with one, and what was in the tube.
struct Verdict {
    std::optional<Danger> danger;
    std::vector<double> exposed; // instants at which gas of a flammable line was in the tube, s
    double coldest_at = 0;       // the one of them at which the hot zone was coldest
};

/// `failed`: the run ends with what follows a failure of power.
Verdict judge(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
              const simulator::Draw& draw, const simulator::Trajectory& run, bool failed);

/// The first danger in a number of drawn rigs, each without a failure and then with failures where they matter.
struct Search {
    unsigned seed = 1;
    std::size_t draws = 4, faults = 4; // faults in every second draw
    /// Sees each run, with whether the power fails in it.
    std::function<void(const simulator::Draw&, const simulator::Trajectory&, bool)> look{};
};
struct Found {
    Danger danger;
    simulator::Draw draw;
    std::optional<simulator::Fault> fault;
};
struct Effort {
    std::size_t runs = 0, faults = 0, steps = 0, given_up = 0;
};
std::optional<Found> search(const check::Model& model, const check::Rig& rig,
                            const timeline::Timeline& timeline, const Search& how, Effort& effort);

} // namespace athanor::mutation
