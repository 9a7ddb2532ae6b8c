// What a run takes from a cylinder, against what the cylinder holds.
#include "compiler/physics/constants.hpp"
#include "compiler/physics/cylinder.hpp"
#include "compiler/plant/given.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::prove {
namespace {

constexpr double reserve_volumes = 10; // tube volumes kept for clearing the tube (common practice, no source)
constexpr double reserve_share = 1.2;  // of everything (common practice, no source)

/// Litres at 0 degC and 1 atm, as people count gas.
std::string amount(double mol) {
    const double litres = mol * physics::gas_constant * physics::zero_celsius / physics::atmosphere * 1000;
    return litres < 1000 ? fmt::format("{} L", shortest(std::round(litres * 10) / 10))
                         : fmt::format("{} m3", shortest(std::round(litres / 10) / 100));
}

/// m3/mol: no gas that is sold as a gas has larger molecules than butane, 1.16e-4 (van der Waals' b, from
/// memory).
constexpr double largest_molecules = 1.2e-4;

/// No gas fills its cylinder less: by van der Waals p <= RT/(V - b), so Z <= 1 + b p/(RT), whatever attraction
/// there is.
double greatest_compressibility(double temperature, double pressure) {
    return 1 + largest_molecules * pressure / (physics::gas_constant * temperature);
}

struct Content {
    double mol = 0; // at least
    bool liquefies = false;
    std::string bounded; // gases that no equation is known for here: "krypton, xenon"
};

/// mol that flow out before the pressure has fallen to the supply's, at the hottest room, where the declared
/// pressure holds least.
Content usable(const Scene& s, const check::Line& line) {
    const check::Gas& gas = s.model.gases[line.gas];
    const double hottest = s.rig.ambient_temperature.hi(), coldest = s.rig.ambient_temperature.lo();
    const double pressure = line.cylinder_pressure.lo();
    Content content;
    // Amagat: the volumes of the parts add, so the factors do, by their shares.
    double z = 0, total = 0;
    for (const auto& [part, share] : gas.parts) {
        if (share.hi < 1e-3) continue; // traces follow the rest
        const physics::Substance* known = physics::substance(s.model.gases[part].formula);
        const physics::Range range =
            known != nullptr ? physics::compressibility_range(*known) : physics::Range{};
        const bool fits = known != nullptr && coldest >= range.coldest && hottest <= range.hottest &&
                          pressure <= range.pressure;
        if (!fits) content.bounded += (content.bounded.empty() ? "" : ", ") + s.model.gases[part].name;
        if (known != nullptr && coldest < range.coldest && share.middle() > 0.5) content.liquefies = true;
        z += share.middle() * (fits ? physics::compressibility(*known, hottest, pressure)
                                    : greatest_compressibility(hottest, pressure));
        total += share.middle();
    }
    const double volume = line.cylinder_volume.lo();
    const double left = s.rig.ambient_pressure.hi() + (line.supply.given ? line.supply.hi() : 0);
    content.mol =
        std::max(0.0, physics::content(volume, pressure, hottest,
                                       total > 0 ? z / total : greatest_compressibility(hottest, pressure)) -
                          physics::content(volume, left, coldest, 1));
    return content;
}

/// mol through a line over the run, its meter's error included. How long a person takes is not counted.
double needed(const Scene& s, timeline::Index line, bool& waits) {
    double total = 0;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        const double flow = s.flow(line, s.over(i), s.discrete(i)).hi;
        if (!(flow > 0)) continue;
        if (s.timeline.spans[i].ending.kind == timeline::EndingKind::person) {
            waits = true;
            total += flow * s.timeline.spans[i].duration.lo;
        } else {
            total += flow * s.timeline.spans[i].duration.hi;
        }
    }
    return total;
}

/// mol that clear the tube after a failure: the larger of ten tube volumes and an estimate of the slow bound,
/// in which free gas and pore gas follow one after the other with their greatest time constants.
double clearing(const Scene& s, double flow) {
    const double tube = s.plant.tube_volume() * s.rig.ambient_pressure.hi() /
                        (physics::gas_constant * s.rig.ambient_temperature.lo());
    double richest = flammable_rest;
    for (std::size_t i = 0; i < s.spans(); ++i)
        richest = std::max(
            richest,
            s.plant.signal({timeline::SignalKind::flammability, timeline::none}, s.over(i), s.discrete(i)).hi);
    const double fall = std::log(richest / flammable_rest);
    const double mixing = std::max(plant::given(s.rig.mixing).lo, 1e-3);
    const double pores = s.rig.ends.kind == check::EndsKind::insulation_plugs
                             ? plant::given(s.rig.ends.air_release).hi * flow
                             : 0;
    return std::max(reserve_volumes * tube, (tube / mixing + pores) * fall);
}

double greatest_flow(const Scene& s, timeline::Index line) {
    double flow = 0;
    for (std::size_t i = 0; i < s.spans(); ++i)
        flow = std::max(flow, s.flow(line, s.over(i), s.discrete(i)).hi);
    return flow;
}

} // namespace

void check_cylinders(Scene& s) {
    const bool flammable_run = s.uses(check::Hazard::flammable);
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l) {
        const check::Line& line = s.rig.lines[l];
        if (!s.timeline.lines[l].used || line.gas == check::none || !line.cylinder_volume.given ||
            !line.cylinder_pressure.given)
            continue;
        const bool protects = flammable_run && s.inert_without_fuel(l);
        const Content holds = usable(s, line);
        // A liquid's pressure does not tell how much there is: it is weighed. Where safety hangs on it no more
        // than its vapour is sure.
        if (holds.liquefies && !protects) continue;
        bool waits = false;
        const double run = needed(s, l, waits);
        const double reserve = protects ? clearing(s, greatest_flow(s, l)) : 0;
        const double need = protects ? (run + reserve) * reserve_share : run;
        const athanor::Span at = s.opened_at(l);
        const bool enough = need <= holds.mol;
        std::string counted = waits ? ", waits for a person not counted" : "";
        s.row("cylinder_too_small", fmt::format("The cylinder of {} holds the run", line.name), enough,
              fmt::format("needs {}{}, holds {}{}", amount(need), protects ? " with its reserve" : "",
                          amount(holds.mol), counted),
              0, at);
        if (enough) continue;
        const std::string message =
            fmt::format("the run needs {} of `{}`{}; its cylinder gives {}", amount(need), line.name,
                        protects ? " with the reserve that a failure takes" : "", amount(holds.mol));
        Diagnostic& d = s.out.error(Code::cylinder_too_small, at, message);
        d.also(line.cylinder_volume.source, "the cylinder, as full as it is declared")
            .cause(fmt::format("volumes at 0 °C and 1 atm; the meter's error is counted{}", counted));
        if (protects)
            d.cause(fmt::format("the run {}, to clear the tube after a failure {}, and 20 % of both",
                                amount(run), amount(reserve)));
        if (holds.liquefies)
            d.cause(fmt::format("{} liquefies in its cylinder, whose pressure then says nothing of the liquid: "
                                "only the vapour is sure",
                                s.gas(l)->name));
        else if (!holds.bounded.empty())
            d.cause(fmt::format("how much {} goes into a cylinder is not known here: the least that any gas "
                                "may is counted",
                                holds.bounded));
        d.remedy("a fuller or a second cylinder, declared in the rig, or a smaller flow");
    }
}

} // namespace athanor::prove
