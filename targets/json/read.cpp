#include "targets/json/json.hpp"
#include "targets/json/locate.hpp"
#include "targets/words.hpp"

#include "compiler/quantity/unit.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <set>
#include <tuple>

#include <fmt/format.h>

namespace athanor::targets::json {
namespace {

using Json = nlohmann::json;
using program::Segment;
using program::SegmentKind;

struct Wrong {
    std::vector<Step> path;
    std::string message;
};

/// A value with the way to it. A wrong type throws with the place.
class Value {
public:
    Value(const Json& json, std::vector<Step> path) : json_(&json), path_(std::move(path)) {}

    [[noreturn]] void wrong(std::string message) const { throw Wrong{path_, name() + std::move(message)}; }
    Value at(const char* key) const {
        if (!json_->is_object()) wrong("an object is expected");
        auto found = json_->find(key);
        if (found == json_->end()) wrong(fmt::format("`{}` is missing", key));
        return below(*found, {key, 0});
    }
    /// The object holds these keys, each of them, and no other.
    void holds(std::initializer_list<const char*> keys) const {
        if (!json_->is_object()) wrong("an object is expected");
        for (const auto& [key, value] : json_->items())
            if (std::none_of(keys.begin(), keys.end(), [&](const char* k) { return key == k; }))
                below(value, {key, 0}).wrong(fmt::format("there is no key `{}` here", key));
        for (const char* key : keys) static_cast<void>(at(key)); // a missing one is told
    }
    std::vector<std::string> keys() const {
        if (!json_->is_object()) wrong("an object is expected");
        std::vector<std::string> list;
        for (const auto& [key, value] : json_->items()) list.push_back(key);
        return list;
    }
    bool boolean() const {
        if (!json_->is_boolean()) wrong("true or false is expected");
        return json_->get<bool>();
    }
    std::vector<Value> list() const {
        if (!json_->is_array()) wrong("a list is expected");
        std::vector<Value> values;
        for (std::size_t i = 0; i < json_->size(); ++i) values.push_back(below((*json_)[i], {"", i}));
        return values;
    }
    bool null() const { return json_->is_null(); }
    bool is_list() const { return json_->is_array(); }
    bool has(const std::string& key) const { return json_->is_object() && json_->contains(key); }
    std::size_t size() const { return json_->size(); }
    std::string text() const {
        if (!json_->is_string()) wrong("text is expected");
        return json_->get<std::string>();
    }
    std::string text_or_nothing() const { return null() ? "" : text(); }
    double number() const {
        if (!json_->is_number()) wrong("a number is expected");
        return json_->get<double>();
    }
    std::uint32_t whole(std::uint32_t lo, std::uint32_t hi) const {
        bool good =
            json_->is_number_integer() && (!json_->is_number_unsigned() || json_->get<std::uint64_t>() <= hi);
        std::int64_t value = good ? json_->get<std::int64_t>() : -1;
        if (!good || value < lo || value > hi)
            wrong(fmt::format("a whole number from {} to {} is expected", lo, hi));
        return static_cast<std::uint32_t>(value);
    }
    std::int64_t on(const std::optional<Grid>& grid, std::string_view unit) const {
        if (!grid) wrong("this controller takes none");
        std::string why;
        std::optional<std::int64_t> k = settable(*grid, shortest(number()), unit, why);
        if (!k) wrong(why);
        return *k;
    }

private:
    Value below(const Json& json, Step step) const {
        std::vector<Step> path = path_;
        path.push_back(std::move(step));
        return {json, std::move(path)};
    }
    std::string name() const {
        return path_.empty() || path_.back().key.empty() ? "" : path_.back().key + ": ";
    }

