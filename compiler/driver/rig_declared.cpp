// What a rig declares, and what is assumed where it declares nothing.
#include "compiler/driver/rig.hpp"

#include "compiler/driver/rows.hpp"
#include "compiler/driver/show.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::driver {
namespace {

/// Parts that are not empty, with commas.
std::string listed(const std::vector<std::string>& parts) {
    std::string text;
    for (const std::string& part : parts)
        if (!part.empty()) text += (text.empty() ? "" : ", ") + part;
    return text;
}

/// A word behind a figure: "150 mm long"; empty where it is not given.
std::string with(const check::Figure& f, Kind kind, const std::string& before, const std::string& behind = {}) {
    if (!f.given) return {};
    return before + shown(f, kind) + (f.defaulted ? " (assumed)" : "") + behind;
}

/// As it is written, on one line.
std::string source_text(const Session& session, Span span) {
    std::string text;
    bool gap = false;
    for (char c : session.files.text(span)) {
        if (c == ' ' || c == '\n' || c == '\r' || c == '\t') {
            gap = true;
            continue;
        }
        if (gap && !text.empty()) text += ' ';
        gap = false;
        text += c;
    }
    return text;
}

std::string worked_by(check::Index output) {
    return output == 0 ? "by hand" : fmt::format("output {}", output);
}

std::string without_power(bool open) {
    return open ? "open without power" : "closed without power";
}

void furnace(const check::Furnace& f) {
    print_row("furnace range", f.range, Kind::temperature);
    print_row("heated length", f.heated_length, Kind::length);
    const std::size_t zones = std::max<std::size_t>(1, f.zones.size());
    const std::string power = shown(f.power, Kind::power);
    if (zones == 1) {
        print_row("power", power, f.power.reference);
    } else {
        std::string names;
        for (const std::string& zone : f.zones) names += (names.empty() ? "" : ", ") + zone;
        print_row("zones", names);
        print_row(
            "power",
            fmt::format("{} in total, with every row below that of the whole furnace; each of the {} "
                        "zones is taken as an equal share: {}",
                        power, zones,
                        to_text(f.power.value * Interval(1.0 / static_cast<double>(zones)), Kind::power)));
        print_row("zone opening", f.zone_opening, Kind::length);
        print_row(
            "coupling",
            "a zone takes from a hotter one beside it at most black radiation through that opening and 30 "
            "W/m2/K of its area, at least nothing (assumed: common practice, no source)");
    }
    if (f.mains.given)
        print_row("mains voltage", fmt::format("± {:.4g} %, power by its square", (f.mains.hi() - 1) * 100),
                  origin(f.mains));
    for (const check::HeatUp& row : f.heat_up)
        print_row("heat up", shown(row.duration, Kind::time) + " to " + to_text(row.to, Kind::temperature),
                  origin(row.duration));
    for (const check::HoldingPower& row : f.holding_power)
        print_row("holding power", shown(row.power, Kind::power) + " at " + to_text(row.at, Kind::temperature),
                  origin(row.power));
    for (const check::CoolDown& row : f.cool_down)
        print_row("cool down",
                  fmt::format("{} to {} in {}", to_text(row.from, Kind::temperature),
                              to_text(row.to, Kind::temperature), shown(row.duration, Kind::time)),
                  origin(row.duration));
    print_row("tracking time", f.tracking, Kind::time);
    print_row("control error", f.control_error, Kind::difference);
    print_row("overshoot", f.overshoot, Kind::difference);
}

void tube(const check::Model& model, const check::Rig& rig) {
    if (rig.tube.material != check::none) print_row("tube material", model.materials[rig.tube.material].name);
    print_row("tube bore", rig.tube.inner_diameter, Kind::length);
    print_row("tube wall", rig.tube.wall, Kind::length);
    print_row("tube length", rig.tube.length, Kind::length);
    print_row("tube rated", rig.tube.rated, Kind::overpressure);
    print_row("even length", rig.uniform_length, Kind::length);
    const check::Ends& e = rig.ends;
    const char* kind = e.kind == check::EndsKind::insulation_plugs    ? "insulation plugs"
                       : e.kind == check::EndsKind::radiation_shields ? "radiation shields"
                                                                      : "open";
    print_row(
        "ends",
        listed({kind, with(e.count, Kind::count, "number "), with(e.length, Kind::length, "length "),
                with(e.porosity, Kind::fraction, "porosity "), with(e.air_release, Kind::time, "air release "),
                with(e.open_area, Kind::fraction, "open area "), with(e.draught, Kind::flow, "draught ")}));
    const check::Seals& s = rig.seals;
    print_row("seals", s.gas_tight ? listed({"gas-tight", with(s.rated, Kind::overpressure, "rated "),
                                             s.cooled ? "cooled" : "not cooled",
                                             s.cooled_without_power ? "without power too" : "",
                                             s.coolant_loss_trips ? "trips when the coolant fails" : "",
                                             with(s.limit, Kind::temperature, "stand ")})
                                   : "none");
    print_row("seals above the room", s.rise, Kind::difference);
    print_row("leak", rig.leak_rate, Kind::leak_rate);
    print_row("outgassing", rig.outgassing, Kind::leak_rate);
    print_row("mixing", rig.mixing, Kind::count);
    print_row("load lag", rig.load_lag, Kind::time);
    print_row("load offset", rig.load_offset, Kind::difference);
}

void sensor(const Session& session, const check::Sensor& s) {
    if (s.type == check::none) return;
    const check::Thermocouple& type = session.model.thermocouples[s.type];
    const bool declared = source_text(session, s.source).find(" class ") != std::string::npos;
    std::string text = fmt::format("{} class {}{}", type.name, s.tolerance_class, declared ? "" : " (assumed)");
    std::string reference;
    for (const check::Tolerance& c : type.classes) {
        if (c.number != s.tolerance_class) continue;
        text += ": " + tolerance_text(c);
        reference = c.reference;
    }
    print_row("sensor", text + (s.in_tube ? ", in the tube's gas" : ", outside the tube's gas"), reference);
}

void line(const check::Model& model, const check::Line& line) {
    if (line.gas == check::none) return;
    const check::Gas& gas = model.gases[line.gas];
    std::string fallen = without_power(line.open_without_power);
    if (line.open_without_power && line.meter.controlled)
        fallen += " with " + to_text(line.flow_without_power, Kind::flow);
    print_row(
        "line " + line.name,
        listed({gas.name, worked_by(line.output), fallen, line.double_shut_off ? "two shut-off valves" : ""}),
        hazards(gas.hazards));
    const check::Meter& m = line.meter;
    std::string meter = m.controlled ? "controlled" : "set by hand";
    if (m.channel != check::none) meter += fmt::format(" on channel {}", m.channel);
    print_row("  meter", meter);
    if (m.has_reference)
        print_row("  flow",
                  fmt::format("{} at {}, {}",
                              to_text(m.range.value * Interval(1 / m.molar(1)), Kind::volume_flow),
                              to_text(m.reference_temperature, Kind::temperature),
                              to_text(m.reference_pressure, Kind::pressure)),
                  origin(m.range));
    else
        print_row("  flow", m.range, Kind::flow);
    print_row("  accuracy",
              listed({m.accuracy.given ? shown(m.accuracy, Kind::fraction) + " of reading" : "",
                      m.accuracy_full.given ? shown(m.accuracy_full, Kind::fraction) + " of full scale" : ""}),
              origin(m.accuracy.given ? m.accuracy : m.accuracy_full));
    print_row("  supply",
              listed({shown(line.supply, Kind::overpressure),
                      line.cylinder_volume.given
                          ? fmt::format("cylinder {} at {}", shown(line.cylinder_volume, Kind::volume),
                                        shown(line.cylinder_pressure, Kind::pressure))
                          : "",
                      line.low_pressure_trips ? "trips when it fails" : ""}));
}

void ways_out(const check::Rig& rig) {
    if (const check::Pump& p = rig.pump; p.present) {
        print_row("pump", listed({worked_by(p.output), shown(p.speed, Kind::pumping_speed),
                                  with(p.accuracy, Kind::fraction, "stated to ± "),
                                  "down to " + shown(p.ultimate, Kind::pressure),
                                  p.oil_sealed ? "oil-sealed" : "dry", without_power(p.open_without_power)}));
        print_row("pump's pipe",
                  shown(p.pipe_diameter, Kind::length) + " by " + shown(p.pipe_length, Kind::length));
    } else {
        print_row("pump", "none");
    }
    if (rig.has_throttle)
        print_row("throttle", listed({shown(rig.throttle, Kind::pressure),
                                      with(rig.throttle_accuracy, Kind::fraction, "accuracy ± ")}));
    const check::Exhaust& x = rig.exhaust;
    std::vector<std::string> exhaust;
    switch (x.kind) {
    case check::ExhaustKind::open: exhaust = {"open"}; break;
    case check::ExhaustKind::shut: exhaust = {"shut"}; break;
    case check::ExhaustKind::extraction_hood: break;
    case check::ExhaustKind::afterburner:
        exhaust = {"afterburner", worked_by(x.output),
                   x.pilot ? "burns on without power" : "goes out without power"};
        if (x.output != 0)
            exhaust.push_back(x.feed_open_without_power ? "its feed falls open" : "its feed falls closed");
        break;
    }
    if (x.extraction) exhaust.push_back("into an extraction hood");
    if (x.extraction) exhaust.push_back(x.extraction_backup ? "with backup power" : "without backup power");
    print_row("exhaust", listed(exhaust));
    if (rig.outlet_diameter.given)
        print_row("outlet",
                  shown(rig.outlet_diameter, Kind::length) + " by " + shown(rig.outlet_length, Kind::length),
                  origin(rig.outlet_diameter));
    if (rig.relief.given)
        print_row("relief", rig.relief, Kind::overpressure);
    else
        print_row("relief", "none");
}

void additions(const check::Rig& rig) {
    if (const check::Bubbler& b = rig.bubbler; b.present)
        print_row("bubbler",
                  listed({"line " + b.line, worked_by(b.output), "bath " + shown(b.range, Kind::temperature),
                          with(b.bath_error, Kind::difference, "error "),
                          with(b.saturation, Kind::fraction, "saturation ")}));
    if (const check::Slide& s = rig.slide; s.present) {
        std::vector<std::string> parts{s.hand ? "by hand" : worked_by(s.output)};
        for (const auto& [name, place] : s.places) parts.push_back(name + " at " + shown(place, Kind::length));
        print_row("slide", listed(parts));
    }
    print_row("heated lines", rig.heated_lines, Kind::temperature);
    if (rig.room_volume.given)
        print_row("room",
                  shown(rig.room_volume, Kind::volume) + " ventilated " +
                      shown(rig.room_air_changes, Kind::frequency) + ", without power " +
                      shown(rig.room_air_without_power, Kind::frequency),
                  origin(rig.room_volume));
}

} // namespace

void print_declared(const Session& session, const check::Rig& rig) {
    const check::Model& model = session.model;
    print_wrapped("rig", rig.name + (rig.title.empty() ? "" : ", " + rig.title));
    print_row("ambient",
              listed({shown(rig.ambient_temperature, Kind::temperature),
                      shown(rig.ambient_pressure, Kind::pressure)}),
              origin(rig.ambient_temperature));
    furnace(rig.furnace);
    sensor(session, rig.sensor);
    tube(model, rig);
    for (const check::Line& one : rig.lines) line(model, one);
    ways_out(rig);
    additions(rig);
    for (const check::Interlock& one : rig.interlocks) {
        std::string text = source_text(session, one.source);
        if (text.starts_with("interlock ")) text.erase(0, 10);
        print_row("interlock", text);
    }
    if (rig.interlocks.empty()) print_row("interlock", "none");
}

} // namespace athanor::driver
