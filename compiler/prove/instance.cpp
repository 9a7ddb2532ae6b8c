#include "compiler/prove/instance.hpp"

#include "compiler/check/condition.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>
#include <string_view>

namespace athanor::prove {
namespace {

using check::Expr;
using check::ExprId;
using timeline::Signal;
using timeline::SignalKind;
using timeline::Term;

/// Lines whose gas carries a hazard: those that the recipe may open, else those that the rig has.
std::vector<timeline::Index> lines_of_hazard(const check::Model& model, const check::Rig& rig,
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

/// What a rule's words mean. One that does not exist on this rig makes a clause of the standard policy
/// inapplicable. In one that a site wrote, what is not in the rig is not in its tube.
/// A hazard word stands for the line of the event where that names the same hazard, else for all its lines:
/// "open" is any of them, "closed" all.
class RuleWords : public check::Words {
public:
    RuleWords(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
              std::optional<check::Hazard> event, timeline::Index line, bool standard,
              std::vector<std::string>& absent, Diagnostics& out)
        : model_(model), rig_(rig), timeline_(timeline), event_(event), line_(line), standard_(standard),
          absent_(absent), out_(out) {}

    check::Value value(ExprId expr) override {
        check::Frame frame;
        frame.ambient_pressure = rig_.ambient_pressure.value;
        frame.has_ambient = true;
        return check::evaluate(model_, expr, frame, out_);
    }

    bool signal(const Expr& e, Signal& signal) override {
        signal = {e.signal, timeline::none};
        if (e.signal == SignalKind::hazard_flow) signal.index = e.index;
        if (e.name == 0) return true;
        const std::string_view name = model_.names[e.name];
        const bool zone = e.signal == SignalKind::zone_temperature || e.signal == SignalKind::setpoint;
        if (e.signal == SignalKind::flow || e.signal == SignalKind::line_open) {
            const std::vector<timeline::Index> found = model_.lines_named(rig_, name);
            if (found.size() > 1) {
                out_.error(Code::unknown_name, e.span, check::Model::which_of(rig_, found, name));
                return false;
            }
            if (!found.empty()) signal.index = found.front();
        } else if (e.signal == SignalKind::fraction || zone) {
            const std::vector<std::string>& list = zone ? timeline_.zones : timeline_.species;
            const auto at = std::find(list.begin(), list.end(), name);
            if (at != list.end()) signal.index = static_cast<timeline::Index>(at - list.begin());
        } else {
            return true;
        }
        if (signal.index != timeline::none) return true;
        if (standard_ || zone) return false;
        signal = absent(fmt::format("`{}`", name));
        return true;
    }

    bool lines_of(const Expr& e, std::vector<Term>& terms) override {
        const auto hazard = static_cast<check::Hazard>(e.index);
        const bool closed = e.op == check::Op::hazard_closed;
        const std::vector<timeline::Index> all = meant(hazard);
        if (all.empty() && standard_) return false;
        if (all.empty()) truth(absent(fmt::format("line of {} gas", adjective(hazard))), closed, terms);
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
    /// What lights the gas is the wall: a cold sample that a slide brings in leaves it hot.
    double safety_temperature(const Expr& e, bool highest, Signal& compared) override {
        if (compared.kind == SignalKind::temperature && slides()) compared.index = timeline::without_sample;
        double limit = highest ? 0 : infinity;
        for (const timeline::Index line : meant(static_cast<check::Hazard>(e.index))) {
            const check::Figure& figure = model_.gases[rig_.lines[line].gas].safety_temperature;
            const double one = figure.given ? figure.hi() : infinity;
            limit = highest ? std::max(limit, one) : std::min(limit, one);
        }
        return limit;
    }

    void refuse(Code code, athanor::Span at, const std::string& message) override {
        out_.error(code, at, message);
    }

private:
    static void truth(Signal signal, bool negated, std::vector<Term>& terms) {
        Term term;
        term.left = signal;
        terms.push_back(term);
        if (!negated) return;
        Term flip;
        flip.kind = Term::Kind::not_;
        terms.push_back(flip);
    }

    std::vector<timeline::Index> meant(check::Hazard hazard) const {
        if (event_ == hazard) return {line_};
        return lines_of_hazard(model_, rig_, timeline_, hazard);
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

    const check::Model& model_;
    const check::Rig& rig_;
    const timeline::Timeline& timeline_;
    std::optional<check::Hazard> event_;
    timeline::Index line_;
    bool standard_;
    std::vector<std::string>& absent_;
    Diagnostics& out_;
};

/// The first hazard that a clause's own words name.
std::optional<check::Hazard> hazard_in(const check::Model& model, ExprId id) {
    if (id == 0) return std::nullopt;
    const Expr& e = model.exprs[id];
    if (e.op == check::Op::hazard_open || e.op == check::Op::hazard_closed ||
        e.op == check::Op::hazard_safety_temperature)
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
        RuleWords words(model, rig, timeline, event, line, rule.standard, absent, out);
        const auto condition = [&](ExprId id, bool asked, timeline::Condition& into) {
            return id == 0 || check::lower(model, rig, id, words, into, asked);
        };
        Instance instance;
        instance.rule = &rule;
        instance.clause = &clause;
        instance.line = line;
        if (!condition(clause.require, true, instance.require) ||
            !condition(clause.guard, false, instance.guard) || !condition(clause.until, true, instance.until))
            return;
        instance.absent = std::move(absent);
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
                for (const timeline::Index line : lines_of_hazard(model, rig, timeline, clause.event.hazard))
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
                if (hazard) lines = lines_of_hazard(model, rig, timeline, *hazard);
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
