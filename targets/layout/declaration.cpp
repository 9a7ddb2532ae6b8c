#include "targets/layout/layout.hpp"
#include "targets/layout/properties.hpp"
#include "targets/words.hpp"

#include <algorithm>
#include <array>
#include <set>

#include <fmt/format.h>

namespace athanor::targets::layout {
namespace {

using sheet::Field;

struct Holds {
    std::string_view word;
    Field field;
    Measure measure;
};
constexpr std::array<Holds, 17> contents{{{"program", Field::program, Measure::none},
                                          {"segment", Field::segment, Measure::none},
                                          {"kind", Field::kind, Measure::none},
                                          {"start", Field::start, Measure::temperature},
                                          {"target", Field::target, Measure::temperature},
                                          {"rate", Field::rate, Measure::rate},
                                          {"duration", Field::duration, Measure::time},
                                          {"dwell", Field::dwell, Measure::time},
                                          {"soak_band", Field::band, Measure::difference},
                                          {"outputs", Field::output, Measure::none},
                                          {"output", Field::output, Measure::none},
                                          {"channel", Field::channel, Measure::flow},
                                          {"loop_start", Field::loop_start, Measure::none},
                                          {"loop_passes", Field::loop_passes, Measure::none},
                                          {"next_program", Field::next, Measure::none},
                                          {"instruction", Field::instruction, Measure::none},
                                          {"source", Field::source, Measure::none}}};

class Declaration {
public:
    Declaration(const Tree& tree, NodeId id, const Files& files, Diagnostics& out)
        : tree_(tree), files_(files), properties_(tree, files, out) {
        NodeId name = tree.child(id, Node::name);
        layout_.name = tree.text(name, files);
        layout_.span = tree.span(name);
        if (NodeId at = tree.child(id, Node::for_controller); at != no_node)
            layout_.controller = tree.text(tree.child(at, Node::name), files);
        for (const Properties::Property& property : properties_.of(id)) read(property);
        for (NodeId at : tree.children(id))
            if (tree.kind(at) == Node::column && !tree[at].broken) column(at);
        whole();
    }

    std::optional<Layout> take() {
        if (properties_.failed()) return std::nullopt;
        return std::move(layout_);
    }

private:
    void read(const Properties::Property& property) {
        auto text = [&](std::string& to) {
            if (auto value = properties_.quoted(property)) to = *value;
        };
        auto yes = [&](bool& to, std::string_view first, std::string_view second) {
            if (auto value = properties_.word(property, {first, second})) to = *value == first;
        };
        const std::string& name = property.name;
        if (!given_.insert(name).second)
            return properties_.wrong(properties_.span(property.id), Code::duplicate_name,
                                     fmt::format("`{}` stands here a second time", name));
        if (name == "form") {
            if (auto value = properties_.word(property, {"columns", "fixed", "blocks", "registers"}))
                layout_.form = *value == "fixed"    ? Form::fixed
                               : *value == "blocks" ? Form::blocks
                                                    : Form::columns;
        } else if (name == "delimiter") {
            text(layout_.delimiter);
        } else if (name == "decimal") {
            text(layout_.decimal);
        } else if (name == "comment") {
            text(layout_.comment);
        } else if (name == "ending") {
            text(layout_.ending);
        } else if (name == "empty") {
            text(layout_.empty);
        } else if (name == "assign") {
            text(layout_.assign);
        } else if (name == "block") {
            text(layout_.block);
        } else if (name == "header") {
            yes(layout_.header, "yes", "no");
        } else if (name == "line_end") {
            yes(layout_.crlf, "crlf", "lf");
        } else if (name == "encoding") {
            if (auto value = properties_.quoted(property)) {
                layout_.ascii = *value == "ascii";
                if (*value != "ascii" && *value != "utf-8")
                    properties_.wrong(properties_.span(property.elements[0]), Code::unknown_property,
                                      "`encoding` takes \"utf-8\" or \"ascii\"");
            }
        } else if (name == "kinds") {
            kinds(property);
        } else {
            properties_.wrong(properties_.span(property.id), Code::unknown_property,
                              fmt::format("a layout has no `{}`; it has form, delimiter, decimal, comment, "
                                          "ending, empty, assign, block, header, line_end, encoding, kinds",
                                          name));
        }
    }

    void kinds(const Properties::Property& property) {
        std::set<std::string> used;
        for (const Properties::Property& each : properties_.of(property.block)) {
            if (!segment_kind(each.name) && each.name != "threshold") {
                properties_.wrong(properties_.span(each.id), Code::unknown_name,
                                  fmt::format("`{}` is none of ramp, dwell, step, ramp_dwell, operator, "
                                              "threshold, end",
                                              each.name));
                continue;
            }
            std::optional<std::string> value = properties_.quoted(each);
            if (!value) continue;
            if (!used.insert(*value).second)
                properties_.wrong(properties_.span(each.id), Code::duplicate_name,
                                  fmt::format("two kinds are written \"{}\"", *value));
            layout_.kinds.emplace_back(each.name, *value);
        }
    }

