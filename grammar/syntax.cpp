#include "grammar/syntax.hpp"

#include <array>

namespace athanor {
namespace {

// In the order of `Node`; the test compares both lists.
constexpr std::array node_names{
    "none",
    "error",
    "name",
    "number",
    "unit",
    "gauge",
    "text",
    "word",
    "hole",
    "file",
    "language",
    "use",
    "let",
    "type_name",
    "operation",
    "recipe",
    "parameters",
    "parameter",
    "in_range",
    "in_list",
    "default_value",
    "on",
    "for_controller",
    "gas",
    "gas_mix",
    "part",
    "rest",
    "rig",
    "from",
    "material",
    "thermocouple",
    "substance",
    "controller",
    "schema",
    "layout",
    "column",
    "column_clause",
    "policy",
    "rule",
    "rule_require",
    "before",
    "from_event",
    "after_abort",
    "event",
    "because",
    "source",
    "approved",
    "concession",
    "test",
    "test_line",
    "verdict",
    "property_block",
    "property",
    "interlock",
    "closes",
    "opens",
    "without",
    "block",
    "run",
    "defaults",
    "default_line",
    "ramp",
    "heat",
    "cool",
    "step_to",
    "zone_target",
    "dwell",
    "purge",
    "evacuate",
    "backfill",
    "repeat",
    "repeat_until",
    "loop_name",
    "for_each",
    "if_else",
    "wait_operator",
    "quench",
    "call",
    "argument",
    "open_line",
    "close_lines",
    "close_all",
    "set_line",
    "switch_to",
    "blend",
    "light_burner",
    "shut_burner",
    "start_pump",
    "stop_pump",
    "note",
    "regulate",
    "humidify",
    "move",
    "at_action",
    "after_action",
    "keep",
    "require",
    "guard",
    "expect",
    "load",
    "at",
    "over",
    "within",
    "until",
    "duration",
    "volumes",
    "at_most",
    "to",
    "with_tube_open",
    "quantity",
    "yes",
    "no",
    "list",
    "paren",
    "negate",
    "not",
    "add",
    "subtract",
    "multiply",
    "divide",
    "plus_minus",
    "less",
    "less_equal",
    "greater",
    "greater_equal",
    "is",
    "and",
    "or",
    "of",
};
static_assert(node_names.size() == static_cast<std::size_t>(Node::of) + 1);

/// Leaves are printed with their text; the others by their children.
bool shows_text(const Tree& tree, NodeId id) {
    return tree[id].first == no_node && tree.kind(id) != Node::file;
}

void print(const Tree& tree, const Files& files, NodeId id, std::size_t depth, std::string& out) {
    out.append(2 * depth, ' ');
    out += name(tree.kind(id));
    if (shows_text(tree, id)) {
        out += ' ';
        for (char c : tree.text(id, files)) out += c == '\n' ? ' ' : c;
    }
    if (tree[id].broken) out += " (broken)";
    out += '\n';
    for (NodeId child : tree.children(id)) print(tree, files, child, depth + 1, out);
}

} // namespace

std::string_view name(Node kind) {
    return node_names[static_cast<std::size_t>(kind)];
}

std::string dump(const Tree& tree, const Files& files) {
    std::string out;
    print(tree, files, tree.root, 0, out);
    return out;
}

} // namespace athanor