    const Json* json_;
    std::vector<Step> path_;
};

void read_outputs(const Value& list, program::Program& program) {
    std::set<std::uint32_t> numbers;
    std::set<std::string> names;
    for (const Value& value : list.list()) {
        value.holds({"name", "number", "use", "line", "de_energised"});
        program::Output output;
        output.name = value.at("name").text();
        output.number = value.at("number").whole(1, 32);
        std::optional<program::OutputUse> use = output_use(value.at("use").text());
        if (!use) value.at("use").wrong("one of line, burner, pump, other is expected");
        output.use = *use;
        bool valve = output.use == program::OutputUse::line;
        if (valve)
            output.line = value.at("line").whole(0, 1000000);
        else if (!value.at("line").null())
            value.at("line").wrong("only an output that works a line has one; null is expected");
        std::string rest = value.at("de_energised").text();
        if (rest != (valve ? "open" : "on") && rest != (valve ? "closed" : "off"))
            value.at("de_energised").wrong(valve ? "open or closed is expected" : "on or off is expected");
        output.on_without_power = rest == "open" || rest == "on";
        if (!numbers.insert(output.number).second) value.at("number").wrong("a second output of this number");
        if (!names.insert(output.name).second) value.at("name").wrong("a second output of this name");
        program.outputs.push_back(std::move(output));
    }
    if (!std::is_sorted(program.outputs.begin(), program.outputs.end(),
                        [](const auto& a, const auto& b) { return a.number < b.number; }))
        list.wrong("outputs stand in the order of their numbers");
}

std::vector<std::int64_t> per_zone(const Value& value, std::size_t zones, const std::optional<Grid>& grid,
                                   std::string_view unit) {
    if (value.null()) return {};
    if (zones == 1) return {value.on(grid, unit)};
    std::vector<std::int64_t> list;
    for (const Value& one : value.list()) list.push_back(one.on(grid, unit));
    if (list.size() != zones) value.wrong(fmt::format("one number for each of {} zones is expected", zones));
    return list;
}

void read_bits(const Value& value, const program::Program& program, Segment& segment) {
    Value bits = value.at("outputs"), valves = value.at("valves");
    if (bits.size() != program.outputs.size() || valves.size() != program.outputs.size())
        bits.wrong(fmt::format("a value for each of {} outputs is expected", program.outputs.size()));
    for (const program::Output& output : program.outputs) {
        bool energised = bits.at(std::to_string(output.number).c_str()).whole(0, 1) == 1;
        if (energised) segment.outputs |= 1U << (output.number - 1);
        // What a person reads must be what is keyed.
        bool on = energised != output.on_without_power;
        bool valve = output.use == program::OutputUse::line;
        std::string_view expected = valve ? on ? "open" : "closed" : on ? "on" : "off";
        if (valves.at(output.name.c_str()).text() != expected)
            valves.at(output.name.c_str()).wrong(fmt::format("output {} says {}", output.number, expected));
    }
    Value channels = value.at("channels");
    if (channels.size() == 0 && segment.kind == SegmentKind::end) return;
    if (channels.size() != program.channels.size())
        channels.wrong(fmt::format("a set-point for each of {} channels is expected", program.channels.size()));
    std::optional<Grid> fine = Grid{{0, 0}, {1000000000, 0}, {1, -3}};
    for (const std::string& name : program.channels)
        segment.channels.push_back(channels.at((name + "_sccm").c_str()).on(fine, "sccm"));
}

std::pair<double, double> range(const Value& value) {
    std::vector<Value> both = value.list();
    if (both.size() != 2) value.wrong("two numbers are expected");
    return {both[0].null() ? 0 : both[0].number(), both[1].null() ? infinity : both[1].number()};
}

void source(const Value& value) {
    if (value.null()) return;
    value.holds({"path", "line"});
    static_cast<void>(value.at("path").text());
    static_cast<void>(value.at("line").whole(1, std::numeric_limits<std::uint32_t>::max()));
}

void texts(const Value& list) {
    for (const Value& one : list.list()) static_cast<void>(one.text());
}

Segment read_segment(const Value& value, const program::Program& program, std::uint32_t number) {
    value.holds({"segment", "kind", "start_degC", "target_degC", "rate_K_per_min", "ramp_time_s", "dwell_s",
                 "duration_s", "duration_s_range", "soak_band_K", "outputs", "valves", "channels",
                 "instruction", "defaulted", "source"});
    const program::Controller& controller = program.controller;
    if (value.at("segment").whole(1, 1000000) != number)
        value.at("segment").wrong(fmt::format("{} comes next", number));
    std::optional<SegmentKind> kind = segment_kind(value.at("kind").text());
    if (!kind) value.at("kind").wrong("one of ramp, dwell, step, ramp_dwell, operator, end is expected");
    Segment segment;
    segment.kind = *kind;
    std::size_t zones = program.zones.size();
    segment.targets = per_zone(value.at("target_degC"), zones, controller.setpoint, "degC");
    bool still = *kind == SegmentKind::end || *kind == SegmentKind::operator_wait;
    if (segment.targets.empty() && !still) value.at("target_degC").wrong("a temperature is expected");
    segment.rates = per_zone(value.at("rate_K_per_min"), zones, controller.rate, "K/min");
    if (!value.at("ramp_time_s").null())
        segment.ramp_time = value.at("ramp_time_s").on(controller.ramp_time, "s");
    if (!value.at("dwell_s").null()) segment.dwell = value.at("dwell_s").on(controller.dwell, "s");
    if (!value.at("soak_band_K").null()) segment.band = value.at("soak_band_K").on(controller.soak_band, "K");
    bool ramp = *kind == SegmentKind::ramp || *kind == SegmentKind::ramp_dwell;
    if (ramp && segment.rates.empty() == (segment.ramp_time < 0))
        value.wrong("a ramp has either a rate or a time");
    if (!ramp && !segment.rates.empty()) value.at("rate_K_per_min").wrong("only a ramp has one");
    if (!ramp && segment.ramp_time >= 0) value.at("ramp_time_s").wrong("only a ramp has one");
    bool needs = *kind == SegmentKind::dwell || *kind == SegmentKind::ramp_dwell;
    if (needs && segment.dwell < 0) value.at("dwell_s").wrong("a time is expected");
    if ((*kind == SegmentKind::ramp || still) && segment.dwell >= 0)
        value.at("dwell_s").wrong("this kind has none");
    if (still && segment.band >= 0) value.at("soak_band_K").wrong("this kind has none");
    read_bits(value, program, segment);
    // NaN: the table does not say it.
    auto figure = [&](const char* key) { return value.at(key).null() ? std::nan("") : value.at(key).number(); };
    segment.start_degC = figure("start_degC");
    segment.duration_s = figure("duration_s");
    std::tie(segment.duration_lo_s, segment.duration_hi_s) = range(value.at("duration_s_range"));
    segment.defaulted = value.at("defaulted").boolean() ? 1 : 0;
    source(value.at("source"));
    segment.instruction = value.at("instruction").text_or_nothing();
    return segment;
}

program::Part& part_of(const Value& value, program::Program& program) {
    std::uint32_t number = value.at("program").whole(1, 1000000);
    for (program::Part& part : program.parts)
        if (part.number == number) return part;
    value.at("program").wrong(fmt::format("there is no programme {}", number));
}

void read_parts(const Value& root, program::Program& program) {
    for (const Value& value : root.at("programs").list()) {
        value.holds({"number", "next", "hand_over", "segments"});
        program::Part part;
        part.number = value.at("number").whole(1, 1000000);
        for (const program::Part& other : program.parts)
            if (other.number == part.number) value.at("number").wrong("a second programme of this number");
        if (!value.at("next").null()) part.next = value.at("next").whole(1, 1000000);
        part.hand_over = value.at("hand_over").text_or_nothing();
        std::uint32_t number = 0;
        for (const Value& segment : value.at("segments").list()) {
            if (!part.segments.empty() && part.segments.back().kind == SegmentKind::end)
                segment.wrong("a segment behind the end of the programme");
            part.segments.push_back(read_segment(segment, program, ++number));
        }
        if (part.segments.empty() || part.segments.back().kind != SegmentKind::end)
            value.at("segments").wrong("the last segment is none of kind end");
        program.parts.push_back(std::move(part));
    }
    if (program.parts.empty()) root.at("programs").wrong("the table holds no programme");
    for (const Value& value : root.at("programs").list())
        if (Value next = value.at("next");
            !next.null() &&
            std::none_of(program.parts.begin(), program.parts.end(),
                         [&](const program::Part& p) { return p.number == next.whole(1, 1000000); }))
            next.wrong("the table holds no such programme");
    for (const Value& value : root.at("loops").list()) {
        value.holds({"program", "first", "last", "passes"});
        program::Part& part = part_of(value, program);
        auto last = static_cast<std::uint32_t>(part.segments.size() - 1);
        program::Loop loop;
        if (last == 0) value.wrong("the programme has nothing to repeat");
        loop.last = value.at("last").whole(1, last) - 1;
        loop.first = value.at("first").whole(1, loop.last + 1) - 1;
        loop.passes = value.at("passes").whole(1, 1000000000);
        part.loops.push_back(loop);
    }
    for (const Value& value : root.at("thresholds").list()) {
        value.holds({"program", "output", "temperature_degC", "energised", "instruction", "source"});
        program::ThresholdOutput threshold;
        threshold.output = value.at("output").whole(1, 32);
        if (std::none_of(program.outputs.begin(), program.outputs.end(),
                         [&](const program::Output& o) { return o.number == threshold.output; }))
            value.at("output").wrong("there is no such output");
        threshold.temperature = value.at("temperature_degC").on(program.controller.setpoint, "degC");
        std::string side = value.at("energised").text();
        if (side != "above" && side != "below") value.at("energised").wrong("above or below is expected");
        threshold.energised_above = side == "above";
        threshold.instruction = value.at("instruction").text_or_nothing();
        source(value.at("source"));
        part_of(value, program).thresholds.push_back(std::move(threshold));
    }
}

/// What stands beside the programmes, for people and other tools: nothing may be left out, since they rely on
/// it.
void read_beside(const Value& root) {
    Value recipe = root.at("recipe");
    recipe.holds({"name", "title", "parameters"});
    for (const std::string& key : recipe.at("parameters").keys())
        static_cast<void>(recipe.at("parameters").at(key.c_str()).text());
    for (const char* equipment : {"rig", "controller"}) {
        root.at(equipment).holds({"name", "source"});
        static_cast<void>(root.at(equipment).at("source").text());
    }
    Value provenance = root.at("provenance");
    provenance.holds({"sources", "compiler"});
    static_cast<void>(provenance.at("compiler").text());
    for (const Value& file : provenance.at("sources").list()) {
        file.holds({"path", "sha256"});
        static_cast<void>(file.at("path").text());
        const std::string hash = file.at("sha256").text();
        if (hash.size() != 64 || hash.find_first_not_of("0123456789abcdef") != std::string::npos)
            file.at("sha256").wrong("64 digits of a hexadecimal number are expected");
    }
    for (const Value& row : root.at("assurance").list()) {
        row.holds(
            {"rule", "title", "applied", "verdict", "margin", "at_s", "after_failure_s", "decides", "source"});
        static_cast<void>(row.at("applied").boolean());
        const std::string verdict = row.at("verdict").text();
        constexpr std::array<std::string_view, 8> verdicts{
            "proven", "not_applied", "conceded",     "needs_an_interlock",
            "warned", "not_judged",  "not_provable", "violated"};
        if (std::find(verdicts.begin(), verdicts.end(), verdict) == verdicts.end())
            row.at("verdict").wrong(fmt::format("`{}` is no verdict", verdict));
        for (const char* key : {"rule", "title"}) static_cast<void>(row.at(key).text());
        for (const char* key : {"margin", "decides"}) static_cast<void>(row.at(key).text_or_nothing());
        for (const char* key : {"at_s", "after_failure_s"})
            if (!row.at(key).null()) static_cast<void>(row.at(key).number());
        source(row.at("source"));
    }
    if (root.at("assurance").size() == 0)
        root.at("assurance").wrong("the table does not say which rules were judged, and how");
    for (const char* key : {"assumptions", "concessions", "cautions"}) texts(root.at(key));
    if (root.at("cautions").size() == 0) root.at("cautions").wrong("the table brings no caution along");
    Value totals = root.at("totals");
    totals.holds({"duration_s", "gas_NL", "energy_kWh"});
    range(totals.at("duration_s"));
    range(totals.at("energy_kWh"));
    for (const std::string& line : totals.at("gas_NL").keys()) range(totals.at("gas_NL").at(line.c_str()));
}

std::vector<std::string> same_names(const Value& list, const std::vector<std::string>& wanted,
                                    std::string_view what) {
    std::vector<std::string> names;
    for (const Value& one : list.list()) names.push_back(one.text());
    if (names != wanted)
        list.wrong(wanted.empty() ? fmt::format("this table has no {} on its rig and controller", what)
                                  : fmt::format("the {} are {}, in this order", what, fmt::join(wanted, ", ")));
    return names;
}

program::Program read_table(const Json& json, const program::Program& shape) {
    Value root(json, {});
    root.holds({"athanor_table", "recipe", "rig", "controller", "provenance", "zones", "outputs", "channels",
                "programs", "loops", "thresholds", "assurance", "assumptions", "concessions", "totals",
                "cautions"});
    root.at("athanor_table").whole(1, 1);
    program::Program program;
    program.recipe = root.at("recipe").at("name").text();
    program.title = root.at("recipe").at("title").text();
    program.rig = root.at("rig").at("name").text();
    program.controller = shape.controller;
    if (root.at("controller").at("name").text() != shape.controller.name)
        root.at("controller")
            .at("name")
            .wrong(fmt::format("the table is for {}, not for {}", root.at("controller").at("name").text(),
                               shape.controller.name));
    // Set-points and flows are told apart by their order alone.
    program.zones = same_names(root.at("zones"), shape.zones, "zones");
    read_outputs(root.at("outputs"), program);
    program.channels = same_names(root.at("channels"), shape.channels, "channels");
    read_parts(root, program);
    read_beside(root);
    return program;
}

/// The JSON of a table, or the offset and the words of what is wrong with it.
std::optional<Json> parsed(std::string_view bytes, std::size_t& offset, std::string& message) {
    // Deeper than any table, shallower than any stack.
    constexpr int deepest = 32;
    std::vector<std::set<std::string>> keys;
    offset = 0;
    try {
        Json json = Json::parse(bytes, [&](int depth, Json::parse_event_t event, Json& value) {
            if (depth > deepest && message.empty()) message = "nested deeper than any table";
            if (event == Json::parse_event_t::object_start) keys.emplace_back();
            if (event == Json::parse_event_t::object_end && !keys.empty()) keys.pop_back();
            if (event == Json::parse_event_t::key && !keys.empty() &&
                !keys.back().insert(value.get<std::string>()).second && message.empty())
                message = fmt::format("the key `{}` stands twice in one object", value.get<std::string>());
            return true;
        });
        if (message.empty()) return json;
    } catch (const Json::parse_error& wrong) {
        offset = wrong.byte == 0 ? 0 : wrong.byte - 1;
        message = "this is no JSON (RFC 8259)";
    } catch (const Json::exception&) {
        message = "a number that no double holds";
    }
    return std::nullopt;
}

ReadError error_at(std::string_view bytes, std::size_t offset, std::string message) {
    Place place = place_of(bytes, offset);
    return {place.line, place.column, std::move(message)};
}

} // namespace

std::optional<program::Program> read(std::string_view bytes, const program::Program& shape, ReadError& error) {
    std::size_t offset = 0;
    std::string message;
    std::optional<Json> json = parsed(bytes, offset, message);
    if (!json) {
        error = error_at(bytes, offset, std::move(message));
        return std::nullopt;
    }
    try {
        return read_table(*json, shape);
    } catch (const Wrong& wrong) {
        error = error_at(bytes, locate(bytes, wrong.path), wrong.message);
        return std::nullopt;
    }
}

std::optional<ReadError> malformed(std::string_view bytes) {
    std::size_t offset = 0;
    std::string message;
    std::optional<Json> json = parsed(bytes, offset, message);
    if (!json) return error_at(bytes, offset, std::move(message));
    if (!json->is_object()) return error_at(bytes, locate(bytes, {}), "an object is expected");
    return std::nullopt;
}

std::optional<Figures> figures(std::string_view bytes) {
    std::size_t offset = 0;
    std::string message;
    std::optional<Json> json = parsed(bytes, offset, message);
    if (!json) return std::nullopt;
    try {
        Value root(*json, {}), totals = root.at("totals");
        Figures figures;
        figures.duration_s = range(totals.at("duration_s"));
        figures.energy_kWh = range(totals.at("energy_kWh"));
        for (const std::string& line : totals.at("gas_NL").keys())
            figures.gas_NL[line] = range(totals.at("gas_NL").at(line.c_str()));
        for (const Value& row : root.at("assurance").list())
            figures.assurance.push_back(
                {row.at("rule").text(), row.at("verdict").text(),
                 fmt::format("{}: {}{}{}, at {} s, {} s after a failure", row.at("title").text(),
                             row.at("applied").boolean() ? "" : "not applied, ",
                             row.at("margin").text_or_nothing(), row.at("decides").text_or_nothing(),
                             row.at("at_s").null() ? 0 : row.at("at_s").number(),
                             row.at("after_failure_s").null() ? 0 : row.at("after_failure_s").number())});
        return figures;
    } catch (const Wrong&) {
        return std::nullopt;
    }
}

} // namespace athanor::targets::json
