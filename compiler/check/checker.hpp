#pragma once
#include "compiler/check/declarations.hpp"
#include "compiler/check/functions.hpp"
#include "compiler/check/load.hpp"
#include "compiler/check/model.hpp"

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// The working parts of `check` behind equipment, private to this folder: values, recipes, policies, tests.
///
/// Types are checked in both directions: `infer` lowers an expression with a hint of what its place would like,
/// which decides only what a literal cannot say by itself (`300 K`, a gas's name, `?`); `value` then asks that
/// the result is what the place takes, and reports if it is not. A node that the parser reported, or a value
/// that was reported here, is poison: nothing more is said about it.
namespace athanor::check {

/// What an expression may read beside values.
enum class Reads : std::uint8_t {
    values,  // parameters, lets and constants
    signals, // conditions of requirements and waits
    rules    // signals and hazard words
};

struct Reading;

class Checker {
public:
    Checker(const std::vector<Unit>& units, const Files& files, Model& model, Diagnostics& out);
    /// Behind `equipment`, whose gases, rigs and controllers are in the model.
    void run(const Reading& equipment);

private:
    // --- values by name: parameters, lets, loop names ---
    struct Local {
        NameId name = 0;
        Type type;
        Index slot = none;
        athanor::Span span;
        NodeId node = no_node; // its name, where it is declared in the unit at hand
        bool used = false;
        enum class What : std::uint8_t { parameter, let, loop } what = What::let;
    };
    struct Global { // a `let` of a file
        Index unit = none;
        NodeId node = no_node;
        NameId name = 0;
        athanor::Span span;
        ExprId value = 0;
        enum class State : std::uint8_t { fresh, open, done } state = State::fresh;
        bool used = false;
        std::size_t work = 0; // expressions that its value takes, those of other `let`s counted each time
    };
    /// Everything that depends on the declaration being lowered.
    struct Scope {
        std::vector<Local> locals;
        Index slots = 0;
        bool broken = false;    // something inside was reported
        bool unread = false;    // a parameter was not understood: a name that is not found may be its own
        Index operation = none; // being lowered
        bool recipe = false;    // the body of a recipe, where runs, defaults and load may stand
        bool warn_unused = false;
    };
    struct Call {            // of an operation, for recursion and what follows from it
        Index caller = none; // operation; none: a recipe
        Index recipe = none;
        Index callee = none;
        athanor::Span span;
        bool placed = false; // inside a step, where only actions may be called
    };

    // --- names (names_in_scope.cpp) ---
    NameId intern(NodeId name) { return model.names.intern(text(name)); }
    Index declare_local(NodeId name, Type type, Local::What what);
    void leave_block(std::size_t locals);
    const Local* local(NameId name) const;
    Local* local(NameId name);
    bool taken(NameId name, athanor::Span span, std::string_view what);
    ExprId name_value(NodeId node, Type hint);
    ExprId global_value(Index global, athanor::Span span);
    void lower_global(Global& global);
    ExprId written_value(const Global& global);
    ExprId signal(timeline::SignalKind kind, Type type, athanor::Span span, NameId name = 0, Index slot = none);
    ExprId property_of(NodeId node);
    ExprId state_of(NodeId node, NodeId left, std::string_view state);
    NameRef line(NodeId node) { return line(node, intern(node)); }
    NameRef line(NodeId node, NameId name);
    NameRef zone(NodeId name);
    ExprId unknown_value(NodeId node, NameId name);
    ExprId not_known_yet(NodeId node, std::string_view what);

    // --- literals (literals.cpp) ---
    ExprId number_literal(NodeId node);
    ExprId quantity_literal(NodeId node, const Type& hint);
    ExprId literal(NodeId node, double si, Type own, const Type& hint);
    bool plain_number(NodeId node) const;       // a number without unit, perhaps in ( )
    bool kelvin_literal(NodeId node) const;     // `300 K`: temperature or difference by its place
    bool kelvin_only(NodeId node) const;        // `300 K`, `5 K + 5 K`, `max(5 K, 10 K)`
    bool pliant(NodeId node) const;             // takes its meaning from the other side of an operator
    bool writes_temperature(NodeId node) const; // `20 degC`, or a sum with one
    NodeId inner(NodeId node) const;            // without ( )
    std::string flow_of_meter(std::string_view number) const;
    ExprId missing_unit(NodeId node, Type wanted);
    ExprId difference_due(NodeId node, std::string_view place);

