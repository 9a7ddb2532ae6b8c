#pragma once
#include "compiler/source/file.hpp"
#include "compiler/source/span.hpp"

#include <cstdint>
#include <span>
#include <string_view>
#include <vector>

namespace athanor {

/// Every kind of node, with its children in order. "X?" may be absent, "X*" any number.
/// An expression child is written `expr`. A name is a leaf whose text is its span.
enum class Node : std::uint8_t {
    none,
    error, // a statement that could not be read; its span is kept verbatim by the formatter

    // --- leaves -----------------------------------------------------------------------------------
    name,   // an identifier
    number, // "4", "1e-5", with its sign where it has one
    unit,   // "K/min"
    gauge,  // the word `gauge` behind a pressure
    text,   // "…" with its quotes
    word, // a word that is special only in its place, also punctuation of equipment: to by at in of from below
          // above while is and open stop yes no hand controlled , ± +/-
    hole, // ?

    // --- file -------------------------------------------------------------------------------------
    file,           // (language | declaration)*
    language,       // number
    use,            // text
    let,            // name, type_name?, expr
    type_name,      // leaf: "temperature"
    operation,      // name, parameters?, block
    recipe,         // name, text?, parameters?, on?, for_controller?, block
    parameters,     // parameter*
    parameter,      // name, type_name?, (in_range | in_list)?, default_value?
    in_range,       // expr, expr, expr?          a to b [by c]
    in_list,        // list
    default_value,  // expr
    on,             // name  (rig)
    for_controller, // name
    gas,            // name, text?, property_block
    gas_mix,        // name, part*                gas NAME = part + part
    part,           // (quantity | number | name | paren | hole | rest), name
    rest,           // leaf
    rig,            // name, text?, from?, property_block
    from,           // name
    material,
    thermocouple,
    substance,
    controller,
    schema,        // name, text?, from?, property_block
    layout,        // name, for_controller?, (property | column)*
    column,        // text, name, column_clause*
    column_clause, // word (in | by | as), then unit, number or name and the names in ( )
    policy,        // name, text?, (rule | concession)*
    rule,          // name, text?, (rule_require | because | source | approved)*
    rule_require,  // expr, guard?, (before | (from_event, until?) | (after_abort, until?))?
    before,        // event
    from_event,    // event
    after_abort,   // (leaf)
    event, // word (opening | closing | evacuating | heating | start | end | abort), then name (also `tube`), or
           // for `heating above T` expr
    because,
    source,
    approved,   // text
    concession, // name, (because | approved)*
    test,       // text, test_line*
    test_line,  // call | name, on?, for_controller?, verdict*
    verdict,    // word (proven | refused), name? (the rule) for refused; or an expr such as `duration < 30 h`
    property_block, // (property | interlock | without | defaults)*
    property,       // name, (quantity | number | name | text | word | hole)*, property_block?, source?
                    // a number and a word that is no unit stay apart ("1 level"); the schema judges them
    interlock,      // expr, (closes | opens)* as written, source?
    closes,
    opens,   // name
    without, // name (line)

    // --- statements -------------------------------------------------------------------------------
    block,        // statement*
    run,          // text, block
    defaults,     // default_line*
    default_line, // name (heating cooling purge flow …), then the elements of a property
    ramp,
    heat,
    cool,
    step_to,       // zone_target*, clause*, block?
    zone_target,   // name?, expr                (one without a name stands for every zone)
    dwell,         // expr?, clause*, block?     clauses: until, at_most, within
    purge,         // name, clause*, block?      clauses: at, until, duration (for D), volumes (for 5 volumes: a
                   // number), at_most
    evacuate,      // expr, clause*, block?      clauses: at_most
    backfill,      // name, clause*, block?      clauses: at, to
    repeat,        // expr, loop_name?, block
    repeat_until,  // text, expr, block         repeat until operator accepts "…" at most N times
    loop_name,     // name
    for_each,      // name, list, block
    if_else,       // expr, block, (block | if_else)?
    wait_operator, // text, with_tube_open?
    quench,        // name (water, air, …)
    call,     // name, argument*            as a statement: an operation's steps; as an expression: a function
    argument, // name?, expr

    open_line,   // name, clause*              open LINE [at FLOW]
    close_lines, // name*
    close_all,   // (leaf)
    set_line,    // name, expr                 set LINE to FLOW
    switch_to,   // name, clause*
    blend,       // part*, clause*             blend 5 % hydrogen + rest argon at 200 sccm
    light_burner,
    shut_burner,
    start_pump,
    stop_pump,    // (leaf)
    note,         // text
    regulate,     // expr                       regulate pressure to P
    humidify,     // name, clause*              humidify argon at 50 degC
    move,         // name, name                 move sample to hot
    at_action,    // expr, action | call        at 400 degC  open argon
    after_action, // expr, action | call       after 20 min close oxygen
    keep,         // name, word (open | closed), clause*, word (above | below), expr
    require,      // expr, guard?
    guard,        // expr                       while …
    expect,       // expr
    load,         // property_block

