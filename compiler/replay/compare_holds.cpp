// Levels, soak bands and times of a stretch, and the holds that consist of nothing else.
#include "compiler/replay/compare.hpp"

#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include <fmt/format.h>

namespace athanor::replay {

/// K by which a set-point may be off. A soak band is no tolerance of it, though the legaliser may use it up
/// where the controller's values are coarse: then as much as the recipe's own programme uses.
double Walk::allowed() const {
    double most = group().band > 0 ? std::max(group().band, near_) : budget_;
    // A controller that starts from a set-point of its own starts no nearer to the recipe's than its values
    // lie.
    if (!own_ && !program_.controller.starts_from_measured && at_ <= first_move_) most = std::max(most, near_);
    return own_ ? std::min(most, std::max(budget_, (*own_)[at_].off)) : most;
}

/// s that a wait of at most `hi` may be keyed with.
double Walk::longest(const Group& g, double hi) const {
    if (!own_) return hi + g.longer + g.growth;
    const double rounded = hi + (g.limited ? 0 : g.longer),
                 own = (*own_)[static_cast<std::size_t>(&g - groups_.data())].seconds;
    // Gas that goes on flowing into a shut tube overfills it; the time is that of the recipe's own programme.
    return g.pressing ? std::max(own, hi) : std::max(own, rounded + g.growth);
}

void Walk::check_level(const Stretch& s, double slack) {
    for (std::size_t z = 0; z < zones_; ++z) {
        double have = s.to_degC[z] + zero_celsius, want = group().laws[z].to;
        note_off(std::abs(have - want));
        if (std::abs(have - want) > slack + 1e-6)
            return say(s.row(), fmt::format("the set-point{} is {}, the recipe has {}", zone(z),
                                            temperature(have), temperature(want)));
    }
}

void Walk::check_band(const Stretch& s, double want) {
    if (want == 0 && s.band_K == 0) return;
    if (want == 0) return say(s.row(), fmt::format("a soak band of {:g} K, the recipe has none", s.band_K));
    if (s.band_K == 0) return say(s.row(), fmt::format("no soak band, the recipe has {:g} K", want));
    if (!stands_for(s.band_K, want))
        say(s.row(), fmt::format("a soak band of {:g} K, the recipe has {:g} K", s.band_K, want));
}

/// The band `have` is what the controller's grid leaves of `want`; a band never rounds up.
bool Walk::stands_for(double have, double want) const {
    const std::optional<Grid>& grid = program_.controller.soak_band;
    return have > 0 && have <= want + 1e-9 && grid &&
           (want - have < grid->step.value() - 1e-9 || have >= grid->hi.value() - 1e-9);
}

bool Walk::waits_as(const Stretch& s, const Group& g) const {
    return g.band > 0 ? stands_for(s.band_K, g.band) : s.band_K == 0;
}

/// What ran last has waited at the group's set-point in a band as narrow: nothing is left to wait for.
bool Walk::in_band_already() const {
    const Stretch* last = waited_last(run_, now_, used_);
    if (last == nullptr) return false;
    for (std::size_t z = 0; z < zones_; ++z) {
        const double off = std::abs(last->to_degC[z] + zero_celsius - group().laws[z].to);
        if (last->band_K + std::max(0.0, off - near_) > group().band + 1e-9) return false;
    }
    return true;
}

void Walk::check_time(RowName where, double have, double lo, double hi) {
    const Group& g = group();
    const double most = g.kind == GroupKind::hold ? longest(g, hi) : hi + g.longer;
    const bool shorter = have < lo - g.shorter - second;
    if (!shorter && have <= most + second) return;
    const auto [is, due] = apart([&](int digits) {
        return std::pair{to_text(have, Kind::time, digits), to_text(g.duration, Kind::time, digits)};
    });
    say(where, fmt::format("it takes {}, the recipe {} {}", is, shorter ? "needs" : "has", due));
}

/// A hold's own time is remembered beside what is wrong with it.
void Walk::check_wait(RowName where, double have, double lo, double hi) {
    taken_[at_].seconds = have;
    taken_[at_].row = where;
    check_time(where, have, lo, hi);
}

/// The next group is a hold that a table may have put into the same segment.
bool Walk::next_may_share() const {
    const Group* next = next_group();
    if (!next || next->kind != GroupKind::hold || next->band != group().band) return false;
    for (std::size_t z = 0; z < zones_; ++z)
        if (std::abs(next->laws[z].to - group().laws[z].to) > near_) return false;
    return true;
}

bool Walk::fits_next(const Stretch& s) const {
    const Group* next = next_group();
    return next && next->kind == GroupKind::hold && shows(s, state(*next)) && waits_as(s, *next);
}

bool Walk::hold() {
    const Group& g = group();
    double have = 0;
    const std::size_t first = now_;
    const RowName where = more() ? stretch().row() : end_of_table;
    while (more() && stretch().kind == Stretch::Kind::hold) {
        const Stretch& s = stretch();
        bool enough = have >= g.duration.lo - g.shorter - second;
        bool fits = shows(s, state(g)) && waits_as(s, g);
        bool shared = next_may_share() && shows(s, state(*next_group()));
        // What no longer looks like this group is the next one's, once this one has had its time.
        if (!fits && (enough || (have > 0 && fits_next(s)))) break;
        if (shared && have >= g.duration.hi - second && have > 0) break;
        if (enough && g.duration.hi == 0 && fits_next(s)) break;
        // One segment more than this group has time for stands for something else.
        if (enough && have > 0 && !shared && have + left() > longest(g, g.duration.hi + carried_) + second)
            break;
        check_outputs(s);
        check_band(s);
        check_level(s, allowed());
        if (shared && left() > g.duration.hi - have + second) {
            double part = std::max(0.0, g.duration.hi - have);
            // Rounding of the two together falls into the second.
            used_ += part;
            have += part;
            carried_ += g.longer + (own_ && g.pressing ? 0 : g.growth);
            check_wait(where, have, g.duration.lo, g.duration.hi);
            return true;
        }
        have += left();
        advance();
    }
    if (have == 0 && g.duration.lo > g.shorter) return lost();
    if (now_ == first && have == 0 && g.band > 0 && !in_band_already())
        say(where, fmt::format("no soak band, the recipe has {:g} K", g.band));
    check_wait(where, have, g.duration.lo, g.duration.hi + std::exchange(carried_, 0.0));
    return true;
}

} // namespace athanor::replay
