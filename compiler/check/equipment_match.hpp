#pragma once
#include "compiler/check/equipment_literal.hpp"
#include "compiler/check/schema.hpp"
#include "compiler/quantity/few.hpp"

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace athanor::check {

/// One thing that a pattern took from the elements of a property.
struct Capture {
    Pattern::Kind form = Pattern::Kind::word; // word, name, reference, text, value, uncertain, range
    Type type;                                // of values
    Interval value;                           // SI; both ends of a range
    std::string_view text;                    // word, name, text without quotes
    athanor::Span span;
    NodeId first = no_node, last = no_node; // the element, or both ends of a range
};

/// What a property says, in the order of its elements.
struct Match {
    std::vector<Capture> captures;

    bool has(std::string_view word) const;
    /// Value number n (from 0) of a kind, whatever its form.
    const Capture* value(Kind kind, unsigned n = 0) const;
    /// The first value behind a word.
    const Capture* after(std::string_view word) const;
    /// Name, reference or text number n.
    const Capture* named(unsigned n = 0) const;
    const Capture* text(unsigned n = 0) const;
};

/// Where the elements left the pattern, and what would have been taken there.
struct Mismatch {
    std::size_t element = 0; // index; the number of elements when something is missing
    std::vector<const Pattern*> wanted;
    bool bad_margin = false; // the value behind ± does not belong to the one before it
};

/// Elements of a property: the children behind its name, without block and source.
using Elements = Few<NodeId, 8>;
Elements elements_of(const Tree& tree, NodeId property);

/// What does not fit is noted in `mismatch`, where one is given.
std::optional<Match> match(const Pattern& pattern, const Tree& tree, std::span<const NodeId> elements,
                           const Files& files, Mismatch* mismatch = nullptr);

} // namespace athanor::check
