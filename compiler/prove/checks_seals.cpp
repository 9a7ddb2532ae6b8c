// How hot the end seals get.
#include "compiler/physics/constants.hpp"
#include "compiler/plant/given.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

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
///
/// A coolant ends with the mains, unless it is declared to flow on, and it may fail alone. What the seal comes
/// to then is the same estimate without it; a `rise` that was measured with it says nothing.
namespace athanor::prove {
namespace {

/// W/(m2 K): natural convection and radiation near 100 degC (common practice, no source).
constexpr double loss = 10;

struct Estimate {
    double temperature = 0; // K
    std::string why;
};

/// m from the hot zone to the seal, of a tube that long.
double cold_length(const check::Rig& rig, double tube) {
    return std::max(0.0, (tube - rig.furnace.heated_length.hi()) / 2);
}
double cold_length(const check::Rig& rig) {
    return cold_length(rig, rig.tube.length.lo());
}

double outer_diameter(const check::Tube& tube) {
    return tube.inner_diameter.hi() + 2 * tube.wall.hi();
}

/// K above the room that the wall brings to the seal.
double along_wall(const Scene& s, double above_room, double cold) {
    const check::Tube& tube = s.rig.tube;
    const check::Material* m = tube.material == check::none ? nullptr : &s.model.materials[tube.material];
    if (m == nullptr || !m->conductivity.given) return 0;
    const double inner = tube.inner_diameter.hi(), outer = outer_diameter(tube);
    const double area = physics::pi / 4 * (outer * outer - inner * inner);
    const double decay = std::sqrt(m->conductivity.hi() * area / (loss * physics::pi * outer));
    return above_room / std::cosh(std::min(cold / decay, 500.0));
}

/// K above the room that radiation down an empty bore brings.
double along_bore(const Scene& s, double hot, double room, double cold) {
    const double share = 1 / (1 + 0.75 * cold / s.rig.tube.inner_diameter.hi());
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

bool bare(const Scene& s) {
    return s.rig.ends.kind == check::EndsKind::open_ends;
}

/// Nothing where no more than `known` comes.
std::optional<Estimate> uncooled(const Scene& s, double hot, double known, double tube) {
    const double room = s.rig.ambient_temperature.hi(), cold = cold_length(s.rig, tube);
    const double wall = along_wall(s, std::max(0.0, hot - room), cold);
    const double bore = bare(s) ? along_bore(s, hot, room, cold) : 0;
    if (room + wall + bore <= known) return std::nullopt;
    Estimate e{std::min(room + wall + bore, std::max(room, hot)),
               fmt::format("the hot zone ends {} before the seals; {} come along the wall",
                           to_text(cold, Kind::length, 3), to_text(wall, Kind::difference, 3))};
    if (bare(s))
        e.why += fmt::format(", {} by radiation down a bore without plugs or shields",
                             to_text(bore, Kind::difference, 3));
    return e;
}

Estimate risen(const Scene& s, const check::Figure& rise) {
    const double room = s.rig.ambient_temperature.hi(), declared = plant::given(rise).hi;
    return {room + declared,
            fmt::format("{} above a room of {}{}", to_text(declared, Kind::difference, 3),
                        to_text(room, Kind::temperature, 3), rise.defaulted ? " (default)" : "")};
}

Estimate seal_temperature(const Scene& s, double hot) {
    const check::Seals& seals = s.rig.seals;
    const Estimate e = risen(s, seals.rise);
    if (seals.cooled || (!bare(s) && !seals.rise.defaulted)) return e;
    return uncooled(s, hot, e.temperature, s.rig.tube.length.lo()).value_or(e);
}

/// Of seals whose coolant is gone.
Estimate without_coolant(const Scene& s, double hot, double tube) {
    // Only the default is of seals that nothing cools.
    const double room = s.rig.ambient_temperature.hi();
    const check::Figure& usual = s.rig.seals.usual_rise;
    const Estimate e =
        usual.defaulted ? risen(s, usual) : Estimate{room, "no heat comes to them by wall or bore"};
    return uncooled(s, hot, e.temperature, tube).value_or(e);
}

double hottest(const KeptState& state) {
    double t = 0;
    for (const plant::ZoneState& zone : state.zones) t = std::max(t, zone.control.hi);
    return t;
}

/// Rounded up, so that what is beyond a limit does not read as the limit.
std::string whole_degrees(double kelvin) {
    return to_text(std::ceil(kelvin - physics::zero_celsius) + physics::zero_celsius, Kind::temperature);
}

std::string limit_text(const Scene& s) {
    return to_text(s.rig.seals.limit.lo(), Kind::temperature, 3) +
           (s.rig.seals.limit.defaulted ? " (default)" : "");
}

void as_planned(Scene& s, double hot, std::size_t at) {
    const double limit = s.rig.seals.limit.lo();
    const Estimate seal = seal_temperature(s, hot);
    const bool holds = seal.temperature <= limit;
    s.row("seals_too_hot", "The end seals stay under their rating", holds,
          fmt::format("at most {}, limit {}", to_text(seal.temperature, Kind::temperature, 3), limit_text(s)),
          s.walk.at_s(at), s.source(at));
    if (holds) return;
    // From which span on: the first that is too hot.
    for (std::size_t i = 0; i < s.spans(); ++i)
        if (seal_temperature(s, hottest(s.over(i))).temperature > limit) {
            at = i;
            break;
        }
    Diagnostic& d = s.out.error(Code::seals_too_hot, s.source(at),
                                fmt::format("the end seals may come to {}; they stand {}",
                                            to_text(seal.temperature, Kind::temperature, 3), limit_text(s)));
    d.with_label(fmt::format("hot zone up to {}", to_text(hot, Kind::temperature)));
    d.also(s.rig.seals.source, "the seals").cause(seal.why);
    if (bare(s)) d.remedy("fit plugs or shields and declare them:  ends radiation_shields { count 4 }");
    // Through open ends the radiation comes whatever the seals were measured to rise by.
    d.remedy(fmt::format("cool the seals, `cooled yes`; {}or fit better rubber, `limit 200 degC`",
                         bare(s) ? "" : "or measure how far they rise, `rise 20 K to 60 K`; "));
}

/// m, the least length of tube in steps of 50 mm whose seals stand the loss of their coolant; 0: none that is
/// met with.
double long_enough(const Scene& s, double hot) {
    constexpr double step = 0.05, longest = 3;
    for (double tube = std::ceil(s.rig.tube.length.lo() / step) * step; tube <= longest; tube += step)
        if (without_coolant(s, hot, tube).temperature <= s.rig.seals.limit.lo()) return tube;
    return 0;
}

/// The heat that is stored in furnace and tube goes on to the seals for hours, and what they hold in is there
/// all that time: fuel or poison must not come out and air not in.
void coolant_stops(Scene& s, double hot, std::size_t at, const Estimate& seal) {
    if (s.rig.seals.cooled_without_power) return;
    const double limit = s.rig.seals.limit.lo();
    const bool holds = seal.temperature <= limit;
    const bool flammable = s.uses(check::Hazard::flammable), toxic = s.uses(check::Hazard::toxic);
    Row& row = s.row("seals_too_hot", "Without power and coolant the end seals stay under their rating", holds,
                     fmt::format("at most {}, limit {}", whole_degrees(seal.temperature), limit_text(s)),
                     s.walk.at_s(at), s.source(at));
    row.warned = !holds && !flammable && !toxic;
    if (holds) return;
    const std::string what = fmt::format(
        "when power fails the coolant of the end seals may stop, and they may come to {}; they stand {}",
        whole_degrees(seal.temperature), limit_text(s));
    Diagnostic& d = row.warned ? s.out.warning(Code::seals_too_hot, s.source(at), what)
                               : s.out.error(Code::seals_too_hot, s.source(at), what);
    d.with_label(fmt::format("hot zone up to {}", to_text(hot, Kind::temperature)));
    d.also(s.rig.seals.source, "cooled, and not without power as far as it says").cause(seal.why);
    d.cause(flammable ? "the tube stays hot for hours, and seals that leak let air in to what burns"
            : toxic   ? "the tube stays hot for hours, and seals that leak let what is toxic out"
                      : "the tube stays hot for hours, and seals that leak let air in to the load");
    d.remedy("use a coolant that flows on, as from the mains without a pump, and declare it in `seals`:  "
             "cooled_without_power yes");
    if (const double tube = long_enough(s, hot); tube > 0)
        d.remedy(
            fmt::format("or a longer tube, whose ends stay cold:  length {}", to_text(tube, Kind::length, 4)));
    if (bare(s)) d.remedy("or plugs or shields:  ends radiation_shields { count 4 }");
    if (const double better = 473.15; limit < better && seal.temperature <= better)
        d.remedy("or better rubber:  limit 200 degC");
}

/// The mains are there, the heater holds on, and the coolant is gone: only hardware answers that.
void coolant_lost(Scene& s, double hot, std::size_t at, const Estimate& seal) {
    if (seal.temperature <= s.rig.seals.limit.lo()) return;
    const bool answered = s.rig.seals.coolant_loss_trips;
    Row& row =
        s.row("fault", "coolant of the end seals lost", answered,
              answered ? fmt::format("answered by `coolant_loss trips` at {}", s.place(s.rig.seals.source))
                       : "needs an interlock",
              s.walk.at_s(at), s.rig.seals.source);
    if (answered) return;
    row.needs_interlock = true;
    row.decides = "coolant_loss trips, in seals";
    s.out
        .warning(Code::needs_interlock, s.rig.source,
                 fmt::format("rig `{}` declares no interlock for: coolant of the end seals lost", s.rig.name))
        .with_label(fmt::format("hot zone up to {}", to_text(hot, Kind::temperature)))
        .cause(fmt::format("uncooled the end seals may come to {}; they stand {}",
                           whole_degrees(seal.temperature), limit_text(s)))
        .cause(seal.why)
        .remedy("fit a flow switch that shuts heater and fuel by itself and declare it in `seals`:  "
                "coolant_loss trips");
}

// --- hot gas ---------------------------------------------------------------------------------------

/// J/(mol K) and W/(m K): nitrogen at 400 degC (handbooks; from memory). Air is the same and argon carries a
/// third less; hydrogen and helium arrive cold, carbon dioxide carries two thirds more.
constexpr double heat_capacity = 30, conductivity = 0.045;
/// Laminar, far from the entry, a wall of one temperature (Incropera & DeWitt, ch. 8; from memory).
constexpr double nusselt = 3.66;
/// Bores of length that the slot around one shield counts for. Half-width film on both sides of the slot over
/// four widths of it: Nu k / (2 w) by 4 w by pi d is 2 Nu k pi d, as much as 2 d of the bore (estimated, no
/// source).
constexpr double per_shield = 2;
/// The end flange with its clamp, twice the tube's outer diameter across and one long, both faces and the rim:
/// pi d (2 d) + 2 pi/4 (2 d)^2 = 4 pi d^2 (common practice, no source).
double flange_area(double outer) {
    return 4 * physics::pi * outer * outer;
}
/// s: a flow that is over sooner warms no flange: a kilogram of steel takes a quarter of an hour (estimated).
constexpr double warms = 600;

/// K of the end flange that gas as hot as the tube warms with so many W/K, until it loses as much to the room.
double flange(const Scene& s, double hot, double arrives) {
    const double room = s.rig.ambient_temperature.hi();
    const double leaves = loss * flange_area(outer_diameter(s.rig.tube));
    return (arrives * std::max(hot, room) + leaves * room) / (arrives + leaves);
}

/// K: gas that leaves a hot tube gives heat to the wall on its way, which falls from T_hot to T_seal in a line:
///     T_gas = T_seal + (T_hot - T_seal) (1 - exp(-N)) / N,  N = Nu k pi L / (n cp).
/// A porous plug is as hot as the wall beside it, so from its cold face on. What is left warms the flange until
/// that loses as much to the room: n cp (T_gas - T_seal) = loss A (T_seal - Ta).
double by_gas(const Scene& s, double hot, double flow) {
    const check::Tube& tube = s.rig.tube;
    const double cold = cold_length(s.rig);
    const double bore = tube.inner_diameter.hi(), carries = flow * heat_capacity;
    double share = 1, length = cold;
    if (s.rig.ends.kind == check::EndsKind::insulation_plugs && s.rig.ends.length.given && cold > 0) {
        length = std::max(0.0, cold - s.rig.ends.length.lo());
        share = length / cold;
    } else if (s.rig.ends.kind == check::EndsKind::radiation_shields && s.rig.ends.count.given) {
        length += per_shield * bore * s.rig.ends.count.lo();
    }
    const double units = nusselt * conductivity * physics::pi * length / carries;
    return flange(s, hot, carries * share * (units > 1e-6 ? (1 - std::exp(-units)) / units : 1));
}

/// A measured rise and a coolant have the gas in them.
void hot_gas(Scene& s) {
    if (s.rig.seals.cooled || !s.rig.seals.rise.defaulted) return;
    if (s.rig.exhaust.kind == check::ExhaustKind::shut || !s.rig.tube.inner_diameter.given) return;
    const Scene::Extremes& most = s.extremes();
    const double limit = s.rig.seals.limit.lo();
    // Not even the most gas out of the hottest zone, with all the heat that it leaves with.
    if (flange(s, most.hottest, most.inflow * heat_capacity) < 0.998 * limit) return;
    double worst = 0, flow = 0, hot = 0;
    std::size_t at = 0;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        const KeptState state = s.over(i);
        // What fills an evacuated tube does not leave it.
        if (!(state.inflow.hi > 0) || s.evacuated(state.pressure, s.discrete(i))) continue;
        if (s.timeline.spans[i].duration.hi < warms) continue;
        const double zone = hottest(state);
        if (flange(s, zone, state.inflow.hi * heat_capacity) < 0.999 * limit) continue; // the same
        const double t = by_gas(s, zone, state.inflow.hi);
        if (t > worst) worst = t, at = i, flow = state.inflow.hi, hot = zone;
    }
    if (worst <= limit) return;
    s.row("seals_too_hot", "Hot gas does not carry the seals at the outlet over their rating", false,
          fmt::format("about {}, limit {}", to_text(worst, Kind::temperature, 2), limit_text(s)),
          s.walk.at_s(at), s.source(at))
        .warned = true;
    Diagnostic& d = s.out.warning(
        Code::seals_too_hot, s.source(at),
        fmt::format(
            "{} out of a hot zone of up to {} may warm the seals at the outlet to about {}; they stand {}",
            to_text(flow, Kind::flow, 3), to_text(hot, Kind::temperature, 3),
            to_text(worst, Kind::temperature, 2), limit_text(s)));
    d.with_label(s.moment(s.walk.at_s(at)));
    d.also(s.rig.seals.source, "the seals");
    d.cause("so much gas does not cool down on its way out, and gives its heat to the end flange; an estimate");
    // The greatest that stays below, to a tenth of what flows.
    for (int tenths = 9; tenths > 0; --tenths)
        if (by_gas(s, hot, flow * tenths / 10) <= s.rig.seals.limit.lo()) {
            d.remedy(fmt::format("less gas while it is hot: {}", to_text(flow * tenths / 10, Kind::flow, 2)));
            break;
        }
    d.remedy(
        "or cool the seals, `cooled yes`; or measure how far they rise with this flow, `rise 20 K to 60 K`");
}

} // namespace

void check_seals(Scene& s) {
    if (!s.rig.seals.gas_tight || !s.rig.seals.limit.given || !s.rig.tube.length.given) return;
    const double hot = s.extremes().hottest;
    const std::size_t at = s.extremes().hottest_at;
    as_planned(s, hot, at);
    if (s.rig.seals.cooled) {
        const Estimate seal = without_coolant(s, hot, s.rig.tube.length.lo());
        coolant_stops(s, hot, at, seal);
        coolant_lost(s, hot, at, seal);
    }
    hot_gas(s);
}

} // namespace athanor::prove
