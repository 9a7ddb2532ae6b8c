// Gas that cannot leave.
#include "compiler/plant/atmosphere.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::prove {
namespace {

std::string gauge(double pressure) {
    return to_text(pressure, Kind::pressure, 3) + " gauge";
}

/// The least that seals and tube are rated for, and where that stands.
const check::Figure* rating(const check::Rig& rig) {
    const check::Figure* least = nullptr;
    for (const check::Figure* f : {&rig.seals.rated, &rig.tube.rated})
        if (f->given && (least == nullptr || f->lo() < least->lo())) least = f;
    return least;
}

/// The setting from which a relief still passes no more than this; whole mbar, rounded down.
double highest_relief(double pressure) {
    const double setting = pressure / check::relief_passes;
    return setting > 1000 ? std::floor(setting / 100) * 100 : setting;
}

void closed_tube(Scene& s) {
    if (s.rig.exhaust.kind != check::ExhaustKind::shut || !s.rig.seals.gas_tight) return;
    const check::Figure* rated = rating(s.rig);
    if (rated == nullptr) return;
    const Interval ambient = s.rig.ambient_pressure.value;
    const auto over_room = [&](const plant::State& state, const timeline::State& discrete) {
        return s.plant.signal({timeline::SignalKind::overpressure, timeline::none}, state, discrete).hi;
    };
    double worst = 0;
    std::size_t at = 0;
    for (std::size_t i = 0; i < s.spans(); ++i)
        if (const double above = over_room(s.over(i), s.discrete(i)); above > worst) worst = above, at = i;
    const bool bursts = worst > rated->lo();

    std::optional<Scene::Found> fed;
    if (!s.rig.relief.given)
        fed = s.first([&](const plant::State& state, const timeline::State& discrete) {
            return !discrete.pump && state.inflow.hi > 0 && state.pressure.hi > ambient.hi + plant::valve_lift;
        });
    s.row("closed_tube_heated", "A closed tube stays under its rating", !bursts && !fed,
          fmt::format("at most {}, rated {}", gauge(worst), gauge(rated->lo())), s.walk.at_s(at), s.source(at));
    if (bursts) {
        const auto found = s.first([&](const plant::State& state, const timeline::State& discrete) {
            return over_room(state, discrete) > rated->lo();
        });
        Diagnostic& d = s.out.error(Code::closed_tube_heated, s.source(found ? found->span : at),
                                    fmt::format("the closed tube may come to {}; it is rated for {}",
                                                gauge(worst), gauge(rated->lo())));
        if (found) d.with_label("beyond it " + s.moment(found->at_s));
        d.also(rated->source, "the rating").also(s.rig.exhaust.source, "the exhaust is shut");
        if (s.rig.relief.given)
            d.also(s.rig.relief.source, "the relief passes 1.1 times its setting")
                .remedy(fmt::format("set the relief to {} gauge or less",
                                    to_text(highest_relief(rated->lo()), Kind::pressure, 6)));
        else
            d.cause("gas that cannot leave takes the pressure of its temperature")
                .remedy("fit a relief device and declare it:  " + relief_to_fit(s.rig))
                .remedy("or leave the tube open to its exhaust:  exhaust open");
    }
    if (fed && !bursts)
        s.out
            .error(Code::closed_tube_heated, s.source(fed->span),
                   fmt::format("gas flows into a tube with no way out: up to {} while the exhaust is shut",
                               gauge(over_room(fed->state, s.discrete(fed->span)))))
            .with_label(s.moment(fed->at_s))
            .also(s.rig.exhaust.source, "the exhaust is shut")
            .cause("the tube takes the pressure of its supply; one regulator that creeps breaks it")
            .remedy("open the exhaust, or fit a relief device and declare it");
}

void relief(Scene& s) {
    if (!s.rig.seals.gas_tight) return;
    std::optional<std::size_t> at;
    for (std::size_t i = 0; i < s.spans() && !at; ++i) {
        bool heated = false;
        for (std::size_t z = 0; z < s.timeline.zones.size(); ++z)
            for (const timeline::Law& law : {laws_of(s.timeline, i, z).least, laws_of(s.timeline, i, z).most})
                heated = heated || law.to > law.from;
        if (heated || s.over(i).inflow.hi > 0) at = i;
    }
    if (!at) return;
    const bool holds = s.rig.relief.given;
    s.row("no_relief", "A gas-tight tube has a relief device", holds,
          holds ? "relief at " + gauge(s.rig.relief.hi()) : "none is declared", s.walk.at_s(*at), s.source(*at))
        .warned = !holds;
    if (holds) return;
    Diagnostic& d =
        s.out.warning(Code::no_relief, s.source(*at),
                      fmt::format("rig `{}` is gas-tight and declares no relief device", s.rig.name));
    d.also(s.rig.seals.source, "gas-tight")
        .cause("if the outlet is blocked, heating or feeding drives the pressure up to the supply and beyond");
    if (const std::string fit = relief_to_fit(s.rig); !fit.empty())
        d.remedy("fit one below the rating and declare it:  " + fit);
}

} // namespace

std::string relief_to_fit(const check::Rig& rig) {
    const check::Figure* rated = rating(rig);
    return rated == nullptr
               ? std::string()
               : fmt::format("relief {} gauge", to_text(highest_relief(rated->lo()), Kind::pressure, 6));
}

void check_overpressure(Scene& scene) {
    closed_tube(scene);
    relief(scene);
}

} // namespace athanor::prove
