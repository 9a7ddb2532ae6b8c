#pragma once
#include "compiler/elaborate/elaborate.hpp"
#include "compiler/elaborate/states.hpp"
#include "compiler/elaborate/values.hpp"
#include "compiler/quantity/few.hpp"
#include "compiler/quantity/unit.hpp"

#include <array>
#include <string>
#include <string_view>
#include <unordered_map>
#include <utility>
#include <vector>

/// The working parts of `elaborate`, private to this folder.
/// The recipe is walked twice by the same code. The survey evaluates only what shapes the expansion (counts,
/// lists, conditions): an expansion that is too large is refused before any physics is computed. The second
/// walk emits spans and asks the plant for each of them.
namespace athanor::elaborate {

using check::Clause;
using check::ClauseKind;
using check::Statement;
using check::StatementId;
using check::StatementKind;

/// How one zone moves in a step.
struct ZonePlan {
    timeline::LawKind law = timeline::LawKind::hold;
    double from = 0, to = 0; // K
    double rate = 0;         // K/s, signed; only for `line`
    double length = 0;       // s; only for `line`
    athanor::Span target{};  // where the target stands in the text
};

using Laws = Few<timeline::Law>; // one a zone

/// One step before it is cut at the actions placed inside it.
struct Step {
    Few<ZonePlan> zones; // one a zone
    timeline::Ending ending;
    const Statement* statement = nullptr;
    double passed = 0;                              // s of it that placed actions have cut off
    std::uint8_t defaulted = 0;                     // bits of timeline::defaulted
    bool by_way = false;                            // its length, or a part's, follows from how far it goes
    Code unreachable = Code::condition_unreachable; // what is reported when the plant says it never ends
    athanor::Span instant; // the `at T` that a piece of a cooling goes down to; empty: its own end
};

/// An action placed inside a step by `at T` or `after D`.
struct Placed {
    bool by_temperature = false;
    double value = 0; // K or s
    StatementId action = 0;
    athanor::Span span;
    athanor::Span instant{}; // where it says when
};

inline std::string degrees(double kelvin) {
    return to_text(kelvin, Kind::temperature);
}

struct BlendPart;
class BlendSources;

/// A blend that is being opened.
struct Blended {
    std::vector<Index> lines;
    std::vector<double> flows; // mol/s
    double total = 0;          // mol/s
    bool inside = true;        // of what the meters set; else it was reported
    athanor::Span written;     // where its total stands
    Index read_on = none;      // line by whose meter a total in volume is read; none: an amount of gas
};

/// What one line was used for in the run at hand.
struct LineInRun {
    double last = 0;           // mol/s, the flow that was set last
    double by_hand = 0;        // mol/s, to which a person sets its meter; 0: not yet
    athanor::Span set_first;   // where that was; file = none: not yet
    std::string written;       // as it was written there; empty: the flow was worked out
    athanor::Span named_first; // where the recipe first names it
    bool supply_told = false;
};

/// Three layers: what is told and where (`Messages`), values and names (`Values`), and the walk over the recipe
/// that is here. The walk goes down: structure, step, pieces of a step, span; actions stand beside the steps.
/// What each may do is judged where it is met, by the checks of heat and of gas.
class Elaborator : private Values {
public:
    Elaborator(const check::Model& model, const Request& request, const Files& files, Diagnostics& out);
    Elaborated run();

private:
    // --- set-up (elaborator.cpp) ---
    void equipment();
    void species();
    void add_species(Index gas);
    void species_asked(ExprId expr);
    void species_asked(const Statement& s);
    void limit_species();
    void gas_from_load(const check::Recipe::Evolves& e); // load.cpp
    void bubbler_and_slide();
    bool parameters();
    void walk_recipe();
    void finish();

    // --- conditions (condition.cpp) ---
    class Words;
    Index condition(ExprId expr);
    bool signal_of(const check::Expr& expr, timeline::Signal& signal);
    Index intern(timeline::Condition condition, ExprId key);

