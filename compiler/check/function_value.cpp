// Values of described functions: limits of the arguments, then the extremes over what is uncertain in them.
#include "compiler/check/functions.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>

namespace athanor::check {

namespace {

/// Far above the rounding of any equation in compiler/physics, far below anything that is read off.
constexpr double slack = 1e-11;

std::string range_text(const FunctionParameter& p) {
    const bool low = p.least > -infinity, high = p.most < infinity;
    const std::string least = readable(p.least, p.type, 6), most = readable(p.most, p.type, 6);
    if (!high) return p.above ? fmt::format("more than {}", least) : fmt::format("{} or more", least);
    if (!low) return fmt::format("{} or less", most);
    return p.above ? fmt::format("more than {}, at most {}", least, most)
                   : fmt::format("{} to {}", least, most);
}

class Evaluation {
public:
    Evaluation(const Model& model, const Function& f, const Expr& e, std::vector<Value> values,
               Diagnostics& out)
        : model_(model), f_(f), e_(e), values_(std::move(values)), out_(out) {}

    Value run() {
        fill();
        if (!inside()) return {};
        if (f_.choices.empty()) {
            const auto number = extremes(0);
            return number ? Value{f_.result, *number, none, {}} : Value{};
        }
        // Names that surely hold, for everything that is uncertain.
        Value result{type_of(Kind::text), {}, none, {}};
        const Expr& list = model_.exprs[e_.a];
        for (std::size_t k = 0; k < f_.choices.size(); ++k) {
            const auto holds = extremes(k);
            if (!holds) return {};
            if (holds->lo < 1 - 1e-6) continue;
            const Expr& text = model_.exprs[model_.arguments[list.first + k]];
            result.list.push_back({type_of(Kind::text), {}, text.index, {}});
        }
        return result;
    }

private:
    const FunctionParameter& parameter(std::size_t i) const {
        const std::size_t n = f_.parameters.size();
        return f_.parameters[i < n ? i : n - f_.repeats + (i - n) % f_.repeats];
    }

    void fill() {
        for (std::size_t i = 0; i < f_.parameters.size(); ++i) {
            const FunctionParameter& p = f_.parameters[i];
            if (i < values_.size() && !values_[i].poison()) continue;
            if (i >= values_.size()) values_.emplace_back();
            values_[i] = Value{p.type, p.otherwise, none, {}};
        }
    }

    athanor::Span place(std::size_t i) const {
        const ExprId id = i < e_.count ? model_.arguments[e_.first + i] : 0;
        return id != 0 ? model_.exprs[id].span : e_.span;
    }

    bool inside() {
        bool good = true;
        for (std::size_t i = 0; i < values_.size(); ++i) {
            const FunctionParameter& p = parameter(i);
            if (p.takes != Takes::quantity) continue;
            const Interval x = values_[i].number;
            // A limit itself is inside, however its unit rounds.
            const double low = p.least - 1e-12 * std::fabs(p.least), high = p.most + 1e-12 * std::fabs(p.most);
            const bool within = (p.above ? x.lo > p.least : x.lo >= low) && x.hi <= high;
            if (!within) {
                out_.error(Code::outside_validity, place(i),
                           fmt::format("`{}` of `{}` is {}; its equation holds for {}", p.name, f_.name,
                                       readable(x, p.type, 6), range_text(p)))
                    .remedy(fmt::format("`athanor functions {}` prints the range and its source", f_.name));
                good = false;
            } else if (p.certain && x.width() > 1e-9 * std::fmax(std::fabs(x.lo), std::fabs(x.hi))) {
                out_.error(
                        Code::outside_validity, place(i),
                        fmt::format("`{}` of `{}` is uncertain: {}; the result does not rise or fall steadily "
                                    "with it, so no bound follows from its ends",
                                    p.name, f_.name, readable(x, p.type, 6)))
                    .remedy("give one value, or evaluate several");
                good = false;
            }
        }
        return good;
    }

    std::optional<Interval> extremes(std::size_t choice) {
        struct Uncertain {
            std::size_t value;
            std::vector<double> at;
        };
        std::vector<Uncertain> uncertain;
        std::vector<Value> corner = values_;
        std::size_t corners = 1;
        for (std::size_t i = 0; i < corner.size(); ++i) {
            const FunctionParameter& p = parameter(i);
            if (p.takes != Takes::quantity) continue;
            const Interval x = corner[i].number;
            if (x.is_point() || p.certain) {
                corner[i].number = x.middle();
                continue;
            }
            uncertain.push_back({i, {x.lo, x.hi}});
            if (x.lo < p.turning && p.turning < x.hi) uncertain.back().at.push_back(p.turning);
            corners *= uncertain.back().at.size();
        }
        std::optional<Interval> hull_;
        for (std::size_t n = 0; n < corners; ++n) {
            std::size_t rest = n;
            for (const Uncertain& u : uncertain) {
                corner[u.value].number = u.at[rest % u.at.size()];
                rest /= u.at.size();
            }
            FunctionCall call(model_, corner);
            call.choice = choice;
            const double y = f_.compute(call);
            if (call.refused()) {
                if (!call.why.empty()) out_.error(Code::outside_validity, place(call.argument), call.why);
                return std::nullopt;
            }
            if (!std::isfinite(y)) {
                out_.error(Code::too_large, e_.span, "the result is beyond what a number can be");
                return std::nullopt;
            }
            hull_ = hull_ ? hull(*hull_, Interval(y)) : Interval(y);
        }
        if (f_.result.kind == Kind::boolean || !f_.choices.empty()) return hull_;
        const double wide = slack * std::fmax(std::fabs(hull_->lo), std::fabs(hull_->hi));
        return Interval(hull_->lo - wide, hull_->hi + wide);
    }

    const Model& model_;
    const Function& f_;
    const Expr& e_;
    std::vector<Value> values_;
    Diagnostics& out_;
};

} // namespace

double FunctionCall::refuse(std::size_t argument_, std::string why_) {
    if (!refused_) {
        argument = argument_;
        why = std::move(why_);
    }
    refused_ = true;
    return std::numeric_limits<double>::quiet_NaN();
}

double FunctionCall::silent() {
    refused_ = true;
    return std::numeric_limits<double>::quiet_NaN();
}

Value call_function(const Model& model, const Expr& e, std::vector<Value> values, Diagnostics& out) {
    return Evaluation(model, functions()[e.index], e, std::move(values), out).run();
}

} // namespace athanor::check
