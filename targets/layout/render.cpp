#include "targets/layout/render.hpp"

#include "targets/provenance.hpp"
#include "targets/sheet/rows.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace athanor::targets::layout {
namespace {

using sheet::Column;
using sheet::Field;

class Renderer {
public:
    Renderer(const Layout& layout, const program::Program& program, const Context& context)
        : layout_(layout), program_(program), columns_(sheet::every_column(program)),
          rows_(sheet::rows(program, columns_, context)) {}

    Rendered run() {
        for (const std::vector<std::string>& row : rows_) {
            row_ = &row;
            std::vector<std::string>& out = rendered_.rows.emplace_back();
            for (const Item& item : layout_.items) {
                std::string text = field(item);
                std::replace(text.begin(), text.end(), '\n', ' ');
                std::replace(text.begin(), text.end(), '\r', ' ');
                if (text.empty()) text = layout_.empty;
                out.push_back(layout_.ascii ? ascii(text) : text);
            }
        }
        return std::move(rendered_);
    }

private:
    const std::string& at(Field field, std::size_t index) const {
        static const std::string nothing;
        for (std::size_t i = 0; i < columns_.size(); ++i)
            if (columns_[i].field == field && columns_[i].index == index) return (*row_)[i];
        return nothing;
    }

    void misfit(const Item& item, std::string message) {
        rendered_.misfits.push_back({item.span, std::move(message)});
    }

    std::string field(const Item& item) {
        if (item.field == Field::output) return outputs(item);
        std::size_t index = 0;
        if (!item.names.empty()) {
            std::optional<std::size_t> found = index_of(item.field, item.names[0], program_);
            if (!found) return ""; // a zone or channel that this program does not use
            index = *found;
        }
        const std::string& text = at(item.field, index);
        if (item.field == Field::kind) return kind_text(layout_, text);
        if (item.measure == Measure::none || text.empty()) return text;
        std::optional<Decimal> value = Decimal::parse(text);
        std::optional<std::string> number = value ? shown(item.scale, *value) : std::nullopt;
        if (!number) {
            bool nominal =
                (item.field == Field::duration && !at(Field::rate, 0).empty()) || item.field == Field::start;
            if (nominal) return rounded(item, text); // for people: the controller works it out by itself
            misfit(item,
                   fmt::format(
                       "column \"{}\" cannot hold {} {}: {}", item.title, text, table_unit(item.measure),
                       item.scale.step
                           ? fmt::format("it is no multiple of {} {}", item.scale.step->text(), item.scale.unit)
                           : fmt::format("it has no end as a decimal in {}", item.scale.unit)));
            return "";
        }
        return with_decimal(*number);
    }

    std::string with_decimal(std::string number) const {
        if (layout_.decimal != ".") std::replace(number.begin(), number.end(), '.', layout_.decimal[0]);
        return number;
    }

    std::string rounded(const Item& item, const std::string& text) const {
        std::optional<Decimal> value = Decimal::parse(text);
        if (!value) return "";
        double in_unit = value->value() * static_cast<double>(item.scale.denominator) /
                             static_cast<double>(item.scale.numerator) +
                         item.scale.offset.value();
        if (!item.scale.step) return with_decimal(Decimal::nearest(in_unit, 3).text());
        double step = item.scale.step->value();
        Decimal whole = Decimal::nearest(in_unit / step, 0);
        // Both are small: nobody's furnace runs for 10^9 steps.
        return with_decimal(
            Decimal{whole.mantissa * item.scale.step->mantissa, item.scale.step->exponent}.text());
    }

    /// One character for an output, `-` where a row leaves it alone.
    std::string outputs(const Item& item) {
        std::string bits;
        std::uint64_t number = 0;
        bool any = false;
        for (std::size_t i = 0; i < item.names.size(); ++i) {
            std::optional<std::size_t> index = index_of(Field::output, item.names[i], program_);
            // An output of the rig that this recipe never needs stays as it is without power.
            std::string bit = index ? at(Field::output, *index) : "0";
            if (index) any = any || !bit.empty();
            bits += bit.empty() ? "-" : bit;
            if (bit == "1") number |= std::uint64_t{1} << i;
        }
        if (!any && std::any_of(item.names.begin(), item.names.end(), [&](const std::string& name) {
                return index_of(Field::output, name, program_).has_value();
            }))
            return ""; // a hand-over
        return item.bits ? bits : std::to_string(number);
    }

