#pragma once
#include <cstddef>
#include <vector>

namespace athanor::check {

/// How a number goes while one parameter runs through its range and all others stand still.
struct Way {
    bool depends = false;
    bool straight = true; // a straight line: sums and fixed multiples of such never turn
    bool turns = false;   // may rise in one part of the range and fall in another
    int sign = 0;         // 1 rises, -1 falls, 0 not known which of the two
    bool operator==(const Way&) const = default;
};

/// One for each parameter that has a range.
using Ways = std::vector<Way>;

/// Of a + b. What rises and what falls may turn together, but for two straight lines.
Way sum(Way a, Way b);
Way opposite(Way a);
/// Of a number times a factor that does not depend on the parameter and has this sign; 0: not known.
Way scaled(Way a, int sign);
/// Of the least or the greatest of several: no straight line any more.
Way extreme(const std::vector<Way>& of);
/// Of a number that may be any of several.
Way any_of(Way a, Way b);

Ways sum(const Ways& a, const Ways& b);
Ways difference(const Ways& a, const Ways& b);
bool any_depends(const Ways& ways);
bool any_turns(const Ways& ways);
/// Do both depend on one parameter, and not both along straight lines? Their quotient may then turn.
bool quotient_turns(const Ways& a, const Ways& b);
/// Do both depend on one parameter? Their product may then turn.
bool share_a_parameter(const Ways& a, const Ways& b);

} // namespace athanor::check
