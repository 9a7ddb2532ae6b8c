#pragma once
#include "compiler/check/equipment.hpp"
#include "compiler/check/equipment_match.hpp"
#include "compiler/check/model.hpp"

#include <deque>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// From syntax to matched properties: names, variants, merging, and the judgement by the schema.
namespace athanor::check {

/// Longest chain of variants, and of mixtures within mixtures.
inline constexpr std::size_t max_chain = 64;

/// A property as written, with the file it was written in: a variant may inherit it from another one.
struct Item {
    Index unit = none;
    NodeId node = no_node;
    std::string_view name;
    std::vector<Item> items; // of its block
};

/// A property that the schema knows, with what its elements say.
struct Property {
    const SchemaProperty* schema = nullptr;
    std::string_view name;
    Index unit = none; // where it was written; of a default: the schema's file
    NodeId node = no_node;
    athanor::Span span; // of its name and elements
    Match match;
    bool defaulted = false;
    bool poison = false;        // wrong, and reported
    std::string_view reference; // of `source "…"`
    std::vector<Property> properties;

    const Property* find(std::string_view wanted) const;
    bool has(std::string_view wanted) const { return find(wanted) != nullptr; }
};

/// A declaration after variants were resolved.
struct Declared {
    std::string name, title;
    athanor::Span span; // of its name
    Index unit = none;
    Property root; // its properties
    std::vector<Item> interlocks;
    std::vector<std::string_view> dropped, dropped_gases; // lines that these, inherited, may name
    Item defaults;                                        // node 0 when there is none
    bool broken = false;
};

/// One declaration of gas, material, thermocouple, rig or controller.
struct Declaration {
    Node kind = Node::none; // gas_mix counts as gas
    std::string_view name;
    Index unit = none;
    NodeId node = no_node;
    athanor::Span span;  // of its name
    Index index = none;  // into the model's list of its kind, once read
    bool unread = false; // of the library: it stands in that list by its name only, until it is named
};

/// Every declaration of equipment, found by name among what a file sees.
class Registry {
public:
    Registry(const std::vector<Unit>& units, const Files& files, Diagnostics& out);

    /// The declaration that `name` means in file `unit`; reports unknown_name or duplicate_name.
    Declaration* find(Node kind, std::string_view name, Index unit, athanor::Span span);
    /// Those of a kind and name in all files, in their order.
    std::span<Declaration* const> named(Node kind, std::string_view name) const;
    std::deque<Declaration>& all() { return all_; }
    const std::deque<Declaration>& all() const { return all_; }

    const std::vector<Unit>& units;
    const Files& files;
    Diagnostics& out;
    std::vector<Schema> schemas;

    const Tree& tree(Index unit) const { return units[unit].tree; }
    std::string_view text(Index unit, NodeId node) const { return units[unit].tree.text(node, files); }
    athanor::Span span(Index unit, NodeId node) const { return units[unit].tree.span(node); }

private:
    void refuse_twins();
    bool sees(Index from, Index unit) const;

    std::deque<Declaration> all_;
    std::vector<Declaration*> by_name_; // by kind and name
};

/// "rig", "gas" … as messages say it.
std::string_view word_for(Node kind);

/// Follows `from`, merges, and matches every property with the schema of the declaration's kind.
Declared read_declaration(Registry& registry, const Declaration& declaration);

/// Matches items with a schema. `owner` is how messages name the whole: "rig `bench`".
void match_items(Registry& registry, const std::vector<Item>& items, const std::vector<SchemaProperty>& schema,
                 std::string_view owner, athanor::Span owner_span, bool owner_broken, Property& into);
/// The properties of a block in order.
std::vector<Item> items_of(Registry& registry, Index unit, NodeId block);

/// The name among `known` that is nearest to a misspelt one; empty when none is near.
std::string nearest(std::string_view wrong, const std::vector<std::string_view>& known);
/// Lets `--fix` write that name where it is surely meant (`grammar::surely_named`).
void mend_name(Diagnostic& d, athanor::Span span, std::string_view wrong, const std::string& near);
/// The same for a word of the language, where one letter is wrong.
void mend_word(Diagnostic& d, athanor::Span span, std::string_view wrong, const std::string& near);

// --- reading figures -------------------------------------------------------------------------------

/// The n-th value of a kind as a figure; not given when the property is absent or poisoned.
Figure figure(const Property* property, Kind kind, unsigned n = 0);
Figure figure(const Property& owner, std::string_view name, Kind kind, unsigned n = 0);

} // namespace athanor::check
