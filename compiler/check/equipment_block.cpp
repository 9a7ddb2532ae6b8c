#include "compiler/check/equipment_block.hpp"
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <fmt/format.h>

namespace athanor::check {

namespace {

/// Pieces of a rig that are not properties, gathered along a chain of variants.
struct Parts {
    std::vector<Item> items, interlocks;
    std::vector<std::string_view> dropped, dropped_gases; // lines that the interlocks may name
    Item defaults;
    bool broken = false;
};

std::string_view first_name(Registry& r, const Item& item) {
    for (NodeId element : elements_of(r.tree(item.unit), item.node))
        if (r.tree(item.unit).kind(element) == Node::name) return r.text(item.unit, element);
    return {};
}

bool is_line(const Item& item) {
    return item.name == "line";
}

/// Properties of `over` take the place of those of the same name.
void replace(std::vector<Item>& base, std::vector<Item> over) {
    std::erase_if(base, [&](const Item& old) {
        return std::any_of(over.begin(), over.end(), [&](const Item& item) { return item.name == old.name; });
    });
    base.insert(base.end(), std::make_move_iterator(over.begin()), std::make_move_iterator(over.end()));
}

void merge(Registry& r, std::vector<Item>& base, std::vector<Item> over) {
    std::vector<Item> others;
    others.reserve(over.size());
    const auto inherited =
        static_cast<std::ptrdiff_t>(base.size()); // two of one name in one block do not merge
    std::vector<const Item*> named;
    for (Item& item : over) {
        if (!is_line(item)) {
            others.push_back(std::move(item));
            continue;
        }
        const std::string_view name = first_name(r, item);
        const auto first =
            std::find_if(named.begin(), named.end(), [&](const Item* i) { return first_name(r, *i) == name; });
        if (first != named.end() && inherited > 0) {
            r.out
                .error(Code::duplicate_name, r.tree(item.unit).span(item.node),
                       fmt::format("line `{}` is changed twice in one rig", name))
                .also(r.tree((*first)->unit).span((*first)->node), "first here")
                .remedy("keep one of the two");
            continue;
        }
        named.push_back(&item); // its place in the text, whoever has its block
        const auto end = base.begin() + inherited;
        auto old = std::find_if(base.begin(), end,
                                [&](const Item& i) { return is_line(i) && first_name(r, i) == name; });
        if (old == end)
            base.push_back(std::move(item));
        else
            replace(old->items, std::move(item.items));
    }
    replace(base, std::move(others));
}

void drop_lines(Registry& r, Index unit, NodeId block, Parts& parts) {
    std::vector<Item>& items = parts.items;
    const Tree& tree = r.tree(unit);
    for (NodeId node : tree.children(block)) {
        if (tree.kind(node) != Node::without || tree[node].broken) continue;
        const NodeId name = tree.child(node, Node::name);
        if (name == no_node) continue;
        const std::string_view text = r.text(unit, name);
        const auto before = items.size();
        std::vector<std::string_view> known;
        for (const Item& item : items)
            if (is_line(item)) known.push_back(first_name(r, item));
        std::erase_if(items, [&](const Item& i) {
            if (!is_line(i) || first_name(r, i) != text) return false;
            parts.dropped.push_back(text);
            for (const Item& own : i.items)
                if (own.name == "gas") parts.dropped_gases.push_back(first_name(r, own));
            return true;
        });
        if (items.size() != before) continue;
        Diagnostic& d = r.out.error(Code::unknown_name, tree.span(name),
                                    fmt::format("there is no line `{}` to leave out", text));
        if (std::string near = nearest(text, known); !near.empty())
            d.remedy(fmt::format("did you mean `{}`?", near)).mend(tree.span(name), near);
    }
}

/// What the grammar could not read was told there, and leaves a property out.
bool broken_below(const Tree& tree, NodeId node) {
    if (tree.kind(node) == Node::error || tree[node].broken) return true;
    for (const NodeId child : tree.children(node))
        if (broken_below(tree, child)) return true;
    return false;
}

Parts gather(Registry& r, const Declaration& declaration, std::vector<const Declaration*>& chain) {
    Parts parts;
    const Tree& tree = r.tree(declaration.unit);
    chain.push_back(&declaration);
    parts.broken = tree[declaration.node].broken;
    if (const NodeId from = tree.child(declaration.node, Node::from); from != no_node) {
        const NodeId name = tree.child(from, Node::name);
        const Declaration* base = name == no_node ? nullptr
                                                  : r.find(declaration.kind, r.text(declaration.unit, name),
                                                           declaration.unit, tree.span(name));
        if (base == nullptr) {
            parts.broken = true;
        } else if (auto seen = std::find(chain.begin(), chain.end(), base); seen != chain.end()) {
            std::string way;
            for (auto at = seen; at != chain.end(); ++at) way += fmt::format("`{}` from ", (*at)->name);
            // Told once, at the member that comes first in the files.
            const bool first = std::all_of(chain.begin(), chain.end(), [&](const Declaration* d) {
                return !(d->span < chain.front()->span);
            });
            if (base == chain.front() && first)
                r.out
                    .error(Code::recursion, tree.span(name),
                           fmt::format("{} `{}` is a variant of itself: {}`{}`", word_for(declaration.kind),
                                       base->name, way, base->name))
                    .remedy("let one of them stand by itself, without `from`");
            parts.broken = true;
        } else if (chain.size() > max_chain) {
            r.out.error(Code::too_large, tree.span(name),
                        fmt::format("variants of variants are followed {} deep at most", max_chain));
            parts.broken = true;
        } else {
            parts = gather(r, *base, chain);
        }
    }
    const NodeId block = tree.child(declaration.node, Node::property_block);
    if (block == no_node) return parts;
    drop_lines(r, declaration.unit, block, parts);
    const std::size_t before = r.out.errors();
    merge(r, parts.items, items_of(r, declaration.unit, block));
    if (r.out.errors() != before) parts.broken = true;
    std::vector<Item> interlocks;
    for (NodeId node : tree.children(block)) {
        if (broken_below(tree, node)) parts.broken = true;
        if (tree.kind(node) == Node::interlock) interlocks.push_back({declaration.unit, node, "interlock", {}});
        if (tree.kind(node) == Node::defaults) parts.defaults = {declaration.unit, node, "defaults", {}};
    }
    if (!interlocks.empty()) { // like any other property
        parts.interlocks = std::move(interlocks);
        parts.dropped.clear();
        parts.dropped_gases.clear();
    }
    return parts;
}

std::string_view title_of(Registry& r, Index unit, NodeId node) {
    const NodeId text = r.tree(unit).child(node, Node::text);
    if (text == no_node) return {};
    std::string_view quoted = r.text(unit, text);
    return quoted.size() < 2 ? quoted : quoted.substr(1, quoted.size() - 2);
}

} // namespace

const Property* Property::find(std::string_view wanted) const {
    for (const Property& p : properties)
        if (p.name == wanted) return &p;
    return nullptr;
}

std::vector<Item> items_of(Registry& r, Index unit, NodeId block) {
    std::vector<Item> items;
    const Tree& tree = r.tree(unit);
    items.reserve(lines_of(tree, block));
    for (NodeId node : tree.children(block)) {
        if (tree.kind(node) != Node::property || tree[node].first == no_node) continue;
        Item& item = items.emplace_back(Item{unit, node, r.text(unit, tree[node].first), {}});
        if (const NodeId inner = tree.child(node, Node::property_block); inner != no_node)
            item.items = items_of(r, unit, inner);
    }
    return items;
}

Declared read_declaration(Registry& r, const Declaration& declaration) {
    Declared result;
    result.name = declaration.name;
    result.title = title_of(r, declaration.unit, declaration.node);
    result.span = declaration.span;
    result.unit = declaration.unit;
    std::vector<const Declaration*> chain;
    Parts parts = gather(r, declaration, chain);
    result.broken = parts.broken;
    result.interlocks = std::move(parts.interlocks);
    result.dropped = std::move(parts.dropped);
    result.dropped_gases = std::move(parts.dropped_gases);
    result.defaults = parts.defaults;
    const std::string_view word = word_for(declaration.kind);
    result.root.name = word;
    result.root.unit = declaration.unit;
    result.root.span = declaration.span;
    const Schema* schema = schema_named(r.schemas, word);
    if (schema == nullptr) {
        r.out
            .error(Code::rig_inconsistent, declaration.span,
                   fmt::format("no `schema {}` is in scope, so nothing of this {} can be read", word, word))
            .remedy("the standard library declares it");
        result.broken = true;
        return result;
    }
    const auto before = r.out.errors();
    match_items(r, parts.items, schema->properties, fmt::format("{} `{}`", word, declaration.name),
                declaration.span, result.broken, result.root);
    if (r.out.errors() != before) result.broken = true;
    return result;
}

Figure figure(const Property* property, Kind kind, unsigned n) {
    if (property == nullptr || property->poison) return {};
    const Capture* capture = property->match.value(kind, n);
    if (capture == nullptr) return {};
    return {capture->value, property->defaulted ? property->span : capture->span, true, property->defaulted,
            std::string(property->reference)};
}

Figure figure(const Property& owner, std::string_view name, Kind kind, unsigned n) {
    return figure(owner.find(name), kind, n);
}

} // namespace athanor::check
