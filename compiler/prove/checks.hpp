#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/program/program.hpp"
#include "compiler/prove/fault.hpp"
#include "compiler/prove/hazards.hpp"
#include "compiler/prove/prove.hpp"
#include "compiler/prove/walk.hpp"

#include <functional>
#include <optional>
#include <string>
#include <vector>

/// Rules that need C++: what rig, tube, room, cylinder and controller can stand. Facts of chemistry and of
/// materials come from the declarations; here are physics and logic. Of these rules a site may concede
/// `condensation` and `material_attacked` alone.
namespace athanor::prove {

/// What the checks look at: a walked timeline on a rig, span by span.
class Scene : public Hazards {
public:
    Scene(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
          const plant::Plant& plant, const Walk& walk, const Aborts& aborts,
          const program::Controller* controller, const Files& files, Diagnostics& out, std::vector<Row>& rows);

    const Walk& walk;
    const Aborts& aborts;
    const program::Controller* controller; // nullptr: none is named
    double run_ends = infinity;            // s: what comes from here on comes behind the end
    const Files& files;
    Diagnostics& out;
    std::vector<Row>& rows; // one per rule that applied

    std::size_t spans() const { return timeline.spans.size(); }
    const timeline::State& discrete(std::size_t span) const {
        return timeline.states[timeline.spans[span].state];
    }
    athanor::Span source(std::size_t span) const { return timeline.spans[span].source; }
    /// Bounds over the whole of a span.
    KeptState over(std::size_t span) const { return walk.over(span); }
    /// What whole spans come to at most, worked out when it is first asked for: what some rule looks for may be
    /// nowhere in the run.
    struct Extremes {
        double hottest = 0;         // K, of the hot zone
        std::size_t hottest_at = 0; // the first span that comes to it
        double inflow = 0;          // mol/s
        bool evacuated = false;     // in some span
    };
    const Extremes& extremes() const;

    using Predicate = std::function<bool(const plant::State&, const timeline::State&)>;
    struct Found {
        std::size_t span = 0;
        double at_s = 0; // nominal instant
        plant::State state;
    };
    /// The first place where a state may be so. The predicate must hold for a wider state wherever it holds for
    /// a narrower one: a span is halved, so that what never happens together is not reported as such.
    std::optional<Found> first(const Predicate& predicate) const;
    std::optional<Found> first_in(std::size_t span, const Predicate& predicate) const;

    using Hazards::may_be_open;
    bool may_be_open(timeline::Index line, std::size_t span) const {
        return may_be_open(line, over(span), discrete(span));
    }
    /// mol/s through one line, greatest and least.
    Interval flow(timeline::Index line, const plant::State& state, const timeline::State& discrete) const;
    /// The statement that opens a line first, or the first span in which it may be open.
    athanor::Span opened_at(timeline::Index line) const;
    /// What opens a line or starts the pump at a span's entry; the span's own statement where nothing does.
    athanor::Span entered_by(std::size_t span) const;
    std::optional<timeline::Index> species(std::string_view name) const;
    /// A tube that a person is to open: they may do it at once or after any time, in which it stays shut and
    /// what the wait begins with goes on: a pump, a flow, a set-point that moves, a load that gives gas off.
    /// Opening lets air in, so what they meet is what was there before.
    struct Opening {
        timeline::State was, shut;
        plant::State before, meanwhile; // in `was` and in `shut`
    };
    /// Nothing where the span does not open it.
    std::optional<Opening> opening(std::size_t span) const;
    /// What comes behind the end, for as long as nobody does: the rig stays as the run leaves it, or falls as
    /// without power.
    struct Behind {
        timeline::State discrete;
        plant::State state;
    };
    Behind behind_end() const;
    /// A person takes the hot load out: on purpose, and the last thing of its run.
    bool quenches(std::size_t span) const;
    /// As `prove::inert_line`, of this rig.
    std::string inert_line() const;

    /// A step before a span, or the end, that surely leaves the tube no hotter than this: natural cooling
    /// further than the recipe has it, else a longer hold; empty where neither is sure.
    std::string colder(std::size_t before, double limit) const;

    /// "at 04:18:18 of the run", or that it is behind the end.
    std::string moment(double at_s) const;
    std::string place(athanor::Span span) const { return files.place_line(span); }
    Row& row(std::string rule, std::string title, bool holds, std::string margin, double at_s,
             athanor::Span source);

private:
    mutable std::optional<Extremes> extremes_;
    bool halve(std::size_t span, double from, double to, unsigned depth, const Predicate& predicate,
               Found& found) const;
};

// One subject each; rows and findings go into the scene.
void check_supervision(Scene& scene);  // wait_without_end, power_return, no_low_temperature_cutoff
void check_hands(Scene& scene);        // hand_not_waited_for
void check_interlocks(Scene& scene);   // interlock_acts
void check_overpressure(Scene& scene); // closed_tube_heated, no_relief
void check_outlet(Scene& scene);       // outlet_too_narrow
void check_toxic(Scene& scene);        // toxic_not_vented, opening_tube
void check_enriched(Scene& scene);     // opening_tube
void check_load_oxidiser(Scene& scene);
void check_load(Scene& scene);      // fuel that the load gives off: rules of a flammable line
void check_lean(Scene& scene);      // fuel in a gas that is not flammable when cold: the same rules when hot
void check_opening(Scene& scene);   // opening_tube, opened_hot
void check_end(Scene& scene);       // ends_hot, ends_evacuated
void check_cylinders(Scene& scene); // cylinder_too_small
void check_condensation(Scene& scene);
void check_materials(Scene& scene); // material_attacked
void check_room(Scene& scene);      // asphyxiation, oxygen_enrichment
void check_exposure(Scene& scene);  // room_exposure
void check_words(Scene& scene);     // words_unproven
void check_pump(Scene& scene);      // oxygen_to_pump, pump_vents_back
void check_tube(Scene& scene);      // tube_vacuum_limit, beyond_tube
void check_seals(Scene& scene);     // seals_too_hot, needs_interlock of the coolant
void check_rates(Scene& scene);     // tube_shock, rate_beyond_furnace of the rounded ramps; no rows

/// A relief that keeps the tube under the rating of seals and tube, as a rig declares it; empty where none is
/// rated.
std::string relief_to_fit(const check::Rig& rig);

/// All of them.
std::vector<Row> check_equipment(const check::Model& model, const check::Rig& rig,
                                 const timeline::Timeline& timeline, const plant::Plant& plant,
                                 const Walk& walk, const Aborts& aborts, const program::Controller* controller,
                                 const Files& files, Diagnostics& out);

} // namespace athanor::prove
