#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/timeline/timeline.hpp"

#include <memory>
#include <string>

/// Rigs for the plant's tests, built as data: what a 60 mm quartz tube in a 1200 degC furnace declares.
namespace bench {

using namespace athanor;

inline constexpr double zero = 273.15;                                     // K
inline constexpr double minute = 60, hour = 3600;                          // s
inline constexpr double litre_per_minute = 1e-3 / 60;                      // m3/s
inline constexpr double slm = 101325 * 1e-3 / 60 / (8.314462618 * 273.15); // mol/s, 0 degC and 101.325 kPa

inline check::Figure figure(Interval value) {
    check::Figure f;
    f.value = value;
    f.given = true;
    return f;
}

/// Model, rig and timeline of one test; the plant refers to them.
struct Bench {
    check::Model model;
    check::Rig rig;
    timeline::Timeline timeline;
    std::unique_ptr<plant::Plant> plant;

    enum Species : timeline::Index { oxygen, nitrogen, argon, hydrogen, water };
    enum Lines : timeline::Index { argon_line, hydrogen_line };

    check::Index gas(const std::string& name) {
        check::Gas g;
        g.name = name;
        g.parts = {{static_cast<check::Index>(model.gases.size()), Interval{1}}};
        model.gases.push_back(g);
        return static_cast<check::Index>(model.gases.size() - 1);
    }

    Bench() {
        const check::Index o2 = gas("oxygen"), n2 = gas("nitrogen"), ar = gas("argon"), h2 = gas("hydrogen"),
                           h2o = gas("water");
        model.gases[h2].hazards.flammable = true;
        model.gases[h2].lower_limit = figure(0.04);
        const auto mixture = [&](const std::string& name,
                                 std::vector<std::pair<check::Index, Interval>> parts) {
            const check::Index index = gas(name);
            model.gases[index].pure = false;
            model.gases[index].parts = std::move(parts);
            return index;
        };
        mixture("air", {{o2, 0.2095}, {n2, 0.7905}});
        const check::Index argon_n50 = mixture("argon_n50", {{o2, 2e-6}, {h2o, 3e-6}, {ar, 1 - 5e-6}});
        const check::Index hydrogen_n50 = mixture("hydrogen_n50", {{o2, 2e-6}, {h2o, 5e-6}, {h2, 1 - 7e-6}});

        check::Thermocouple k;
        k.name = "type_k";
        check::Tolerance one;
        one.number = 1;
        one.absolute = 1.5;
        one.relative = 0.004;
        k.classes.push_back(one);
        model.thermocouples.push_back(k);

        rig.ambient_temperature = figure({18 + zero, 28 + zero});
        rig.ambient_pressure = figure({98000, 103000});
        rig.furnace.range = figure({30 + zero, 1200 + zero});
        rig.furnace.heated_length = figure(0.6);
        rig.furnace.power = figure(3000);
        rig.furnace.mains = figure({0.9, 1.1});
        rig.furnace.heat_up = {{figure(50 * minute), 1100 + zero}};
        rig.furnace.holding_power = {{figure({1080, 1320}), 1100 + zero}};
        rig.furnace.cool_down = {{1100 + zero, 200 + zero, figure({0.85 * 5 * hour, 1.15 * 5 * hour})}};
        rig.furnace.zones = {"centre"};
        rig.furnace.overshoot = figure({0, 10});
        rig.furnace.tracking = figure({0, 60});
        rig.furnace.control_error = figure({0, 2});
        rig.tube.inner_diameter = figure(0.06);
        rig.tube.wall = figure(0.003);
        rig.tube.length = figure(1.2);
        rig.ends.kind = check::EndsKind::insulation_plugs;
        rig.ends.length = figure(0.15);
        rig.ends.porosity = figure(0.85);
        rig.ends.air_release = figure({60, 180});
        rig.seals.gas_tight = true;
        rig.seals.rated = figure(20000);
        rig.seals.rise = figure({20, 80});
        rig.mixing = figure({0.7, 1});
        rig.leak_rate = figure({0, 1e-5});
        rig.outgassing = figure(0);
        rig.load_lag = figure({0, 240});
        rig.load_offset = figure({-20, 5});
        rig.outlet_diameter = figure(6e-3);
        rig.outlet_length = figure(1);
        rig.sensor.type = 0;
        rig.sensor.tolerance_class = 1;
        rig.exhaust.kind = check::ExhaustKind::afterburner;
        const auto line = [&](const std::string& name, check::Index of) {
            check::Line l;
            l.name = name;
            l.gas = of;
            l.supply = figure(15000);
            l.meter.accuracy = figure(0.05);
            l.meter.range = figure({0, 2e-3});
            rig.lines.push_back(l);
        };
        line("argon", argon_n50);
        line("hydrogen", hydrogen_n50);

        timeline.zones = {"centre"};
        timeline.species = {"oxygen", "nitrogen", "argon", "hydrogen", "water"};
        timeline.lines.resize(2);
    }

