#include "compiler/check/schema.hpp"
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <array>
#include <fmt/format.h>
#include <unordered_map>

namespace athanor::check {

namespace {

/// Words, and each of ( ) [ ] | , alone.
std::vector<std::string_view> tokens_of(std::string_view text) {
    const auto alone = [](char c) {
        return c == '(' || c == ')' || c == '[' || c == ']' || c == '|' || c == ',';
    };
    std::vector<std::string_view> tokens;
    tokens.reserve(text.size() / 4 + 1);
    for (std::size_t at = 0; at < text.size();) {
        if (text[at] == ' ') {
            ++at;
            continue;
        }
        std::size_t end = at + 1;
        if (!alone(text[at]))
            while (end < text.size() && text[end] != ' ' && !alone(text[end])) ++end;
        tokens.push_back(text.substr(at, end - at));
        at = end;
    }
    return tokens;
}

class Reader {
public:
    explicit Reader(std::string_view text) : tokens_(tokens_of(text)) {}

    bool read(Pattern& pattern) {
        // A type behind `uncertain` or `range of` must be there: without it there is nothing to read.
        if (!tokens_.empty())
            for (std::string_view word : {"uncertain", "range", "of"})
                if (tokens_.back() == word) return false;
        pattern = choice();
        return at_ == tokens_.size() && !unbalanced_;
    }

private:
    std::string_view peek(std::size_t ahead = 0) const {
        return at_ + ahead < tokens_.size() ? tokens_[at_ + ahead] : std::string_view{};
    }
    bool take(std::string_view token) {
        if (peek() != token) return false;
        ++at_;
        return true;
    }

    Pattern choice() {
        Pattern first = sequence();
        if (peek() != "|") return first;
        Pattern result{Pattern::Kind::choice, {}, {}, {}};
        result.parts.push_back(std::move(first));
        while (take("|")) result.parts.push_back(sequence());
        return result;
    }

    /// One part as it is, several as a sequence.
    Pattern sequence() {
        Pattern result{Pattern::Kind::sequence, {}, {}, {}};
        for (bool first = true; !ends(); first = false) {
            Pattern next = part();
            if (first && ends()) return next;
            if (first) result.parts.reserve(4); // most have no more
            result.parts.push_back(std::move(next));
        }
        return result;
    }

    /// Does a sequence end here?
    bool ends() const { return at_ == tokens_.size() || peek() == "|" || peek() == ")" || peek() == "]"; }

    Pattern part() {
        Pattern one = item();
        if (peek() != "," || peek(1) != "...") return one;
        at_ += 2;
        Pattern list{Pattern::Kind::list, {}, {}, {}};
        list.parts.push_back(std::move(one));
        return list;
    }

    Pattern item() {
        if (take("(") || peek() == "[") {
            const bool optional = take("[");
            Pattern inner = choice();
            if (!take(optional ? "]" : ")")) unbalanced_ = true;
            if (!optional) return inner;
            Pattern result{Pattern::Kind::optional, {}, {}, {}};
            result.parts.push_back(std::move(inner)); // a list in braces would copy it
            return result;
        }
        if (take("uncertain")) return {Pattern::Kind::uncertain, {}, type(tokens_[at_++]), {}};
        if (peek() == "range" && peek(1) == "of") {
            at_ += 3;
            return {Pattern::Kind::range, {}, type(tokens_[at_ - 1]), {}};
        }
        const std::string_view token = tokens_[at_++];
        if (token.size() > 2 && token.front() == '\'')
            return {Pattern::Kind::word, token.substr(1, token.size() - 2), {}, {}};
        if (token == "name") return {Pattern::Kind::name, {}, {}, {}};
        if (token == "text") return {Pattern::Kind::text, {}, {}, {}};
        for (std::string_view declared : {"gas", "material", "thermocouple", "line"})
            if (token == declared) return {Pattern::Kind::reference, token, {}, {}};
        const Type value = type(token);
        if (!value.poison()) return {Pattern::Kind::value, {}, value, {}};
        return {Pattern::Kind::word, token, {}, {}};
    }

    static Type type(std::string_view token) {
        static const auto types = [] {
            std::unordered_map<std::string_view, Type> map;
            for (Kind kind : named_kinds()) map.emplace(name(kind), type_of(kind));
            return map;
        }();
        if (auto named = types.find(token); named != types.end()) return named->second;
        const athanor::Unit* unit = unit_named(token);
        if (unit != nullptr && unit->kind == Kind::derived) return {Kind::derived, unit->dimension};
        return {};
    }

