#pragma once
#include "compiler/check/load.hpp"
#include "compiler/quantity/type.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// What a declaration of equipment may hold. The standard library states it (`schema rig { … }`), one line a
/// property:
///
///     NAME "PATTERN" ATTRIBUTE* [default ELEMENT*] [{ properties of its block }]
///
/// A pattern is a row of
///     TYPE              one value: temperature, time, count …, or a unit of a derived quantity (J/mol)
///     uncertain TYPE    one value that may be an interval: `a`, `a ± b`, `a to b`
///     range of TYPE     what can be set: `a to b`
///     name  word?       a new name; `gas`, `material`, `thermocouple`, `line` name one that is declared
///     text              a text in quotes
///     anything else     that word itself; 'time' in single quotes where a word would be a type
/// with ( ) | for a choice, [ ] for what may be absent, and `X, ...` for a list.
/// Attributes: `required`, `many`, `positive`, `not_negative`, `share` (0 to 1), `example "…"`.
/// The same NAME may stand several times with different first words, each with its own block. `any_name` takes
/// every name that is not listed.
namespace athanor::check {

struct Pattern {
    enum class Kind : std::uint8_t {
        word,
        value,
        uncertain,
        range,
        name,
        reference,
        text,
        sequence,
        choice,
        optional,
        list
    };
    Kind kind = Kind::sequence;
    std::string_view word; // of the schema's text: the word, or the kind of declaration a reference names
    Type type;
    std::vector<Pattern> parts;
};

/// Never fails: what is no type is a word. False when brackets do not match. The pattern refers to the text.
bool parse_pattern(std::string_view text, Pattern& pattern);
/// "a time, `to`, a temperature"
std::string describe(const Pattern& pattern);

enum class Bound : std::uint8_t { none, positive, not_negative, share };

struct SchemaProperty {
    std::string_view name;
    std::string_view pattern_text, example;
    bool required = false, many = false, block = false;
    Bound bound = Bound::none;
    std::vector<NodeId> default_elements; // in the tree of `unit`
    Index unit = none;
    NodeId node = no_node;
    std::vector<SchemaProperty> properties;

    bool any_name() const { return name == "any_name"; }
    /// Parsed when it is first asked for: a run uses a part of the library only.
    const Pattern& pattern() const;

private:
    mutable std::optional<Pattern> pattern_;
};

struct Schema {
    std::string name;
    std::vector<SchemaProperty> properties;
};

/// Every `schema` of the given files, whose texts it refers to.
std::vector<Schema> read_schemas(const std::vector<Unit>& units, const Files& files, Diagnostics& out);
const Schema* schema_named(const std::vector<Schema>& schemas, std::string_view name);
/// The reference page of a schema as text: one property a line with pattern, default and documentation.
std::string print(const Schema& schema, const std::vector<Unit>& units, const Files& files);

/// How many lines a block has.
inline std::size_t lines_of(const Tree& tree, NodeId block) {
    std::size_t lines = 0;
    for (NodeId at = tree[block].first; at != no_node; at = tree[at].next) ++lines;
    return lines;
}

/// The `##` lines that stand directly before a node.
std::string documentation_of(const Tree& tree, NodeId node, const Files& files);

} // namespace athanor::check