    // --- expressions (expressions.cpp, operators.cpp) ---
    // A hint lies outside of the model, which grows meanwhile.
    ExprId infer(NodeId node, const Type& hint);
    ExprId value(NodeId node, Kind wanted, std::string_view place) {
        return value(node, type_of(wanted), place);
    }
    ExprId value(NodeId node, const Type& wanted, std::string_view place);
    ExprId condition(NodeId node, Reads reads, std::string_view place);
    ExprId flow_value(NodeId node, std::string_view place); // an amount of gas, or a volume at the meter
    void unknown_type(NodeId node);
    ExprId room_target(NodeId node);
    bool metres_for_minutes(Diagnostic& d, NodeId literal, Type wanted) const;
    std::string other_figure(NodeId node, Type wanted, Type got) const;
    ExprId mismatch(ExprId expr, NodeId node, Type wanted, std::string_view place);
    ExprId no_condition(NodeId node, Type got, std::string_view place);
    void meant_instead(Diagnostic& d, NodeId node, Type wanted, Type got, std::string_view place);
    ExprId list(NodeId node, Type hint);
    std::string some_temperature() const;
    std::string typed_as_temperature(NodeId node);
    ExprId kelvin_beside_degrees(NodeId kelvin, NodeId degrees);
    ExprId sum(NodeId node, Type hint);
    ExprId product(NodeId node, Type hint);
    ExprId plus_minus(NodeId node, Type hint);
    ExprId compare(NodeId node);
    ExprId is(NodeId node);
    bool joined_figures(NodeId node);
    ExprId logic(NodeId node);
    ExprId function_call(NodeId node, Type hint); // function_call.cpp
    ExprId described_call(NodeId node, std::size_t function);
    bool function_values(NodeId node, const Function& f, std::vector<ExprId>& values);
    bool all_given(NodeId node, const Function& f, const std::vector<ExprId>& values);
    ExprId choices_of(const Function& f, athanor::Span at);
    ExprId unknown_function(NodeId node);
    ExprId list_of_names(ExprId call);
    ExprId equipment_name(NodeId node, Takes takes, std::string_view place);
    ExprId cannot_add(NodeId node, ExprId a, ExprId b);
    bool power_of_ten(NodeId node); // `10-3 mbar`: told
    ExprId absolute_added(NodeId node);
    std::string as_difference(NodeId literal) const;
    std::string lower_by(NodeId node) const;
    bool reads_flow(ExprId id) const;
    bool one_scale(NodeId base, NodeId step) const;
    ExprId make(Op op, const Type& type, athanor::Span span, ExprId a = 0, ExprId b = 0);
    ExprId constant(const Type& type, athanor::Span span, double value);
    ExprId poison(athanor::Span span);
    Index append_arguments(std::size_t from);
    Type type(ExprId id) const { return model.exprs[id].type; }
    bool poisoned(ExprId id) const { return model.exprs[id].op == Op::poison; }
    /// A value that differs from a written one by orders of magnitude; see plausible.hpp.
    void look_at(ExprId expr, NodeId node, std::string_view place);

    // --- statements (statements.cpp, steps.cpp, actions.cpp, structure.cpp) ---
    enum class Where : std::uint8_t { top, block, step }; // of a body, of a nested block, of a step
    StatementId block(NodeId node, Where where);
    StatementId statement(NodeId node, Where where);
    Statement start(StatementKind kind, NodeId node, NodeId block) const;
    Statement start(StatementKind kind, NodeId node) const {
        return start(kind, node, tree().child(node, Node::block));
    }
    StatementId finish(const Statement& s);
    bool step(NodeId node, Statement& s);
    void dwell(NodeId node, Statement& s);
    void purge(NodeId node, Statement& s);
    bool set_point(NodeId node, NameId name);
    bool action(NodeId node, Statement& s);
    bool standing(NodeId node, Statement& s);
    StatementId structure(NodeId node, Where where);
    void repeat(NodeId node, NodeId body, Statement& s);
    void for_each(NodeId node, Statement& s);
    StatementId local_let(NodeId node, Statement& s);
    StatementId placed(NodeId node);
    StatementId call(NodeId node, bool placed);
    void targets(NodeId node, Statement& s);
    void clauses(NodeId node, Statement& s);
    void clause(Statement& s, NodeId node, ClauseKind kind, ExprId expr);
    void ramp_clauses(const Statement& s);
    void name_list(NodeId node, Statement& s);
    Index text_of(NodeId node);
    void misplaced(NodeId node, std::string message, std::string_view remedy = {});
    const Clause* has(const Statement& s, ClauseKind kind) const { return model.clause(s, kind); }