    std::vector<std::string_view> tokens_;
    std::size_t at_ = 0;
    bool unbalanced_ = false;
};

bool balanced(std::string_view text) {
    std::string open;
    for (const char c : text) {
        if (c == '(' || c == '[') open += c;
        if (c != ')' && c != ']') continue;
        if (open.empty() || open.back() != (c == ')' ? '(' : '[')) return false;
        open.pop_back();
    }
    return open.empty();
}

std::string_view unquoted(std::string_view text) {
    return text.size() < 2 ? text : text.substr(1, text.size() - 2);
}

class SchemaReader {
public:
    SchemaReader(const std::vector<Unit>& units, const Files& files, Diagnostics& out)
        : units_(units), files_(files), out_(out) {}

    std::vector<SchemaProperty> properties(Index unit, NodeId block) {
        std::vector<SchemaProperty> result;
        const Tree& tree = units_[unit].tree;
        result.reserve(lines_of(tree, block));
        for (NodeId node : tree.children(block))
            if (tree.kind(node) == Node::property && !tree[node].broken) result.push_back(property(unit, node));
        return result;
    }

private:
    SchemaProperty property(Index unit, NodeId node) {
        const Tree& tree = units_[unit].tree;
        SchemaProperty result;
        result.unit = unit;
        result.node = node;
        bool in_default = false;
        NodeId example = no_node;
        for (NodeId part : tree.children(node)) {
            const std::string_view text = tree.text(part, files_);
            if (part == tree[node].first) {
                result.name = text;
            } else if (tree.kind(part) == Node::property_block) {
                result.block = true;
                result.properties = properties(unit, part);
            } else if (tree.kind(part) == Node::source) {
                continue;
            } else if (in_default) {
                result.default_elements.push_back(part);
            } else if (example != no_node) {
                result.example = unquoted(text);
                example = no_node;
            } else if (tree.kind(part) == Node::text) {
                result.pattern_text = unquoted(text);
                if (!balanced(result.pattern_text))
                    complain(tree.span(part), "a bracket of this pattern has no partner");
            } else if (text == "example") {
                example = part;
            } else if (text == "default") {
                in_default = true;
            } else {
                attribute(result, text, tree.span(part));
            }
        }
        return result;
    }

    void attribute(SchemaProperty& property, std::string_view word, athanor::Span span) {
        if (word == "required")
            property.required = true;
        else if (word == "many")
            property.many = true;
        else if (word == "positive")
            property.bound = Bound::positive;
        else if (word == "not_negative")
            property.bound = Bound::not_negative;
        else if (word == "share")
            property.bound = Bound::share;
        else
            complain(span, fmt::format("`{}` is no attribute of a schema's property", word));
    }

    void complain(athanor::Span span, std::string message) {
        out_.error(Code::unknown_property, span, std::move(message))
            .remedy("attributes are `required`, `many`, `positive`, `not_negative`, `share`, `example \"…\"` "
                    "and `default …`");
    }

