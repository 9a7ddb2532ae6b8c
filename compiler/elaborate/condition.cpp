// Typed expressions over signals become conditions of the timeline, in postfix order.
#include "compiler/elaborate/elaborator.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

namespace athanor::elaborate {

using check::Expr;
using check::Op;
using timeline::Comparison;
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

Comparison comparison_of(Op op) {
    switch (op) {
    case Op::less: return Comparison::less;
    case Op::less_equal: return Comparison::less_equal;
    case Op::greater: return Comparison::greater;
    default: return Comparison::greater_equal;
    }
}

Comparison mirrored(Comparison c) {
    switch (c) {
    case Comparison::less: return Comparison::greater;
    case Comparison::less_equal: return Comparison::greater_equal;
    case Comparison::greater: return Comparison::less;
    default: return Comparison::less_equal;
    }
}

Term truth(bool yes) {
    Term term;
    term.left = {SignalKind::constant, yes ? 1U : 0U};
    return term;
}

} // namespace

bool Elaborator::has_signal(ExprId id) const {
    const Expr& e = model.exprs[id];
    if (e.op == Op::signal) return true;
    if (e.a != 0 && has_signal(e.a)) return true;
    if (e.b != 0 && has_signal(e.b)) return true;
    for (Index i = 0; i < e.count; ++i)
        if (has_signal(model.arguments[e.first + i])) return true;
    return false;
}

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

/// A side of a comparison: a signal, a value, or a signal plus or minus a value.
bool Elaborator::side_of(ExprId id, Side& side) {
    const Expr& e = model.exprs[id];
    side.type = e.type;
    if (!has_signal(id)) {
        check::Value v = value(id);
        if (v.poison()) return false;
        side.offset = v.number;
        side.type = v.type;
        return true;
    }
    if (e.op == Op::signal) {
        side.has_signal = true;
        return signal_of(e, side.signal);
    }
    if (e.op == Op::add || e.op == Op::subtract) {
        Side a, b;
        if (!side_of(e.a, a) || !side_of(e.b, b)) return false;
        if (!b.has_signal) {
            side = a;
            side.offset = e.op == Op::add ? a.offset + b.offset : a.offset - b.offset;
            return true;
        }
        if (!a.has_signal && e.op == Op::add) {
            side = b;
            side.offset = a.offset + b.offset;
            return true;
        }
    }
    if (e.op == Op::poison) return false;
    error(Code::misplaced, e.span,
          "a condition compares a signal, or a signal plus or minus a value, and nothing else");
    return false;
}

bool Elaborator::comparison(const Expr& e, Condition& into) {
    Side left, right;
    if (!side_of(e.a, left) || !side_of(e.b, right)) return false;
    Term term;
    term.kind = Term::Kind::compare;
    term.comparison = comparison_of(e.op);
    if (!left.has_signal) {
        std::swap(left, right);
        term.comparison = mirrored(term.comparison);
    }
    term.left = left.signal;
    term.right_is_signal = right.has_signal;
    if (right.has_signal) term.right = right.signal;
    Interval limit = right.offset;
    if (left.signal.kind == SignalKind::flow && !right.has_signal && right.type.kind == Kind::volume_flow) {
        // A volume has a meaning only at one line's meter.
        const check::Meter* meter = left.signal.index == none ? nullptr : &rig->lines[left.signal.index].meter;
        if (meter == nullptr || !meter->has_reference) {
            error(Code::ambiguous_volume_flow, span_of(e.b),
                  "a volume flow is compared here, and no meter says at which temperature and pressure it is "
                  "meant");
            return false;
        }
        limit = {meter->molar(limit.lo), meter->molar(limit.hi)};
    }
    term.value = left.offset == Interval{0.0} ? limit : limit - left.offset;
    if (left.signal.kind == SignalKind::fraction && !right.has_signal && term.value.lo > 1) {
        error(
            Code::implausible_value, e.span,
            fmt::format("no gas has a share of {}: this asks nothing", to_text(term.value.lo, Kind::fraction)));
        return false;
    }
    into.terms.push_back(term);
    return true;
}

bool Elaborator::terms_of(ExprId id, Condition& into) {
    const Expr& e = model.exprs[id];
    if (e.op == Op::poison) return false;
    if (!has_signal(id)) {
        check::Value v = value(id);
        if (v.poison()) return false;
        into.terms.push_back(truth(v.number.lo > 0));
        return true;
    }
    switch (e.op) {
    case Op::and_:
    case Op::or_: {
        if (!terms_of(e.a, into) || !terms_of(e.b, into)) return false;
        Term term;
        term.kind = e.op == Op::and_ ? Term::Kind::and_ : Term::Kind::or_;
        into.terms.push_back(term);
        return true;
    }
    case Op::not_: {
        if (!terms_of(e.a, into)) return false;
        Term term;
        term.kind = Term::Kind::not_;
        into.terms.push_back(term);
        return true;
    }
    case Op::signal: {
        Term term;
        if (!signal_of(e, term.left)) return false;
        into.terms.push_back(term);
        return true;
    }
    case Op::less:
    case Op::less_equal:
    case Op::greater:
    case Op::greater_equal: return comparison(e, into);
    default:
        error(Code::misplaced, e.span, "this is no condition: compare a signal with a value");
        return false;
    }
}

Index Elaborator::condition(ExprId expr) {
    Condition c;
    c.source = span_of(expr);
    if (!terms_of(expr, c)) return none;
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
