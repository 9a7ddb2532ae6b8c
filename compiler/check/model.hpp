#pragma once
#include "compiler/check/equipment.hpp"
#include "compiler/quantity/type.hpp"
#include "compiler/timeline/timeline.hpp"

#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

/// The typed model: what `check` hands to `elaborate`. Index-based pools, no pointers into the syntax tree.
namespace athanor::check {

using NameId = std::uint32_t;      // interned name; 0 = none
using ExprId = std::uint32_t;      // 0 = absent
using StatementId = std::uint32_t; // 0 = absent

/// Interned names: equal text, equal id.
class Names {
public:
    NameId intern(std::string_view text);
    std::string_view operator[](NameId id) const { return texts_[id]; }

private:
    std::vector<std::string_view> texts_{std::string_view{}};
    std::vector<std::unique_ptr<std::string>> store_;
    std::unordered_map<std::string_view, NameId> ids_;
};

struct NameRef {
    NameId name = 0;
    Index slot = none; // when the name is a local value of type gas
    athanor::Span span;
};

// --- expressions ---------------------------------------------------------------------------------

enum class Op : std::uint8_t {
    poison,   // an error was reported here
    hole,     // `?`: has the type its place expects, no value
    constant, // `value`, SI
    text,     // `index` into Model::texts
    gas,      // `index` into Model::gases
    slot,     // `index`: local value of the running frame (parameter, let, loop name)
    list,     // arguments
    negate,
    not_, // a
    add,
    subtract,
    multiply,
    divide,
    plus_minus, // a, b
    less,
    less_equal,
    greater,
    greater_equal,
    equal, // a, b; `equal` also for gases and texts
    and_,
    or_,    // a, b
    call,   // `index`: built-in function (compiler/check/functions.hpp); arguments
    signal, // `signal` and, where it needs one, `name` (zone, line or species); resolved against the rig later.
            // `index`: the slot, where the name is a local value of type gas
    ambient,     // the ambient pressure of the rig, an interval
    hazard_open, // rules only: `flammable is open`; `index` = hazard class
    hazard_closed,
    hazard_safety_temperature, // rules only: `safety_temperature of flammable`
};

struct Expr {
    Op op = Op::poison;
    Type type;
    athanor::Span span;
    ExprId a = 0, b = 0;
    Index index = none;
    NameId name = 0;
    timeline::SignalKind signal{};
    Interval value;             // constant, SI
    Index first = 0, count = 0; // arguments in Model::arguments
};

// --- statements ----------------------------------------------------------------------------------

enum class StatementKind : std::uint8_t {
    // steps
    ramp,
    heat,
    cool,
    step_to,
    dwell,
    purge,
    evacuate,
    backfill,
    wait,
    quench,
    // structure
    repeat,
    repeat_until,
    for_each,
    if_else,
    call,
    let,
    run,
    // actions
    open,
    close,
    close_all,
    set,
    switch_to,
    blend,
    light,
    shut,
    start_pump,
    stop_pump,
    note,
    regulate,
    humidify,
    move,
    // placed in a step's block
    at_action,
    after_action,
    // standing
    keep,
    require,
    expect
};

enum class ClauseKind : std::uint8_t { at, over, within, until, duration, volumes, at_most, to, guard, value };

struct Clause {
    ClauseKind kind;
    ExprId expr;
    athanor::Span span; // of the clause with its keyword
};

struct ZoneTarget {
    NameRef zone; // name 0: every zone
    ExprId target;
};

/// A part of a blend: `5 % hydrogen`, `rest argon`.
struct BlendPart {
    ExprId share = 0; // 0 = rest
    NameRef gas;
};

struct Statement {
    StatementKind kind;
    bool flag = false;                   // wait: with tube open; keep: opens (else closes)
    bool above = true;                   // keep
    athanor::Span span;                  // the whole statement, without its block
    Index first_clause = 0, clauses = 0; // Model::clauses
    Index first_name = 0, names = 0;     // Model::names_used: lines of open/close/…, sample and place of move
    Index first_target = 0, targets = 0; // Model::targets; blend parts use Model::blend_parts
    Index text = none;                   // Model::texts: note, wait, run's name, quench's medium, repeat_until
    Index slot = none;                   // let, repeat, for_each
    Index operation = none;              // call: Model::operations
    ExprId value =
        0; // dwell's D, repeat's N, for's list, if's condition, keep's T, require/expect, evacuate's P
    Index first_argument = 0, arguments = 0; // call: Model::arguments, one per parameter of the operation
    StatementId body = 0, otherwise = 0;     // first statement of the block / else-block
    StatementId next = 0;                    // next in the same block
};

struct Parameter {
    NameId name = 0;
    Type type;
    athanor::Span span;
    ExprId default_value = 0;
    ExprId lo = 0, hi = 0, step = 0; // `in a to b by c`
    ExprId list = 0;                 // `in [a, b]`
    bool used = true;                // something of the recipe reads it
};

/// What a `defaults` block gives; it belongs to a recipe or a rig. Absent entries are 0 / none.
struct Defaults {
    ExprId heating = 0, cooling_rate = 0;
    bool natural_cooling = false;
    NameRef purge_line;
    ExprId purge_flow = 0;
    std::vector<std::pair<NameRef, ExprId>> flows; // `flow argon 1 L/min`
    ExprId soak = 0;                               // `dwell 1 h` for dwells without time
    athanor::Span span;
};

struct Operation {
    NameId name = 0;
    athanor::Span span;
    std::vector<Parameter> parameters; // slots 0 … n-1
    Index slots = 0;                   // size of its frame
    StatementId body = 0;
    bool used = false;
    bool broken = false; // an error inside, or inside what it calls, was reported
};

struct Recipe {
    NameId name = 0;
    std::string title, documentation;
    athanor::Span span;                // of its name
    std::vector<Parameter> parameters; // slots 0 … n-1
    Index slots = 0;
    NameRef rig, controller;                         // name 0 = not stated
    Index rig_index = none, controller_index = none; // none when unknown or not stated
    Defaults defaults;
    StatementId body = 0;
    /// `load { evolves … }`: (species, flow interval mol/s, while this line is open, above this temperature K)
    struct Evolves {
        Index gas;
        Interval flow;
        NameRef while_open;
        double above;
        athanor::Span span;
    };
    std::vector<Evolves> evolves;
    bool broken = false; // an error inside was reported; it is not elaborated
};

// --- rules ---------------------------------------------------------------------------------------

enum class EventKind : std::uint8_t {
    none,
    opening,
    closing,
    opening_hazard,
    closing_hazard,
    evacuating,
    heating_above,
    opening_tube,
    start,
    end,
    abort
};

struct Event {
    EventKind kind = EventKind::none;
    NameRef line;
    Hazard hazard{};
    ExprId temperature = 0;
};

enum class RuleForm : std::uint8_t { always, before, from_until, after_abort };

struct RuleRequire {
    RuleForm form = RuleForm::always;
    ExprId require = 0, guard = 0, until = 0;
    Event event;
    athanor::Span span;
};

struct Rule {
    std::string name, title, because;
    std::vector<std::string> sources;
    std::vector<RuleRequire> requires_;
    athanor::Span span;
    bool standard = false; // of the built-in policy: its name is a diagnostic code
};

struct Concession {
    std::string rule, because, approved;
    athanor::Span span;
};

// --- tests ---------------------------------------------------------------------------------------

struct TestVerdict {
    enum class Kind : std::uint8_t { proven, refused, compare } kind = Kind::proven;
    std::string rule; // refused by; empty = by anything
    enum class Measure : std::uint8_t { duration, segments, programs } measure{};
    timeline::Comparison comparison{};
    double value = 0;
    athanor::Span span;
};

struct TestLine {
    Index recipe = none; // or a call of an operation, wrapped into a recipe by check
    std::vector<std::pair<NameId, ExprId>> arguments;
    NameRef rig, controller;
    std::vector<TestVerdict> verdicts;
    athanor::Span span;
};

struct Test {
    std::string title;
    std::vector<TestLine> lines;
    athanor::Span span;
};

struct Model {
    Names names;
    std::vector<std::string> texts;
    std::vector<Expr> exprs{Expr{}}; // [0] is absent
    std::vector<ExprId> arguments;
    std::vector<Statement> statements{Statement{}}; // [0] is absent
    std::vector<Clause> clauses;
    std::vector<NameRef> names_used;
    std::vector<ZoneTarget> targets;
    std::vector<BlendPart> blend_parts;

