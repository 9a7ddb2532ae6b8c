// How hot the end seals get.
#include "compiler/physics/constants.hpp"
#include "compiler/plant/given.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

/// Behind plugs or shields, or with coolant, a seal lies `seal_rise` above the room. Where that figure is a
/// default and nothing cools, the tube's wall is looked at as well: a fin from the hot zone to the seal, which
/// loses heat to the room by `loss`,
///     T_seal - Ta = (T_hot - Ta) / cosh(L / l),  l = sqrt(k A / (h P))
/// (fin with an insulated tip: Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, ch. 3; from memory),
/// with the greatest declared conductivity. Without plugs or shields the seal also sees the hot zone down the
/// bore: a share 1 / (1 + 3 L / (4 d)) of sigma T^4 arrives, as through a tube whose walls reflect or
/// re-radiate everything (Clausing's form for a long tube, from memory; exact forms lie within 15 %), less what
/// the seal itself radiates back, and leaves over the flange by `loss`. An estimate on the careful side, not a
/// bound: what insulation the furnace's ends have is not declared.
namespace athanor::prove {
namespace {

/// W/(m2 K): natural convection and radiation near 100 degC (common practice, no source).
constexpr double loss = 10;

struct Estimate {
    double temperature = 0; // K
    std::string why;
};

double cold_length(const check::Rig& rig) {
    return std::max(0.0, (rig.tube.length.lo() - rig.furnace.heated_length.hi()) / 2);
}

/// K above the room that the wall brings to the seal.
double along_wall(const Scene& s, double above_room) {
    const check::Tube& tube = s.rig.tube;
    const check::Material* m = tube.material == check::none ? nullptr : &s.model.materials[tube.material];
    if (m == nullptr || !m->conductivity.given) return 0;
    const double inner = tube.inner_diameter.hi(), outer = inner + 2 * tube.wall.hi();
    const double area = physics::pi / 4 * (outer * outer - inner * inner);
    const double decay = std::sqrt(m->conductivity.hi() * area / (loss * physics::pi * outer));
    return above_room / std::cosh(std::min(cold_length(s.rig) / decay, 500.0));
}

/// K above the room that radiation down an empty bore brings.
double along_bore(const Scene& s, double hot, double room) {
    const double share = 1 / (1 + 0.75 * cold_length(s.rig) / s.rig.tube.inner_diameter.hi());
    const auto gains = [&](double seal) {
        return share * physics::stefan_boltzmann * (std::pow(hot, 4) - std::pow(seal, 4)) >
               loss * (seal - room);
    };
    double low = room, high = std::max(room, hot);
    while (high - low > 0.1) {
        const double middle = 0.5 * (low + high);
        (gains(middle) ? low : high) = middle;
    }
    return high - room;
}

Estimate seal_temperature(const Scene& s, double hot) {
    const double room = s.rig.ambient_temperature.hi();
    const check::Seals& seals = s.rig.seals;
    const double declared = plant::given(seals.rise).hi;
    Estimate e{room + declared,
               fmt::format("{} above a room of {}{}", to_text(declared, Kind::difference, 3),
                           to_text(room, Kind::temperature, 3), seals.rise.defaulted ? " (default)" : "")};
    if (seals.cooled) return e;
    const bool open = s.rig.ends.kind == check::EndsKind::open_ends;
    if (!open && !seals.rise.defaulted) return e;
    const double wall = along_wall(s, std::max(0.0, hot - room));
    const double bore = open ? along_bore(s, hot, room) : 0;
    if (room + wall + bore <= e.temperature) return e;
    e.temperature = std::min(room + wall + bore, std::max(room, hot));
    e.why = fmt::format("the hot zone ends {} before the seals; {} come along the wall",
                        to_text(cold_length(s.rig), Kind::length, 3), to_text(wall, Kind::difference, 3));
    if (open)
        e.why += fmt::format(", {} by radiation down a bore without plugs or shields",
                             to_text(bore, Kind::difference, 3));
    return e;
}

} // namespace

void check_seals(Scene& s) {
    if (!s.rig.seals.gas_tight || !s.rig.seals.limit.given || !s.rig.tube.length.given) return;
    double hot = 0;
    std::size_t at = 0;
    const auto hottest = [&](std::size_t span) {
        double t = 0;
        for (const plant::ZoneState& zone : s.over(span).zones) t = std::max(t, zone.control.hi);
        return t;
    };
    for (std::size_t i = 0; i < s.spans(); ++i)
        if (const double t = hottest(i); t > hot) hot = t, at = i;
    const double limit = s.rig.seals.limit.lo();
    const Estimate seal = seal_temperature(s, hot);
    const bool holds = seal.temperature <= limit;
    s.row("seals_too_hot", "The end seals stay under their rating", holds,
          fmt::format("at most {}, limit {}{}", to_text(seal.temperature, Kind::temperature, 3),
                      to_text(limit, Kind::temperature, 3), s.rig.seals.limit.defaulted ? " (default)" : ""),
          s.walk.at_s(at), s.source(at));
    if (holds) return;
    // From which span on: the first that is too hot.
    for (std::size_t i = 0; i < s.spans(); ++i)
        if (seal_temperature(s, hottest(i)).temperature > limit) {
            at = i;
            break;
        }
    Diagnostic& d = s.out.error(Code::seals_too_hot, s.source(at),
                                fmt::format("the end seals may come to {}; they stand {}{}",
                                            to_text(seal.temperature, Kind::temperature, 3),
                                            to_text(limit, Kind::temperature, 3),
                                            s.rig.seals.limit.defaulted ? " (default)" : ""));
    d.with_label(fmt::format("hot zone up to {}", to_text(hot, Kind::temperature)));
    d.also(s.rig.seals.source, "the seals").cause(seal.why);
    if (s.rig.ends.kind == check::EndsKind::open_ends)
        d.remedy("fit plugs or shields and declare them:  ends radiation_shields { count 4 }");
    // Through open ends the radiation comes whatever the seals were measured to rise by.
    d.remedy(fmt::format("cool the seals, `cooled yes`; {}or fit better rubber, `limit 200 degC`",
                         s.rig.ends.kind == check::EndsKind::open_ends
                             ? ""
                             : "or measure how far they rise, `rise 20 K to 60 K`; "));
}

} // namespace athanor::prove
