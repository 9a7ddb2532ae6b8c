// Gas against tube and sensor, by what their declarations say.
#include "compiler/physics/constants.hpp"
#include "compiler/physics/substance.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::prove {
namespace {

/// The wall and the control sensor, which stands at it: every zone.
Interval wall(const Scene& s, const plant::State& state) {
    Interval all = state.zones[0].control;
    for (std::size_t z = 1; z < s.timeline.zones.size() && z < plant::max_zones; ++z)
        all = hull(all, state.zones[z].control);
    return all;
}

struct Object {
    std::string what; // "a tube of fused quartz"
    athanor::Span source;
    const std::vector<check::Exposure>& exposures;
};

void judge(Scene& s, const Object& object) {
    for (const check::Exposure& e : object.exposures) {
        if (e.gas == check::none) continue; // no gas here has that formula
        const std::optional<timeline::Index> species = s.species(s.model.gases[e.gas].name);
        if (!species) continue;
        const timeline::Signal share{timeline::SignalKind::fraction, *species};
        const auto hot = [&](const plant::State& state) {
            const Interval t = wall(s, state);
            return t.hi > e.temperature.lo && t.lo < e.temperature.hi;
        };
        const auto partial = [&](const plant::State& state, const timeline::State& discrete) {
            const Interval x = s.plant.signal(share, state, discrete);
            return Interval{x.lo * state.pressure.lo, x.hi * state.pressure.hi} *
                   Interval{1 / physics::atmosphere};
        };
        const auto harms = [&](const plant::State& state, const timeline::State& discrete) {
            if (!hot(state)) return false;
            return e.scarce ? partial(state, discrete).lo < e.share : partial(state, discrete).hi > e.share;
        };
        // It applies where the gas meets the object at all, or where the object is as hot as that.
        const auto meets = [&](const plant::State& state, const timeline::State& discrete) {
            return e.scarce ? hot(state) : partial(state, discrete).hi > e.share;
        };
        const auto applied = s.first(meets);
        if (!applied) continue;
        const std::string& gas = s.model.gases[e.gas].name;
        const auto found = s.first(harms);
        std::string margin;
        if (!e.scarce && e.temperature.lo > 0 && !found) {
            double hottest = 0;
            for (std::size_t i = 0; i < s.spans(); ++i)
                if (meets(s.over(i), s.discrete(i))) hottest = std::max(hottest, wall(s, s.over(i)).hi);
            margin = fmt::format("{} at {} at most, limit {}", gas,
                                 to_text(std::min(hottest, e.temperature.lo), Kind::temperature),
                                 to_text(e.temperature.lo, Kind::temperature));
        }
        const Scene::Found& at = found ? *found : *applied;
        Row& row = s.row("material_attacked",
                         fmt::format("{} {} {}", gas, e.scarce ? "is enough for" : "spares", object.what),
                         !found, std::move(margin), at.at_s, s.source(at.span));
        row.warned = found && !e.refused;
        row.conceded = found && e.refused && s.model.conceded(row.rule);
        if (!found || row.conceded) continue;
        const std::string hottest = to_text(wall(s, found->state), Kind::temperature);
        const std::string amount = to_text(e.scarce ? partial(found->state, s.discrete(found->span)).lo
                                                    : partial(found->state, s.discrete(found->span)).hi,
                                           Kind::fraction, 3);
        const std::string message =
            e.scarce    ? fmt::format("{} may have as little as {} {} at {}; it needs {}", object.what, amount,
                                      gas, hottest, to_text(e.share, Kind::fraction))
            : e.refused ? fmt::format("{} attacks {}: up to {} at {}", gas, object.what, amount, hottest)
                        : fmt::format("{} ages {}: up to {} at {}", gas, object.what, amount, hottest);
        Diagnostic& d = e.refused ? s.out.error(Code::material_attacked, s.source(found->span), message)
                                  : s.out.warning(Code::material_attacked, s.source(found->span), message);
        d.with_label(s.moment(found->at_s));
        d.also(object.source, object.what);
        d.cause(fmt::format("declared at {}{}", s.place(e.source),
                            e.reference.empty() ? "" : " (" + e.reference + ")"));
        if (e.temperature.lo > 0 && !e.scarce)
            d.remedy(fmt::format("stay below {} while {} is in the tube, overshoot and tolerance included",
                                 to_text(e.temperature.lo, Kind::temperature), gas));
        d.remedy(e.scarce || !e.refused ? "another material, or look at it before every run"
                                        : "another material, or keep it out of the gas");
    }
}

/// K from which a gas that eats materials is asked for (common practice, no source).
constexpr double unknown_above = 573.15;

/// Gases of which what they meet has to be known: halogens and their compounds, oxidisers but oxygen itself,
/// and of a poison that tells no formula nobody knows.
bool eats(const check::Gas& gas) {
    if (gas.formula.empty()) return gas.hazards.oxidiser || (gas.hazards.toxic && !gas.hazards.flammable);
    if (gas.hazards.oxidiser) return gas.formula != "O2";
    const physics::Composition parts = physics::composition(gas.formula);
    return std::any_of(parts.begin(), parts.end(), [](const auto& part) {
        return part.first == "F" || part.first == "Cl" || part.first == "Br" || part.first == "I";
    });
}

/// Silence of the declarations is no permission.
void judge_unknown(Scene& s, const Object& object) {
    for (timeline::Index i = 0; i < s.timeline.species.size(); ++i) {
        const check::Index index = s.model.gas_named(s.timeline.species[i]);
        if (index == check::none || !eats(s.model.gases[index])) continue;
        if (std::any_of(object.exposures.begin(), object.exposures.end(),
                        [&](const check::Exposure& e) { return e.gas == index; }))
            continue;
        const std::string& gas = s.model.gases[index].name;
        const auto found = s.first([&](const plant::State& state, const timeline::State& discrete) {
            const Interval x = s.plant.signal({timeline::SignalKind::fraction, i}, state, discrete);
            return wall(s, state).hi > unknown_above &&
                   x.hi * state.pressure.hi / physics::atmosphere > check::Exposure{}.share;
        });
        if (!found) continue;
        const std::string limit = to_text(unknown_above, Kind::temperature);
        s.row("material_attacked", fmt::format("{} spares {}", gas, object.what), false,
              "nothing is known of it", found->at_s, s.source(found->span))
            .warned = true;
        s.out
            .warning(Code::material_attacked, s.source(found->span),
                     fmt::format("nothing is known of {} against {} above {}", gas, object.what, limit))
            .with_label(fmt::format("at {} of the run, at {}", to_clock(found->at_s),
                                    to_text(wall(s, found->state), Kind::temperature)))
            .also(object.source, object.what)
            .cause(
                "its declaration has no `attacked_by` and no `worn_by` for it; gases of its kind attack most "
                "materials when they are hot")
            .remedy("look it up, and declare the material with what you find, for example  worn_by " + gas +
                    " above 800 degC");
    }
}

} // namespace

void check_materials(Scene& s) {
    const auto both = [&](const Object& object) {
        judge(s, object);
        judge_unknown(s, object);
    };
    if (s.rig.tube.material != check::none) {
        const check::Material& m = s.model.materials[s.rig.tube.material];
        both({fmt::format("a tube of {}", m.name), s.rig.tube.source, m.exposures});
    }
    if (s.rig.sensor.in_tube && s.rig.sensor.type != check::none) {
        const check::Thermocouple& t = s.model.thermocouples[s.rig.sensor.type];
        both({fmt::format("a bare thermocouple {}", t.name), s.rig.sensor.source, t.exposures});
    }
}

} // namespace athanor::prove
