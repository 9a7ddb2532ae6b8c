#include "compiler/check/equipment_block.hpp"
#include "compiler/quantity/unit.hpp"
#include "grammar/words.hpp"

#include <algorithm>
#include <fmt/format.h>

namespace athanor::check {

namespace {

/// Judges one block. Every property that does not fit is told once and poisoned.
class Judge {
public:
    Judge(Registry& registry, const std::vector<SchemaProperty>& schema, std::string_view owner)
        : r_(registry), schema_(schema), owner_(owner) {}

    void read(const Item& item, Property& into) {
        const auto variants = variants_of(item.name);
        const Tree& tree = r_.tree(item.unit);
        if (variants.empty()) {
            if (!tree[item.node].broken) unknown(item);
            into.properties.push_back(poisoned(item, nullptr));
            return;
        }
        if (tree[item.node].broken) {
            into.properties.push_back(poisoned(item, variants[0]));
            return;
        }
        if (!variants[0]->many && variants[0]->name == item.name)
            if (const Property* earlier = into.find(item.name); earlier != nullptr) {
                r_.out
                    .error(Code::duplicate_name, name_span(item),
                           fmt::format("`{}` is given twice in {}", item.name, owner_))
                    .also(earlier->span, "first given here")
                    .remedy("keep one of the two");
                return;
            }
        into.properties.push_back(fit(item, variants));
    }

    void fill(athanor::Span owner_span, bool owner_broken, Property& into) {
        std::vector<const SchemaProperty*> lacking;
        for (const SchemaProperty& p : schema_) {
            if (into.has(p.name) || misnamed(p, into)) continue;
            if (!p.default_elements.empty()) by_default(p, into);
            // However many variants it has, it is told once.
            else if (p.required && !owner_broken && variants_of(p.name)[0] == &p)
                lacking.push_back(&p);
        }
        if (!lacking.empty()) missing(lacking, owner_span);
    }

private:
    /// The property that a name of none is most likely meant for; empty where none is.
    std::string meant(std::string_view wrong) const {
        std::vector<std::string_view> known;
        for (const SchemaProperty& p : schema_) known.push_back(p.name);
        if (std::string near = nearest(wrong, known); !near.empty()) return near;
        // "diameter" for "inner_diameter".
        std::string_view whole;
        for (std::string_view name : known)
            if (wrong.size() > 3 && name != whole && name.find(wrong) != std::string_view::npos) {
                if (!whole.empty()) return {};
                whole = name;
            }
        return std::string(whole);
    }

    /// It stands there under another name, which was told.
    bool misnamed(const SchemaProperty& schema, const Property& into) const {
        return std::any_of(into.properties.begin(), into.properties.end(), [&](const Property& p) {
            return p.schema == nullptr && meant(p.name) == schema.name;
        });
    }

    using Variants = Few<const SchemaProperty*, 4>; // of one name, that differ in their first word

    Variants variants_of(std::string_view name) const {
        Variants found;
        for (const SchemaProperty& p : schema_)
            if (p.name == name) found.push_back(&p);
        if (found.empty())
            for (const SchemaProperty& p : schema_)
                if (p.any_name()) found.push_back(&p);
        return found;
    }

    athanor::Span name_span(const Item& item) const {
        return r_.span(item.unit, r_.tree(item.unit)[item.node].first);
    }

    Property poisoned(const Item& item, const SchemaProperty* schema) const {
        Property p;
        p.schema = schema;
        p.name = item.name;
        p.unit = item.unit;
        p.node = item.node;
        p.span = name_span(item);
        p.poison = true;
        return p;
    }

    void unknown(const Item& item) {
        // A variant reads the block of what it is made from again.
        for (const Diagnostic& told : r_.out.all())
            if (told.code == Code::unknown_property && told.span == name_span(item)) return;
        Diagnostic& d = r_.out.error(Code::unknown_property, name_span(item),
                                     fmt::format("{} has no property `{}`", owner_, item.name));
        if (std::string near = meant(item.name); !near.empty()) {
            mend_word(d.remedy(fmt::format("did you mean `{}`?", near)), d.span, item.name, near);
            return;
        }
        for (const Schema& schema : r_.schemas)
            if (std::string home = block_with(schema.properties, item.name); !home.empty()) {
                d.remedy(fmt::format("`{}` belongs in `{} {{ … }}` of a {}", item.name, home, schema.name));
                return;
            }
        std::string list;
        for (const SchemaProperty& p : schema_)
            if (const std::string_view name = p.name;
                name != "any_name" && list.find(fmt::format("`{}`", name)) == std::string::npos)
                list += fmt::format("{}`{}`", list.empty() ? "" : ", ", name);
        if (!list.empty()) d.remedy(fmt::format("it takes {}", list));
    }

