#include "compiler/check/one_way.hpp"

#include "compiler/check/condition.hpp"
#include "compiler/check/functions.hpp"
#include "compiler/check/way.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::check {

namespace {

constexpr unsigned most_statements = 200'000; // looked at, calls and second passes of loops included

/// A local value: how it goes with each range, and the parameter that it is, unchanged.
struct Local {
    Ways ways;
    Index same_as = none;
};

struct Scope {
    Frame values; // of a range: the interval of all it may be
    std::vector<Local> locals;
};

class Walk {
public:
    Walk(const Model& model, const Recipe& recipe, const Frame& values, const std::vector<bool>& ranged,
         const Rig* rig)
        : model_(model), recipe_(recipe), rig_(rig), axes_(recipe.parameters.size()) {
        result.cuts.resize(axes_);
        head_.values = values;
        fit(head_, std::max<std::size_t>(recipe.slots, axes_));
        for (Index i = 0; i < axes_; ++i) {
            if (!ranged[i]) continue;
            head_.locals[i].ways[i] = {true, true, false, 1};
            head_.locals[i].same_as = i;
        }
        from_ = {Ways(axes_)};
    }

    void run() {
        Scope scope = head_;
        block(recipe_.body, scope, 0);
    }

    OneWay result;

private:
    using Fault = OneWay::Fault;

    bool found() const { return result.fault != Fault::none; }

    void fail(Fault fault, athanor::Span span) {
        if (found()) return;
        result.fault = fault;
        result.span = span;
    }

    void fit(Scope& scope, std::size_t slots) const {
        scope.values.slots.resize(std::max(slots, scope.values.slots.size()));
        scope.locals.resize(scope.values.slots.size());
        for (Local& local : scope.locals) local.ways.resize(axes_);
    }

    /// Poison where it is not known before the run, or for an interval.
    Value value(ExprId id, const Scope& scope) const {
        Diagnostics unheard; // what is wrong with a value is told where it is set
        return evaluate(model_, id, scope.values, unheard);
    }

    // --- statements ---

    void block(StatementId first, Scope& scope, unsigned depth) {
        for (StatementId id = first; id != 0 && !found(); id = model_.statements[id].next)
            statement(model_.statements[id], scope, depth);
    }

    void statement(const Statement& s, Scope& scope, unsigned depth) {
        if (++looked_at_ > most_statements) return fail(Fault::decides, s.span);
        const Ways own = ways(s.value, scope);
        for (Index c = 0; c < s.clauses; ++c) ways(model_.clauses[s.first_clause + c].expr, scope);
        switch (s.kind) {
        case StatementKind::ramp:
        case StatementKind::heat:
        case StatementKind::cool:
        case StatementKind::step_to: temperatures(s, scope); break;
        case StatementKind::dwell:
        case StatementKind::purge:
        case StatementKind::evacuate:
        case StatementKind::backfill: holds(s, scope); break;
        case StatementKind::blend: blend(s, scope); break;
        case StatementKind::call: call(s, scope, depth); return;
        case StatementKind::if_else: if_else(s, scope, depth); return;
        case StatementKind::repeat:
        case StatementKind::repeat_until: {
            if (any_depends(own)) fail(Fault::decides, model_.exprs[s.value].span);
            const Value count = value(s.value, scope);
            loop(s, scope, depth, {},
                 count.poison() ? Value{} : Value{count.type, {1, std::max(1.0, count.number.hi)}, none, {}});
            return;
        }
        case StatementKind::for_each: loop(s, scope, depth, own, hull_of(value(s.value, scope))); return;
        case StatementKind::let: {
            const Expr& e = model_.exprs[s.value];
            const Index same =
                e.op == Op::slot && e.index < scope.locals.size() ? scope.locals[e.index].same_as : none;
            set(scope, s.slot, own, same, value(s.value, scope));
            return;
        }
        default: break;
        }
        block(s.body, scope, depth);
    }

    void set(Scope& scope, Index slot, Ways own, Index same_as, Value value) const {
        if (slot == none) return;
        fit(scope, slot + std::size_t{1});
        own.resize(axes_);
        scope.locals[slot] = {std::move(own), same_as};
        scope.values.slots[slot] = std::move(value);
    }

