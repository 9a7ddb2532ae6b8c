#include "targets/layout/render.hpp"
#include "targets/provenance.hpp"
#include "targets/sheet/rows.hpp"

#include <fmt/format.h>

namespace athanor::targets::layout {
namespace {

using Json = nlohmann::ordered_json;

/// What the table itself says to nobody: where it comes from, and in words what happens in each segment.
std::string companion(const Layout& layout, const program::Program& program, const Context& context) {
    Json out;
    out["athanor_layout"] = 1;
    out["layout"] = layout.name;
    out["provenance"] = provenance_json(program, context);
    Json columns = Json::array();
    for (const Item& item : layout.items) {
        Json column{{"title", item.title}};
        if (item.measure != Measure::none) column["unit"] = item.scale.unit;
        if (!item.names.empty()) column["of"] = item.names;
        columns.push_back(std::move(column));
    }
    out["columns"] = std::move(columns);
    Json words = Json::array();
    for (const program::Part& part : program.parts) {
        if (!part.hand_over.empty()) words.push_back({{"program", part.number}, {"before", part.hand_over}});
        for (std::size_t i = 0; i < part.segments.size(); ++i)
            if (!part.segments[i].instruction.empty())
                words.push_back({{"program", part.number},
                                 {"segment", i + 1},
                                 {"instruction", part.segments[i].instruction}});
    }
    out["instructions"] = std::move(words);
    return out.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

/// As the layout writes it: one line, and plain letters where it wants them.
std::string plain(const Layout& layout, std::string text) {
    for (char& c : text)
        if (c == '\n' || c == '\r') c = ' ';
    return layout.ascii ? ascii(text) : text;
}

} // namespace

std::vector<OutputFile> write(const Layout& layout, const program::Program& program, const Context& context,
                              std::string_view stem) {
    Rendered rendered = render(layout, program, context);
    std::string name = fmt::format("{}.{}", stem, layout.name);
    return {{name + "." + layout.ending, print(layout, program, context, rendered)},
            {name + ".provenance.json", companion(layout, program, context)}};
}

std::vector<Loss> losses(const Layout& layout, const program::Program& program, const Context& context) {
    std::vector<Loss> list;
    auto loses = [&](athanor::Span span, const std::string& what) {
        for (const Loss& loss : list)
            if (loss.span.begin == span.begin && loss.message == what) return;
        list.push_back({Code::layout_loses, span, what});
    };
    std::vector<std::string> named;
    for (const Item& item : layout.items)
        if (item.field == sheet::Field::output) named.insert(named.end(), item.names.begin(), item.names.end());
    if (std::string forgotten = forgotten_outputs(named, program); !forgotten.empty()) {
        loses(layout.span, fmt::format("layout {} loses what is keyed: {}", layout.name, forgotten));
        return list;
    }
    Rendered rendered = render(layout, program, context);
    std::string text = print(layout, program, context, rendered);
    for (const Misfit& misfit : rendered.misfits) loses(misfit.span, misfit.message);
    if (!list.empty()) return list;

    ReadError error;
    std::optional<program::Program> back = read(layout, text, program, error);
    if (!back) {
        loses(layout.span,
              fmt::format("the table cannot be read back out of layout {}: {}", layout.name, error.message));
        return list;
    }
    std::vector<std::string> differences = sheet::differences(program, *back);
    if (layout.has(sheet::Field::instruction) && differences.empty())
        for (std::size_t p = 0; p < program.parts.size(); ++p)
            for (std::size_t i = 0; i < program.parts[p].segments.size(); ++i)
                if (plain(layout, program.parts[p].segments[i].instruction) !=
                    back->parts[p].segments[i].instruction)
                    differences.push_back(fmt::format("programme {}, segment {}: the instruction `{}` is cut",
                                                      program.parts[p].number, i + 1,
                                                      program.parts[p].segments[i].instruction));
    constexpr std::size_t enough = 4;
    for (std::size_t i = 0; i < differences.size() && i < enough; ++i)
        loses(layout.span, fmt::format("layout {} loses what is keyed: {}", layout.name, differences[i]));
    return list;
}

} // namespace athanor::targets::layout
