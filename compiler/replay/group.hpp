#pragma once
#include "compiler/program/program.hpp"
#include "compiler/timeline/timeline.hpp"

#include <string>
#include <vector>

/// The recipe as an observer of the controller can tell it apart: neighbouring spans that differ in nothing
/// that acts are one group.
namespace athanor::replay {

enum class GroupKind : std::uint8_t { hold, line, off, jump, person };

/// One of several natural coolings that go on below one another.
struct Cooling {
    std::vector<double> to; // K, per zone
    double crossing = 0;    // K at which it ends: its target, or what is passed on the way
    double longest = 0;     // s
};

struct Group {
    GroupKind kind = GroupKind::hold;
    std::size_t first = 0, last = 0; // half-open range of spans
    std::vector<timeline::Law> laws; // per zone: from of the first span, to of the last one
    timeline::Index state = 0;
    double band = 0;   // K, 0 = none
    Interval duration; // s; with a band the time that counts
    /// s by which a table may differ from `duration` because times are rounded.
    double shorter = 0, longer = 0;
    /// s by which what is worked out may be longer still: it is worked out again behind rounded segments. The
    /// bound is no more than a guard against a lost digit; an `at most` of the recipe is one in earnest.
    double growth = 0;
    bool limited = false;          // by an `at most`
    bool pressing = false;         // it waits for a pressure: longer is more gas in the tube, or less
    std::vector<Cooling> coolings; // of an `off`
    /// K, per zone: where a line waits in its band before it goes on.
    std::vector<std::vector<double>> stops;
};

/// `tolerance`: s by which a rounded time may differ; `step`: s, one step of the controller's dwells.
std::vector<Group> groups_of(const timeline::Timeline& timeline, double tolerance, double step);

/// "recipe step ramp 2", for messages.
std::string step_name(const timeline::Timeline& timeline, std::size_t span);

} // namespace athanor::replay
