#include "compiler/physics/constants.hpp"
#include "targets/json/json.hpp"
#include "targets/words.hpp"

#include <nlohmann/json.hpp>

#include <charconv>
#include <cmath>

namespace athanor::targets::json {
namespace {

using Json = nlohmann::ordered_json;
using program::OutputUse;
using program::Segment;

/// A decimal as the shortest JSON number that reads back equal; nothing becomes null.
Json number(const std::string& decimal) {
    if (decimal.empty()) return nullptr;
    if (decimal.find('.') == std::string::npos) {
        std::int64_t whole = 0;
        std::from_chars(decimal.data(), decimal.data() + decimal.size(), whole);
        return whole;
    }
    double value = 0;
    std::from_chars(decimal.data(), decimal.data() + decimal.size(), value);
    return value;
}
/// A figure for people; JSON has no infinity (RFC 8259, 6), so an open end is null.
Json figure(double value) {
    return number(nominal(value));
}
Json range(double lo, double hi) {
    return Json::array({figure(lo), figure(hi)});
}
Json text_or_null(const std::string& text) {
    return text.empty() ? Json(nullptr) : Json(text);
}

Json source(athanor::Span span, const Context& context) {
    if (!context.files || span.file >= context.files->size() || span.end == 0) return nullptr;
    const File& file = (*context.files)[span.file];
    return {{"path", file.path()}, {"line", file.position(span.begin).line}};
}

std::string state_word(const program::Output& output, bool energised) {
    bool on = energised != output.on_without_power;
    if (output.use == OutputUse::line) return on ? "open" : "closed";
    return on ? "on" : "off";
}

Json segment_json(const program::Program& program, const Segment& segment, std::size_t number_,
                  const Context& context) {
    const program::Controller& controller = program.controller;
    bool several = program.zones.size() > 1;
    Json targets = Json::array(), rates = Json::array();
    for (std::int64_t k : segment.targets) targets.push_back(number(controller.setpoint.text(k)));
    if (controller.rate)
        for (std::int64_t k : segment.rates) rates.push_back(number(controller.rate->text(k)));
    auto one_or_list = [&](Json list) { return list.empty() ? Json(nullptr) : several ? list : list[0]; };

    Json out{{"segment", number_}, {"kind", word(segment.kind)}};
    bool end = segment.kind == program::SegmentKind::end;
    out["start_degC"] = end ? Json(nullptr) : figure(segment.start_degC);
    out["target_degC"] = one_or_list(targets);
    out["rate_K_per_min"] = one_or_list(rates);
    out["ramp_time_s"] = segment.ramp_time >= 0 && controller.ramp_time
                             ? number(controller.ramp_time->text(segment.ramp_time))
                             : Json(nullptr);
    out["dwell_s"] = segment.dwell >= 0 ? number(controller.dwell.text(segment.dwell)) : Json(nullptr);
    out["duration_s"] = figure(segment.duration_s);
    out["duration_s_range"] = range(segment.duration_lo_s, segment.duration_hi_s);
    out["soak_band_K"] = segment.band >= 0 && controller.soak_band
                             ? number(controller.soak_band->text(segment.band))
                             : Json(nullptr);
    Json bits = Json::object(), valves = Json::object(), channels = Json::object();
    for (const program::Output& output : program.outputs) {
        bool energised = (segment.outputs >> (output.number - 1) & 1U) != 0;
        bits[std::to_string(output.number)] = energised ? 1 : 0;
        valves[output.name] = state_word(output, energised);
    }
    for (std::size_t i = 0; i < program.channels.size() && i < segment.channels.size(); ++i)
        channels[program.channels[i] + "_sccm"] = number(Decimal{segment.channels[i], -3}.text());
    out["outputs"] = std::move(bits);
    out["valves"] = std::move(valves);
    out["channels"] = std::move(channels);
    out["instruction"] = text_or_null(segment.instruction);
    out["defaulted"] = segment.defaulted != 0;
    out["source"] = source(segment.source, context);
    return out;
}

Json assurance(const Context& context) {
    Json list = Json::array();
    for (const prove::Row& row : context.assurance.rows)
        list.push_back({{"rule", row.rule},
                        {"title", row.title},
                        {"applied", row.applied},
                        {"verdict", prove::identifier(row.outcome())},
                        {"margin", text_or_null(row.margin)},
                        {"at_s", figure(row.at_s)},
                        {"after_failure_s", row.after_s < 0 ? Json(nullptr) : figure(row.after_s)},
                        {"decides", text_or_null(row.decides)},
                        {"source", source(row.source, context)}});
    return list;
}

Json totals(const Context& context) {
    constexpr double litres = physics::normal_litres;
    Json gas = Json::object();
    for (const auto& [line, mol] : context.gas_mol) gas[line] = range(mol.first * litres, mol.second * litres);
    constexpr double joules_per_kwh = 3.6e6;
    return {{"duration_s", range(context.duration_lo, context.duration_hi)},
            {"gas_NL", std::move(gas)},
            {"energy_kWh", range(context.energy_lo / joules_per_kwh, context.energy_hi / joules_per_kwh)}};
}

} // namespace

std::vector<OutputFile> write(const program::Program& program, const Context& context, std::string_view stem) {
    Json parameters = Json::object(), sources = Json::array();
    for (const auto& [name, value] : context.parameters) parameters[name] = value;
    for (const SourceHash& file : context.sources)
        sources.push_back({{"path", file.path}, {"sha256", file.sha256}});

    Json out;
    out["athanor_table"] = 1;
    out["recipe"] = {{"name", program.recipe}, {"title", program.title}, {"parameters", std::move(parameters)}};
    out["rig"] = {{"name", program.rig}, {"source", context.rig_source}};
    out["controller"] = {{"name", program.controller.name}, {"source", context.controller_source}};
    out["provenance"] = {{"sources", std::move(sources)}, {"compiler", context.compiler}};
    out["zones"] = program.zones;
    Json outputs = Json::array();
    for (const program::Output& output : program.outputs) {
        Json one{{"name", output.name}, {"number", output.number}, {"use", word(output.use)}};
        one["line"] = output.use == OutputUse::line ? Json(output.line) : Json(nullptr);
        one["de_energised"] = state_word(output, false);
        outputs.push_back(std::move(one));
    }
    out["outputs"] = std::move(outputs);
    out["channels"] = program.channels;

    Json programs = Json::array(), loops = Json::array(), thresholds = Json::array();
    for (const program::Part& part : program.parts) {
        Json segments = Json::array();
        for (std::size_t i = 0; i < part.segments.size(); ++i)
            segments.push_back(segment_json(program, part.segments[i], i + 1, context));
        programs.push_back({{"number", part.number},
                            {"next", part.next != 0 ? Json(part.next) : Json(nullptr)},
                            {"hand_over", text_or_null(part.hand_over)},
                            {"segments", std::move(segments)}});
        for (const program::Loop& loop : part.loops)
            loops.push_back({{"program", part.number},
                             {"first", loop.first + 1},
                             {"last", loop.last + 1},
                             {"passes", loop.passes}});
        for (const program::ThresholdOutput& threshold : part.thresholds)
            thresholds.push_back(
                {{"program", part.number},
                 {"output", threshold.output},
                 {"temperature_degC", number(program.controller.setpoint.text(threshold.temperature))},
                 {"energised", threshold.energised_above ? "above" : "below"},
                 {"instruction", text_or_null(threshold.instruction)},
                 {"source", source(threshold.source, context)}});
    }
    out["programs"] = std::move(programs);
    out["loops"] = std::move(loops);
    out["thresholds"] = std::move(thresholds);
    out["assurance"] = assurance(context);
    out["assumptions"] = context.assurance.assumptions;
    out["concessions"] = context.assurance.concessions;
    out["totals"] = totals(context);
    out["cautions"] = cautions(context);
    // Bytes that are no UTF-8 (in a name from a foreign file system, say) may not stop a proven table.
    return {{std::string(stem) + ".json", out.dump(1, ' ', false, Json::error_handler_t::replace) + "\n"}};
}

} // namespace athanor::targets::json