    // --- structure (walk.cpp) ---
    struct Block {
        struct Standing {
            Index index = 0, steps = 0; // of the timeline's list, and steps before it
        };
        std::vector<Standing> requirements, thresholds;
        /// How many steps of each name it had. A block knows few names, so that a list serves.
        struct Named {
            StatementKind kind;
            bool bare;      // nothing is named behind its word
            Index name = 0; // text of Timeline::paths
            std::uint32_t steps = 0;
        };
        std::vector<Named> named;
        std::size_t path_length = 0;
        Index path = 0; // text of Timeline::paths; 0: not kept yet, or there is none
    };
    void block(StatementId first, std::string_view label);
    void close_block();
    void covers_nothing(athanor::Span at, const char* what);
    void statement(StatementId id);
    void survey_placed(const Statement& s);
    void let(const Statement& s);
    void repeat(const Statement& s);
    void for_each(const Statement& s);
    void if_else(const Statement& s);
    void call(const Statement& s);
    void run_block(const Statement& s);
    void require(const Statement& s);
    void expect(const Statement& s);
    void keep(const Statement& s);
    bool in_range(const check::Parameter& parameter, const check::Value& value, athanor::Span at);
    /// Counts what is walked; false where the walk has gone too far, which is told at `at`.
    bool work(athanor::Span at) {
        if (stopped) return false;
        const std::size_t spans = survey ? counted.spans + counted.pumped * (pump_step - 1) : t->spans.size();
        return (spans < max_spans && ++worked < 10 * max_spans) || expands_too_far(at);
    }
    bool expands_too_far(athanor::Span at);
    void record_repeat(std::size_t first, std::size_t repeats_before, std::size_t passes,
                       const std::vector<std::size_t>& starts, athanor::Span source);

    // --- steps (steps.cpp, gas_steps.cpp) ---
    void step(const Statement& s);
    void ramp(const Statement& s);
    void ramp(const Statement& s, Step& step);
    void heat(const Statement& s);
    void cool(const Statement& s);
    void step_to(const Statement& s);
    void dwell(const Statement& s);
    void purge(const Statement& s);
    bool sweeps_with_air(Index line) const;
    void purge_with_air(const Statement& s, Step& step, double volumes, Index line, double flow);
    void misses_vacuum(ExprId aim, Interval pressure);
    void misses_fill(ExprId aim, Interval pressure);
    void evacuate(const Statement& s);
    void backfill(const Statement& s);
    void wait(const Statement& s);
    void person(const Statement& s, std::string text, bool tube_open, bool quench = false);
    void quench(const Statement& s);
    bool targets(const Statement& s, Few<ZonePlan>& zones);
    std::string towards(const Statement& s, const ZonePlan& zone) const;
    Step holding(const Statement& s) const;
    bool band(const Statement& s, timeline::Ending& ending);
    bool at_most(const Statement& s, timeline::Ending& ending);
    bool duration(ExprId expr, double& seconds);
    /// The rates of a ramp, K/s; where it states none those of the defaults.
    struct Rates {
        double up = 0, down = 0;
    };
    bool rates(const Statement& s, const Step& step, Rates& found);
    bool cools_by_default(const Step& step) const;
    void cool_naturally(Step& step);
    /// The first block of `defaults` that gives something, the recipe's before the rig's; nullptr: none does.
    template<class Gives>
    const check::Defaults* defaults_with(Gives gives) const {
        for (const check::Defaults* block : {&recipe->defaults, rig_defaults})
            if (block != nullptr && gives(*block)) return block;
        return nullptr;
    }

    // --- cutting a step at what is placed in it (pieces.cpp) ---
    void perform(Step& step);
    bool placed(const Statement& s, std::vector<Placed>& list);
    void timed(const Step& step, const std::vector<Placed>& list);
    void natural(const Step& step, const std::vector<Placed>& list);
    void times_in_cooling(const Step& step, const std::vector<const Placed*>& times, double first,
                          bool also_by_temperature);
    void temperatures_in_cooling(const Step& step, const std::vector<const Placed*>& temperatures, double start,
                                 Few<ZonePlan>& zones);
    std::vector<Placed> gas_ceases(const Step& step) const;
    void open_ended(const Step& step, const std::vector<Placed>& list);
    void never_reached(const Placed& p, const std::string& why);

