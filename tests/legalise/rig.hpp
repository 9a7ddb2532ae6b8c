#pragma once
#include "compiler/check/model.hpp"
#include "compiler/legalise/limits.hpp"
#include "compiler/plant/plant.hpp"
#include "tests/legalise/bench.hpp"

#include <memory>

/// The rig of the tests: a 60 mm tube in a 3 kW furnace with argon and hydrogen, and the whole way through the
/// legaliser.
namespace athanor::bench {

inline check::Figure figure(double lo, double hi) {
    check::Figure f;
    f.value = {lo, hi};
    f.given = true;
    return f;
}
inline check::Figure figure(double value) {
    return figure(value, value);
}

inline check::Gas pure(const char* name, double molar_mass, check::Index self) {
    check::Gas gas;
    gas.name = name;
    gas.molar_mass = figure(molar_mass);
    gas.parts = {{self, Interval{1.0}}};
    return gas;
}

inline check::Model model() {
    check::Model m;
    m.gases = {pure("argon", 0.039948, 0), pure("oxygen", 0.031998, 1), pure("nitrogen", 0.028014, 2),
               pure("water", 0.018015, 3), pure("hydrogen", 0.002016, 4)};
    m.gases[4].hazards.flammable = true;
    m.gases[4].lower_limit = figure(0.04);
    check::Gas grade;
    grade.name = "argon_n50";
    grade.pure = false;
    grade.molar_mass = figure(0.039948);
    grade.parts = {{0, Interval{0.999995}}, {1, Interval{2e-6}}, {3, Interval{3e-6}}};
    m.gases.push_back(grade);
    check::Material quartz;
    quartz.name = "fused_quartz";
    m.materials.push_back(quartz);
    check::Thermocouple k;
    k.name = "type_k";
    k.range = figure(kelvin(-40), kelvin(1300));
    check::Tolerance class_1;
    class_1.number = 1;
    class_1.range = {kelvin(-40), kelvin(1000)};
    class_1.absolute = 1.5;
    class_1.relative = 0.004;
    k.classes.push_back(class_1);
    m.thermocouples.push_back(k);
    return m;
}

inline check::Line line(const char* name, check::Index gas, check::Index output, bool open_without_power) {
    check::Line l;
    l.name = name;
    l.gas = gas;
    l.output = output;
    l.open_without_power = open_without_power;
    l.meter.range = figure(1e-4, 1.5e-3);
    l.meter.accuracy = figure(0.05);
    l.supply = figure(15000);
    return l;
}

inline check::Rig rig(std::vector<std::string> zones = {"centre"}) {
    check::Rig r;
    r.name = "bench";
    r.ambient_temperature = figure(kelvin(18), kelvin(28));
    r.ambient_pressure = figure(98000, 103000);
    r.furnace.range = figure(kelvin(0), kelvin(1200));
    r.furnace.heated_length = figure(0.6);
    r.furnace.power = figure(3000);
    r.furnace.mains = figure(0.9, 1.1);
    r.furnace.heat_up = {{figure(3000), kelvin(1100)}};
    r.furnace.holding_power = {{figure(1080, 1320), kelvin(1100)}};
    r.furnace.cool_down = {{kelvin(1100), kelvin(200), figure(15300, 20700)}};
    r.furnace.zones = std::move(zones);
    r.furnace.overshoot = figure(0, 2);
    r.furnace.tracking = figure(0, 60);
    r.furnace.control_error = figure(0, 1);
    r.tube.material = 0;
    r.tube.inner_diameter = figure(0.06);
    r.tube.wall = figure(0.003);
    r.tube.length = figure(1.2);
    r.ends.kind = check::EndsKind::insulation_plugs;
    r.ends.length = figure(0.15);
    r.ends.porosity = figure(0.85);
    r.ends.air_release = figure(60, 180);
    r.seals.gas_tight = true;
    r.seals.rated = figure(20000);
    r.seals.rise = figure(20, 80);
    r.mixing = figure(0.7, 1);
    r.leak_rate = figure(0, 1e-5);
    r.outgassing = figure(0, 0);
    r.load_lag = figure(0, 240);
    r.load_offset = figure(-2, 2);
    r.outlet_diameter = figure(0.006);
    r.outlet_length = figure(1);
    r.sensor.type = 0;
    r.sensor.tolerance_class = 1;
    r.lines = {line("argon", 5, 1, true), line("hydrogen", 4, 2, false)};
    r.exhaust.kind = check::ExhaustKind::afterburner;
    r.exhaust.output = 4;
    return r;
}

/// A recipe taken all the way, with everything that must outlive it.
struct Keyed {
    check::Model model;
    check::Rig rig;
    timeline::Timeline recipe;
    std::unique_ptr<plant::Plant> plant;
    Files files;
    Diagnostics out;
    legalise::Legalised result;

    const program::Part& part(std::size_t i = 0) const { return result.program.parts.at(i); }
    const program::Segment& segment(std::size_t i, std::size_t p = 0) const { return part(p).segments.at(i); }
    std::size_t segments(std::size_t p = 0) const { return part(p).segments.size(); }
};

/// What elaboration does: the durations that this rig gives.
inline void resolve(timeline::Timeline& recipe, const plant::Plant& plant) {
    plant::State now = plant.start();
    for (std::size_t i = 0; i < recipe.spans.size(); ++i) {
        timeline::Span& span = recipe.spans[i];
        plant::Passage p = plant.pass(now, {recipe.laws_of(i), &recipe.states[span.state]}, span.ending);
        span.duration = p.duration;
        now = std::move(p.exit);
    }
}

inline std::unique_ptr<Keyed> key(timeline::Timeline recipe, const program::Controller& controller,
                                  bool resolved = false) {
    auto k = std::make_unique<Keyed>();
    k->model = model();
    k->rig = rig(recipe.zones);
    k->recipe = std::move(recipe);
    k->files.add("test.ath", "recipe test\n");
    k->plant = std::make_unique<plant::Plant>(k->model, k->rig, k->recipe);
    if (resolved) resolve(k->recipe, *k->plant);
    k->result = legalise::legalise_within({}, k->recipe, *k->plant, controller, k->files, k->out);
    return k;
}

} // namespace athanor::bench
