#pragma once
#include "compiler/replay/group.hpp"
#include "compiler/replay/outputs.hpp"
#include "compiler/replay/person.hpp"
#include "compiler/replay/replay.hpp"
#include "compiler/replay/stretch.hpp"

#include <algorithm>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

/// A run and a recipe side by side: which stretches stand for which of the recipe's groups, and every
/// difference between them.
namespace athanor::replay {

/// What a run takes of one group's tolerances.
struct Taken {
    double off = 0;     // K, its set-point from the recipe's
    double seconds = 0; // of a wait
    RowName row{0, 0};
};

class Walk {
public:
    /// `own`: what the recipe's own programme takes, one for each group; null: no such programme is at hand.
    Walk(const Run& run, const timeline::Timeline& timeline, const program::Program& program, double budget,
         bool hands, bool texts, const std::vector<Taken>* own = nullptr);

    std::vector<Finding> compare();
    const std::vector<Taken>& taken() const { return taken_; }
    /// Waits that are not as long as those of `own`.
    std::vector<OtherWait> other_waits() const;

private:
    /// s, what sums of exact times may lose in a double.
    static constexpr double second = 1e-6;

    // --- compare.cpp: where both stand, and what is told ------------------------------------------

    const Group& group() const { return groups_[at_]; }
    const Group* next_group() const { return at_ + 1 < groups_.size() ? &groups_[at_ + 1] : nullptr; }
    const timeline::State& state(const Group& g) const { return timeline_.states[g.state]; }
    bool more() const { return now_ < run_.stretches.size(); }
    const Stretch& stretch() const { return run_.stretches[now_]; }
    double left() const { return stretch().duration_s - used_; }
    void advance() {
        ++now_;
        used_ = 0;
    }
    std::size_t index_of(const Stretch& s) const {
        return static_cast<std::size_t>(&s - run_.stretches.data());
    }

    /// `words`: it is in what the row tells a person.
    void say(RowName row, const std::string& text, bool words = false);
    void whole(std::string message);
    /// The two no longer run side by side; more messages would only follow from this one.
    bool lost();

    bool shows(const Stretch& s, const timeline::State& wanted) const;
    void check_outputs(const Stretch& s);
    std::vector<std::string> by_hand(const Stretch& s, const timeline::State& wanted) const;
    void say_hand(RowName row, std::string text);
    void check_hands(const Stretch& s);

    void inserted();
    bool begins_staircase() const;
    bool parts_unseen(timeline::Index first, timeline::Index behind) const;
    bool begins_run() const;
    bool brings_to_start() const;
    void check_start(const Stretch& s);

    bool jump();
    const Group* past_no_wait(std::size_t i, const Stretch& s) const;
    bool person();
    void check_end(const program::Part& part);
    void ending();

    // --- compare_texts.cpp: what a person reads ---------------------------------------------------

    std::size_t begun() const;
    bool begins_row(std::size_t i) const;
    const std::string& instruction(const Stretch& s) const;
    void check_texts(std::size_t from);

    // --- compare_holds.cpp: levels, bands and times, and the holds that have no more ---------------

    double allowed() const;
    void note_off(double kelvin) { taken_[at_].off = std::max(taken_[at_].off, kelvin); }
    double longest(const Group& g, double hi) const;
    std::string zone(std::size_t z) const { return zones_ > 1 ? " of " + timeline_.zones[z] : ""; }
    void check_level(const Stretch& s, double slack);
    void check_band(const Stretch& s) { check_band(s, group().band); }
    void check_band(const Stretch& s, double want);
    bool stands_for(double have, double want) const;
    bool waits_as(const Stretch& s, const Group& g) const;
    bool in_band_already() const;
    void check_time(RowName where, double have, double lo, double hi);
    void check_wait(RowName where, double have, double lo, double hi);
    bool next_may_share() const;
    bool fits_next(const Stretch& s) const;
    bool hold();

    // --- compare_lines.cpp: ramps -----------------------------------------------------------------

    double wanted(std::size_t z, double t) const;
    void check_path(const Stretch& s, double began);
    bool reached(const std::vector<double>& setpoint_degC) const;
    bool shortest(const Stretch& s) const;
    void pass_stops(const Stretch& s, std::size_t& stop);
    void band_behind(const Stretch& last);
    double end_time(std::size_t z, double have_degC, double want) const;
    bool line();

    // --- compare_cooling.cpp: natural cooling -----------------------------------------------------

    struct Cooled;
    double still_due(const Cooled& cooled, std::size_t last) const;
    bool arrived(const Cooled& cooled, const Stretch& s) const;
    void step_down(Cooled& cooled, const Stretch& s);
    bool wait_for_cooling(Cooled& cooled, const Stretch& s);
    bool off();
    bool next_stays(const std::vector<double>& level_degC) const;
    void waits_in_band(const Stretch& s, std::size_t cooling, double longest);
    double off_by(std::size_t cooling, const std::vector<double>& level_degC) const;
    bool ends_at(std::size_t cooling, const std::vector<double>& level_degC) const;
    std::size_t reached_at(const std::vector<double>& level_degC) const;
    std::size_t ending_at(const std::vector<double>& level_degC, std::size_t first) const;
    void check_step_down(const Stretch& s);

    const Run& run_;
    const timeline::Timeline& timeline_;
    const program::Program& program_;
    const bool texts_; // free texts are compared
    const double budget_;
    Outputs outputs_;
    std::optional<Hands> hands_; // nothing: what is set by hand is not compared
    double step_;                // s, of the controller's dwells
    double near_;                // K, half a step of the set-point
    std::vector<Group> groups_;
    std::size_t zones_;
    const std::vector<Taken>* own_;
    std::vector<Taken> taken_;   // one for each group
    std::size_t first_move_ = 0; // the first group that moves the set-point

    std::size_t at_ = 0, now_ = 0; // group, stretch
    double used_ = 0;              // s of the stretch that earlier groups took
    double carried_ = 0;           // s of rounding that a shared segment brings to its second part
    std::string needed_;           // texts of the steps that no row has begun yet
    std::vector<Finding> messages_;
    std::set<std::pair<RowName, std::string>> said_;
    std::set<std::string> by_hand_;
};

/// Where a fault stands that no row has: the recipe goes on behind the last one.
inline constexpr RowName end_of_table{0, 0};

/// Figures of messages.
std::string temperature(double kelvin);
std::string seconds(double value);

/// Two figures that differ, in as few digits as show it: `texts(digits)` makes both.
template<class Texts>
std::pair<std::string, std::string> apart(const Texts& texts) {
    constexpr int enough = 6, most = 15;
    std::pair<std::string, std::string> both = texts(enough);
    for (int digits = enough + 1; digits <= most && both.first == both.second; ++digits) both = texts(digits);
    return both;
}

} // namespace athanor::replay
