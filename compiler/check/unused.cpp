// Declarations of the named files that nothing uses.
#include "compiler/check/checker.hpp"

#include <fmt/format.h>

namespace athanor::check {

void Checker::unused_local(const Local& local) {
    if (local.used || !frame_->warn_unused || frame_->broken || local.type.poison()) return;
    if (local.what == Local::What::loop) return; // `as i` may only label the passes
    const std::string_view name = model.names[local.name];
    if (local.what == Local::What::parameter)
        out.warning(Code::never_used, local.span, fmt::format("parameter `{}` is never used", name));
    else
        out.warning(Code::never_used, local.span, fmt::format("`let {}` is never used", name));
}

/// A file without recipes and tests is a library: others use what it declares.
void Checker::unused() {
    std::vector<char> library(units.size(), 1);
    for (const Place& place : recipe_nodes_) library[place.unit] = 0;
    for (Index u = 0; u < units.size(); ++u)
        if (units[u].tree.child(units[u].tree.root, Node::test) != no_node) library[u] = 0;
    const auto judged = [&](Index unit) {
        return units[unit].named && !units[unit].standard && library[unit] == 0;
    };
    // A statement that could not be read may have been the one that uses it.
    if (out.any_error()) return;
    for (Index i = 0; i < operation_nodes_.size(); ++i) {
        const Operation& operation = model.operations[i];
        if (judged(operation_nodes_[i].unit) && !operation.used)
            out.warning(Code::never_used, operation.span,
                        fmt::format("operation `{}` is never called", model.names[operation.name]));
    }
    for (const Global& global : globals_)
        if (judged(global.unit) && !global.used)
            out.warning(Code::never_used, global.span,
                        fmt::format("`let {}` is never used", model.names[global.name]));
}

} // namespace athanor::check
