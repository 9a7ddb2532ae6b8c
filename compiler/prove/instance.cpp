#include "compiler/prove/instance.hpp"

#include "compiler/check/evaluate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <string_view>

namespace athanor::prove {
namespace {

using check::Expr;
using check::ExprId;
using check::Op;
using timeline::Condition;
using timeline::Signal;
using timeline::SignalKind;
using timeline::Term;

/// The line that has the name, else those that carry the gas.
std::vector<timeline::Index> lines_named(const check::Model& model, const check::Rig& rig,
                                         std::string_view name) {
    std::vector<timeline::Index> found;
    for (timeline::Index line = 0; line < rig.lines.size(); ++line) {
        if (rig.lines[line].name == name) return {line};
        if (model.delivers(rig.lines[line].gas, model.gas_named(name))) found.push_back(line);
    }
    return found;
}

/// Lowers a rule's expression for one line. A word that does not exist on this rig makes a clause of the
/// standard policy inapplicable. In one that a site wrote, what is not in the rig is not in its tube.
class Lowering {
public:
    Lowering(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
             timeline::Index line, bool standard, std::vector<std::string>& absent, Diagnostics& out)
        : model_(model), rig_(rig), timeline_(timeline), line_(line), standard_(standard), absent_(absent),
          out_(out) {}

    std::optional<Condition> condition(ExprId id) {
        Condition result;
        if (id == 0) return result;
        result.source = model_.exprs[id].span;
        if (!lower(id, result.terms)) return std::nullopt;
        return result;
    }

private:
    bool lower(ExprId id, std::vector<Term>& terms) {
        const Expr& e = model_.exprs[id];
        switch (e.op) {
        case Op::and_:
        case Op::or_: {
            if (!lower(e.a, terms) || !lower(e.b, terms)) return false;
            Term term;
            term.kind = e.op == Op::and_ ? Term::Kind::and_ : Term::Kind::or_;
            terms.push_back(term);
            return true;
        }
        case Op::not_: {
            if (!lower(e.a, terms)) return false;
            Term term;
            term.kind = Term::Kind::not_;
            terms.push_back(term);
            return true;
        }
        case Op::less: return compare(e, timeline::Comparison::less, terms);
        case Op::less_equal: return compare(e, timeline::Comparison::less_equal, terms);
        case Op::greater: return compare(e, timeline::Comparison::greater, terms);
        case Op::greater_equal: return compare(e, timeline::Comparison::greater_equal, terms);
        case Op::hazard_open: return truth({SignalKind::line_open, line_}, false, terms);
        case Op::hazard_closed: return truth({SignalKind::line_open, line_}, true, terms);
        case Op::signal: {
            std::optional<Signal> signal = resolve(e);
            return signal && truth(*signal, false, terms);
        }
        default: return false;
        }
    }

    static bool truth(Signal signal, bool negated, std::vector<Term>& terms) {
        Term term;
        term.left = signal;
        terms.push_back(term);
        if (negated) {
            Term flip;
            flip.kind = Term::Kind::not_;
            terms.push_back(flip);
        }
        return true;
    }

    bool compare(const Expr& e, timeline::Comparison comparison, std::vector<Term>& terms) {
        ExprId left = e.a, right = e.b;
        if (model_.exprs[left].op != Op::signal) { // `760 degC < temperature` reads the other way round
            std::swap(left, right);
            comparison = static_cast<timeline::Comparison>((static_cast<int>(comparison) + 2) % 4);
        }
        if (model_.exprs[left].op != Op::signal) return false;
        std::optional<Signal> signal = resolve(model_.exprs[left]);
        if (!signal) return false;
        Term term;
        term.kind = Term::Kind::compare;
        term.comparison = comparison;
        term.left = *signal;
        const Expr& limit = model_.exprs[right];
        if (limit.op == Op::hazard_safety_temperature) {
            // What lights the gas is the wall: a cold sample that a slide brings in leaves it hot.
            if (term.left.kind == SignalKind::temperature && slides())
                term.left.index = timeline::without_sample;
            const check::Gas& gas = model_.gases[rig_.lines[line_].gas];
            // Without a published figure nothing can be proven; the highest temperature that is ever asked for
            // is.
            term.value =
                gas.safety_temperature.given ? Interval(gas.safety_temperature.hi()) : Interval(infinity);
        } else if (limit.op == Op::signal) {
            std::optional<Signal> other = resolve(limit);
            if (!other) return false;
            term.right = *other;
            term.right_is_signal = true;
        } else {
            check::Frame frame;
            frame.ambient_pressure = rig_.ambient_pressure.value;
            frame.has_ambient = true;
            check::Value value = check::evaluate(model_, right, frame, out_);
            if (value.poison()) return false;
            term.value = value.number;
        }
        // Nothing at all surely meets the limit: that has no margin to tell of.
        if (term.left.kind == SignalKind::constant && !term.right_is_signal &&
            ((comparison == timeline::Comparison::less && term.value.lo > 0) ||
             (comparison == timeline::Comparison::less_equal && term.value.lo >= 0)))
            return truth({SignalKind::constant, 1}, false, terms);
        terms.push_back(term);
        return true;
    }

    /// The run moves its sample along the tube.
    bool slides() const {
        return std::any_of(timeline_.states.begin(), timeline_.states.end(),
                           [&](const timeline::State& s) { return s.place != timeline_.states[0].place; });
    }

