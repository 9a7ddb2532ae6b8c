#include "compiler/prove/instance.hpp"

#include "compiler/check/evaluate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
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

/// Lines whose gas carries a hazard: those that the recipe may open, else those that the rig has.
std::vector<timeline::Index> lines_of(const check::Model& model, const check::Rig& rig,
                                      const timeline::Timeline& timeline, check::Hazard hazard) {
    std::vector<timeline::Index> opened, all;
    for (timeline::Index line = 0; line < timeline.lines.size(); ++line) {
        if (rig.lines[line].gas == check::none || !model.gases[rig.lines[line].gas].hazards.of(hazard))
            continue;
        all.push_back(line);
        if (timeline.lines[line].ever_open()) opened.push_back(line);
    }
    return opened.empty() ? all : opened;
}

std::string_view adjective(check::Hazard hazard) {
    constexpr std::array words{"flammable", "oxidising", "inert", "toxic"};
    return words[static_cast<std::size_t>(hazard)];
}

/// Lowers a rule's expression. A word that does not exist on this rig makes a clause of the standard policy
/// inapplicable. In one that a site wrote, what is not in the rig is not in its tube.
/// A hazard word stands for the line of the event where that names the same hazard, else for all its lines:
/// "open" is any of them, "closed" all.
class Lowering {
public:
    Lowering(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
             std::optional<check::Hazard> event, timeline::Index line, bool standard,
             std::vector<std::string>& absent, Diagnostics& out)
        : model_(model), rig_(rig), timeline_(timeline), event_(event), line_(line), standard_(standard),
          absent_(absent), out_(out) {}

    /// `asked`: it must hold; else it says when something is asked.
    std::optional<Condition> condition(ExprId id, bool asked) {
        Condition result;
        if (id == 0) return result;
        result.source = model_.exprs[id].span;
        asked_ = asked;
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
            asked_ = !asked_;
            if (!lower(e.a, terms)) return false;
            asked_ = !asked_;
            Term term;
            term.kind = Term::Kind::not_;
            terms.push_back(term);
            return true;
        }
        case Op::less: return compare(e, timeline::Comparison::less, terms);
        case Op::less_equal: return compare(e, timeline::Comparison::less_equal, terms);
        case Op::greater: return compare(e, timeline::Comparison::greater, terms);
        case Op::greater_equal: return compare(e, timeline::Comparison::greater_equal, terms);
        case Op::hazard_open: return lines(static_cast<check::Hazard>(e.index), false, terms);
        case Op::hazard_closed: return lines(static_cast<check::Hazard>(e.index), true, terms);
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

    std::vector<timeline::Index> meant(check::Hazard hazard) const {
        if (event_ == hazard) return {line_};
        return lines_of(model_, rig_, timeline_, hazard);
    }

    bool lines(check::Hazard hazard, bool closed, std::vector<Term>& terms) {
        const std::vector<timeline::Index> all = meant(hazard);
        if (all.empty())
            return !standard_ && truth(absent(fmt::format("line of {} gas", adjective(hazard))), closed, terms);
        for (std::size_t i = 0; i < all.size(); ++i) {
            truth({SignalKind::line_open, all[i]}, closed, terms);
            if (i == 0) continue;
            Term join;
            join.kind = closed ? Term::Kind::and_ : Term::Kind::or_;
            terms.push_back(join);
        }
        return true;
    }

    /// Of several gases the one that asks most of the run: the highest limit of what must be above it, the
    /// lowest that brings the rule to bear. A gas without a published figure can be proven hot enough by none.
    double safety_temperature(check::Hazard hazard, bool above) const {
        const bool highest = above == asked_;
        double limit = highest ? 0 : infinity;
        for (const timeline::Index line : meant(hazard)) {
            const check::Figure& figure = model_.gases[rig_.lines[line].gas].safety_temperature;
            const double one = figure.given ? figure.hi() : infinity;
            limit = highest ? std::max(limit, one) : std::min(limit, one);
        }
        return limit;
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
            term.value = safety_temperature(static_cast<check::Hazard>(limit.index),
                                            comparison == timeline::Comparison::greater ||
                                                comparison == timeline::Comparison::greater_equal);
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
            const std::vector<timeline::Index> found = model_.lines_named(rig_, name);
            if (found.size() > 1) {
                out_.error(Code::unknown_name, e.span, check::Model::which_of(rig_, found, name));
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
        return absent(fmt::format("`{}`", name));
    }

    const check::Model& model_;
    const check::Rig& rig_;
    const timeline::Timeline& timeline_;
    std::optional<check::Hazard> event_;
    timeline::Index line_;
    bool standard_, asked_ = true;
    std::vector<std::string>& absent_;
    Diagnostics& out_;
};

/// The first hazard that a clause's own words name.
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
    auto add = [&](const check::Rule& rule, const check::RuleRequire& clause,
                   std::optional<check::Hazard> event, timeline::Index line) {
        std::vector<std::string> absent;
        Lowering lowering(model, rig, timeline, event, line, rule.standard, absent, out);
        auto require = lowering.condition(clause.require, true),
             guard = lowering.condition(clause.guard, false), until = lowering.condition(clause.until, true);
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
            if (clause.event.kind == E::opening_hazard || clause.event.kind == E::closing_hazard) {
                for (const timeline::Index line : lines_of(model, rig, timeline, clause.event.hazard))
                    if (timeline.lines[line].ever_open()) add(rule, clause, clause.event.hazard, line);
            } else if (clause.event.line.name != 0) {
                const std::vector<timeline::Index> named =
                    model.lines_named(rig, model.names[clause.event.line.name]);
                if (named.size() > 1)
                    out.error(Code::unknown_name, clause.event.line.span,
                              check::Model::which_of(rig, named, model.names[clause.event.line.name]));
                else if (!named.empty())
                    add(rule, clause, std::nullopt, named.front());
            } else {
                std::optional<check::Hazard> hazard;
                for (ExprId id : {clause.require, clause.guard, clause.until})
                    if (!hazard) hazard = hazard_in(model, id);
                std::vector<timeline::Index> lines;
                if (hazard) lines = lines_of(model, rig, timeline, *hazard);
                // The standard policy is about what the recipe may open.
                if (hazard && rule.standard && (lines.empty() || !timeline.lines[lines.front()].ever_open()))
                    continue;
                add(rule, clause, std::nullopt, lines.size() == 1 ? lines.front() : timeline::none);
            }
        }
    }
    return list;
}

} // namespace athanor::prove
