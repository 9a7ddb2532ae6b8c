#pragma once
#include "compiler/program/decimal.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/source/file.hpp"
#include "grammar/syntax.hpp"
#include "targets/layout/scale.hpp"

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace athanor::targets::layout {

/// The properties of a declaration, read with messages at their places.
class Properties {
public:
    Properties(const Tree& tree, const Files& files, Diagnostics& out)
        : tree_(tree), files_(files), out_(out) {}

    struct Property {
        NodeId id = no_node;
        std::string name;
        std::vector<NodeId> elements;
        NodeId block = no_node;
    };
    /// The properties among the children of a node, in order.
    std::vector<Property> of(NodeId parent) const;

    /// A text without its quotes, a name, a word or a number, as written.
    std::string text(NodeId id) const;
    athanor::Span span(NodeId id) const { return tree_.span(id); }

    /// The only element. Another number of them, or another kind, is reported and gives nothing.
    std::optional<std::string> quoted(const Property& property);
    std::optional<std::string> word(const Property& property, std::initializer_list<std::string_view> allowed);
    std::optional<std::int64_t> whole(const Property& property, std::int64_t lo, std::int64_t hi);
    std::optional<Decimal> number(const Property& property);
    /// `0.1 degC`: the step and unit in which a figure is written.
    std::optional<Scale> scale(const Property& property, Measure measure);
    std::optional<Scale> scale_of(NodeId quantity, Measure measure);

    void wrong(athanor::Span span, Code code, std::string message);
    bool failed() const { return failed_; }

    const Tree& tree() const { return tree_; }
    const Files& files() const { return files_; }

private:
    bool single(const Property& property, std::string_view what);

    const Tree& tree_;
    const Files& files_;
    Diagnostics& out_;
    bool failed_ = false;
};

} // namespace athanor::targets::layout