    // --- spans (span.cpp) ---
    /// Emits one span, resolves it with the plant and goes on from its exit.
    void emit(const Laws& laws, const timeline::Ending& ending, const Step& step);
    void too_long(const timeline::Span& span, const Step& step);
    void unreachable(const plant::Passage& passage, const timeline::Ending& ending, const Step& step);
    void watch_vacuum_limit(const Step& step, const Laws& laws);
    bool cools(std::size_t zone, const timeline::Law& law) const;
    void watch_outlet(const timeline::Span& span, const Laws& laws, const Step& step);
    void advise_flow(Diagnostic& d, double contraction) const;
    Index flammable_line() const;
    bool may_be_protective() const;
    bool asks_no_oxygen(Index requirement) const;
    bool protective(const plant::State& state, std::string& why) const;
    timeline::Path path_of(const Statement& s);
    std::string subject(const Statement& s) const;

    // --- heat (heat_checks.cpp) ---
    bool check_target(const Statement& s, ZonePlan& zone, bool cooling);
    void outside_furnace(const Statement& s, athanor::Span target, double to);
    void goes_on_up(const Step* step);
    bool inside_tube(const Statement& s, const ZonePlan& zone);
    bool inside_sensor(const Statement& s, const ZonePlan& zone);
    void check_ramp(const Statement& s, const ZonePlan& zone, athanor::Span rate_span);
    /// A ramp, and what tube and furnace allow for it, K/s.
    struct AskedRamp {
        const Statement& statement;
        const ZonePlan& zone;
        athanor::Span at; // of its rate or time
        double rate = 0, tube = 0, furnace = 0;
        const check::Figure* row = nullptr; // of the tube
    };
    /// How far a set-point is ahead of the fastest ramp that the tube stands.
    struct Ahead {
        double seconds = 0; // that such a ramp would still take
        double from = 0;    // K, where the way began that is still ahead
    };
    bool judged_before(const Statement& s, const ZonePlan& zone);
    void offer_slower(Diagnostic& d, const AskedRamp& ramp, double rate) const;
    void shocks_tube(const AskedRamp& ramp);
    bool check_jump(const Statement& s, Index z, const ZonePlan& zone);
    Ahead ahead_after(Index z, double from, double to, double seconds) const;
    void keep_ahead(const Laws& laws, double seconds);
    void cools_too_fast(const AskedRamp& ramp);
    void heats_too_fast(const AskedRamp& ramp);
    /// Fastest rate in K/s the tube allows between two temperatures; infinite where its material states none.
    double tube_allowance(double from, double to, const check::Figure*& row) const;

    // --- actions (actions.cpp) ---
    void action(const Statement& s);
    void open(const Statement& s, Index line, double flow, timeline::ActionKind kind);
    void close(const Statement& s, Index line);
    void close_all(const Statement& s);
    void burner(const Statement& s, bool on);
    void start_pump(const Statement& s);
    void stop_pump(const Statement& s);
    bool flow_asked(const Statement& s, Index line, double& flow);
    ExprId default_flow(Index line) const;
    void commit(timeline::ActionKind kind, const Statement& s, Index line = none, double value = 0,
                Index text = none);
    Index text_index(std::string text);
    void into_the_pump(const Statement& s, Index line, double flow);
    bool follows_temperature(const Statement& s, Index line);
    void kept(const Statement& s, Index line, const std::string& what);
    void leaves_open(const Statement& s, const std::vector<Index>& opened);

    // --- blends (blend.cpp) ---
    void blend(const Statement& s);
    bool blend_parts(const Statement& s, std::vector<BlendPart>& parts);
    void not_taken(Diagnostic& d, const BlendSources& sources, const BlendPart& part) const;
    void blend_lacks(const BlendSources& sources, const BlendPart& part);
    void blend_misses(const Statement& s, const BlendSources& sources, const std::vector<BlendPart>& parts);
    void open_blend(const Statement& s);
    std::string another_total(bool keep_hand, double& scale_found) const;

