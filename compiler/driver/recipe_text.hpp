#pragma once
#include "compiler/driver/repair.hpp"
#include "grammar/syntax.hpp"

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

/// Places in the text of the named file, and edits there that keep its comments and its layout.
namespace athanor::driver {

class RecipeText {
public:
    /// Of one compiled recipe.
    RecipeText(const Session& session, const Compiled& compiled);

    bool found() const { return block_ != no_node; }
    /// The innermost step that holds this place; for a place inside an operation, the step that calls it.
    NodeId step_at(athanor::Span span) const;
    /// Steps of the recipe that call the operation around this place.
    std::vector<NodeId> calls_around(athanor::Span span) const;
    /// Steps of the same block, in order, and the place of one among them.
    std::vector<NodeId> siblings(NodeId step) const;
    std::vector<NodeId> steps() const; // of the recipe's own block
    NodeId first_step() const; // behind defaults, load, requirements, notes and a first wait for a person
    Node kind(NodeId id) const { return tree_.kind(id); }
    std::string_view text(NodeId id) const { return tree_.text(id, files_); }
    const Tree& tree() const { return tree_; }
    std::uint32_t line(NodeId id) const { return files_.position(tree_.span(id)).line; }
    /// Every node of the recipe of one of these kinds, in order.
    std::vector<NodeId> all(std::initializer_list<Node> kinds) const;
    /// Does the step call this operation?
    bool calls(NodeId step, std::string_view operation) const;

    Edit before(NodeId step, const std::vector<std::string>& lines) const;
    Edit after(NodeId step, const std::vector<std::string>& lines) const;
    Edit replace(NodeId id, std::string text) const { return {tree_.span(id), std::move(text)}; }
    /// Takes a step out and puts its text before (or behind) another one.
    Edit moved(NodeId step, NodeId to, bool behind) const;
    /// One edit that does them all.
    Edit merged(std::vector<Edit> edits) const;

    /// Sets a property of a declaration in this file, at a path of names ("line argon", "de_energised"):
    /// replaces its elements, or adds it. Nothing when the declaration stands elsewhere.
    std::optional<Edit> property(Node kind, std::string_view declaration, const std::vector<std::string>& path,
                                 const std::string& value) const;

private:
    std::string indent_of(std::uint32_t offset) const;
    std::uint32_t line_begin(std::uint32_t offset) const;
    bool alone_on_line(NodeId id) const;
    const Files& files_;
    const std::vector<check::Unit>& units_;
    const Tree& tree_;
    std::string_view source_;
    NodeId block_ = no_node;
};

/// "0.4 slm", two digits, rounded down.
std::string flow_in_slm(double flow);

/// Proposals that change what the rig or the controller is declared to have, behind those in the list.
void propose_equipment(const Session& session, const Compiled& compiled, const RecipeText& text,
                       const Diagnostic& diagnostic, std::vector<Repair>& list);

} // namespace athanor::driver
