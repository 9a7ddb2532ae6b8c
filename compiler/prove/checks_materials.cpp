// Gas against tube and sensor, by what their declarations say.
#include "compiler/physics/constants.hpp"
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
        d.with_label(fmt::format("at {} of the run", to_clock(found->at_s)));
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

} // namespace

void check_materials(Scene& s) {
    if (s.rig.tube.material != check::none) {
        const check::Material& m = s.model.materials[s.rig.tube.material];
        judge(s, {fmt::format("a tube of {}", m.name), s.rig.tube.source, m.exposures});
    }
    if (s.rig.sensor.in_tube && s.rig.sensor.type != check::none) {
        const check::Thermocouple& t = s.model.thermocouples[s.rig.sensor.type];
        judge(s, {fmt::format("a bare thermocouple {}", t.name), s.rig.sensor.source, t.exposures});
    }
}

} // namespace athanor::prove
