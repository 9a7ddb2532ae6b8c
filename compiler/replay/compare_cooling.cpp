// Natural cooling: the recipe switches the heater off; a controller steps its set-point down and waits.
#include "compiler/replay/compare.hpp"

#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include <fmt/format.h>

namespace athanor::replay {

/// How far a group of coolings, one below the other, has come beside the run.
struct Walk::Cooled {
    std::vector<double> level; // degC, where the set-point stands
    std::size_t reach = 0;     // coolings that may end there
    std::size_t done = 0;      // coolings that are over
    double have = 0;           // s that count for the next cooling
    double needless = 0;       // s that count for none
    bool moved = false;
};

/// s that the coolings which are not over need, up to the one before `last`.
double Walk::still_due(const Cooled& cooled, std::size_t last) const {
    double sum = 0;
    for (std::size_t i = cooled.done; i < last; ++i) sum += group().coolings[i].longest;
    return sum;
}

bool Walk::off() {
    const Group& g = group();
    const std::size_t count = g.coolings.size();
    const RowName where = more() ? stretch().row() : end_of_table;
    Cooled cooled;
    cooled.level = more() ? stretch().from_degC : std::vector<double>(zones_, 0.0);
    cooled.reach = reached_at(cooled.level);
    bool waited = false; // in its band, until the last cooling was over
    while (more() && !waited) {
        const Stretch& s = stretch();
        if (s.kind == Stretch::Kind::jump) {
            if (arrived(cooled, s)) break;
            step_down(cooled, s);
            waited = cooled.done == count;
        } else if (s.kind != Stretch::Kind::hold || s.band_K > 0 || !wait_for_cooling(cooled, s)) {
            break;
        }
    }
    if (!cooled.moved && cooled.have == 0) return lost();
    if (!ends_at(count - 1, cooled.level))
        say(where, fmt::format("it steps to {:g} °C, the recipe cools to {}", cooled.level[0],
                               temperature(g.laws[0].to)));
    if (waited) return true;
    const double due = still_due(cooled, count), spent = cooled.have + cooled.needless;
    const auto waits = [&](double have, const char* may) {
        const auto [is, most] = apart([&](int digits) {
            return std::pair{to_text(have, Kind::time, digits), to_text(due, Kind::time, digits)};
        });
        say(where, fmt::format("it waits {}, cooling {} {}", is, may, most));
    };
    taken_[at_].seconds = spent;
    taken_[at_].row = where;
    const double most = own_ ? std::max((*own_)[at_].seconds, due + g.longer) : due + g.longer + g.growth;
    if (cooled.have < due - g.shorter - second)
        waits(cooled.have, "may take");
    else if (spent > most + second)
        waits(spent, "takes at most");
    return true;
}

/// Whether the set-point is where the last cooling ends, so that the step `s` belongs to what follows. Two
/// coolings may end within the budget of each other, or go to one set-point: while time is due, a step that is
/// no further from the second one is still awaited.
bool Walk::arrived(const Cooled& cooled, const Stretch& s) const {
    const std::size_t last = group().coolings.size() - 1;
    if (!cooled.moved || !ends_at(last, cooled.level)) return false;
    const bool awaited = cooled.have < still_due(cooled, last + 1) - second &&
                         off_by(last, s.to_degC) <= off_by(last, cooled.level);
    return !awaited;
}

void Walk::step_down(Cooled& cooled, const Stretch& s) {
    check_outputs(s);
    check_step_down(s);
    const std::vector<Cooling>& all = group().coolings;
    // Time at a set-point helps no cooling below it.
    for (; cooled.done < cooled.reach && cooled.have >= all[cooled.done].longest - second; ++cooled.done)
        cooled.have -= all[cooled.done].longest;
    if (cooled.done >= cooled.reach) cooled.needless += std::exchange(cooled.have, 0.0);
    cooled.moved = true;
    cooled.level = s.to_degC;
    cooled.reach = reached_at(cooled.level);
    if (s.band_K > 0) {
        const std::size_t ends = ending_at(cooled.level, cooled.done);
        waits_in_band(s, ends, still_due(cooled, ends + 1));
        if (ends_at(ends, cooled.level)) {
            cooled.done = ends + 1;
            cooled.have = 0;
        }
    }
    advance();
}

/// A hold at a level; false where it is not, or no longer, this group's.
bool Walk::wait_for_cooling(Cooled& cooled, const Stretch& s) {
    const Group& g = group();
    const double due = still_due(cooled, g.coolings.size());
    if (!shows(s, state(g)) && cooled.have >= due - g.shorter - second) return false;
    const bool shared = fits_next(s) && next_may_share();
    if (cooled.have >= due - second && (shared || next_stays(cooled.level))) return false;
    check_outputs(s);
    if (shared && left() > due - cooled.have + second) {
        used_ += due - cooled.have;
        cooled.have = due;
        carried_ += g.longer + g.growth;
        return false;
    }
    cooled.have += left();
    advance();
    return true;
}

/// The next group is a line too short to move the set-point: a hold stands for it.
bool Walk::next_stays(const std::vector<double>& level_degC) const {
    const Group* next = next_group();
    if (!next || next->kind != GroupKind::line) return false;
    for (std::size_t z = 0; z < zones_; ++z)
        if (std::abs(next->laws[z].to - zero_celsius - level_degC[z]) > near_) return false;
    return true;
}

/// A step that waits in its band until `cooling` is over, which may take `longest` s.
void Walk::waits_in_band(const Stretch& s, std::size_t cooling, double longest) {
    // It goes on as soon as the band is reached, above the temperature that the recipe waits for.
    if (s.band_K > budget_ + 1e-6)
        say(s.row(), fmt::format("it goes on {:g} K above {:g} °C, the recipe waits for {}", s.band_K,
                                 s.to_degC[0], temperature(group().coolings[cooling].crossing)));
    if (s.longest_wait_s > 0 && s.longest_wait_s < longest)
        say(s.row(), fmt::format("the controller gives up after {}, cooling may take {}",
                                 seconds(s.longest_wait_s), seconds(longest)));
}

/// K between a level and the end of a cooling: its target, or the crossing that ends it.
double Walk::off_by(std::size_t cooling, const std::vector<double>& level_degC) const {
    const Cooling& c = group().coolings[cooling];
    double target = 0, crossing = 0;
    for (std::size_t z = 0; z < zones_; ++z) {
        target = std::max(target, std::abs(level_degC[z] + zero_celsius - c.to[z]));
        crossing = std::max(crossing, std::abs(level_degC[z] + zero_celsius - c.crossing));
    }
    return std::min(target, crossing);
}

bool Walk::ends_at(std::size_t cooling, const std::vector<double>& level_degC) const {
    return off_by(cooling, level_degC) <= budget_ + 1e-6;
}

/// How many of the coolings, one below the other, end no lower than a level.
std::size_t Walk::reached_at(const std::vector<double>& level_degC) const {
    const auto above = [&](const Cooling& c) {
        for (std::size_t z = 0; z < zones_; ++z)
            if (level_degC[z] + zero_celsius > std::max(c.to[z], c.crossing) + budget_ + 1e-6) return false;
        return true;
    };
    const std::vector<Cooling>& all = group().coolings;
    return static_cast<std::size_t>(std::find_if_not(all.begin(), all.end(), above) - all.begin());
}

/// The cooling that ends nearest to a level, of those from `first` on; of two the later one.
std::size_t Walk::ending_at(const std::vector<double>& level_degC, std::size_t first) const {
    std::size_t best = first;
    for (std::size_t i = first; i < group().coolings.size(); ++i)
        if (off_by(i, level_degC) <= off_by(best, level_degC)) best = i;
    return best;
}

void Walk::check_step_down(const Stretch& s) {
    for (std::size_t z = 0; z < zones_; ++z) {
        // Where a programme starts from a set-point of its own, the furnace is still where the recipe left
        // it.
        const double from = from_own_start(run_, now_, program_.controller) ? group().laws[z].from
                                                                            : s.from_degC[z] + zero_celsius;
        const double to = s.to_degC[z] + zero_celsius;
        if (to > from + near_ || to < group().laws[z].to - budget_ - 1e-6)
            return say(s.row(), fmt::format("a step to {}, the recipe cools to {}", temperature(to),
                                            temperature(group().laws[z].to)));
    }
}

} // namespace athanor::replay