    const Layout& layout_;
    const program::Program& program_;
    std::vector<Column> columns_;
    std::vector<std::vector<std::string>> rows_;
    const std::vector<std::string>* row_ = nullptr;
    Rendered rendered_;
};

/// RFC 4180, with another delimiter.
std::string quoted(const std::string& text, char delimiter, bool first, const std::string& comment) {
    bool needed = text.find(delimiter) != std::string::npos || text.find('"') != std::string::npos ||
                  (!text.empty() && (text.front() == ' ' || text.back() == ' ')) ||
                  (first && !comment.empty() && text.starts_with(comment));
    if (!needed) return text;
    std::string out = "\"";
    for (char c : text) out += c == '"' ? std::string("\"\"") : std::string(1, c);
    return out + "\"";
}

} // namespace

std::optional<std::size_t> index_of(Field field, const std::string& name, const program::Program& program) {
    auto find = [&](const auto& list, auto text) -> std::optional<std::size_t> {
        for (std::size_t i = 0; i < list.size(); ++i)
            if (text(list[i]) == name) return i;
        return std::nullopt;
    };
    auto same = [](const std::string& text) { return text; };
    if (field == Field::output)
        return find(program.outputs, [](const program::Output& output) { return output.name; });
    if (field == Field::channel) return find(program.channels, same);
    return find(program.zones, same);
}

std::string forgotten_outputs(const std::vector<std::string>& named, const program::Program& program) {
    std::string missing, strangers, known;
    for (const program::Output& output : program.outputs) {
        known += (known.empty() ? "" : ", ") + output.name;
        if (std::find(named.begin(), named.end(), output.name) == named.end())
            missing += fmt::format("{}output {} ({})", missing.empty() ? "" : ", ", output.number, output.name);
    }
    if (missing.empty()) return "";
    for (const std::string& name : named)
        if (!index_of(Field::output, name, program)) strangers += (strangers.empty() ? "" : ", ") + name;
    return fmt::format(
        "nothing holds {}{}", missing,
        strangers.empty()
            ? ""
            : fmt::format("; {} names no output of this recipe, whose outputs are {}", strangers, known));
}

std::string kind_text(const Layout& layout, const std::string& word) {
    for (const auto& [kind, text] : layout.kinds)
        if (kind == word) return text;
    return word;
}
std::string kind_word(const Layout& layout, const std::string& text) {
    for (const auto& [kind, written] : layout.kinds)
        if (written == text) return kind;
    return text;
}

std::size_t width(std::string_view text) {
    return static_cast<std::size_t>(std::count_if(
        text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

Rendered render(const Layout& layout, const program::Program& program, const Context& context) {
    return Renderer(layout, program, context).run();
}

std::string print(const Layout& layout, const program::Program& program, const Context& context,
                  Rendered& rendered) {
    const std::string end = layout.crlf ? "\r\n" : "\n";
    std::string out;
    if (!layout.comment.empty())
        for (const std::string& line : provenance_lines(program, context))
            out += layout.comment + " " + (layout.ascii ? ascii(line) : line) + end;
    auto misfit = [&](const Item& item, std::string message) {
        rendered.misfits.push_back({item.span, std::move(message)});
    };
    auto line = [&](const std::vector<std::string>& texts, bool titles) {
        std::string row;
        for (std::size_t i = 0; i < texts.size(); ++i) {
            const Item& item = layout.items[i];
            if (layout.form == Form::columns) {
                row += (i == 0 ? "" : layout.delimiter) +
                       quoted(texts[i], layout.delimiter[0], i == 0, layout.comment);
                continue;
            }
            bool last = i + 1 == texts.size();
            std::size_t room = width(item.title), needed = width(texts[i]);
            bool words = item.field == Field::instruction || item.field == Field::source;
            if (needed > room && !last)
                misfit(item, fmt::format("column \"{}\" is {} wide; `{}` needs {}", item.title, room, texts[i],
                                         needed));
            std::string pad(room > needed ? room - needed : 0, ' ');
            row += (i == 0 ? "" : layout.delimiter) +
                   (words || titles ? texts[i] + (last ? "" : pad) : pad + texts[i]);
        }
        if (!layout.comment.empty() && row.starts_with(layout.comment))
            misfit(layout.items[0], fmt::format("the row `{}` would be taken for a comment", row));
        // An empty line ends a file for many readers.
        out += row + end;
    };
    if (layout.form == Form::blocks) {
        for (const std::vector<std::string>& row : rendered.rows) {
            out += layout.block + end;
            for (std::size_t i = 0; i < row.size(); ++i)
                if (!row[i].empty()) out += layout.items[i].title + layout.assign + row[i] + end;
        }
        return out;
    }
    std::vector<std::string> titles;
    for (const Item& item : layout.items) titles.push_back(item.title);
    if (layout.header) line(titles, true);
    for (const std::vector<std::string>& row : rendered.rows) line(row, false);
    return out;
}

} // namespace athanor::targets::layout