    /// All that the items of a list may be; poison where they are no numbers.
    static Value hull_of(const Value& list) {
        if (list.list.empty() || !list.list.front().type.quantity()) return {};
        Value all = list.list.front();
        for (const Value& item : list.list) all.number = hull(all.number, item.number);
        return all;
    }

    /// A second pass starts from where the first one ended.
    void loop(const Statement& s, Scope& scope, unsigned depth, const Ways& own, const Value& item) {
        const std::vector<Ways> before = from_;
        set(scope, s.slot, own, none, item);
        block(s.body, scope, depth);
        const std::vector<Ways> after = from_;
        for (const Ways& one : before) add(from_, one);
        if (from_ == before || std::all_of(after.begin(), after.end(), [&](const Ways& one) {
                return std::find(before.begin(), before.end(), one) != before.end();
            }))
            return;
        from_ = after;
        block(s.body, scope, depth);
        for (const Ways& one : before) add(from_, one); // no pass at all
    }

    void if_else(const Statement& s, Scope& scope, unsigned depth) {
        const Value decided = value(s.value, scope);
        if (!decided.poison() && decided.number.is_point())
            return block(decided.number.lo > 0 ? s.body : s.otherwise, scope, depth);
        const std::vector<Ways> before = from_;
        block(s.body, scope, depth);
        const std::vector<Ways> one = std::exchange(from_, before);
        block(s.otherwise, scope, depth);
        for (const Ways& ways : one) add(from_, ways);
    }

    void call(const Statement& s, const Scope& scope, unsigned depth) {
        if (s.operation >= model_.operations.size() || depth >= 64) return;
        const Operation& operation = model_.operations[s.operation];
        Scope inner;
        inner.values.ambient_pressure = scope.values.ambient_pressure;
        inner.values.has_ambient = scope.values.has_ambient;
        fit(inner, std::max<std::size_t>(operation.slots, operation.parameters.size()));
        for (Index i = 0; i < operation.parameters.size() && !found(); ++i) {
            const Parameter& p = operation.parameters[i];
            const ExprId given = i < s.arguments ? model_.arguments[s.first_argument + i] : 0;
            const ExprId id = given != 0 ? given : p.default_value;
            if (id == 0) continue;
            const Scope from = given != 0 ? Scope{} : inner; // a default may use the parameters before it
            const Scope& place = given != 0 ? scope : from;
            const Ways own = ways(id, place);
            const Expr& e = model_.exprs[id];
            // Only some values inside a range are on a list or on the steps of an operation's parameter.
            if (any_depends(own) && (p.list != 0 || p.step != 0)) fail(Fault::decides, e.span);
            if (any_depends(ways(p.lo, inner)) || any_depends(ways(p.hi, inner))) fail(Fault::decides, e.span);
            set(inner, i, own,
                e.op == Op::slot && e.index < place.locals.size() ? place.locals[e.index].same_as : none,
                value(id, place));
        }
        block(operation.body, inner, depth + 1);
    }

    // --- what is worked out of several values ---

    static void add(std::vector<Ways>& list, const Ways& ways) {
        if (std::find(list.begin(), list.end(), ways) == list.end()) list.push_back(ways);
    }

