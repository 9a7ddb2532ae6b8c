#pragma once
#include "compiler/check/model.hpp"
#include "tests/simulator/simulate.hpp"

/// What a recipe asks for, judged on one instant of one simulated rig.
namespace athanor::mutation {

/// An instant with what is switched then.
struct Instant {
    const check::Model& model;
    const check::Rig& rig;
    const timeline::Timeline& timeline;
    const timeline::State& state;
    const simulator::Draw& draw;
    const simulator::Sample& sample;
};

/// The condition at every place of the tube: sensors and loads of all zones, free gas and pores. Numbers count
/// as met inside `slack` of the simulator; `unknown` where a signal is asked for that it does not have.
enum class Truth { everywhere, somewhere, nowhere, unknown };
Truth truth(const timeline::Condition& condition, const Instant& instant, bool generous);

/// Fuel over its lower limit in air, free gas or pores; limits as declared.
double fuel(const Instant& instant, bool pores);
double fraction(const Instant& instant, std::string_view gas, bool pores);

} // namespace athanor::mutation