    // --- recipes and operations (recipes.cpp, calls.cpp) ---
    void collect();
    void collect_equipment();
    void collect_unit(Index unit);
    void operation_parameters();
    void parameters(NodeId node, std::vector<Parameter>& into);
    void parameter(NodeId node, std::vector<Parameter>& into);
    void judge_range(const Parameter& p, NodeId range);
    void operation(Index index);
    void recipe(Index index);
    void recipe_parts(NodeId block, Recipe& recipe);
    void defaults(NodeId node, Defaults& into);
    void default_line(NodeId node, Defaults& into);
    void evolves(NodeId load, Recipe& recipe);
    void use_slots(ExprId id);
    std::string documentation(NodeId node) const;
    void refuse_recursion();
    void judge_placed_calls();
    void break_callers();
    /// What a call may give: how many by position, and what to do with each.
    struct Places {
        std::size_t most = 0;
        std::function<std::optional<std::size_t>(NodeId name)> named; // nothing: reported
        std::function<void(NodeId argument)> too_many;                // of the first that is
        std::function<std::string_view(std::size_t place)> name;
        std::function<bool(std::size_t place, NodeId expr)> take; // false: nothing more is said about the call
    };
    bool place_arguments(NodeId node, const Places& places);
    Diagnostic& unknown_parameter(NodeId name, std::string_view callee,
                                  const std::vector<std::string_view>& known);
    void arguments(NodeId node, std::string_view callee, const std::vector<Parameter>& parameters,
                   athanor::Span declared, std::vector<ExprId>& values, bool unread);

    // --- policies, tests, interlocks (policies.cpp, tests.cpp) ---
    void policy(NodeId node);
    void rule(NodeId node);
    void rule_require(NodeId node, Rule& rule);
    Event event(NodeId node);
    void concession(NodeId node);
    void judge_concessions();
    void test(NodeId node);
    bool test_line(NodeId node, TestLine& line);
    Index wrapped(NodeId call, NodeId on, NodeId for_controller, Index operation);
    void verdict(NodeId node, TestLine& line);
    void interlocks();
    void one_line_each(Rig& rig, ExprId id);

    // --- never used (unused.cpp) ---
    void unused();
    void unused_local(const Local& local);

    // --- the tree at hand ---
    void enter(Index unit) {
        unit_ = unit;
        tree_ = &units[unit].tree;
        source_ = files[units[unit].file].text();
    }
    const Tree& tree() const { return *tree_; }
    std::string_view text(NodeId node) const {
        const SyntaxNode& at = (*tree_)[node];
        return source_.substr(at.begin, at.end - at.begin);
    }
    athanor::Span span(NodeId node) const { return tree_->span(node); }
    Node kind(NodeId node) const { return tree_->kind(node); }
    NodeId first(NodeId node) const { return (*tree_)[node].first; }
    NodeId next(NodeId node) const { return (*tree_)[node].next; }
    NodeId second(NodeId node) const { return next(first(node)); }
    bool broken(NodeId node) const { return (*tree_)[node].broken; }
    std::string unquoted(NodeId text) const;
    bool zone_known(NameId name) const;

    const std::vector<Unit>& units;
    const Files& files;
    Model& model;
    Diagnostics& out;
    Declarations declared;
    const Reading* equipment_ = nullptr;

    Index unit_ = 0;
    const Tree* tree_ = nullptr;
    std::string_view source_;
    Reads reads_ = Reads::values;
    Scope* frame_ = nullptr;
    unsigned unclosed_ = 0;                     // blocks around the statement that lack their `}`
    std::vector<Index> local_at_;               // by NameId: index into the frame's locals
    NameId flow_line_ = 0;                      // whose flow is read; 0: no one line's
    std::vector<char> line_names_, zone_names_; // by NameId: some rig has a line or zone of that name

    std::vector<Global> globals_;
    std::size_t lets_ = 0; // of files, that are being lowered one inside another
    /// Of the one that is: work of those it reads, expressions they are made of.
    std::size_t work_ = 0, nested_ = 0;
    struct Place {
        Index unit;
        NodeId node;
    };
    std::vector<Place> operation_nodes_, recipe_nodes_;
    std::vector<Call> calls_;
    std::vector<char> unread_;          // of an operation: a parameter was not understood
    std::vector<char> operation_steps_; // holds a step of its own
    std::vector<ExprId> scratch_;
    Index recipe_index_ = none; // being lowered

    // Words with a meaning in expressions, interned first so that their ids are small.
    struct Word {
        timeline::SignalKind signal;
        Kind kind;
    };
    std::vector<Word> words_; // by NameId, from 1
    NameId signals_end_ = 0;
    NameId ambient_ = 0, load_ = 0, open_ = 0, flammable_ = 0, safety_temperature_ = 0, tube_ = 0,
           duration_ = 0, segments_ = 0, programs_ = 0;
    bool is_signal(NameId name) const { return name != 0 && name < signals_end_; }
    bool is_hazard(NameId name) const { return name >= flammable_ && name < flammable_ + 4; }
};

} // namespace athanor::check