    void column(NodeId id) {
        Item item;
        item.span = tree_.span(id);
        item.title = properties_.text(tree_.child(id, Node::text));
        NodeId what = tree_.child(id, Node::name);
        std::string word(tree_.text(what, files_));
        auto found = std::find_if(contents.begin(), contents.end(),
                                  [&](const Holds& holds) { return holds.word == word; });
        if (found == contents.end()) {
            std::string list;
            for (const Holds& holds : contents) list += (list.empty() ? "" : ", ") + std::string(holds.word);
            return properties_.wrong(tree_.span(what), Code::unknown_name,
                                     fmt::format("a column holds one of {}, not `{}`", list, word));
        }
        item.field = found->field;
        item.measure = found->measure;
        if (item.measure != Measure::none)
            if (const Unit* unit = unit_named(table_unit(item.measure)))
                if (std::optional<Scale> scale = scale_in(*unit, item.measure)) item.scale = *scale;
        for (NodeId at : tree_.children(id))
            if (tree_.kind(at) == Node::column_clause) clause(at, item);
        if (word == "outputs" && item.names.empty())
            properties_.wrong(item.span, Code::value_missing,
                              "which outputs, and in which order? `outputs as bits (argon, burner)`");
        if (word == "output" && item.names.size() != 1)
            properties_.wrong(item.span, Code::value_missing, "which output? `output as bits (argon)`");
        if (word == "output") item.bits = true;
        layout_.items.push_back(std::move(item));
    }

    void clause(NodeId id, Item& item) {
        std::string word;
        for (NodeId at : tree_.children(id)) {
            switch (tree_.kind(at)) {
            case Node::word: word = tree_.text(at, files_); break;
            case Node::unit: unit(at, item); break;
            case Node::number: step(at, at, item); break;
            case Node::quantity: {
                if (item.measure == Measure::none) {
                    properties_.wrong(tree_.span(at), Code::unit_mismatch, "this column has no unit");
                    break;
                }
                if (std::optional<Scale> scale = properties_.scale_of(at, item.measure)) item.scale = *scale;
                break;
            }
            case Node::name: {
                std::string name(tree_.text(at, files_));
                if (word != "as") {
                    item.names.push_back(name);
                    break;
                }
                word.clear();
                item.bits = name == "bits";
                bool outputs = item.field == Field::output, of = name == "zone" || name == "channel";
                if (outputs ? name != "bits" && name != "number" : !of)
                    properties_.wrong(tree_.span(at), Code::unknown_name,
                                      "`as` goes with `bits` or `number` of outputs, `zone` and `channel`");
                break;
            }
            default: break;
            }
        }
    }

    void unit(NodeId at, Item& item) {
        const Unit* unit = unit_named(tree_.text(at, files_));
        std::optional<Scale> scale;
        if (unit && item.measure != Measure::none) scale = scale_in(*unit, item.measure);
        if (!scale)
            return properties_.wrong(tree_.span(at), Code::unit_mismatch,
                                     item.measure == Measure::none
                                         ? "this column has no unit"
                                         : fmt::format("{} has no exact ratio to {}, the unit of the table",
                                                       tree_.text(at, files_), table_unit(item.measure)));
        scale->step = item.scale.step;
        item.scale = *scale;
    }

    void step(NodeId number, NodeId at, Item& item) {
        std::optional<Decimal> value = Decimal::parse(std::string(tree_.text(number, files_)));
        if (!value || value->mantissa <= 0 || item.measure == Measure::none)
            return properties_.wrong(tree_.span(at), Code::unknown_property,
                                     "`by` takes a step above 0, for a column of figures");
        item.scale.step = value;
    }

    void whole() {
        if (layout_.items.empty())
            properties_.wrong(layout_.span, Code::value_missing, "a layout without a column writes nothing");
        std::set<std::string> titles;
        for (const Item& item : layout_.items) {
            if (!titles.insert(item.title).second)
                properties_.wrong(item.span, Code::duplicate_name,
                                  fmt::format("a second column \"{}\"", item.title));
            if (layout_.form == Form::blocks && item.title.find(layout_.assign) != std::string::npos)
                properties_.wrong(item.span, Code::misplaced,
                                  fmt::format("a key may not hold \"{}\"", layout_.assign));
            if (layout_.form != Form::columns && item.title.empty())
                properties_.wrong(item.span, Code::value_missing, "this column needs a title");
        }
        if (layout_.decimal != "." && layout_.decimal != ",")
            properties_.wrong(layout_.span, Code::unknown_property, "`decimal` takes \".\" or \",\"");
        if (layout_.form == Form::columns && (layout_.delimiter.size() != 1 || layout_.delimiter == "\"" ||
                                              layout_.delimiter == layout_.decimal))
            properties_.wrong(layout_.span, Code::unknown_property,
                              "`delimiter` takes one character that is neither the decimal sign nor a quote");
        if (layout_.form == Form::fixed && !given_.contains("delimiter")) layout_.delimiter = " ";
        if (layout_.form == Form::blocks && (layout_.assign.empty() || layout_.block.empty()))
            properties_.wrong(layout_.span, Code::value_missing,
                              "blocks need a line that opens them, and a sign between key and value");
        // It becomes part of a file's name.
        if (layout_.ending.empty() || layout_.ending.size() > 12 ||
            !std::all_of(layout_.ending.begin(), layout_.ending.end(), [](char c) {
                return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
            }))
            properties_.wrong(layout_.span, Code::unknown_property,
                              "`ending` takes one to twelve letters and digits");
    }

    const Tree& tree_;
    const Files& files_;
    Properties properties_;
    Layout layout_;
    std::set<std::string> given_;
};

} // namespace

bool Layout::has(Field field) const {
    return std::any_of(items.begin(), items.end(), [&](const Item& item) { return item.field == field; });
}

std::optional<Layout> read_declaration(const Tree& tree, NodeId id, const Files& files, Diagnostics& out) {
    return Declaration(tree, id, files, out).take();
}

} // namespace athanor::targets::layout
