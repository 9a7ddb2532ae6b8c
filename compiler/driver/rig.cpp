// `athanor rig`: what a rig is, and what its furnace can do.
#include "compiler/driver/rig.hpp"

#include "compiler/driver/commands.hpp"
#include "compiler/driver/output.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/rows.hpp"
#include "compiler/driver/show.hpp"
#include "compiler/elaborate/furnace_fault.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/plant/furnace.hpp"
#include "compiler/quantity/unit.hpp"
#include "targets/sha256.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

namespace athanor::driver {
namespace {

using physics::zero_celsius;

/// Three digits, or `decimals` behind the point, outward: the furnace does no less than the left and no more
/// than the right number.
std::string range(Interval value, double factor, int decimals) {
    auto text = [&](double x, bool upward) {
        const int digits =
            x == 0 ? 0 : std::clamp(2 - static_cast<int>(std::floor(std::log10(std::abs(x)))), 0, decimals);
        const double unit = std::pow(10.0, digits);
        return fmt::format("{:.{}f}", (upward ? std::ceil(x * unit) : std::floor(x * unit)) / unit, digits);
    };
    if (value.lo == 0 && value.hi == 0) return "-";
    if (!std::isfinite(value.hi))
        return std::isfinite(value.lo) ? text(value.lo * factor, false) + " or more" : "?";
    return text(value.lo * factor, false) + " to " + text(value.hi * factor, true);
}

/// A plant without a recipe: every gas of the rig, every line shut.
timeline::Timeline idle(const check::Model& model, const check::Rig& rig) {
    timeline::Timeline empty;
    empty.zones = rig.furnace.zones.empty() ? std::vector<std::string>{"centre"} : rig.furnace.zones;
    for (check::Index g = 0; g < model.gases.size() && empty.species.size() < plant::max_species; ++g)
        if (model.gases[g].pure && model.substance_of(g) == g) empty.species.push_back(model.gases[g].name);
    for (const check::Line& line : rig.lines) {
        timeline::Line plain;
        plain.name = line.name;
        empty.lines.push_back(plain);
    }
    return empty;
}

void table(const RigCurves& curves) {
    const std::string cold = fmt::format("{:.0f} °C in h", curves.cold - zero_celsius),
                      hot = fmt::format("{:.0f} °C in h", curves.hot - zero_celsius);
    fmt::print("    {:>5} {:>13} {:>14} {:>13} {:>13} {:>13}\n", "at", "heats", "cools", "holding",
               "heated from", "cooled from");
    fmt::print("    {:>5} {:>13} {:>14} {:>13} {:>13} {:>13}\n", "°C", "K/min", "K/min", "takes W", cold, hot);
    for (const CurvePoint& p : curves.points)
        fmt::print("    {:>5.0f} {:>13} {:>14} {:>13} {:>13} {:>13}\n", p.temperature - zero_celsius,
                   range(p.capacity.heating, 60, 3), range(p.capacity.cooling, 60, 3), range(p.power, 1, 1),
                   range(p.heated, 1.0 / 3600, 2), range(p.cooled, 1.0 / 3600, 2));
    fmt::print("    Each range holds every furnace that meets the declared rows: full power\n"
               "    at low to high mains, natural cooling with the heater off, no load.\n");
}

/// What the declared rows leave open of C dT/dt = P - U (T - Ta) - R (T^4 - Ta^4).
void model_rows(const plant::Plant& plant, const check::Rig& rig) {
    const plant::Furnace furnace(rig.furnace, rig.ambient_temperature.value);
    const auto capacity = [](Interval c) { return range(c, 1e-3, 3) + " kJ/K"; };
    print_row("heat capacity", capacity(furnace.heating_capacity()) + " in heating, from heat_up; " +
                                   capacity(furnace.cooling_capacity()) + " in cooling, from cool_down");
    const check::Furnace& f = rig.furnace;
    const bool single = f.heat_up.size() == 1 && f.holding_power.size() == 1 && f.cool_down.size() == 1;
    print_row("radiation", to_text(plant.radiative_share(), Kind::fraction, 3) + " of the loss at " +
                               to_text(f.holding_power.front().at, Kind::temperature) +
                               ": that share grows with T^4 - Ta^4, the rest with T - Ta (Ta: the room)" +
                               (single ? ". One row of each kind leaves it open; one more may narrow it" : ""));
    const double low = rig.ambient_temperature.hi() + 60, top = rig.furnace.range.hi();
    print_row("natural cooling",
              fmt::format("{} to {}: {}", to_text(top, Kind::temperature), to_text(low, Kind::temperature),
                          to_text(plant.natural_cooling(top, low), Kind::time, 3)));
}

/// Every figure that stands on a default, whether a row above shows it or not.
void assumed(const check::Rig& rig) {
    std::string names;
    for (const std::string& name : rig.defaulted) names += (names.empty() ? "" : ", ") + name;
    print_row("assumed", names.empty() ? "nothing" : names);
}

} // namespace

RigCurves curves_of(const plant::Plant& plant, const check::Rig& rig, double step) {
    RigCurves curves;
    // The model claims nothing nearer to the room, where every rate goes to zero.
    curves.cold = zero_celsius + 10 * std::ceil((rig.ambient_temperature.hi() + 10 - zero_celsius) / 10);
    curves.hot = rig.furnace.range.hi();
    auto add = [&](double t) {
        CurvePoint point;
        point.temperature = t;
        point.capacity = plant.capacity(t);
        point.power = plant.holding_power(t);
        if (t > curves.cold) point.heated = plant.full_power_heating(curves.cold, t);
        if (t < curves.hot) point.cooled = plant.natural_cooling(curves.hot, t);
        curves.points.push_back(point);
    };
    const double first = zero_celsius + step * std::ceil((curves.cold - zero_celsius) / step);
    for (double k = 0; first + k * step < curves.hot - 1e-6; ++k) add(first + k * step);
    add(curves.hot);
    return curves;
}

int run_rig(const RigOptions& options) {
    if (!options.recipes.empty()) return run_fitting(options);
    Session session;
    if (!session.open(options.file, options)) return exit_usage;
    std::vector<const check::Rig*> list;
    for (const check::Rig& rig : session.model.rigs)
        if (options.rig.empty() || rig.name == options.rig) list.push_back(&rig);
    if (!options.rig.empty() && list.empty())
        session.rig(options); // says which rigs there are
    else if (list.empty() && !session.out.any_error())
        session.out.error(Code::value_missing, Span{}, "no rig in " + session.files[0].path());
    const Destination to = destination(options.plot);
    if (!options.plot.empty() && list.size() > 1 && (to.standard_output || !to.stem.empty())) {
        fmt::print(stderr, "athanor rig: {} has {} rigs: name one with --rig, or give --plot a folder\n",
                   options.file, list.size());
        return exit_usage;
    }
    const bool readable = !session.out.any_error();
    std::vector<targets::OutputFile> drawings;
    for (const check::Rig* rig : list) {
        if (!to.standard_output) print_declared(session, *rig);
        if (!readable) continue;
        const timeline::Timeline empty = idle(session.model, *rig);
        plant::Plant plant(session.model, *rig, empty);
        if (!plant.furnace_fault().empty()) {
            elaborate::report_fault(*rig, plant.furnace_fault(), session.out);
            continue;
        }
        if (!to.standard_output) {
            model_rows(plant, *rig);
            table(curves_of(plant, *rig, 100));
            assumed(*rig);
        }
        if (options.plot.empty()) continue;
        const std::string provenance = fmt::format("{}, {} sha256 {}", version_text,
                                                   std::filesystem::path(options.file).filename().string(),
                                                   targets::sha256_hex(session.files[0].text()).substr(0, 16));
        drawings.push_back({(to.stem.empty() ? rig->name : to.stem) + ".svg",
                            draw(*rig, curves_of(plant, *rig, 10), provenance)});
    }
    const int status = finish(session, options);
    if (status != exit_proven || options.plot.empty()) return status;
    return put(to, drawings, "rig");
}

} // namespace athanor::driver
