#include "compiler/check/way.hpp"

#include <algorithm>

namespace athanor::check {

namespace {

template<class Of>
Ways each(const Ways& a, const Ways& b, Of of) {
    Ways ways(std::max(a.size(), b.size()));
    for (std::size_t i = 0; i < ways.size(); ++i)
        ways[i] = of(i < a.size() ? a[i] : Way{}, i < b.size() ? b[i] : Way{});
    return ways;
}

template<class Of>
bool any(const Ways& a, const Ways& b, Of of) {
    for (std::size_t i = 0; i < std::min(a.size(), b.size()); ++i)
        if (a[i].depends && b[i].depends && of(a[i], b[i])) return true;
    return false;
}

} // namespace

Way sum(Way a, Way b) {
    if (!a.depends) return b;
    if (!b.depends) return a;
    Way both{true, a.straight && b.straight, a.turns || b.turns, a.sign == b.sign ? a.sign : 0};
    both.turns = both.turns || (!both.straight && both.sign == 0);
    return both;
}

Way opposite(Way a) {
    a.sign = -a.sign;
    return a;
}

Way scaled(Way a, int sign) {
    a.sign *= sign;
    return a;
}

Way extreme(const std::vector<Way>& of) {
    Way all;
    std::size_t dependent = 0;
    for (const Way& way : of) {
        if (!way.depends) continue;
        all = {true, false, all.turns || way.turns, ++dependent == 1 || way.sign == all.sign ? way.sign : 0};
    }
    all.turns = all.turns || (dependent > 1 && all.sign == 0);
    return all;
}

Way any_of(Way a, Way b) {
    if (!a.depends) return b;
    if (!b.depends) return a;
    return {true, a.straight && b.straight, a.turns || b.turns, a.sign == b.sign ? a.sign : 0};
}

Ways sum(const Ways& a, const Ways& b) {
    return each(a, b, [](Way x, Way y) { return sum(x, y); });
}

Ways difference(const Ways& a, const Ways& b) {
    return each(a, b, [](Way x, Way y) { return sum(x, opposite(y)); });
}

bool any_depends(const Ways& ways) {
    return std::any_of(ways.begin(), ways.end(), [](const Way& w) { return w.depends; });
}

bool any_turns(const Ways& ways) {
    return std::any_of(ways.begin(), ways.end(), [](const Way& w) { return w.turns; });
}

bool quotient_turns(const Ways& a, const Ways& b) {
    return any(a, b, [](Way x, Way y) { return !x.straight || !y.straight; });
}

bool share_a_parameter(const Ways& a, const Ways& b) {
    return any(a, b, [](Way, Way) { return true; });
}

} // namespace athanor::check