    /// Reads as nothing or shut: no constant but 1 is true, and the index tells what is not there.
    Signal absent(std::string_view name) {
        auto at = std::find(absent_.begin(), absent_.end(), name);
        if (at == absent_.end()) at = absent_.insert(at, std::string(name));
        return {SignalKind::constant, first_absent + static_cast<timeline::Index>(at - absent_.begin())};
    }

    std::optional<Signal> resolve(const Expr& e) {
        Signal signal{e.signal, timeline::none};
        if (e.signal == SignalKind::hazard_flow) signal.index = e.index;
        if (e.name == 0) return signal;
        std::string_view name = model_.names[e.name];
        auto find = [&](const auto& list, auto text) -> timeline::Index {
            for (timeline::Index i = 0; i < list.size(); ++i)
                if (text(list[i]) == name) return i;
            return timeline::none;
        };
        switch (e.signal) {
        case SignalKind::fraction:
            signal.index = find(timeline_.species, [](const std::string& s) { return std::string_view(s); });
            break;
        case SignalKind::zone_temperature:
        case SignalKind::setpoint:
            signal.index = find(timeline_.zones, [](const std::string& s) { return std::string_view(s); });
            break;
        case SignalKind::flow:
        case SignalKind::line_open: {
            const std::vector<timeline::Index> found = lines_named(model_, rig_, name);
            if (found.size() > 1) {
                std::string several;
                for (timeline::Index l : found)
                    several += fmt::format("{}`{}`", several.empty() ? "" : ", ", rig_.lines[l].name);
                out_.error(Code::unknown_name, e.span,
                           fmt::format("`{}` could be any of the lines {} of rig `{}`: name the line", name,
                                       several, rig_.name));
                return std::nullopt;
            }
            if (!found.empty()) signal.index = found.front();
            break;
        }
        default: return signal;
        }
        if (signal.index != timeline::none) return signal;
        const bool zone = e.signal == SignalKind::zone_temperature || e.signal == SignalKind::setpoint;
        if (standard_ || zone) return std::nullopt;
        return absent(name);
    }

    const check::Model& model_;
    const check::Rig& rig_;
    const timeline::Timeline& timeline_;
    timeline::Index line_;
    bool standard_;
    std::vector<std::string>& absent_;
    Diagnostics& out_;
};

bool names_hazard(const check::Model& model, ExprId id) {
    if (id == 0) return false;
    const Expr& e = model.exprs[id];
    if (e.op == Op::hazard_open || e.op == Op::hazard_closed || e.op == Op::hazard_safety_temperature)
        return true;
    return names_hazard(model, e.a) || names_hazard(model, e.b);
}

std::optional<check::Hazard> hazard_in(const check::Model& model, ExprId id) {
    if (id == 0) return std::nullopt;
    const Expr& e = model.exprs[id];
    if (e.op == Op::hazard_open || e.op == Op::hazard_closed || e.op == Op::hazard_safety_temperature)
        return static_cast<check::Hazard>(e.index);
    if (auto found = hazard_in(model, e.a)) return found;
    return hazard_in(model, e.b);
}

} // namespace

std::vector<Instance> instances(const check::Model& model, const check::Rig& rig,
                                const timeline::Timeline& timeline, Diagnostics& out) {
    std::vector<Instance> list;
    auto add = [&](const check::Rule& rule, const check::RuleRequire& clause, timeline::Index line) {
        std::vector<std::string> absent;
        Lowering lowering(model, rig, timeline, line, rule.standard, absent, out);
        auto require = lowering.condition(clause.require), guard = lowering.condition(clause.guard),
             until = lowering.condition(clause.until);
        if (!require || !guard || !until) return;
        Instance instance{
            &rule, &clause,          line, std::move(*require), std::move(*guard), std::move(*until),
            0,     std::move(absent)};
        if (clause.event.temperature != 0) {
            check::Value value = check::evaluate(model, clause.event.temperature, check::Frame{}, out);
            if (value.poison()) return;
            instance.temperature = value.number.lo;
        }
        list.push_back(std::move(instance));
    };
    for (const check::Rule& rule : model.rules) {
        for (const check::RuleRequire& clause : rule.requires_) {
            using E = check::EventKind;
            bool by_hazard = clause.event.kind == E::opening_hazard || clause.event.kind == E::closing_hazard;
            std::optional<check::Hazard> hazard;
            if (by_hazard)
                hazard = clause.event.hazard;
            else if (names_hazard(model, clause.require) || names_hazard(model, clause.guard) ||
                     names_hazard(model, clause.until))
                for (ExprId id : {clause.require, clause.guard, clause.until})
                    if (!hazard) hazard = hazard_in(model, id);
            if (hazard) {
                for (timeline::Index line = 0; line < timeline.lines.size(); ++line)
                    if (timeline.lines[line].ever_open() && rig.lines[line].gas != check::none &&
                        model.gases[rig.lines[line].gas].hazards.of(*hazard))
                        add(rule, clause, line);
            } else if (clause.event.line.name != 0) {
                std::string_view name = model.names[clause.event.line.name];
                for (timeline::Index line = 0; line < timeline.lines.size(); ++line)
                    if (timeline.lines[line].name == name ||
                        model.delivers(rig.lines[line].gas, model.gas_named(name)))
                        add(rule, clause, line);
            } else {
                add(rule, clause, timeline::none);
            }
        }
    }
    return list;
}

} // namespace athanor::prove