    const std::vector<Unit>& units_;
    const Files& files_;
    Diagnostics& out_;
};

void print_properties(std::string& text, const std::vector<SchemaProperty>& properties,
                      const std::vector<Unit>& units, const Files& files, std::size_t depth) {
    for (const SchemaProperty& p : properties) {
        text += fmt::format("{:{}}{}", "", depth * 4, p.name);
        if (!p.pattern_text.empty()) text += fmt::format("  {}", p.pattern_text);
        if (p.required) text += "  (required)";
        if (p.many) text += "  (any number of times)";
        if (!p.default_elements.empty()) {
            const Tree& tree = units[p.unit].tree;
            text += "  (default ";
            text +=
                files.text(hull(tree.span(p.default_elements.front()), tree.span(p.default_elements.back())));
            text += ")";
        }
        text += '\n';
        if (const std::string about = documentation_of(units[p.unit].tree, p.node, files); !about.empty())
            text += fmt::format("{:{}}# {}\n", "", depth * 4 + 4, about);
        print_properties(text, p.properties, units, files, depth + 1);
    }
}

} // namespace

const Pattern& SchemaProperty::pattern() const {
    if (!pattern_) {
        pattern_.emplace();
        // A pattern that cannot be read takes nothing; its brackets were judged when the schema was read.
        if (!parse_pattern(pattern_text, *pattern_)) *pattern_ = {Pattern::Kind::choice, {}, {}, {}};
    }
    return *pattern_;
}

bool parse_pattern(std::string_view text, Pattern& pattern) {
    return Reader(text).read(pattern);
}

std::string describe(const Pattern& pattern) {
    const auto join = [&](std::string_view separator) {
        std::string text;
        for (const Pattern& part : pattern.parts) {
            if (!text.empty()) text += separator;
            text += describe(part);
        }
        return text;
    };
    switch (pattern.kind) {
    case Pattern::Kind::word: return pattern.word == "," ? "a comma" : fmt::format("`{}`", pattern.word);
    case Pattern::Kind::value: return describe(pattern.type);
    case Pattern::Kind::uncertain: return describe(pattern.type);
    case Pattern::Kind::range: return fmt::format("{0}, `to`, {0}", describe(pattern.type));
    case Pattern::Kind::name: return "a name";
    case Pattern::Kind::reference: return fmt::format("the name of a {}", pattern.word);
    case Pattern::Kind::text: return "a text in quotes";
    case Pattern::Kind::sequence: return pattern.parts.empty() ? "nothing" : join(", ");
    case Pattern::Kind::choice: return join(" or ");
    case Pattern::Kind::optional: return fmt::format("[{}]", describe(pattern.parts[0]));
    case Pattern::Kind::list: return describe(pattern.parts[0]) + " (more behind commas)";
    }
    return {};
}

std::vector<Schema> read_schemas(const std::vector<Unit>& units, const Files& files, Diagnostics& out) {
    std::vector<Schema> schemas;
    SchemaReader reader(units, files, out);
    const auto read = [&](Index u) {
        const Tree& tree = units[u].tree;
        for (NodeId node : tree.children(tree.root)) {
            if (tree.kind(node) != Node::schema || tree[node].broken) continue;
            const NodeId name = tree.child(node, Node::name);
            Schema schema;
            schema.name = tree.text(name, files);
            if (schema_named(schemas, schema.name) != nullptr) {
                out.error(Code::duplicate_name, tree.span(name),
                          fmt::format("schema `{}` is declared already", schema.name));
                continue;
            }
            schema.properties = reader.properties(u, tree.child(node, Node::property_block));
            schemas.push_back(std::move(schema));
        }
    };
    // The library first: nobody else says what a rig may hold.
    for (Index u = 0; u < units.size(); ++u)
        if (units[u].standard) read(u);
    for (Index u = 0; u < units.size(); ++u)
        if (!units[u].standard) read(u);
    return schemas;
}

const Schema* schema_named(const std::vector<Schema>& schemas, std::string_view name) {
    for (const Schema& schema : schemas)
        if (schema.name == name) return &schema;
    return nullptr;
}

std::string print(const Schema& schema, const std::vector<Unit>& units, const Files& files) {
    std::string text = schema.name + '\n';
    print_properties(text, schema.properties, units, files, 1);
    return text;
}

std::string documentation_of(const Tree& tree, NodeId node, const Files& files) {
    const std::string_view text = files[tree.file].text();
    std::vector<std::string_view> lines;
    std::uint32_t next = tree[node].begin;
    const std::span<const Comment> comments = tree.comments();
    auto after = std::lower_bound(comments.begin(), comments.end(), next,
                                  [](const Comment& c, std::uint32_t at) { return c.begin < at; });
    while (after != comments.begin()) {
        const Comment& comment = *--after;
        const std::string_view gap = text.substr(comment.end, next - comment.end);
        const std::string_view body = text.substr(comment.begin, comment.end - comment.begin);
        if (gap.find_first_not_of(" \t\r\n") != std::string_view::npos || !body.starts_with("##")) break;
        const std::size_t first = body.find_first_not_of("# ");
        lines.push_back(first == std::string_view::npos ? std::string_view{} : body.substr(first));
        next = comment.begin;
    }
    std::string result;
    for (auto line = lines.rbegin(); line != lines.rend(); ++line) {
        if (!result.empty()) result += ' ';
        result += *line;
    }
    return result;
}

} // namespace athanor::check
