#pragma once
#include "compiler/check/load.hpp"

#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

/// Declarations as a reviewer sees them: parts with values, free of layout.
namespace athanor::review {

/// One value as written, and what it says: "60 mm" and "6 cm" say the same.
struct Value {
    Node kind = Node::none; // of a clause ("until …"); none for elements and expressions
    std::string text, meaning;
    bool varies = false; // it names a parameter, or what a `let` or a loop has named
};

/// A declaration, a property or a step.
struct Part {
    std::string name; // "tube", "line argon", "purge argon", "heat_up"
    std::vector<Value> values;
    std::vector<Part> parts;
    std::string meaning;    // of values and parts, without the name
    Node kind = Node::none; // of a step
    Span source{};
};

/// What names stand for in all files of a version.
struct Names {
    /// Of the parameters of operations, by the operation's name: an argument is the same whether it is given by
    /// its name or by its place.
    std::map<std::string, std::vector<std::string>, std::less<>> operations;
    std::set<std::string, std::less<>> variables; // parameters, what a `let` or a loop names
};

/// Reads parts out of one file's syntax tree.
class Reader {
public:
    Reader(const Tree& tree, const Files& files, const Names& names)
        : tree_(tree), files_(files), names_(names) {}

    /// Any declaration but a recipe, a test, an import; a policy without its concessions.
    Part declaration(NodeId node) const;
    /// Ranges of parameters, load and controller of a recipe.
    Part recipe_head(NodeId node) const;
    /// The steps of a recipe.
    Part recipe_steps(NodeId node) const;

private:
    std::string text(std::uint32_t begin, std::uint32_t end) const;
    std::string text(NodeId node) const { return text(tree_[node].begin, tree_[node].end); }
    std::string keyword(NodeId node) const;
    std::string meaning(NodeId node) const;
    Value value(NodeId node) const;
    bool varies(NodeId node) const;
    struct Argument {
        std::string name; // of the parameter; of a function, whose parameters are not known here, its place
        NodeId value = no_node;
    };
    /// In the order of their names.
    std::vector<Argument> arguments(NodeId call) const;
    void add_source(NodeId node, Part& part) const;

    Part parameter(NodeId node, bool with_default) const;
    Part property(NodeId node) const;
    Part interlock(NodeId node) const;
    Part step(NodeId node) const;
    /// Properties, in one order whatever order they were written in.
    void properties(NodeId block, Part& part) const;
    void steps(NodeId block, Part& part) const;

    const Tree& tree_;
    const Files& files_;
    const Names& names_;
};

/// A part in one line: "line hydrogen { gas hydrogen ; output 2 }".
std::string written(const Part& part);
/// Parts in the order of their names; among equal names in that of what they say.
void sort(std::vector<Part>& parts);
/// Sets `meaning` from values and parts.
void settle(Part& part);

} // namespace athanor::review