    /// Set-points from where any of them may be to the targets; how long it takes, in what order zones arrive
    /// and actions come.
    void temperatures(const Statement& s, const Scope& scope) {
        std::vector<Ways> targets, stops;
        bool every_zone = true;
        for (Index t = 0; t < s.targets; ++t) {
            const ZoneTarget& target = model_.targets[s.first_target + t];
            add(targets, ways(target.target, scope));
            every_zone = every_zone && target.zone.name == 0;
        }
        const Clause *at = model_.clause(s, ClauseKind::at), *over = model_.clause(s, ClauseKind::over);
        Ways rate(axes_);
        if (at != nullptr || over != nullptr)
            rate = ways(at != nullptr ? at->expr : over->expr, scope); // a default is a figure
        stops = targets;
        for (const Ways& placed : placed_in(s, StatementKind::at_action, scope)) add(stops, placed);
        const std::vector<Ways> after = placed_in(s, StatementKind::after_action, scope);
        const auto bad = [&] { fail(Fault::length, s.span); };
        for (std::size_t i = 0; i < stops.size(); ++i)
            for (std::size_t k = 0; k < i; ++k)
                if (any_turns(difference(stops[i], stops[k]))) bad();
        for (std::size_t i = 0; i < targets.size(); ++i) // one zone may go up to its own, another down
            for (std::size_t k = 0; k < i; ++k)
                if (any_turns(sum(targets[i], targets[k]))) bad();
        apart(after, s.span);
        for (const Ways& from : from_)
            for (const Ways& to : stops) {
                const Ways way = difference(to, from);
                if (any_turns(way) || quotient_turns(way, rate)) bad();
                // The fastest rate that is certain depends on both.
                if (s.kind == StatementKind::heat)
                    for (std::size_t i = 0; i < axes_; ++i)
                        if (to[i].depends && from[i].depends && to[i].sign * from[i].sign != -1) bad();
                for (const Ways& time : after) {
                    if (share_a_parameter(time, way) || share_a_parameter(time, rate)) bad();
                    if (over != nullptr && share_a_parameter(rate, way)) bad();
                    if (over == nullptr && quotient_turns(from, rate)) bad();
                }
            }
        if (every_zone) from_.clear();
        for (const Ways& to : targets) add(from_, to);
    }

    /// Set-points stay: how long it takes, and in what order actions come.
    void holds(const Statement& s, const Scope& scope) {
        std::vector<Ways> instants = placed_in(s, StatementKind::after_action, scope);
        if (s.kind == StatementKind::dwell && s.value != 0) instants.push_back(ways(s.value, scope));
        for (const ClauseKind kind : {ClauseKind::duration, ClauseKind::at_most})
            if (const Clause* clause = model_.clause(s, kind)) instants.push_back(ways(clause->expr, scope));
        apart(instants, s.span);
        // Volumes of a gas that is mostly air are told by time: the more flows the sooner they have passed.
        const Clause *volumes = model_.clause(s, ClauseKind::volumes), *at = model_.clause(s, ClauseKind::at);
        if (volumes != nullptr && at != nullptr &&
            quotient_turns(ways(volumes->expr, scope), ways(at->expr, scope)))
            fail(Fault::length, s.span);
    }

    /// The time from any instant of a step to any other must go one way.
    void apart(const std::vector<Ways>& instants, athanor::Span span) {
        for (std::size_t i = 0; i < instants.size(); ++i)
            for (std::size_t k = 0; k < i; ++k)
                if (any_turns(difference(instants[i], instants[k]))) fail(Fault::length, span);
    }

    std::vector<Ways> placed_in(const Statement& s, StatementKind kind, const Scope& scope) {
        std::vector<Ways> list;
        for (StatementId id = s.body; id != 0; id = model_.statements[id].next)
            if (model_.statements[id].kind == kind) list.push_back(ways(model_.statements[id].value, scope));
        return list;
    }

    void blend(const Statement& s, const Scope& scope) {
        Ways shares(axes_);
        const Clause* at = model_.clause(s, ClauseKind::at);
        const Ways total = ways(at != nullptr ? at->expr : s.value, scope);
        bool depends = any_depends(total);
        for (Index t = 0; t < s.targets; ++t) {
            const Ways share = ways(model_.blend_parts[s.first_target + t].share, scope);
            depends = depends || any_depends(share);
            shares = sum(shares, share);
        }
        if (any_turns(shares) || share_a_parameter(shares, total)) fail(Fault::length, s.span);
        // The lines are picked by what their meters can set: inside the range it may be others than at its
        // ends.
        if (depends && !first_lines_fit(s, at != nullptr ? at->expr : s.value, scope))
            fail(Fault::lines, s.span);
    }