    std::vector<Operation> operations;
    std::vector<Recipe> recipes; // of the files named on the command line first, then of imported ones
    Index own_recipes = 0;       // how many are of the named files

    std::vector<Gas> gases;
    std::vector<Gas> substances; // known by their formula only: nothing names them
    std::vector<Material> materials;
    std::vector<Thermocouple> thermocouples;
    std::vector<Rig> rigs;
    std::vector<Defaults> rig_defaults; // per rig
    std::vector<program::Controller> controllers;
    std::vector<Rule> rules;
    std::vector<Concession> concessions;
    std::vector<Test> tests;
    std::vector<std::pair<NameId, ExprId>> lets; // file-level values of the named files

    const Clause* clause(const Statement& statement, ClauseKind kind) const {
        for (Index i = 0; i < statement.clauses; ++i)
            if (clauses[statement.first_clause + i].kind == kind) return &clauses[statement.first_clause + i];
        return nullptr;
    }
    /// A policy takes it upon itself that this rule does not hold.
    bool conceded(std::string_view rule) const;
    Index gas_named(std::string_view name) const;
    /// A pure gas as rules and signals know it: one of a site that has the formula of another gas is that gas.
    Index substance_of(Index gas) const {
        const bool same = gas < gases.size() && gases[gas].pure && gases[gas].parts.size() == 1;
        return same ? gases[gas].parts.front().first : gas;
    }
    /// Whether a line with the gas `carried` is one of the gas `asked`: that gas, or one that is mostly it. Air
    /// is no nitrogen, and what would harm who breathes it is its own gas alone.
    bool delivers(Index carried, Index asked) const;
    /// The line of a rig that has the name, else those that carry the gas.
    std::vector<Index> lines_named(const Rig& rig, std::string_view name) const;
    /// Of lines that carry one substance under several names, those whose gas is called so.
    void own_gas_first(const Rig& rig, Index gas, std::vector<Index>& lines) const;
    /// What is said of a name that could be any of several lines.
    static std::string which_of(const Rig& rig, const std::vector<Index>& lines, std::string_view name);
    /// Whether the toxic parts of a gas but `named` are over their exposure limits, added as shares of each.
    /// One without a limit always is.
    bool harmful_beside(Index carried, std::span<const Index> named) const;
    Index rig_named(std::string_view name) const;
    Index controller_named(std::string_view name) const;
    Index recipe_named(std::string_view name) const;
};

} // namespace athanor::check
