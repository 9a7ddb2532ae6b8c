#include "tests/targets/sample.hpp"

#include <fmt/format.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <limits>
#include <sstream>

namespace sample {

using program::Segment;
using program::SegmentKind;

program::Program bench() {
    program::Program p;
    p.recipe = "bench";
    p.title = "Bench run, \"bright\"";
    p.rig = "bench_two";
    program::Controller& c = p.controller;
    c.name = "bench_controller";
    c.programs = 4;
    c.segments = 16;
    c.linking = true;
    c.loop_levels = 2;
    c.passes_lo = 2;
    c.passes_hi = 999;
    c.setpoint = {{0, 0}, {1200, 0}, {5, -1}};
    c.rate = Grid{{1, -1}, {999, -1}, {1, -1}};
    c.dwell = {{0, 0}, {359940, 0}, {60, 0}};
    c.outputs = 4;
    c.thresholds = 1;
    c.soak_band = Grid{{1, 0}, {99, 0}, {1, 0}};
    c.operator_wait = true;
    p.zones = {"centre"};
    p.outputs = {{1, "argon", program::OutputUse::line, 0, true},
                 {2, "hydrogen", program::OutputUse::line, 1, false},
                 {4, "burner", program::OutputUse::burner, 0, false}};
    auto segment = [](SegmentKind kind, std::int64_t half_degrees, std::uint32_t outputs) {
        Segment s;
        s.kind = kind;
        s.targets = {half_degrees};
        s.outputs = outputs;
        s.start_degC = 23;
        return s;
    };
    program::Part one;
    one.next = 3;
    one.thresholds = {{2, 1300, true, "hydrogen follows 650 °C", {}}};
    one.segments.push_back(segment(SegmentKind::operator_wait, 46, 1));
    one.segments.back().instruction = "Load the boat, fit \"both\" plugs\nclamp the seals";
    one.segments.push_back(segment(SegmentKind::ramp, 601, 0));
    one.segments.back().rates = {40};
    one.segments.back().duration_s = 4063.4146341463;
    one.segments.back().instruction = "=open argon";
    one.segments.push_back(segment(SegmentKind::dwell, 601, 8));
    one.segments.back().dwell = 60;
    one.segments.back().band = 4;
    one.segments.push_back(segment(SegmentKind::step, 120, 9));
    one.segments.back().band = 2;
    one.segments.push_back(segment(SegmentKind::step, 40, 11));
    one.segments.back().dwell = 600;
    one.segments.push_back(segment(SegmentKind::end, 40, 1));
    one.loops = {{1, 2, 7}, {1, 4, 3}, {2, 4, 2}};
    program::Part two;
    two.number = 3;
    two.segments = {segment(SegmentKind::dwell, 40, 1), segment(SegmentKind::end, 40, 1)};
    two.segments[0].dwell = 0;
    two.segments[0].instruction = "'quoted";
    p.parts = {one, two};
    return p;
}

program::Program zones() {
    program::Program p = bench();
    p.recipe = "gradient";
    p.controller.zones = 2;
    p.controller.channels = 1;
    p.controller.rate.reset();
    p.controller.ramp_time = Grid{{0, 0}, {86400, 0}, {1, 0}};
    p.controller.soak_band.reset();
    p.controller.ramp_and_dwell = true;
    p.zones = {"left", "right"};
    p.channels = {"argon"};
    p.outputs.clear();
    program::Part part;
    Segment ramp;
    ramp.kind = SegmentKind::ramp_dwell;
    ramp.targets = {800, 1400};
    ramp.ramp_time = 2400;
    ramp.dwell = 5;
    ramp.channels = {100500};
    Segment line = ramp;
    line.kind = SegmentKind::ramp;
    line.dwell = -1;
    line.targets = {40, 40};
    Segment end;
    end.kind = SegmentKind::end;
    part.hand_over = "Wait until it is cold; -10 K are no harm";
    part.segments = {ramp, line, end};
    p.parts = {part, part};
    p.parts[1].number = 2;
    p.parts[1].hand_over = "@operator: turn the sample";
    return p;
}

targets::Context context() {
    targets::Context c;
    c.sources = {{"bench.ath", std::string(64, 'a')}};
    c.compiler = "athanor 0.1.0";
    c.rig_source = "rig bench_two {\n}\n";
    c.controller_source = "controller bench_controller {\n}\n";
    c.parameters = {{"peak", "950 degC"}};
    c.duration_lo = 3600;
    c.duration_hi = std::numeric_limits<double>::infinity();
    c.gas_mol = {{"argon", {1.0, 2.0}}};
    c.energy_hi = 7.2e6;
    c.assurance.cautions = {"Flammable gas is used."};
    prove::Row row;
    row.rule = "burner_off";
    row.title = "no outflow unburnt";
    row.margin = "60 s";
    c.assurance.rows = {row};
    return c;
}

std::string keyed(const program::Program& p) {
    std::string out;
    auto list = [&](const auto& values) {
        for (auto v : values) out += fmt::format(" {}", v);
        out += ";";
    };
    for (const std::string& zone : p.zones) out += zone + " ";
    for (const std::string& channel : p.channels) out += channel + " ";
    for (const program::Output& o : p.outputs)
        out += fmt::format("{} {} {} {} {}\n", o.number, o.name, static_cast<int>(o.use), o.line,
                           o.on_without_power);
    for (const program::Part& part : p.parts) {
        out += fmt::format("programme {} next {}\n", part.number, part.next);
        for (const program::ThresholdOutput& t : part.thresholds)
            out += fmt::format("threshold {} {} {}\n", t.output, t.temperature, t.energised_above);
        for (const program::Loop& l : part.loops)
            out += fmt::format("loop {} {} {}\n", l.first, l.last, l.passes);
        for (const Segment& s : part.segments) {
            out += fmt::format("{} time {} dwell {} band {} outputs {}", static_cast<int>(s.kind), s.ramp_time,
                               s.dwell, s.band, s.outputs);
            list(s.targets);
            list(s.rates);
            list(s.channels);
            out += "\n";
        }
    }
    return out;
}

std::string hand_over_and_instructions(const program::Program& p) {
    std::string out;
    for (const program::Part& part : p.parts) {
        out += part.hand_over + "|";
        for (const program::ThresholdOutput& t : part.thresholds) out += t.instruction + "|";
        for (const Segment& s : part.segments) out += s.instruction + "|";
    }
    return out;
}

std::string contents(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

std::string schema_errors(const std::string& schema, const std::string& json) {
    Folder folder;
    std::ofstream(folder.path + "/instance.json", std::ios::binary) << json;
    std::string command =
        fmt::format("/usr/bin/python3 -m jsonschema -i {0}/instance.json {1}/docs/{2} > {0}/out 2>&1",
                    folder.path, ATHANOR_ROOT, schema);
    if (std::system(command.c_str()) == 0) return "";
    std::string text = contents(folder.path + "/out");
    return text.empty() ? "refused without a word" : text;
}

Folder::Folder() {
    path = (std::filesystem::temp_directory_path() / "athanor_test_XXXXXX").string();
    if (!mkdtemp(path.data())) std::abort();
}
Folder::~Folder() {
    std::error_code code;
    std::filesystem::remove_all(path, code);
}

} // namespace sample
