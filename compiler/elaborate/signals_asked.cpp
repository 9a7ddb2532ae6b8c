#include "compiler/elaborate/signals_asked.hpp"

#include <algorithm>

namespace athanor::elaborate {
namespace {

class Collector {
public:
    explicit Collector(const check::Model& model) : model_(model), entered_(model.operations.size(), 0) {}

    void block(check::StatementId first) {
        for (check::StatementId id = first; id != 0; id = model_.statements[id].next) {
            const check::Statement& s = model_.statements[id];
            expression(s.value);
            for (check::Index c = 0; c < s.clauses; ++c) expression(model_.clauses[s.first_clause + c].expr);
            if (s.kind == check::StatementKind::call && s.operation != check::none &&
                entered_[s.operation] == 0) {
                entered_[s.operation] = 1;
                block(model_.operations[s.operation].body);
            }
            block(s.body);
            block(s.otherwise);
        }
    }

    void expression(check::ExprId id) {
        if (id == 0 || id == check::none) return;
        const check::Expr& e = model_.exprs[id];
        if (e.op == check::Op::constant) return;
        if (e.op == check::Op::signal) found.push_back(id);
        expression(e.a);
        expression(e.b);
        for (check::Index i = 0; i < e.count; ++i) expression(model_.arguments[e.first + i]);
    }

    std::vector<check::ExprId> found;

private:
    const check::Model& model_;
    std::vector<char> entered_;
};

} // namespace

std::vector<check::ExprId> signals_asked(const check::Model& model, const check::Recipe& recipe,
                                         const check::Rig& rig) {
    Collector collector(model);
    collector.block(recipe.body);
    for (const check::Rule& rule : model.rules)
        for (const check::RuleRequire& clause : rule.requires_)
            for (const check::ExprId id : {clause.require, clause.guard, clause.until})
                collector.expression(id);
    for (const check::Interlock& interlock : rig.interlocks) collector.expression(interlock.condition);
    std::sort(collector.found.begin(), collector.found.end());
    return std::move(collector.found);
}

} // namespace athanor::elaborate
