#include "compiler/check/condition.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <optional>
#include <utility>

namespace athanor::check {

using timeline::Comparison;
using timeline::Signal;
using timeline::SignalKind;
using timeline::Term;

bool Words::lines_of(const Expr&, std::vector<Term>&) {
    return false;
}

double Words::safety_temperature(const Expr&, bool, Signal&) {
    return infinity;
}

bool upper(Comparison comparison) {
    return comparison == Comparison::less || comparison == Comparison::less_equal;
}

namespace {

/// `a < b` read from the other side: `b > a`.
Comparison mirrored(Comparison comparison) {
    switch (comparison) {
    case Comparison::less: return Comparison::greater;
    case Comparison::less_equal: return Comparison::greater_equal;
    case Comparison::greater: return Comparison::less;
    default: return Comparison::less_equal;
    }
}

Comparison comparison_of(Op op) {
    switch (op) {
    case Op::less: return Comparison::less;
    case Op::less_equal: return Comparison::less_equal;
    case Op::greater: return Comparison::greater;
    default: return Comparison::greater_equal;
    }
}

Term truth(bool yes) {
    Term term;
    term.left = {SignalKind::constant, yes ? 1U : 0U};
    return term;
}

Term reduce(Term::Kind kind) {
    Term term;
    term.kind = kind;
    return term;
}

/// One side of a comparison: at most one signal that counts and one that is taken off, and a value.
struct Side {
    ExprId expr = 0;
    std::optional<Signal> plus, minus;
    const Expr* safety = nullptr; // `safety_temperature of …`, which counts
    Interval value;
    Type type;
    bool reads() const { return plus || minus; }
};

class Lowering {
public:
    Lowering(const Model& model, const Rig& rig, Words& words, std::vector<Term>& terms, bool asked)
        : model_(model), rig_(rig), words_(words), terms_(terms), asked_(asked) {}

    bool operator()(ExprId id) {
        const Expr& e = model_.exprs[id];
        if (e.op == Op::poison) return false;
        if (!reads_run(model_, id)) {
            const Value v = words_.value(id);
            if (v.poison()) return false;
            if (!v.number.is_point()) {
                words_.refuse(Code::misplaced, e.span,
                              "uncertain values decide this: it may hold or not, and nothing in the run tells; "
                              "compare a signal here, or values that are certain");
                return false;
            }
            terms_.push_back(truth(v.number.lo > 0));
            return true;
        }
        switch (e.op) {
        case Op::and_:
        case Op::or_:
            if (!(*this)(e.a) || !(*this)(e.b)) return false;
            terms_.push_back(reduce(e.op == Op::and_ ? Term::Kind::and_ : Term::Kind::or_));
            return true;
        case Op::not_:
            asked_ = !asked_;
            if (!(*this)(e.a)) return false;
            asked_ = !asked_;
            terms_.push_back(reduce(Term::Kind::not_));
            return true;
        case Op::signal: {
            Term term;
            if (!words_.signal(e, term.left)) return false;
            terms_.push_back(term);
            return true;
        }
        case Op::hazard_open:
        case Op::hazard_closed: return words_.lines_of(e, terms_);
        case Op::less:
        case Op::less_equal:
        case Op::greater:
        case Op::greater_equal: return comparison(e);
        default:
            words_.refuse(Code::misplaced, e.span, "this is no condition: compare a signal with a value");
            return false;
        }
    }

private:
    bool not_compared(const Expr& e) {
        words_.refuse(Code::misplaced, e.span,
                      "a condition compares a signal, or a signal plus or minus a value, and nothing else");
        return false;
    }