    // --- a held pressure, the bubbler, the slide (throttle.cpp, load.cpp) ---
    void regulate(const Statement& s);
    void check_held_pressure(athanor::Span at);
    void humidify(const Statement& s);
    bool bath_asked(const Statement& s, Index line, double& bath);
    bool bath_in_use(const Statement& s, Index line, double bath, athanor::Span at);
    void set_bath(const Statement& s, double bath, athanor::Span at);
    void dry(Index line);
    void move(const Statement& s);

    // --- gas: what meters, seals, supplies and the tube's content allow (gas_checks.cpp) ---
    void use_line(const Statement& s, Index line, double flow);
    std::string flow_said(Index line, double flow, ExprId asked) const;
    std::string with_flow(const Statement& s, athanor::Span at, const std::string& flow) const;
    void check_flow(const Statement& s, Index line, double flow, ExprId asked);
    void check_supply(const Statement& s, Index line);
    void set_by_hand(const Statement& s, Index line, double flow, athanor::Span at);
    double as_set(Index line, double flow) const;
    bool reads_the_same(Index line, double a, double b) const;
    bool meter_sets(Index line, double flow) const;
    void check_opposing(const Statement& s, Index opened);
    bool may_be_open(Index line) const;
    const timeline::Threshold* armed_for(Index line) const;
    bool oxidising(Index line) const;
    bool is_air(Index gas) const;
    void need_seals(athanor::Span at, const std::string& what);
    void end_of_run();
    void missing_channels(const program::Controller& controller);
    void held_at_end(const program::Controller& controller);

    const Request& request;

    const check::Recipe* recipe = nullptr;
    const check::Defaults* rig_defaults = nullptr;
    Elaborated result;
    plant::Plant* plant = nullptr;
    States states;

    // Expansion: where the walk stands in the text.
    bool stopped = false; // beyond a limit: nothing more is expanded
    struct Counted {
        std::size_t spans = 0, pumped = 0, actions = 0;
    };
    Counted counted;        // by the survey: spans, those that pump down or fill, and actions between them
    std::size_t worked = 0; // statements walked
    double lasts = 0;       // the run so far, at most, without waits for a person
    unsigned loops = 0;     // repeats running
    std::size_t errors_before = 0;
    check::Frame recipe_frame; // parameters and local values of the recipe's own block
    std::string path;
    std::vector<Block> blocks;
    std::vector<Index> active;         // requirements in force
    Index steps = 0;                   // so far, those that take no time as well
    bool in_run = false;               // inside a `run` block
    bool moves = false;                // some step moves the sample
    bool asks_by_parameter = false;    // some condition asks for a gas that a parameter names
    bool quenched = false;             // the run ended by taking the load out
    std::size_t taken_out = 0;         // spans at the end of the run before, where it did
    std::uint8_t defaulted_value = 0;  // what the statement at hand took from a `defaults` block
    std::uint8_t defaulted_before = 0; // what the actions at the coming span's entry took from one
    timeline::Path step_path;          // of the step at hand, with the number of the span to come

    // The rig as the walk has brought it.
    timeline::State now; // discrete state after the last action
    plant::State here;   // what the plant knows after the last span and the actions since
    std::vector<double> setpoints;
    /// A ramp that ended below what the furnace holds.
    struct Passing {
        const Statement* statement = nullptr;
        athanor::Span target;
        double to = 0; // K
    };
    std::vector<Passing> passing; // per zone
    std::vector<Ahead> ahead;     // per zone
    Index pending_first = 0;      // first action that belongs to the next span

    // What the checks remember.
    std::vector<LineInRun> lines_in_run;
    const Blended* blending = nullptr; // while its lines open
    double bath_set = 0;               // K, of the bubbler's bath; 0: not yet
    athanor::Span bath_span;           // where it was set
    athanor::Span first_light;         // where the burner was lit first in this run; file = none: not yet
    bool air_was_open = false;         // an oxidising line was open in this run
    bool seals_told = false;
    bool vacuum_limit_told = false;

    // What may come by again, in a loop.
    std::unordered_map<ExprId, Index> last_condition;
    std::unordered_map<std::uint64_t, Index> last_requirement;
    std::unordered_map<const Statement*, std::array<double, 3>>
        last_ramp; // from, to, rate that were judged last, where a statement may come by again
    std::unordered_map<std::string, Index> texts;
};

} // namespace athanor::elaborate
