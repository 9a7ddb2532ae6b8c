#include "compiler/review/parts.hpp"

#include "compiler/check/equipment_literal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <tuple>

namespace athanor::review {
namespace {

/// Properties of which a block has many, each with a block and a name of its own.
bool named(std::string_view property) {
    return property == "line" || property == "class" || property == "register";
}

/// Clauses are compared with those of their kind, whatever their order; everything else by its place.
Node clause_kind(Node kind) {
    switch (kind) {
    case Node::at:
    case Node::over:
    case Node::within:
    case Node::until:
    case Node::duration:
    case Node::volumes:
    case Node::at_most:
    case Node::to:
    case Node::with_tube_open:
    case Node::guard:
    case Node::from:
    case Node::for_controller:
    case Node::in_range:
    case Node::in_list:
    case Node::default_value:
    case Node::type_name:
    case Node::source:
    case Node::because:
    case Node::approved:
    case Node::rule_require: return kind;
    default: return Node::none;
    }
}

/// Steps that act on something that is named first.
bool has_subject(Node kind) {
    switch (kind) {
    case Node::let:
    case Node::purge:
    case Node::backfill:
    case Node::call:
    case Node::open_line:
    case Node::close_lines:
    case Node::set_line:
    case Node::switch_to:
    case Node::humidify:
    case Node::move:
    case Node::keep:
    case Node::default_line: return true;
    default: return false;
    }
}

/// What a value is of. The place of a value decides whether 300 K is a temperature and 0.5 a share, so 27 °C
/// and 50 % may say the same.
std::string quantity_of(Type type) {
    if (type.kind == Kind::temperature) type = type_of(Kind::difference);
    if (type.kind == Kind::fraction) type = type_of(Kind::count);
    return describe(type);
}

std::string joined(std::string a, std::string_view b) {
    if (!a.empty() && !b.empty()) a += ' ';
    return a.append(b);
}

} // namespace

void settle(Part& part) {
    part.meaning.clear();
    for (const Value& value : part.values) part.meaning += fmt::format("{}\x1f", value.meaning);
    for (const Part& inner : part.parts) part.meaning += fmt::format("{}{{{}}}", inner.name, inner.meaning);
}

void sort(std::vector<Part>& parts) {
    std::stable_sort(parts.begin(), parts.end(), [](const Part& a, const Part& b) {
        return std::tie(a.name, a.meaning) < std::tie(b.name, b.meaning);
    });
}

std::string written(const Part& part) {
    std::string all = part.name;
    for (const Value& value : part.values) all = joined(std::move(all), value.text);
    if (part.parts.empty()) return all;
    all += " { ";
    for (std::size_t i = 0; i < part.parts.size(); ++i) all += (i == 0 ? "" : " ; ") + written(part.parts[i]);
    return all + " }";
}

/// Source text without comments, its white space single.
std::string Reader::text(std::uint32_t begin, std::uint32_t end) const {
    const std::string_view all = files_[tree_.file].text();
    std::string out;
    bool quoted = false, gap = false;
    auto comment = std::lower_bound(tree_.comments().begin(), tree_.comments().end(), begin,
                                    [](const Comment& c, std::uint32_t at) { return c.end <= at; });
    for (std::uint32_t at = begin; at < end; ++at) {
        if (comment != tree_.comments().end() && at >= comment->begin) {
            at = std::max(at, comment->end) - 1;
            ++comment;
            gap = true;
            continue;
        }
        const char c = all[at];
        if (!quoted && (c == ' ' || c == '\t' || c == '\n' || c == '\r')) {
            gap = true;
            continue;
        }
        if (gap && !out.empty()) out += ' ';
        gap = false;
        if (c == '"' && (at == begin || all[at - 1] != '\\')) quoted = !quoted;
        out += c;
    }
    return out;
}

/// What stands before the first child: "purge", "wait for operator".
std::string Reader::keyword(NodeId node) const {
    const NodeId first = tree_[node].first;
    std::string word = text(tree_[node].begin, first == no_node ? tree_[node].end : tree_[first].begin);
    word.erase(word.find_last_not_of(" {") + 1);
    return word;
}

std::string Reader::meaning(NodeId node) const {
    const Node kind = tree_.kind(node);
    if (kind == Node::number || kind == Node::quantity) {
        const check::Literal literal = check::read_literal(tree_, node, files_);
        if (literal.type.kind != Kind::poison)
            return fmt::format("{}:{:.12g}", quantity_of(literal.type), literal.value);
    }
    if (tree_[node].first == no_node) {
        const std::string leaf = text(node);
        return leaf == "+/-" ? "±" : leaf;
    }
    // Around a single value they say nothing; what they hold together is the tree's own shape.
    if (kind == Node::paren) return meaning(tree_[node].first);
    std::string all = std::string(name(kind)) + "(";
    if (kind == Node::call) {
        all += text(tree_.child(node, Node::name)) + " ";
        for (const Argument& one : arguments(node)) all += fmt::format("{}={} ", one.name, meaning(one.value));
        return all + ")";
    }
    for (NodeId child : tree_.children(node)) all += meaning(child) + " ";
    return all + ")";
}

bool Reader::varies(NodeId node) const {
    if (tree_.kind(node) == Node::name) return names_.variables.contains(text(node));
    for (NodeId child : tree_.children(node))
        if (varies(child)) return true;
    return false;
}

Value Reader::value(NodeId node) const {
    Value v{clause_kind(tree_.kind(node)), text(node), meaning(node), varies(node)};
    if (v.kind == Node::default_value && !v.text.starts_with("=")) v.text = "= " + v.text;
    return v;
}

std::vector<Reader::Argument> Reader::arguments(NodeId call) const {
    const NodeId called = tree_.child(call, Node::name);
    const auto found = called == no_node ? names_.operations.end() : names_.operations.find(text(called));
    std::vector<Argument> list;
    for (NodeId child : tree_.children(call)) {
        if (tree_.kind(child) != Node::argument || tree_[child].first == no_node) continue;
        NodeId last = no_node;
        std::size_t count = 0;
        for (NodeId part : tree_.children(child)) last = part, ++count;
        const std::size_t place = list.size();
        const bool known = found != names_.operations.end() && place < found->second.size();
        list.push_back({count > 1 ? text(tree_[child].first)
                        : known   ? found->second[place]
                                  : fmt::format("argument {}", place + 1),
                        last});
    }
    std::stable_sort(list.begin(), list.end(),
                     [](const Argument& a, const Argument& b) { return a.name < b.name; });
    return list;
}

void Reader::add_source(NodeId node, Part& part) const {
    if (const NodeId source = tree_.child(node, Node::source); source != no_node)
        part.values.push_back(value(source));
}

Part Reader::parameter(NodeId node, bool with_default) const {
    Part part;
    for (NodeId child : tree_.children(node)) {
        const Node kind = tree_.kind(child);
        if (kind == Node::name)
            part.name = "parameter " + text(child);
        else if (kind != Node::default_value || with_default)
            part.values.push_back(value(child));
    }
    settle(part);
    return part;
}

Part Reader::property(NodeId node) const {
    Part part;
    part.name = text(tree_[node].first);
    const NodeId block = tree_.child(node, Node::property_block);
    NodeId first = no_node, last = no_node;
    std::string meant;
    for (NodeId child : tree_.children(node)) {
        const Node kind = tree_.kind(child);
        if (child == tree_[node].first || kind == Node::property_block || kind == Node::source) continue;
        if (first == no_node && block != no_node && named(part.name)) {
            part.name += " " + text(child);
            continue;
        }
        if (first == no_node) first = child;
        last = child;
        meant += meaning(child) + " ";
    }
    if (first != no_node)
        part.values.push_back({Node::none, text(tree_[first].begin, tree_[last].end), std::move(meant)});
    add_source(node, part);
    if (block != no_node) properties(block, part);
    // A map has a register for each channel, each output: it is known by what it is of.
    if (part.name.starts_with("register "))
        for (const Part& inner : part.parts)
            if (inner.name == "of" && inner.values.size() == 1 &&
                inner.values[0].text.find(',') == std::string::npos)
                part.name += " of " + inner.values[0].text;
    settle(part);
    return part;
}

Part Reader::interlock(NodeId node) const {
    Part part;
    part.name = "interlock";
    if (tree_[node].first == no_node) return part; // could not be read
    const NodeId source = tree_.child(node, Node::source);
    std::string meant;
    std::uint32_t end = tree_[node].begin;
    for (NodeId child : tree_.children(node)) {
        if (child == source) continue;
        meant += meaning(child) + " ";
        end = tree_[child].end;
    }
    part.values.push_back({Node::none, text(tree_[tree_[node].first].begin, end), std::move(meant)});
    add_source(node, part);
    settle(part);
    return part;
}

void Reader::properties(NodeId block, Part& part) const {
    for (NodeId node : tree_.children(block)) {
        switch (tree_.kind(node)) {
        case Node::property:
        case Node::default_line: part.parts.push_back(property(node)); break;
        case Node::interlock: part.parts.push_back(interlock(node)); break;
        case Node::without:
            part.parts.push_back({"without line " + text(tree_.child(node, Node::name)), {}, {}, {}});
            break;
        case Node::defaults: {
            Part defaults{"defaults", {}, {}, {}};
            properties(node, defaults);
            settle(defaults);
            part.parts.push_back(std::move(defaults));
            break;
        }
        default: break;
        }
    }
    sort(part.parts);
}

Part Reader::step(NodeId node) const {
    const Node kind = tree_.kind(node);
    Part part;
    part.kind = kind;
    part.source = tree_.span(node);
    part.name = keyword(node);
    bool subject = has_subject(kind);
    if (kind == Node::call)
        for (const Argument& one : arguments(node)) {
            part.parts.push_back({one.name, {value(one.value)}, {}, {}});
            settle(part.parts.back());
        }
    for (NodeId child : tree_.children(node)) {
        const Node inner = tree_.kind(child);
        if (inner == Node::argument) continue;
        if (subject && inner == Node::name) {
            part.name = joined(std::move(part.name), text(child));
            subject = false;
        } else if (kind == Node::if_else && (inner == Node::block || inner == Node::if_else)) {
            // The condition, the steps where it holds, and the others.
            Part branch{part.parts.empty() ? "then" : "else", {}, {}, {}};
            if (inner == Node::block)
                steps(child, branch);
            else
                branch.parts.push_back(step(child));
            settle(branch);
            part.parts.push_back(std::move(branch));
        } else if (inner == Node::block) {
            steps(child, part);
        } else if (inner == Node::property_block || kind == Node::defaults) {
            kind == Node::defaults ? part.parts.push_back(property(child)) : properties(child, part);
        } else {
            part.values.push_back(value(child));
        }
    }
    settle(part);
    return part;
}

void Reader::steps(NodeId block, Part& part) const {
    for (NodeId node : tree_.children(block)) part.parts.push_back(step(node));
}

Part Reader::declaration(NodeId node) const {
    const Node kind = tree_.kind(node);
    Part part;
    bool named = false;
    std::vector<Part> ordered;
    for (NodeId child : tree_.children(node)) {
        switch (tree_.kind(child)) {
        case Node::name:
            if (named) {
                part.values.push_back(value(child)); // let a = b
            } else {
                part.name = joined(keyword(node), text(child));
                named = true;
            }
            break;
        case Node::text:
            if (kind == Node::let) part.values.push_back(value(child)); // else a title
            break;
        case Node::parameters:
            for (NodeId one : tree_.children(child)) ordered.push_back(parameter(one, true));
            break;
        case Node::block: {
            Part body;
            steps(child, body);
            for (Part& one : body.parts) ordered.push_back(std::move(one));
            break;
        }
        case Node::property_block: properties(child, part); break;
        case Node::property: part.parts.push_back(property(child)); break;
        case Node::part: { // of a mixture: its share and its gas
            const NodeId share = tree_[child].first;
            part.parts.push_back({text(tree_.child(child, 1)), {value(share)}, {}, {}});
            settle(part.parts.back());
            break;
        }
        case Node::column: {
            Part column = step(child);
            column.name = "column " + text(tree_[child].first);
            if (!column.values.empty()) column.values.erase(column.values.begin());
            settle(column);
            ordered.push_back(std::move(column));
            break;
        }
        case Node::rule: {
            Part rule = step(child);
            rule.name = "rule " + text(tree_[child].first);
            std::erase_if(rule.values, [](const Value& v) { return v.kind == Node::none; }); // name and title
            settle(rule);
            part.parts.push_back(std::move(rule));
            break;
        }
        case Node::concession: break;
        default: part.values.push_back(value(child)); break;
        }
    }
    sort(part.parts);
    for (Part& one : ordered) part.parts.push_back(std::move(one));
    settle(part);
    return part;
}

Part Reader::recipe_head(NodeId node) const {
    Part part;
    if (const NodeId list = tree_.child(node, Node::parameters); list != no_node)
        for (NodeId one : tree_.children(list)) part.parts.push_back(parameter(one, false));
    if (const NodeId controller = tree_.child(node, Node::for_controller); controller != no_node)
        part.parts.push_back({"controller", {value(tree_[controller].first)}, {}, {}});
    if (const NodeId block = tree_.child(node, Node::block); block != no_node)
        for (NodeId one : tree_.children(block))
            if (tree_.kind(one) == Node::load) {
                part.parts.push_back({"load", {}, {}, {}});
                if (const NodeId inner = tree_.child(one, Node::property_block); inner != no_node)
                    properties(inner, part.parts.back());
            }
    for (Part& one : part.parts) settle(one);
    sort(part.parts);
    settle(part);
    return part;
}

Part Reader::recipe_steps(NodeId node) const {
    Part part;
    if (const NodeId block = tree_.child(node, Node::block); block != no_node) steps(block, part);
    std::erase_if(part.parts, [](const Part& one) { return one.name == "load"; });
    settle(part);
    return part;
}

} // namespace athanor::review