    /// Shields in place of plugs.
    void shielded() {
        rig.ends = {};
        rig.ends.kind = check::EndsKind::radiation_shields;
        rig.ends.open_area = figure({0.05, 0.2});
    }
    /// With them, and a rotary pump of 4 m3/h.
    void pumped() {
        shielded();
        rig.pump.present = true;
        rig.pump.speed = figure(4.0 / 3600);
        rig.pump.ultimate = figure(1.0);
        rig.pump.pipe_diameter = figure(0.025);
        rig.pump.pipe_length = figure(1.0);
    }

    plant::Plant& build() {
        plant = std::make_unique<plant::Plant>(model, rig, timeline);
        return *plant;
    }

    static timeline::State closed() {
        timeline::State s;
        s.flows = {0, 0};
        s.open = {false, false};
        return s;
    }
    static timeline::State flowing(double argon, double hydrogen = 0) {
        timeline::State s;
        s.flows = {argon, hydrogen};
        s.open = {argon > 0, hydrogen > 0};
        return s;
    }
    /// Volume flow read at 20 degC and 1 bar.
    static double at_meter(double litres_per_minute) {
        return litres_per_minute * litre_per_minute * 1e5 / (8.314462618 * 293.15);
    }

    timeline::Ending until(timeline::Signal signal, timeline::Comparison comparison, Interval value) {
        timeline::Condition condition;
        timeline::Term term;
        term.kind = timeline::Term::Kind::compare;
        term.comparison = comparison;
        term.left = signal;
        term.value = value;
        condition.terms.push_back(term);
        timeline.conditions.push_back(condition);
        timeline::Ending ending;
        ending.kind = timeline::EndingKind::certain;
        ending.condition = static_cast<timeline::Index>(timeline.conditions.size() - 1);
        return ending;
    }
};

inline timeline::Law hold(double kelvin) {
    return {timeline::LawKind::hold, kelvin, kelvin, 0};
}
inline timeline::Law ramp(double from, double to, double rate) {
    return {timeline::LawKind::line, from, to, rate};
}
inline timeline::Law off(double from, double to) {
    return {timeline::LawKind::off, from, to, 0};
}
inline timeline::Law jump(double from, double to) {
    return {timeline::LawKind::jump, from, to, 0};
}
inline timeline::Ending fixed(double seconds) {
    timeline::Ending e;
    e.kind = timeline::EndingKind::fixed;
    e.duration = seconds;
    return e;
}
inline timeline::Ending band(double seconds, double kelvin) {
    timeline::Ending e = fixed(seconds);
    e.kind = timeline::EndingKind::band;
    e.band = kelvin;
    return e;
}
inline timeline::Ending passes(double kelvin) {
    timeline::Ending e;
    e.kind = timeline::EndingKind::passes;
    e.temperature = kelvin;
    return e;
}
inline timeline::Signal fraction(timeline::Index species) {
    return {timeline::SignalKind::fraction, species};
}
inline timeline::Signal signal(timeline::SignalKind kind) {
    return {kind, timeline::none};
}

} // namespace bench