    static std::string block_with(const std::vector<SchemaProperty>& properties, std::string_view name) {
        for (const SchemaProperty& p : properties)
            for (const SchemaProperty& inner : p.properties)
                if (inner.name == name) return std::string(p.name);
        return {};
    }

    Property fit(const Item& item, const Variants& variants) {
        const Tree& tree = r_.tree(item.unit);
        const auto elements = elements_of(tree, item.node);
        for (NodeId element : elements)
            if (tree[element].broken) return poisoned(item, variants[0]);
        for (NodeId element : elements)
            if (tree.kind(element) == Node::hole) {
                r_.out
                    .error(Code::value_missing, tree.span(element),
                           fmt::format("`{}` of {} has no value yet", item.name, owner_))
                    .remedy(example(*variants[0]));
                return poisoned(item, variants[0]);
            }
        for (const SchemaProperty* schema : variants)
            if (auto found = match(schema->pattern(), tree, elements, r_.files)) {
                Property p = poisoned(item, schema);
                p.poison = false;
                p.match = std::move(*found);
                if (!elements.empty()) p.span = hull(p.span, tree.span(elements.back()));
                p.reference = source_of(item.unit, item.node);
                if (!bounded(p)) p.poison = true;
                block(item, p);
                return p;
            }
        Mismatch furthest;
        for (const SchemaProperty* schema : variants) {
            Mismatch mismatch;
            (void)match(schema->pattern(), tree, elements, r_.files, &mismatch);
            if (mismatch.element > furthest.element)
                furthest = std::move(mismatch);
            else if (mismatch.element == furthest.element) {
                furthest.wanted.insert(furthest.wanted.end(), mismatch.wanted.begin(), mismatch.wanted.end());
                furthest.bad_margin = furthest.bad_margin || mismatch.bad_margin;
            }
        }
        misfit(item, elements, variants, furthest);
        return poisoned(item, variants[0]);
    }

    void block(const Item& item, Property& p) {
        const Tree& tree = r_.tree(item.unit);
        const NodeId inner = tree.child(item.node, Node::property_block);
        if (inner != no_node && !p.schema->block) {
            const auto braces = tree.span(inner);
            r_.out
                .error(Code::unknown_property, {braces.file, braces.begin, braces.begin + 1},
                       fmt::format("`{}` of {} takes no block", item.name, owner_))
                .remedy(example(*p.schema));
            return;
        }
        bool broken = false;
        if (inner != no_node)
            for (NodeId node : tree.children(inner))
                broken = broken || tree.kind(node) == Node::error || tree[node].broken;
        if (p.schema->block) {
            const Capture* name = p.match.named();
            const std::string owner = name != nullptr ? fmt::format("{} `{}`", item.name, name->text)
                                                      : fmt::format("`{}` of {}", item.name, owner_);
            match_items(r_, item.items, p.schema->properties, owner, p.span, broken, p);
        }
    }

    std::string_view source_of(Index unit, NodeId node) const {
        const Tree& tree = r_.tree(unit);
        const NodeId source = tree.child(node, Node::source);
        if (source == no_node) return {};
        const NodeId text = tree.child(source, Node::text);
        const std::string_view quoted = text == no_node ? std::string_view{} : tree.text(text, r_.files);
        return quoted.size() < 2 ? std::string_view{} : quoted.substr(1, quoted.size() - 2);
    }

    /// Ends in order, and inside what the schema allows.
    bool bounded(const Property& p) {
        for (const Capture& c : p.match.captures) {
            if (c.type.poison()) continue;
            if (c.value.lo > c.value.hi) {
                r_.out
                    .error(Code::rig_inconsistent, c.span,
                           fmt::format("`{}` of {} runs from {} down to {}", p.name, owner_,
                                       to_text(c.value.lo, c.type.kind), to_text(c.value.hi, c.type.kind)))
                    .remedy("write the lower end first");
                return false;
            }
            if (c.type.kind == Kind::temperature && c.value.lo < 0) {
                r_.out.error(
                    Code::rig_inconsistent, c.span,
                    fmt::format("{} lies below absolute zero", to_text(c.value.lo, Kind::temperature)));
                return false;
            }
            const Bound bound = c.type.kind == Kind::temperature ? Bound::none : p.schema->bound;
            const bool low =
                (bound == Bound::positive && c.value.lo <= 0) || (bound != Bound::none && c.value.lo < 0);
            const bool high = bound == Bound::share && c.value.hi > 1;
            if (!low && !high) continue;
            const std::string limit = bound == Bound::positive       ? "above zero"
                                      : bound == Bound::not_negative ? "zero or more"
                                                                     : "between 0 and 1";
            r_.out.error(Code::rig_inconsistent, c.span,
                         fmt::format("`{}` of {} must be {}, not {}", p.name, owner_, limit,
                                     to_text(low ? c.value.lo : c.value.hi, c.type.kind)));
            return false;
        }
        return true;
    }

