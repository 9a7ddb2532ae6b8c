#include "compiler/prove/sweep_limits.hpp"

#include "compiler/check/evaluate.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <cmath>
#include <optional>

namespace athanor::prove {
namespace {

/// A share of 1 in per cent, without the digits that a product leaves behind.
std::string per_cent(double share) {
    return shortest(std::round(share * 1e10) / 1e8) + " %";
}

/// The strictest figure that an expression compares a signal with, if it is stricter than `found`.
class Strictest {
public:
    Strictest(const check::Model& model, timeline::SignalKind signal, std::string_view of, bool below)
        : model_(model), signal_(signal), of_(of), below_(below) {}

    void read(check::ExprId id) {
        const check::Expr& e = model_.exprs[id];
        switch (e.op) {
        case check::Op::and_:
        case check::Op::or_:
            read(e.a);
            read(e.b);
            break;
        case check::Op::less:
        case check::Op::less_equal: compare(e.a, e.b); break;
        case check::Op::greater:
        case check::Op::greater_equal: compare(e.b, e.a); break;
        default: break;
        }
    }

    std::optional<double> found;

private:
    bool is_signal(check::ExprId id) const {
        const check::Expr& e = model_.exprs[id];
        return e.op == check::Op::signal && e.signal == signal_ && (of_.empty() || model_.names[e.name] == of_);
    }

    void compare(check::ExprId lesser, check::ExprId greater) {
        if (!is_signal(below_ ? lesser : greater)) return;
        Diagnostics unheard; // a rule that is wrong was told
        const check::Value v = check::evaluate(model_, below_ ? greater : lesser, check::Frame{}, unheard);
        if (v.poison()) return;
        const double figure = below_ ? v.number.lo : v.number.hi;
        if (!found || (below_ ? figure < *found : figure > *found)) found = figure;
    }

    const check::Model& model_;
    const timeline::SignalKind signal_;
    const std::string_view of_;
    const bool below_;
};

/// About fuel, and so about sweeping it out: what is asked before a flammable gas opens, while it may be there,
/// before a tube that may hold it is opened, pumped or left, and after a failure.
bool about_fuel(const check::RuleRequire& clause) {
    if (clause.form == check::RuleForm::after_abort) return true;
    switch (clause.event.kind) {
    case check::EventKind::opening_hazard: return clause.event.hazard == check::Hazard::flammable;
    case check::EventKind::opening_tube:
    case check::EventKind::evacuating:
    case check::EventKind::end: return true;
    default: return false;
    }
}

/// Of what is asked, and until when; a guard is no limit. The standard policy compares each signal that is
/// asked for.
double strictest(const check::Model& model, timeline::SignalKind signal, std::string_view of, bool below) {
    Strictest figure(model, signal, of, below);
    for (const check::Rule& rule : model.rules)
        for (const check::RuleRequire& clause : rule.requires_)
            if (about_fuel(clause))
                for (const check::ExprId e : {clause.require, clause.until}) figure.read(e);
    return figure.found.value();
}

} // namespace

SweepLimits sweep_limits(const check::Model& model) {
    using timeline::SignalKind;
    const double oxygen = strictest(model, SignalKind::fraction, "oxygen", true);
    const double swept = strictest(model, SignalKind::swept, "", false);
    const double flammability = strictest(model, SignalKind::flammability, "", true);
    const double burning = strictest(model, SignalKind::burning, "", false); // s
    SweepLimits words;
    words.little_oxygen = "oxygen < " + per_cent(0.5 * oxygen);
    words.air_gone = fmt::format("{} and swept > {} volumes", words.little_oxygen,
                                 shortest(std::round(1.1e6 * swept) / 1e6));
    words.fuel_gone = "flammability < " + per_cent(0.8 * flammability);
    words.burner_burns = fmt::format("{:.0f} min", std::ceil(2 * burning / 60));
    return words;
}

} // namespace athanor::prove
