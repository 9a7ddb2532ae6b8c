#include "targets/csv/metadata.hpp"

#include "targets/provenance.hpp"
#include "targets/words.hpp"

#include <nlohmann/json.hpp>

#include <fmt/format.h>

namespace athanor::targets::csv {
namespace {

using Json = nlohmann::ordered_json;
using sheet::Column;
using sheet::Field;

Json number(const std::string& decimal) {
    return Json::parse(decimal);
}

Json decimal_type(const Grid& grid) {
    return {{"base", "decimal"}, {"minimum", number(grid.lo.text())}, {"maximum", number(grid.hi.text())}};
}
Json positive_type(const char* base, int minimum) {
    return {{"base", base}, {"minimum", minimum}};
}
Json plain_type(const char* base) {
    return {{"base", base}};
}

std::string output_meaning(const program::Output& output) {
    bool valve = output.use == program::OutputUse::line;
    return fmt::format(
        "output {}, {}: 1 = energised; {} when not energised; in a row of kind threshold 1 = energised "
        "above the temperature, 0 = energised below",
        output.number, output.name,
        output.on_without_power ? valve ? "open" : "on"
        : valve                 ? "closed"
                                : "off");
}

struct Meaning {
    Json type;
    std::string unit; // UCUM, empty for none
    std::string text;
    bool required = false;
};

Meaning meaning(const Column& column, const program::Program& program) {
    const program::Controller& controller = program.controller;
    switch (column.field) {
    case Field::program: return {positive_type("integer", 1), "", "number of the stored programme", true};
    case Field::segment:
        return {positive_type("integer", 1), "",
                "number of the segment; empty in rows that come before segment 1"};
    case Field::kind:
        return {{{"base", "string"}, {"format", "ramp|dwell|step|ramp_dwell|operator|threshold|end"}},
                "",
                "what is keyed",
                true};
    case Field::start:
        return {plain_type("decimal"), "Cel",
                "set-point at which the segment begins, nominal (of the first zone)"};
    case Field::target:
        return {decimal_type(controller.setpoint), "Cel", "set-point at which the segment ends"};
    case Field::rate:
        return {decimal_type(*controller.rate), "K/min", "rate of the ramp; empty when it is keyed by time"};
    case Field::duration:
        return {positive_type("decimal", 0), "s",
                "length; keyed for dwells, steps and ramps without a rate, nominal for ramps with one"};
    case Field::dwell:
        return {decimal_type(controller.dwell), "s", "dwell behind the ramp of the same segment"};
    case Field::band:
        return {decimal_type(*controller.soak_band), "K",
                "soak band: time counts only while the measured temperature is this near to the set-point"};
    case Field::output:
        return {{{"base", "integer"}, {"minimum", 0}, {"maximum", 1}},
                "",
                output_meaning(program.outputs[column.index])};
    case Field::channel:
        return {positive_type("decimal", 0), "mL/min",
                "set flow of " + program.channels[column.index] +
                    ", volume referred to 0 degC and 101.325 kPa"};
    case Field::loop_start:
        return {positive_type("integer", 1), "", "after this segment go back to the one named here"};
    case Field::loop_passes: return {positive_type("integer", 1), "", "how many times in all the segments run"};
    case Field::next: return {positive_type("integer", 1), "", "programme that follows by itself"};
    case Field::instruction: return {plain_type("string"), "", "what changes, in words; what a person does"};
    case Field::source: return {plain_type("string"), "", "file and line of the recipe"};
    }
    return {};
}

} // namespace

std::string metadata(const program::Program& program, const std::vector<sheet::Column>& columns,
                     const Context& context, const std::string& stem) {
    Json list = Json::array();
    for (const Column& column : columns) {
        // A controller without rates or bands still has the (empty) column.
        bool missing = (column.field == Field::rate && !program.controller.rate) ||
                       (column.field == Field::band && !program.controller.soak_band);
        Meaning m = missing ? Meaning{plain_type("decimal"), column.field == Field::rate ? "K/min" : "K",
                                      "always empty: this controller has none"}
                            : meaning(column, program);
        // The vocabulary keeps names that begin with an underscore to itself; the title is what stands in the
        // file.
        std::string name = column.name.starts_with('_') ? "x" + column.name : column.name;
        Json row{{"name", name}, {"titles", column.name}, {"datatype", m.type}, {"dc:description", m.text}};
        row["required"] = m.required;
        if (!m.unit.empty()) row["athanor:unit"] = m.unit;
        if (column.field == Field::loop_start || column.field == Field::loop_passes) row["separator"] = " ";
        list.push_back(std::move(row));
    }
    Json sources = Json::array();
    for (const SourceHash& source : context.sources)
        sources.push_back({{"path", source.path}, {"sha256", source.sha256}});
    Json parameters = Json::object();
    for (const auto& [name, value] : context.parameters) parameters[name] = value;

    Json out;
    out["@context"] = Json::array({"http://www.w3.org/ns/csvw", Json{{"@language", "en"}}});
    out["url"] = stem + ".csv";
    out["dc:title"] = program.title.empty() ? program.recipe : program.title;
    out["dc:description"] =
        fmt::format("segments of {} for {} on {}", program.recipe, program.controller.name, program.rig);
    out["dialect"] = {{"encoding", "utf-8"}, {"lineTerminators", Json::array({"\r\n"})},
                      {"quoteChar", "\""},   {"doubleQuote", true},
                      {"delimiter", ","},    {"header", true},
                      {"headerRowCount", 1}};
    out["tableSchema"] = {{"columns", std::move(list)}};
    out["athanor:recipe"] = program.recipe;
    out["athanor:rig"] = program.rig;
    out["athanor:controller"] = program.controller.name;
    out["athanor:parameters"] = std::move(parameters);
    out["athanor:compiler"] = context.compiler;
    out["athanor:sources"] = std::move(sources);
    // Only where there are any.
    if (std::vector<std::string> list = defaults_used(program, context); !list.empty())
        out["athanor:defaults"] = list;
    if (!context.assurance.concessions.empty()) out["athanor:concessions"] = context.assurance.concessions;
    if (!context.assurance.beforehand.empty()) out["athanor:beforehand"] = context.assurance.beforehand;
    out["athanor:cautions"] = cautions(context);
    return out.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

} // namespace athanor::targets::csv
