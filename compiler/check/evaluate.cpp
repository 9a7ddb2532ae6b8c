#include "compiler/check/evaluate.hpp"
#include "compiler/check/functions.hpp"
#include "compiler/quantity/unit.hpp"

#include <array>
#include <cmath>
#include <fmt/format.h>

namespace athanor::check {

namespace {

class Evaluator {
public:
    Evaluator(const Model& model, const Frame& frame, Diagnostics& out)
        : model_(model), frame_(frame), out_(out) {}

    Value operator()(ExprId id) {
        const Expr& e = model_.exprs[id];
        switch (e.op) {
        case Op::poison: return {};
        case Op::hole:
            out_.error(Code::value_missing, e.span, "a value is left open here")
                .remedy(e.type.poison() ? std::string("write the value in place of `?`")
                                        : fmt::format("write {} in place of `?`", describe(e.type)));
            return {};
        case Op::constant: return {e.type, e.value, e.index, {}};
        case Op::text:
        case Op::gas: return {e.type, {}, e.index, {}};
        case Op::slot: return e.index < frame_.slots.size() ? frame_.slots[e.index] : Value{};
        case Op::list: return list(e);
        case Op::ambient:
            if (frame_.has_ambient) return {e.type, frame_.ambient_pressure, none, {}};
            out_.error(Code::misplaced, e.span, "the room's pressure is known only where a rig is named");
            return {};
        case Op::call: return call(e);
        case Op::negate:
        case Op::not_: {
            const Value a = (*this)(e.a);
            if (a.poison()) return {};
            if (e.op == Op::negate) return {e.type, -a.number, none, {}};
            return truth(e, !(a.number.hi > 0), !(a.number.lo > 0));
        }
        case Op::signal:
        case Op::hazard_open:
        case Op::hazard_closed:
        case Op::hazard_safety_temperature:
            out_.error(Code::misplaced, e.span, "a signal has no value before the run");
            return {};
        default: return binary(e);
        }
    }

private:
    static Value truth(const Expr& e, bool always, bool possibly) {
        // Between the two an uncertain value decides: [0, 1].
        const bool certain = always && possibly, never = !always && !possibly;
        return {e.type, certain ? Interval(1) : never ? Interval(0) : Interval(0, 1), none, {}};
    }

    Value list(const Expr& e) {
        Value result{e.type, {}, none, {}};
        bool bad = false;
        for (Index i = 0; i < e.count; ++i) {
            result.list.push_back((*this)(model_.arguments[e.first + i]));
            bad = bad || result.list.back().poison();
        }
        return bad ? Value{} : result;
    }

    Value call(const Expr& e) {
        const Function& function = functions()[e.index];
        std::vector<Value> values;
        bool bad = false;
        for (Index i = 0; i < e.count; ++i) {
            const ExprId id = model_.arguments[e.first + i];
            values.push_back(id == 0 ? Value{} : (*this)(id)); // 0: left to its default
            bad = bad || (id != 0 && values.back().poison());
        }
        if (bad) return {};
        if (function.compute != nullptr) return call_function(model_, e, std::move(values), out_);
        std::vector<Interval> numbers;
        for (const Value& v : values) numbers.push_back(v.number);
        return finite(e, function.value(numbers));
    }

    Value finite(const Expr& e, Interval number) {
        if (std::isfinite(number.lo) && std::isfinite(number.hi)) return {e.type, number, none, {}};
        out_.error(Code::too_large, e.span, "the result is beyond what a number can be");
        return {};
    }

    Value binary(const Expr& e) {
        const Value a = (*this)(e.a), b = (*this)(e.b);
        if (a.poison() || b.poison()) return {};
        const Interval x = a.number, y = b.number;
        switch (e.op) {
        case Op::add: return finite(e, x + y);
        case Op::subtract: return finite(e, x - y);
        case Op::multiply: return finite(e, x * y);
        case Op::divide:
            if (y.contains(0.0)) {
                Diagnostic& d = out_.error(
                    Code::misplaced, e.span,
                    y.is_point() ? std::string("a division by zero")
                                 : fmt::format("a division by {}, which may be zero", to_text(y, b.type)));
                d.also(model_.exprs[e.b].span, "this is zero");
                return {};
            }
            return finite(e, x / y);
        case Op::plus_minus: {
            if (y.lo < 0) {
                out_.error(Code::implausible_value, model_.exprs[e.b].span,
                           fmt::format("an uncertainty of {}: it is 0 or more", to_text(y, b.type)))
                    .remedy("write the half of its width behind `±`");
                return {};
            }
            const bool share = b.type.kind == Kind::fraction && a.type.kind != Kind::fraction && !point(a.type);
            const Interval half = share ? abs(x) * abs(y) : abs(y);
            // ± 0 stays the value itself.
            if (half == Interval(0)) return {e.type, x, none, {}};
            return finite(e, x + Interval(-half.hi, half.hi));
        }
        case Op::less: return truth(e, x.hi < y.lo, x.lo < y.hi);
        case Op::less_equal: return truth(e, x.hi <= y.lo, x.lo <= y.hi);
        case Op::greater: return truth(e, x.lo > y.hi, x.hi > y.lo);
        case Op::greater_equal: return truth(e, x.lo >= y.hi, x.hi >= y.lo);
        case Op::equal:
            if (a.type.kind == Kind::gas) {
                const bool same = model_.substance_of(a.index) == model_.substance_of(b.index);
                return truth(e, same, same);
            }
            if (a.type.kind == Kind::text) {
                if (a.index == none || b.index == none) {
                    out_.error(Code::misplaced, e.span, "a list of names is not one text");
                    return {};
                }
                const bool same = model_.texts[a.index] == model_.texts[b.index];
                return truth(e, same, same);
            }
            return truth(e, x.is_point() && x == y, x.lo <= y.hi && y.lo <= x.hi);
        case Op::and_: return {e.type, min(x, y), none, {}};
        case Op::or_: return {e.type, max(x, y), none, {}};
        default: return {};
        }
    }

