#include "compiler/check/one_way.hpp"

#include "compiler/check/functions.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::check {

namespace {

/// Follows a recipe and the operations it calls, with what each local value depends on.
class Walk {
public:
    /// Does a local value depend on a parameter that has a range?
    using Frame = std::vector<bool>;

    explicit Walk(const Model& model) : model_(model) {}

    void block(StatementId first, Frame& frame, unsigned depth = 0) {
        for (StatementId id = first; id != 0 && !found; id = model_.statements[id].next)
            statement(model_.statements[id], frame, depth);
    }

    std::optional<athanor::Span> found;

private:
    void statement(const Statement& s, Frame& frame, unsigned depth) {
        const bool value = s.value != 0 && depends(s.value, frame);
        for (Index c = 0; c < s.clauses; ++c) depends(model_.clauses[s.first_clause + c].expr, frame);
        if (s.kind == StatementKind::blend)
            for (Index t = 0; t < s.targets; ++t) depends(model_.blend_parts[s.first_target + t].share, frame);
        else
            for (Index t = 0; t < s.targets; ++t) depends(model_.targets[s.first_target + t].target, frame);
        if (s.kind == StatementKind::call && s.operation < model_.operations.size() && depth < 64) {
            const Operation& operation = model_.operations[s.operation];
            Frame inner(std::max<std::size_t>(operation.slots, operation.parameters.size()), false);
            for (Index i = 0; i < operation.parameters.size(); ++i) {
                const ExprId given = i < s.arguments ? model_.arguments[s.first_argument + i] : 0;
                const ExprId otherwise = operation.parameters[i].default_value;
                if (given != 0)
                    inner[i] = depends(given, frame);
                else if (otherwise != 0)
                    inner[i] = depends(otherwise, inner);
            }
            block(operation.body, inner, depth + 1);
        }
        if (s.slot < frame.size()) frame[s.slot] = s.kind != StatementKind::repeat && value;
        block(s.body, frame, depth);
        block(s.otherwise, frame, depth);
    }

    bool depends(ExprId id, const Frame& frame) {
        if (id == 0) return false;
        const Expr& e = model_.exprs[id];
        if (e.op == Op::slot) return e.index < frame.size() && frame[e.index];
        const bool a = depends(e.a, frame), b = depends(e.b, frame);
        bool any = a || b, turns = (e.op == Op::multiply || e.op == Op::divide) && a && b;
        if (e.op == Op::call || e.op == Op::list) {
            std::size_t dependent = 0;
            for (Index k = 0; k < e.count; ++k) {
                if (!depends(model_.arguments[e.first + k], frame)) continue;
                ++dependent;
                if (e.op == Op::call) turns = turns || bends(functions()[e.index], k);
            }
            any = any || dependent > 0;
            turns = turns || (e.op == Op::call && dependent > 1);
        }
        if (turns && !found) found = e.span;
        return any;
    }

    /// May the function turn in this argument? min and max go one way in each; abs does not.
    static bool bends(const Function& f, Index k) {
        if (f.value != nullptr) return f.name == "abs";
        return k >= f.parameters.size() || f.parameters[k].certain || !std::isnan(f.parameters[k].turning);
    }

    const Model& model_;
};

} // namespace

std::optional<athanor::Span> turning_expression(const Model& model, const Recipe& recipe) {
    Walk walk(model);
    Walk::Frame frame(std::max<std::size_t>(recipe.slots, recipe.parameters.size()), false);
    for (std::size_t i = 0; i < recipe.parameters.size(); ++i)
        frame[i] = recipe.parameters[i].lo != 0 && recipe.parameters[i].type.kind != Kind::count;
    walk.block(recipe.body, frame);
    return walk.found;
}

std::vector<double> thresholds_of(const Model& model, const Recipe& recipe, std::size_t parameter) {
    std::vector<double> list;
    for (const Expr& e : model.exprs) {
        if (e.op != Op::less && e.op != Op::less_equal && e.op != Op::greater && e.op != Op::greater_equal)
            continue;
        if (e.span.file != recipe.span.file) continue;
        for (const auto& [one, other] : {std::pair{e.a, e.b}, std::pair{e.b, e.a}}) {
            const Expr &slot = model.exprs[one], &limit = model.exprs[other];
            if (slot.op == Op::slot && slot.index == parameter && limit.op == Op::constant)
                list.push_back(limit.value.middle());
        }
    }
    std::sort(list.begin(), list.end());
    list.erase(std::unique(list.begin(), list.end()), list.end());
    return list;
}

} // namespace athanor::check