    // --- clauses ----------------------------------------------------------------------------------
    at,
    over,
    within,
    until,
    duration,
    volumes,
    at_most,
    to,             // expr
    with_tube_open, // (leaf)

    // --- expressions ------------------------------------------------------------------------------
    quantity, // (number, unit)+, gauge?    several pairs for `1 h 30 min`
    yes,
    no,    // leaves
    list,  // expr*
    paren, // expr
    negate,
    not_, // expr
    add,
    subtract,
    multiply,
    divide,
    plus_minus, // expr, expr
    less,
    less_equal,
    greater,
    greater_equal, // expr, expr
    is,            // expr, expr                 `argon is open` has the name `open` on the right
    and_,
    or_, // expr, expr
    of,  // name, name                 temperature of left
};

std::string_view name(Node kind);

using NodeId = std::uint32_t;
inline constexpr NodeId no_node = 0; // node 0 is the `none` node

/// One node of the flat tree. Children are a linked list of indices.
struct SyntaxNode {
    Node kind = Node::none;
    /// Part of it could not be read and was reported; later stages stay silent about it. Set on the smallest
    /// node that holds the trouble (a quantity with an unknown unit, a parameter, a statement whose header
    /// failed). A broken statement keeps the children that were complete, so its name and its block can still
    /// be used.
    bool broken = false;
    std::uint16_t unit = 0; // of a `unit` of the table: its number there (`unit_row`)
    std::uint32_t begin = 0, end = 0;
    NodeId first = no_node, next = no_node;
};

/// A comment, kept beside the tree for the formatter and for `##` documentation.
struct Comment {
    std::uint32_t begin, end;
};

/// A text with what `parse` makes of it. Both lie in the program for good.
struct ParsedText {
    std::string_view text;
    std::span<const SyntaxNode> nodes;
    std::span<const Comment> comments;
    NodeId root = no_node;
};

/// The tree of one file. Plain data; `root` is always a `file` node, whatever the text holds.
class Tree {
public:
    Tree() = default;
    Tree(FileId of, NodeId top, std::vector<SyntaxNode> nodes, std::vector<Comment> comments)
        : file(of), root(top), own_nodes_(std::move(nodes)), own_comments_(std::move(comments)),
          nodes_(own_nodes_), comments_(own_comments_) {}
    Tree(FileId of, const ParsedText& parsed)
        : file(of), root(parsed.root), nodes_(parsed.nodes), comments_(parsed.comments) {}
    Tree(Tree&&) = default;
    Tree& operator=(Tree&&) = default;

    FileId file = 0;
    NodeId root = no_node;

    std::span<const SyntaxNode> nodes() const { return nodes_; }
    std::span<const Comment> comments() const { return comments_; } // in source order
    const SyntaxNode& operator[](NodeId id) const { return nodes_[id]; }
    Node kind(NodeId id) const { return nodes_[id].kind; }
    Span span(NodeId id) const { return {file, nodes_[id].begin, nodes_[id].end}; }
    std::string_view text(NodeId id, const Files& files) const { return files.text(span(id)); }

    /// The first child of a kind, or `no_node`.
    NodeId child(NodeId parent, Node wanted) const {
        for (NodeId at = nodes_[parent].first; at != no_node; at = nodes_[at].next)
            if (nodes_[at].kind == wanted) return at;
        return no_node;
    }
    /// Child number n from 0, or `no_node`.
    NodeId child(NodeId parent, unsigned n) const {
        NodeId at = nodes_[parent].first;
        while (at != no_node && n-- != 0) at = nodes_[at].next;
        return at;
    }

    class Children {
    public:
        struct Iterator {
            const Tree* tree;
            NodeId at;
            NodeId operator*() const { return at; }
            Iterator& operator++() {
                at = (*tree)[at].next;
                return *this;
            }
            bool operator!=(const Iterator& o) const { return at != o.at; }
        };
        Children(const Tree& tree, NodeId first) : tree_(&tree), first_(first) {}
        Iterator begin() const { return {tree_, first_}; }
        Iterator end() const { return {tree_, no_node}; }

    private:
        const Tree* tree_;
        NodeId first_;
    };
    Children children(NodeId parent) const { return {*this, nodes_[parent].first}; }

private:
    // Its own ones, or none where they lie in the program.
    std::vector<SyntaxNode> own_nodes_;
    std::vector<Comment> own_comments_;
    std::span<const SyntaxNode> nodes_;
    std::span<const Comment> comments_;
};

/// One node a line, indented: for tests and for people who change the grammar.
std::string dump(const Tree& tree, const Files& files);

} // namespace athanor