    const Model& model_;
    const Frame& frame_;
    Diagnostics& out_;
};

/// Equal but for the few units in the last place that outward rounding leaves.
bool near(double a, double b) {
    return std::fabs(a - b) <= 1e-9 * std::fmax(std::fabs(a), std::fabs(b));
}

bool whole(double number) {
    return std::isfinite(number) && std::fabs(number - std::round(number)) < 1e-9;
}

std::string written(const Model& model, const Value& value) {
    if (value.type.kind == Kind::gas && value.index < model.gases.size()) return model.gases[value.index].name;
    if (value.type.kind == Kind::text && value.index < model.texts.size())
        return fmt::format("\"{}\"", model.texts[value.index]);
    return to_text(value.number, value.type);
}

} // namespace

Value evaluate(const Model& model, ExprId expr, const Frame& frame, Diagnostics& out) {
    if (expr == 0) return {};
    return Evaluator(model, frame, out)(expr);
}

bool in_range(const Model& model, const Parameter& parameter, const Value& value, const Frame& frame,
              athanor::Span at, Diagnostics& out) {
    if (value.poison()) return true;
    const std::string_view name = model.names[parameter.name];
    if (parameter.list != 0) {
        const Value list = evaluate(model, parameter.list, frame, out);
        if (list.poison()) return true;
        std::string allowed;
        for (const Value& item : list.list) {
            const bool same =
                value.type.quantity()
                    ? near(item.number.lo, value.number.lo) && near(item.number.hi, value.number.hi)
                : value.type.kind == Kind::text    ? model.texts[item.index] == model.texts[value.index]
                : value.type.kind == Kind::boolean ? item.number == value.number
                                                   : item.index == value.index;
            if (same) return true;
            allowed += (allowed.empty() ? "" : ", ") + written(model, item);
        }
        out.error(Code::parameter_out_of_range, at,
                  fmt::format("`{}` = {} is none of {}", name, written(model, value), allowed))
            .also(parameter.span, "declared here");
        return false;
    }
    if (parameter.lo == 0 || parameter.hi == 0) return true;
    const Value lo = evaluate(model, parameter.lo, frame, out), hi = evaluate(model, parameter.hi, frame, out);
    if (lo.poison() || hi.poison()) return true;
    const bool above = value.number.lo >= lo.number.lo || near(value.number.lo, lo.number.lo);
    const bool below = value.number.hi <= hi.number.hi || near(value.number.hi, hi.number.hi);
    if (!above || !below) {
        out.error(Code::parameter_out_of_range, at,
                  fmt::format("`{}` = {} is outside {} to {}", name, written(model, value), written(model, lo),
                              written(model, hi)))
            .also(parameter.span, "declared here");
        return false;
    }
    if (!counts_of(model, parameter, frame, 0, out).empty() && !whole(value.number.middle())) {
        out.error(Code::parameter_out_of_range, at,
                  fmt::format("`{}` = {} is no whole number, as the ends of its range are", name,
                              written(model, value)))
            .also(parameter.span, "declared here");
        return false;
    }
    if (parameter.step == 0) return true;
    const Value step = evaluate(model, parameter.step, frame, out);
    if (step.poison() || !(step.number.lo > 0)) return true;
    const double steps = (value.number.middle() - lo.number.middle()) / step.number.middle();
    if (std::fabs(steps - std::round(steps)) < 1e-6) return true;
    out.error(Code::parameter_out_of_range, at,
              fmt::format("`{}` = {} is not on the steps of {} from {}", name, written(model, value),
                          written(model, step), written(model, lo)))
        .also(parameter.span, "declared here");
    return false;
}

std::vector<double> counts_of(const Model& model, const Parameter& parameter, const Frame& frame,
                              std::size_t most, Diagnostics& out) {
    if (parameter.type.kind != Kind::count || parameter.lo == 0 || parameter.hi == 0) return {};
    double by = 1, lo = 0, hi = 0;
    for (const auto& [expr, number] :
         {std::pair{parameter.lo, &lo}, std::pair{parameter.hi, &hi}, std::pair{parameter.step, &by}}) {
        if (expr == 0) continue;
        const Value value = evaluate(model, expr, frame, out);
        if (value.poison() || !whole(value.number.middle())) return {};
        *number = std::round(value.number.middle());
    }
    std::vector<double> counts;
    for (double n = lo; by > 0 && n <= hi && counts.size() <= most; n += by) counts.push_back(n);
    return counts;
}

} // namespace athanor::check