    /// Whether the lines that a blend tries first, the purest of each gas, can set it over the whole range:
    /// then it takes no others anywhere in it.
    bool first_lines_fit(const Statement& s, ExprId total, const Scope& scope) const {
        // What the gases bring of each other shifts a flow by less; pure ones by the rounding of a meter's end.
        constexpr double impure = 0.02, rounded = -1e-9;
        double beside = rounded;
        if (rig_ == nullptr) return false;
        std::vector<Index> lines;
        std::vector<Interval> shares;
        Interval rest = 1;
        for (Index t = 0; t < s.targets; ++t) {
            const BlendPart& part = model_.blend_parts[s.first_target + t];
            const Index line = purest(part.gas, scope);
            if (line == none || std::find(lines.begin(), lines.end(), line) != lines.end()) return false;
            lines.push_back(line);
            if (!model_.gases[rig_->lines[line].gas].pure) beside = impure;
            shares.emplace_back(-1); // the rest
            if (part.share == 0) continue;
            const Value share = value(part.share, scope);
            if (share.poison()) return false;
            shares.back() = share.number;
            rest = rest - share.number;
        }
        const Value all = value(total, scope);
        if (all.poison()) return false;
        for (std::size_t i = 0; i < lines.size(); ++i) {
            const Meter& meter = rig_->lines[lines[i]].meter;
            Interval flow = (shares[i].lo < 0 ? rest : shares[i]) * all.number;
            if (all.type.kind != Kind::flow && !meter.has_reference) return false;
            if (all.type.kind != Kind::flow) flow = flow * Interval{meter.molar(1)};
            if (meter.range.given &&
                (flow.lo * (1 - beside) < meter.range.lo() || flow.hi * (1 + beside) > meter.range.hi()))
                return false;
        }
        return true;
    }

    /// The line that carries the gas nearly pure, the first of several; none where no line does.
    Index purest(const NameRef& name, const Scope& scope) const {
        constexpr double pure = 0.99;
        Index gas = none;
        if (name.slot == none)
            gas = model_.gas_named(model_.names[name.name]);
        else if (name.slot < scope.values.slots.size() && !scope.values.slots[name.slot].poison())
            gas = scope.values.slots[name.slot].index;
        for (const Line& line : rig_->lines)
            if (gas == none && name.slot == none && line.name == model_.names[name.name]) gas = line.gas;
        gas = model_.substance_of(gas);
        Index best = none;
        double most = pure;
        for (Index l = 0; gas != none && l < rig_->lines.size(); ++l) {
            const Index carried = rig_->lines[l].gas;
            if (carried >= model_.gases.size()) continue;
            double share = carried == gas ? 1 : 0;
            for (const auto& [part, x] : model_.gases[carried].parts)
                if (carried != gas && part == gas) share = x.middle();
            if (share > most && !model_.harmful_beside(carried, {&gas, 1})) most = share, best = l;
        }
        return best;
    }

    // --- expressions ---

    Ways ways(ExprId id, const Scope& scope) {
        Ways result(axes_);
        if (id == 0) return result;
        const Expr& e = model_.exprs[id];
        switch (e.op) {
        case Op::slot: return e.index < scope.locals.size() ? scope.locals[e.index].ways : result;
        case Op::negate: return difference(result, ways(e.a, scope));
        case Op::add: result = sum(ways(e.a, scope), ways(e.b, scope)); break;
        case Op::subtract: result = difference(ways(e.a, scope), ways(e.b, scope)); break;
        case Op::multiply:
        case Op::divide: result = product(e, scope); break;
        case Op::plus_minus: result = uncertain(e, scope); break;
        case Op::less:
        case Op::less_equal:
        case Op::greater:
        case Op::greater_equal:
        case Op::equal: compare(id, scope); return result;
        case Op::and_:
        case Op::or_:
        case Op::not_:
            ways(e.a, scope);
            ways(e.b, scope);
            return result;
        case Op::call: result = function(e, scope); break;
        case Op::list:
            for (Index k = 0; k < e.count; ++k) {
                const Ways item = ways(model_.arguments[e.first + k], scope);
                for (std::size_t i = 0; i < axes_; ++i) result[i] = any_of(result[i], item[i]);
            }
            break;
        default: return result;
        }
        if (any_turns(result)) fail(Fault::turns, e.span);
        return result;
    }

    /// 1 and -1 where it surely is above or below zero.
    static int sign(const Value& v) { return v.poison() ? 0 : v.number.lo > 0 ? 1 : v.number.hi < 0 ? -1 : 0; }

    static Ways turning(Ways ways) {
        for (Way& way : ways) way.turns = way.depends;
        return ways;
    }