    static std::string describe_all(const Variants& variants) {
        std::string text;
        for (const SchemaProperty* p : variants) {
            if (!text.empty()) text += " or ";
            text += describe(p->pattern());
        }
        return text;
    }

    std::string sample(const SchemaProperty& p) const {
        if (!p.example.empty()) return fmt::format("{} {}", p.name, p.example);
        if (p.default_elements.empty()) return {};
        const Tree& tree = r_.tree(p.unit);
        const auto all = hull(tree.span(p.default_elements.front()), tree.span(p.default_elements.back()));
        return fmt::format("{} {}", p.name, r_.files.text(all));
    }
    std::string example(const SchemaProperty& p) const {
        const std::string text = sample(p);
        return text.empty() ? fmt::format("`{}` takes {}", p.name, describe(p.pattern()))
                            : "for example " + text;
    }

    /// "15 degC to 25 degC" for `20 ± 5 degC`; empty where no temperature is meant.
    static std::string two_ends(std::string_view middle, std::string_view margin, std::string_view figure) {
        double about = 0, by = 0;
        const std::string_view unit =
            margin.substr(std::min(margin.find_first_not_of(' ', figure.size()), margin.size()));
        const athanor::Unit* row = unit_named(unit);
        if (row == nullptr || row->kind != Kind::temperature || !parse_number(middle, about) ||
            !parse_number(figure, by))
            return {};
        return fmt::format("{} {} to {} {}", shortest(about - by), unit, shortest(about + by), unit);
    }

    /// A number behind which a word stands that is no unit, or nothing.
    void without_unit(const Tree& tree, const Elements& elements, std::size_t n, std::string message) {
        const std::string_view number = tree.text(elements[n], r_.files);
        const auto is_word = [&](std::size_t i) {
            return i < elements.size() &&
                   (tree.kind(elements[i]) == Node::word || tree.kind(elements[i]) == Node::name);
        };
        const std::string_view behind = is_word(n + 1) ? tree.text(elements[n + 1], r_.files) : "";
        const bool margin = behind == "±" || behind == "+/-";
        if (!behind.empty() && !margin && !grammar::reserved(grammar::word_of(behind))) {
            Diagnostic& d = r_.out.error(Code::unknown_unit, tree.span(elements[n + 1]),
                                         fmt::format("unknown unit `{}`", behind));
            const std::string_view meant = suggest_unit(behind);
            d.remedy(meant.empty()
                         ? "`athanor units` lists every unit"
                         : fmt::format("perhaps `{} {}`; `athanor units` lists every unit", number, meant));
            return;
        }
        Diagnostic& d = r_.out.error(Code::missing_unit, tree.span(elements[n]), std::move(message))
                            .with_label("this number has no unit");
        // `0.1 to 2 L/min`, `20 ± 5 degC`: the other has one.
        if ((behind == "to" || margin) && n + 2 < elements.size() &&
            tree.kind(elements[n + 2]) == Node::quantity) {
            const std::string_view other = tree.text(elements[n + 2], r_.files);
            const std::string_view figure = tree.text(tree[elements[n + 2]].first, r_.files);
            if (const std::string ends = margin ? two_ends(number, other, figure) : std::string();
                !ends.empty())
                d.remedy(fmt::format("write the two ends, `{}`", ends));
            else
                d.remedy(fmt::format("write its unit, for example {}{}", number, other.substr(figure.size())));
        } else {
            d.remedy("write its unit");
        }
    }

