#include "targets/json/json.hpp"
#include "targets/json/locate.hpp"
#include "targets/words.hpp"

#include "compiler/quantity/unit.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <set>

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
    /// The object may hold these keys and no other.
    void closed(std::initializer_list<std::string_view> keys) const {
        if (!json_->is_object()) wrong("an object is expected");
        for (const auto& [key, value] : json_->items())
            if (std::find(keys.begin(), keys.end(), key) == keys.end())
                below(value, {key, 0}).wrong(fmt::format("there is no key `{}` here", key));
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
        value.closed({"name", "number", "use", "line", "de_energised"});
        program::Output output;
        output.name = value.at("name").text();
        output.number = value.at("number").whole(1, 32);
        std::optional<program::OutputUse> use = output_use(value.at("use").text());
        if (!use) value.at("use").wrong("one of line, burner, pump, other is expected");
        output.use = *use;
        bool valve = output.use == program::OutputUse::line;
        if (valve) output.line = value.at("line").whole(0, 1000000);
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

Segment read_segment(const Value& value, const program::Program& program, std::uint32_t number) {
    value.closed({"segment", "kind", "start_degC", "target_degC", "rate_K_per_min", "ramp_time_s", "dwell_s",
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
    auto figure = [&](const char* key) { return value.at(key).null() ? 0.0 : value.at(key).number(); };
    segment.start_degC = figure("start_degC");
    segment.duration_s = figure("duration_s");
    std::vector<Value> range = value.at("duration_s_range").list();
    if (range.size() != 2) value.at("duration_s_range").wrong("two numbers are expected");
    segment.duration_lo_s = range[0].null() ? 0 : range[0].number();
    segment.duration_hi_s = range[1].null() ? infinity : range[1].number();
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
        value.closed({"number", "next", "hand_over", "segments"});
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
        value.closed({"program", "first", "last", "passes"});
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
        value.closed({"program", "output", "temperature_degC", "energised", "instruction", "source"});
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
        part_of(value, program).thresholds.push_back(std::move(threshold));
    }
}

program::Program read_table(const Json& json, const program::Program& shape) {
    Value root(json, {});
    root.closed({"athanor_table", "recipe", "rig", "controller", "provenance", "zones", "outputs", "channels",
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
    for (const Value& zone : root.at("zones").list()) program.zones.push_back(zone.text());
    if (program.zones.empty()) root.at("zones").wrong("at least one zone is expected");
    read_outputs(root.at("outputs"), program);
    for (const Value& channel : root.at("channels").list()) program.channels.push_back(channel.text());
    read_parts(root, program);
    return program;
}

} // namespace

std::optional<program::Program> read(std::string_view bytes, const program::Program& shape, ReadError& error) {
    auto fail = [&](std::size_t offset, std::string message) -> std::optional<program::Program> {
        Place place = place_of(bytes, offset);
        error = {place.line, place.column, std::move(message)};
        return std::nullopt;
    };
    // Deeper than any table, shallower than any stack.
    constexpr int deepest = 32;
    std::vector<std::set<std::string>> keys;
    std::string trouble;
    Json json;
    try {
        json = Json::parse(bytes, [&](int depth, Json::parse_event_t event, Json& value) {
            if (depth > deepest && trouble.empty()) trouble = "nested deeper than any table";
            if (event == Json::parse_event_t::object_start) keys.emplace_back();
            if (event == Json::parse_event_t::object_end && !keys.empty()) keys.pop_back();
            if (event == Json::parse_event_t::key && !keys.empty() &&
                !keys.back().insert(value.get<std::string>()).second && trouble.empty())
                trouble = fmt::format("the key `{}` stands twice in one object", value.get<std::string>());
            return true;
        });
    } catch (const Json::parse_error& wrong) {
        return fail(wrong.byte == 0 ? 0 : wrong.byte - 1, "this is no JSON (RFC 8259)");
    } catch (const Json::exception&) {
        return fail(0, "a number that no double holds");
    }
    if (!trouble.empty()) return fail(0, trouble);
    try {
        return read_table(json, shape);
    } catch (const Wrong& wrong) {
        return fail(locate(bytes, wrong.path), wrong.message);
    }
}

} // namespace athanor::targets::json