    Ways product(const Expr& e, const Scope& scope) {
        const Ways a = ways(e.a, scope), b = ways(e.b, scope);
        Ways result = sum(a, b);
        if (!any_depends(result)) return result;
        if (any_depends(a) && any_depends(b)) return turning(std::move(result));
        const bool divisor = e.op == Op::divide && any_depends(b);
        const ExprId number = any_depends(a) ? e.a : e.b;
        const Value of = value(number, scope), factor = value(number == e.a ? e.b : e.a, scope);
        // A divisor that passes zero, and an uncertain factor of what does.
        const bool certain = !factor.poison() && factor.number.is_point();
        if (sign(of) == 0 && (divisor || !certain)) return turning(std::move(result));
        for (Way& way : result) {
            way = scaled(way, sign(factor));
            if (divisor && way.depends) {
                way = opposite(way);
                way.straight = false;
            }
        }
        return result;
    }

    Ways uncertain(const Expr& e, const Scope& scope) {
        const Ways a = ways(e.a, scope), b = ways(e.b, scope);
        if (any_depends(b)) return turning(sum(a, b));
        return any_depends(a) && sign(value(e.a, scope)) == 0 ? turning(a) : a;
    }

    Ways function(const Expr& e, const Scope& scope) {
        const Function& f = functions()[e.index];
        std::vector<Ways> all;
        std::size_t dependent = 0;
        bool bends = false;
        for (Index k = 0; k < e.count; ++k) {
            all.push_back(ways(model_.arguments[e.first + k], scope));
            if (!any_depends(all.back())) continue;
            ++dependent;
            bends = bends || turns_in(f, k);
        }
        Ways result(axes_);
        for (std::size_t i = 0; i < axes_; ++i) {
            std::vector<Way> of;
            for (const Ways& one : all) of.push_back(one[i]);
            result[i] = extreme(of);
            if (f.value == nullptr) result[i].sign = 0; // rises or falls: the tables do not say which
        }
        return bends || (f.value == nullptr && dependent > 1) ? turning(std::move(result)) : result;
    }

    /// May the function turn in this argument? min and max rise with each; abs may turn.
    static bool turns_in(const Function& f, Index k) {
        if (f.value != nullptr) return f.name == "abs";
        return k >= f.parameters.size() || f.parameters[k].certain || !std::isnan(f.parameters[k].turning);
    }

    void compare(ExprId id, const Scope& scope) {
        const Expr& e = model_.exprs[id];
        const Ways a = ways(e.a, scope), b = ways(e.b, scope), apart = difference(a, b);
        if (!any_depends(apart)) return;
        if (reads_run(model_, id)) { // a limit of the run: it is judged where it lies
            if (any_turns(apart)) fail(Fault::turns, e.span);
            return;
        }
        if (const Value answer = value(id, scope); !answer.poison() && answer.number.is_point()) return;
        for (const auto& [one, other] : {std::pair{e.a, e.b}, std::pair{e.b, e.a}}) {
            const Expr& slot = model_.exprs[one];
            if (slot.op != Op::slot || slot.index >= scope.locals.size()) continue;
            const Index parameter = scope.locals[slot.index].same_as;
            if (parameter == none || any_depends(one == e.a ? b : a)) continue;
            const Value limit = value(other, scope);
            if (limit.poison() || !limit.number.is_point()) continue;
            result.cuts[parameter].push_back(limit.number.lo);
            return;
        }
        fail(Fault::decides, e.span);
    }

    const Model& model_;
    const Recipe& recipe_;
    const Rig* rig_;
    const std::size_t axes_;
    Scope head_;             // as the recipe begins
    std::vector<Ways> from_; // how the set-points that a step may start from go
    unsigned looked_at_ = 0;
};

} // namespace

OneWay one_way(const Model& model, const Recipe& recipe, const Frame& values, const std::vector<bool>& ranged,
               const Rig* rig) {
    Walk walk(model, recipe, values, ranged, rig);
    walk.run();
    for (std::vector<double>& list : walk.result.cuts) {
        std::sort(list.begin(), list.end());
        list.erase(std::unique(list.begin(), list.end()), list.end());
    }
    return std::move(walk.result);
}

} // namespace athanor::check