    bool side(ExprId id, Side& into) {
        const Expr& e = model_.exprs[id];
        into.expr = id;
        into.type = e.type;
        if (!reads_run(model_, id)) {
            const Value v = words_.value(id);
            if (v.poison()) return false;
            into.value = v.number;
            into.type = v.type;
            return true;
        }
        if (e.op == Op::signal) return words_.signal(e, into.plus.emplace());
        if (e.op == Op::hazard_safety_temperature) {
            into.safety = &e;
            return true;
        }
        if (e.op == Op::poison) return false;
        if (e.op != Op::add && e.op != Op::subtract) return not_compared(e);
        Side a, b;
        if (!side(e.a, a) || !side(e.b, b)) return false;
        const bool adds = e.op == Op::add;
        if (!adds) std::swap(b.plus, b.minus);
        if ((a.plus && b.plus) || (a.minus && b.minus) ||
            (b.safety != nullptr && (!adds || a.safety != nullptr)))
            return not_compared(e);
        into.plus = a.plus ? a.plus : b.plus;
        into.minus = a.minus ? a.minus : b.minus;
        into.safety = a.safety != nullptr ? a.safety : b.safety;
        into.value = adds ? a.value + b.value : a.value - b.value;
        return true;
    }

    /// What is taken off on one side counts on the other.
    bool comparison(const Expr& e) {
        Side left, right;
        if (!side(e.a, left) || !side(e.b, right)) return false;
        Term term;
        term.kind = Term::Kind::compare;
        term.comparison = comparison_of(e.op);
        if (!left.plus && !right.minus) {
            std::swap(left, right);
            term.comparison = mirrored(term.comparison);
        }
        if (left.plus.has_value() == right.minus.has_value() || (right.plus && left.minus) ||
            left.safety != nullptr)
            return not_compared(e);
        term.left = left.plus ? *left.plus : *right.minus;
        const std::optional<Signal>& other = right.plus ? right.plus : left.minus;
        term.right_is_signal = other.has_value();
        if (other) term.right = *other;
        if (right.safety != nullptr) {
            const Interval safe =
                words_.safety_temperature(*right.safety, upper(term.comparison) != asked_, term.left);
            right.value = right.value == Interval{0.0} ? safe : right.value + safe;
        }
        if (!at_meter(term, right)) return false;
        term.value = left.value == Interval{0.0} ? right.value : right.value - left.value;
        if (term.left.kind == SignalKind::fraction && !other && term.value.lo > 1) {
            words_.refuse(Code::implausible_value, e.span,
                          fmt::format("no gas has a share of {}: this asks nothing",
                                      to_text(term.value.lo, Kind::fraction)));
            return false;
        }
        // Nothing at all surely meets the limit: that has no margin to tell of.
        const bool nothing = term.left.kind == SignalKind::constant && !other &&
                             (term.comparison == Comparison::less         ? term.value.lo > 0
                              : term.comparison == Comparison::less_equal ? term.value.lo >= 0
                                                                          : false);
        terms_.push_back(nothing ? truth(true) : term);
        return true;
    }

    /// A volume has a meaning only at one line's meter.
    bool at_meter(const Term& term, Side& limit) {
        if (term.left.kind != SignalKind::flow || term.right_is_signal || limit.type.kind != Kind::volume_flow)
            return true;
        const Meter* meter = term.left.index == none ? nullptr : &rig_.lines[term.left.index].meter;
        if (meter == nullptr || !meter->has_reference) {
            words_.refuse(Code::ambiguous_volume_flow, model_.exprs[limit.expr].span,
                          "a volume flow is compared here, and no meter says at which temperature and pressure "
                          "it is meant");
            return false;
        }
        limit.value = {meter->molar(limit.value.lo), meter->molar(limit.value.hi)};
        return true;
    }

    const Model& model_;
    const Rig& rig_;
    Words& words_;
    std::vector<Term>& terms_;
    bool asked_;
};

} // namespace

bool reads_run(const Model& model, ExprId expr) {
    if (expr == 0) return false;
    const Expr& e = model.exprs[expr];
    if (e.op == Op::signal || e.op == Op::hazard_open || e.op == Op::hazard_closed ||
        e.op == Op::hazard_safety_temperature)
        return true;
    if (reads_run(model, e.a) || reads_run(model, e.b)) return true;
    for (Index i = 0; i < e.count; ++i)
        if (reads_run(model, model.arguments[e.first + i])) return true;
    return false;
}

bool lower(const Model& model, const Rig& rig, ExprId expr, Words& words, timeline::Condition& into,
           bool asked) {
    into.source = model.exprs[expr].span;
    return Lowering(model, rig, words, into.terms, asked)(expr);
}

} // namespace athanor::check
