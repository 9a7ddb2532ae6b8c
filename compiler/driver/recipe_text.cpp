#include "compiler/driver/recipe_text.hpp"
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

namespace athanor::driver {
namespace {

bool is_blank(char c) {
    return c == ' ' || c == '\t';
}

} // namespace

RecipeText::RecipeText(const Session& session, const Compiled& compiled)
    : files_(session.files), units_(session.units), tree_(session.units.front().tree),
      source_(session.files[session.units.front().file].text()) {
    for (NodeId at : tree_.children(tree_.root)) {
        if (tree_.kind(at) != Node::recipe) continue;
        const NodeId name = tree_.child(at, Node::name);
        if (name != no_node && text(name) == compiled.name) block_ = tree_.child(at, Node::block);
    }
}

NodeId RecipeText::step_at(athanor::Span span) const {
    if (!found()) return no_node;
    const auto holds = [&](NodeId id) {
        return span.file == tree_.file && tree_[id].begin <= span.begin && span.end <= tree_[id].end;
    };
    if (!holds(block_)) {
        const std::vector<NodeId> calls = calls_around(span);
        return calls.empty() ? no_node : step_at(tree_.span(calls.front()));
    }
    NodeId step = no_node;
    std::function<void(NodeId)> descend = [&](NodeId id) {
        for (NodeId at : tree_.children(id)) {
            if (!holds(at)) continue;
            if (tree_.kind(id) == Node::block) step = at;
            descend(at);
            return;
        }
    };
    descend(block_);
    return step;
}

std::vector<NodeId> RecipeText::calls_around(athanor::Span span) const {
    std::vector<NodeId> list;
    for (const check::Unit& unit : units_)
        for (NodeId at : unit.tree.children(unit.tree.root)) {
            if (unit.tree.kind(at) != Node::operation || unit.file != span.file) continue;
            const SyntaxNode& node = unit.tree[at];
            const NodeId name = unit.tree.child(at, Node::name);
            if (node.begin > span.begin || span.end > node.end || name == no_node) continue;
            for (NodeId call : all({Node::call}))
                if (calls(call, unit.tree.text(name, files_))) list.push_back(call);
        }
    return list;
}

std::vector<NodeId> RecipeText::siblings(NodeId step) const {
    std::vector<NodeId> list;
    for (NodeId block : all({Node::block})) {
        std::vector<NodeId> here;
        for (NodeId at : tree_.children(block)) here.push_back(at);
        if (std::find(here.begin(), here.end(), step) != here.end()) list = std::move(here);
    }
    return list;
}

std::vector<NodeId> RecipeText::steps() const {
    std::vector<NodeId> list;
    for (NodeId at : tree_.children(block_)) list.push_back(at);
    return list;
}

NodeId RecipeText::first_step() const {
    for (NodeId at : steps()) {
        switch (tree_.kind(at)) {
        case Node::defaults:
        case Node::load:
        case Node::let:
        case Node::require:
        case Node::note:
        case Node::wait_operator: continue;
        default: return at;
        }
    }
    return no_node;
}

std::vector<NodeId> RecipeText::all(std::initializer_list<Node> kinds) const {
    std::vector<NodeId> list;
    std::function<void(NodeId)> descend = [&](NodeId id) {
        if (std::find(kinds.begin(), kinds.end(), tree_.kind(id)) != kinds.end()) list.push_back(id);
        for (NodeId at : tree_.children(id)) descend(at);
    };
    if (found()) descend(block_);
    return list;
}

bool RecipeText::calls(NodeId step, std::string_view operation) const {
    if (tree_.kind(step) != Node::call) return false;
    const NodeId name = tree_.child(step, Node::name);
    return name != no_node && text(name) == operation;
}

std::uint32_t RecipeText::line_begin(std::uint32_t offset) const {
    while (offset > 0 && source_[offset - 1] != '\n') --offset;
    return offset;
}

std::string RecipeText::indent_of(std::uint32_t offset) const {
    const std::uint32_t begin = line_begin(offset);
    std::uint32_t end = begin;
    while (end < source_.size() && is_blank(source_[end])) ++end;
    return std::string(source_.substr(begin, end - begin)) + (end < offset ? "    " : "");
}

Edit RecipeText::before(NodeId step, const std::vector<std::string>& lines) const {
    std::uint32_t at = tree_[step].begin;
    const std::string indent = indent_of(at);
    // Comments that stand directly above belong to the step and stay with it.
    std::uint32_t begin = line_begin(at);
    if (begin + indent.size() == at) {
        while (begin > 0) {
            const std::uint32_t above = line_begin(begin - 1);
            std::uint32_t first = above;
            while (first < begin && is_blank(source_[first])) ++first;
            if (source_[first] != '#') break;
            begin = above;
            at = first;
        }
    }
    std::string inserted;
    for (const std::string& line : lines) inserted += line + "\n" + indent;
    return {{tree_.file, at, at}, inserted};
}

Edit RecipeText::after(NodeId step, const std::vector<std::string>& lines) const {
    std::uint32_t at = tree_[step].end;
    const std::string indent = indent_of(tree_[step].begin);
    // Behind a comment on the same line, but before anything else there.
    std::uint32_t end = at;
    while (end < source_.size() && is_blank(source_[end])) ++end;
    if (end < source_.size() && source_[end] == '#')
        at = static_cast<std::uint32_t>(std::min(source_.find('\n', end), source_.size()));
    std::string inserted;
    for (const std::string& line : lines) inserted += "\n" + indent + line;
    return {{tree_.file, at, at}, inserted};
}

bool RecipeText::alone_on_line(NodeId id) const {
    const std::uint32_t begin = line_begin(tree_[id].begin);
    std::uint32_t end = tree_[id].end;
    while (end < source_.size() && is_blank(source_[end])) ++end;
    return indent_of(tree_[id].begin).size() == tree_[id].begin - begin &&
           (end == source_.size() || source_[end] == '\n' || source_[end] == '#');
}

Edit RecipeText::moved(NodeId step, NodeId to, bool behind) const {
    const std::string words(text(step));
    const Edit put = behind ? after(to, {words}) : before(to, {words});
    athanor::Span gone = tree_.span(step);
    if (alone_on_line(step)) {
        gone.begin = line_begin(gone.begin);
        while (gone.end < source_.size() && is_blank(source_[gone.end])) ++gone.end;
        if (gone.end < source_.size() && source_[gone.end] == '\n')
            ++gone.end;
        else
            gone = tree_.span(step); // a comment follows: it stays where it is
    }
    return merged({put, {gone, ""}});
}

Edit RecipeText::merged(std::vector<Edit> edits) const {
    std::stable_sort(edits.begin(), edits.end(),
                     [](const Edit& a, const Edit& b) { return a.span.begin < b.span.begin; });
    Edit one{{tree_.file, edits.front().span.begin, edits.front().span.begin}, ""};
    for (const Edit& edit : edits) {
        if (edit.span.begin < one.span.end) continue; // overlaps: the first one counts
        one.text += source_.substr(one.span.end, edit.span.begin - one.span.end);
        one.text += edit.text;
        one.span.end = edit.span.end;
    }
    return one;
}

std::optional<Edit> RecipeText::property(Node kind, std::string_view declaration,
                                         const std::vector<std::string>& path, const std::string& value) const {
    NodeId block = no_node;
    for (NodeId at : tree_.children(tree_.root)) {
        const NodeId name = tree_.child(at, Node::name);
        if (tree_.kind(at) == kind && name != no_node && text(name) == declaration)
            block = tree_.child(at, Node::property_block);
    }
    if (block == no_node) return std::nullopt;
    // What is written from step n of the path on.
    const auto written = [&](std::size_t n) {
        std::string words = path.back() + (value.empty() ? "" : " " + value);
        for (std::size_t i = path.size() - 1; i > n; --i) words = path[i - 1] + " { " + words + " }";
        return words;
    };
    for (std::size_t n = 0; n < path.size(); ++n) {
        const std::size_t space = path[n].find(' ');
        const std::string wanted = path[n].substr(0, space),
                          named = space == std::string::npos ? "" : path[n].substr(space + 1);
        NodeId match = no_node, last = no_node;
        for (NodeId at : tree_.children(block)) {
            last = at;
            if (tree_.kind(at) != Node::property) continue;
            const NodeId name = tree_.child(at, Node::name);
            const NodeId second = name == no_node ? no_node : tree_[name].next;
            if (name == no_node || text(name) != wanted) continue;
            if (!named.empty() && (second == no_node || text(second) != named)) continue;
            match = at;
        }
        if (match == no_node) {
            const std::string words = written(n);
            if (last == no_node) return Edit{tree_.span(block), "{ " + words + " }"};
            const bool one_line = text(block).find('\n') == std::string_view::npos;
            if (one_line) return Edit{{tree_.file, tree_[last].end, tree_[last].end}, " ; " + words};
            return after(last, {words});
        }
        if (n + 1 == path.size()) return replace(match, written(n));
        block = tree_.child(match, Node::property_block);
        if (block == no_node)
            return Edit{{tree_.file, tree_[match].end, tree_[match].end}, " { " + written(n + 1) + " }"};
    }
    return std::nullopt;
}

std::string flow_in_slm(double flow) {
    const double value = from_si(flow, *unit_named("slm"));
    const double step = std::pow(10, std::floor(std::log10(std::max(value, 1e-6))) - 1);
    return shortest(std::round(std::floor(value / step + 1e-9) * step * 1e9) / 1e9) + " slm";
}

} // namespace athanor::driver