    void misfit(const Item& item, const Elements& elements, const Variants& variants,
                const Mismatch& mismatch) {
        const Tree& tree = r_.tree(item.unit);
        std::string message = fmt::format("`{}` takes {}", item.name, describe_all(variants));
        for (const SchemaProperty* p : variants)
            if (std::string text = sample(*p); !text.empty()) {
                message += ": " + text;
                break;
            }
        if (mismatch.element >= elements.size()) {
            r_.out
                .error(Code::unknown_property,
                       elements.empty() ? name_span(item) : hull(name_span(item), tree.span(elements.back())),
                       std::move(message))
                .with_label("something is missing behind this");
            return;
        }
        const NodeId at = elements[mismatch.element];
        const Node kind = tree.kind(at);
        if (mismatch.bad_margin) {
            r_.out.error(Code::unit_mismatch, tree.span(at), std::move(message))
                .with_label(
                    "± takes the same quantity, or a fraction of it; of an absolute temperature, a difference");
            return;
        }
        if (kind == Node::word || kind == Node::name || kind == Node::text) {
            Diagnostic& d = r_.out.error(Code::unknown_property, tree.span(at), std::move(message));
            std::vector<std::string_view> words;
            for (const Pattern* wanted : mismatch.wanted)
                if (wanted->kind == Pattern::Kind::word) words.push_back(wanted->word);
            if (std::string near = nearest(tree.text(at, r_.files), words); !near.empty()) {
                mend_word(d.remedy(fmt::format("did you mean `{}`?", near)), d.span, tree.text(at, r_.files),
                          near);
            }
            return;
        }
        const Literal literal = read_literal(tree, at, r_.files);
        const Pattern* value = nullptr;
        for (const Pattern* wanted : mismatch.wanted)
            if (value == nullptr && !wanted->type.poison()) value = wanted;
        if (value == nullptr) {
            r_.out.error(Code::unknown_property, tree.span(at), std::move(message))
                .with_label("nothing of this kind belongs here");
        } else if (kind == Node::number && !value->type.dimension.none()) {
            without_unit(tree, elements, mismatch.element, std::move(message));
        } else {
            Diagnostic& d = r_.out.error(Code::unit_mismatch, tree.span(at), std::move(message))
                                .with_label(fmt::format("this is {}", describe(literal.type)));
            if (literal.type.kind == Kind::temperature && value->type.kind == Kind::difference) {
                const NodeId number = tree[at].first;
                const std::string kelvin =
                    in_kelvin(tree.text(number, r_.files), *unit_named(tree.text(tree[number].next, r_.files)));
                d.remedy(fmt::format("a difference is written `{}`", kelvin)).mend(tree.span(at), kelvin);
            }
            if (literal.type.kind == Kind::pressure && value->type.kind == Kind::overpressure)
                d.remedy(
                    fmt::format("a pressure above ambient is written `{} gauge`; from an absolute one take the "
                                "room's off",
                                tree.text(at, r_.files)));
        }
    }

    void by_default(const SchemaProperty& schema, Property& into) {
        Property p;
        p.schema = &schema;
        p.name = schema.name;
        p.unit = schema.unit;
        p.node = schema.node;
        const Tree& tree = r_.tree(schema.unit);
        p.span = hull(tree.span(schema.default_elements.front()), tree.span(schema.default_elements.back()));
        p.defaulted = true;
        p.reference = source_of(schema.unit, schema.node);
        auto found = match(schema.pattern(), tree, schema.default_elements, r_.files);
        if (!found) {
            r_.out.error(Code::unknown_property, p.span,
                         fmt::format("the default of `{}` does not fit its pattern: {}", schema.name,
                                     describe(schema.pattern())));
            return;
        }
        p.match = std::move(*found);
        into.properties.push_back(std::move(p));
    }

    void missing(const std::vector<const SchemaProperty*>& lacking, athanor::Span owner_span) {
        std::string names;
        for (const SchemaProperty* p : lacking)
            names += fmt::format("{}`{}`", names.empty() ? "" : p == lacking.back() ? " and " : ", ", p->name);
        Diagnostic& d = r_.out.error(Code::rig_inconsistent, owner_span,
                                     fmt::format("{} says nothing about {}", owner_, names));
        for (const SchemaProperty* p : lacking) d.remedy(example(*p));
    }

    Registry& r_;
    const std::vector<SchemaProperty>& schema_;
    std::string_view owner_;
};

} // namespace

void match_items(Registry& registry, const std::vector<Item>& items, const std::vector<SchemaProperty>& schema,
                 std::string_view owner, athanor::Span owner_span, bool owner_broken, Property& into) {
    Judge judge(registry, schema, owner);
    into.properties.reserve(into.properties.size() + items.size());
    for (const Item& item : items) judge.read(item, into);
    judge.fill(owner_span, owner_broken, into);
}

} // namespace athanor::check
