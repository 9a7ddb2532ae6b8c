// Conditions of a recipe: what its words mean on this rig.
#include "compiler/check/condition.hpp"
#include "compiler/elaborate/elaborator.hpp"

#include <fmt/format.h>

#include <utility>

namespace athanor::elaborate {

using check::Expr;
using timeline::Condition;
using timeline::Signal;
using timeline::SignalKind;
using timeline::Term;

namespace {

bool same(const Term& a, const Term& b) {
    return a.kind == b.kind && a.comparison == b.comparison && a.left == b.left && a.right == b.right &&
           a.right_is_signal == b.right_is_signal && a.value == b.value;
}

bool same(const Condition& a, const Condition& b) {
    if (a.terms.size() != b.terms.size() || a.source != b.source) return false;
    for (std::size_t i = 0; i < a.terms.size(); ++i)
        if (!same(a.terms[i], b.terms[i])) return false;
    return true;
}

} // namespace

class Elaborator::Words : public check::Words {
public:
    explicit Words(Elaborator& elaborator) : e_(elaborator) {}

    check::Value value(ExprId expr) override { return e_.value(expr); }
    bool signal(const Expr& expr, Signal& signal) override { return e_.signal_of(expr, signal); }
    void refuse(Code code, athanor::Span at, const std::string& message) override {
        e_.error(code, at, message);
    }

private:
    Elaborator& e_;
};

bool Elaborator::signal_of(const Expr& e, Signal& signal) {
    signal.kind = e.signal;
    signal.index = none;
    NameRef name{e.name, e.signal == SignalKind::constant ? none : e.index,
                 e.span}; // the slot of a gas parameter
    switch (e.signal) {
    case SignalKind::zone_temperature: signal.index = zone_of(name); return signal.index != none;
    case SignalKind::setpoint:
        if (e.name == 0) return true;
        signal.index = zone_of(name);
        return signal.index != none;
    case SignalKind::flow:
        if (e.name == 0) return true;
        signal.index = line_of(name);
        return signal.index != none;
    case SignalKind::line_open: signal.index = line_of(name); return signal.index != none;
    case SignalKind::fraction:
        if (name.slot != none) {
            Index gas = gas_of(name);
            if (gas == none) return false; // reported
            signal.index = species_named(model.gases[gas].name);
        } else {
            signal.index = species_named(text_of(name));
        }
        if (signal.index != none) return true;
        error(Code::unknown_name, e.span,
              fmt::format("`{}` is no pure gas: a condition asks for the fraction of one pure gas",
                          text_of(name)));
        return false;
    case SignalKind::constant: signal.index = e.index; return true;
    default: return true;
    }
}

Index Elaborator::condition(ExprId expr) {
    Condition c;
    Words words(*this);
    if (!check::lower(model, *rig, expr, words, c)) return none;
    return intern(std::move(c), expr);
}

Index Elaborator::intern(Condition c, ExprId key) {
    auto [at, inserted] = last_condition.try_emplace(key, none);
    if (!inserted && same(t->conditions[at->second], c)) return at->second;
    at->second = static_cast<Index>(t->conditions.size());
    t->conditions.push_back(std::move(c));
    return at->second;
}

} // namespace athanor::elaborate
