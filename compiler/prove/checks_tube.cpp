// The tube itself: how hot it may get, evacuated or not, and whether it holds its shape while the room presses.
#include "compiler/physics/heat.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <span>
#include <utility>

namespace athanor::prove {
namespace {

/// K. A limit of a tube stands for the set-point of a well tuned furnace. What the furnace and its sensor add
/// may bring the hot zone so far beyond it: common practice, no source. The widest standard class of any
/// thermocouple here adds 9 K at a tube's limit, overshoot and control by their defaults 12 K; twice that
/// passes, a controller that nobody has tuned does not.
constexpr double may_stray = 50;

/// A tube collapses at this many times what presses on it, at least: as ASME BPVC VIII-1, UG-28, asks of
/// cylinders under outer pressure (from memory). It covers what is not round (1 % of the diameter) and that
/// metals grow less stiff with heat: at 1000 degC about 60 % of the stiffness that is declared are left.
constexpr double against_collapse = 3;

using Zones = std::span<const plant::ZoneState>;

double warmest(Zones zones) {
    double most = 0;
    for (const plant::ZoneState& zone : zones) most = std::max(most, zone.control.hi);
    return most;
}

double highest_set(Zones zones) {
    double most = 0;
    for (const plant::ZoneState& zone : zones) most = std::max(most, zone.setpoints.hi);
    return most;
}

std::string degrees(double kelvin) {
    return to_text(kelvin, Kind::temperature, 4);
}

const check::Material* material(const Scene& s) {
    return s.rig.tube.material == check::none ? nullptr : &s.model.materials[s.rig.tube.material];
}

/// What would have to be better where overshoot and errors are too much.
void advise_strays(Scene& s, Diagnostic& d, double excess) {
    const check::Figure& overshoot = s.rig.furnace.overshoot;
    d.cause(
        fmt::format("the set-point is within the limit; overshoot, up to {}, control and sensor come on top",
                    to_text(overshoot.hi(), Kind::difference)));
    d.cause(fmt::format("{} beyond the limit of a set-point are allowed for them (common practice, no source)",
                        to_text(may_stray, Kind::difference)));
    // Whole kelvins, rounded to the safe side.
    if (const double left = std::floor(overshoot.hi() - excess); left > 0)
        d.remedy(fmt::format("tune the controller, measure it, and declare it:  overshoot 0 K to {} K", left));
    d.remedy(fmt::format("or set the furnace {} lower", to_text(std::ceil(excess), Kind::difference)));
}

/// Anywhere in the run, whatever is in the tube. `told`: of the evacuated tube, which asks for more.
void strays_beyond(Scene& s, bool told) {
    const check::Material* tube = material(s);
    if (tube == nullptr || !tube->limit.given || s.out.has_error(Code::beyond_tube)) return;
    const double limit = tube->limit.lo();
    const double hottest = s.extremes().hottest;
    const std::size_t at = s.extremes().hottest_at;
    if (!(hottest > limit)) return;
    const bool holds = hottest <= limit + may_stray;
    s.row(
        "beyond_tube", "Overshoot and errors stay near the limit of the tube", holds,
        fmt::format("the hot zone is at most at {}, limit {} of a set-point", degrees(hottest), degrees(limit)),
        s.walk.at_s(at), s.source(at));
    if (holds || told) return;
    Diagnostic& d =
        s.out.error(Code::beyond_tube, s.source(at),
                    fmt::format("the hot zone may come to {}; a tube of {} stands {}", degrees(hottest),
                                tube->title.empty() ? tube->name : tube->title, degrees(limit)));
    d.with_label(s.moment(s.walk.at_s(at)));
    d.also(s.rig.tube.source, "the tube");
    advise_strays(s, d, hottest - limit - may_stray);
}

/// The tube under external pressure, set-point and temperature of the same piece of a span as its pressure. The
/// set-point is judged, as every limit of a tube is, and a tube that may be hotter than a set-point brings
/// about, as one that is still hot from before; elaboration reports a set-point where it is written.
class UnderVacuum {
public:
    UnderVacuum(Scene& s, const check::Material& tube)
        : s_(s), tube_(tube), limit_(tube.limit_vacuum.lo()),
          strays_(s.plant.above_setpoint(tube.limit_vacuum.lo())) {}

    /// True where overshoot and errors were told to be too much.
    bool judge() {
        if (!look()) return false;
        const auto set =
            where([&](const plant::State& state) { return highest_set(state.zones) > set_limit(); });
        const auto hot =
            where([&](const plant::State& state) { return warmest(state.zones) - strays_ > set_limit(); });
        const auto far =
            where([&](const plant::State& state) { return warmest(state.zones) > limit_ + may_stray; });
        std::string margin = fmt::format("set to at most {}, limit {} of a set-point; with overshoot and "
                                         "errors the hot zone is at most at {}",
                                         to_text(set ? highest_set(set->state.zones) : set_, Kind::temperature),
                                         to_text(limit_, Kind::temperature), degrees(std::max(reached_, set_)));
        if (!set && hot)
            margin = fmt::format("at most {}, limit {}", to_text(warmest(hot->state.zones), Kind::temperature),
                                 to_text(limit_, Kind::temperature));
        const std::optional<Scene::Found>& found = set ? set : hot ? hot : far;
        const std::size_t at = found ? found->span : at_;
        s_.row("tube_vacuum_limit", "The evacuated tube is not too hot", !found, std::move(margin),
               found ? found->at_s : s_.walk.at_s(at), s_.source(at));
        if (!found || s_.out.has_error(Code::tube_vacuum_limit)) return false;
        if (set)
            set_too_hot(*set);
        else if (hot)
            still_hot(*hot);
        else
            strays(*far);
        return !set && !hot;
    }

private:
    /// The controller's grid may lie half a step beside what was written, and elaboration has judged that.
    double set_limit() const { return limit_ + 1; }

    /// Is the tube evacuated at all, and how hot then?
    bool look() {
        if (!s_.extremes().evacuated) return false;
        for (std::size_t i = 0; i < s_.spans(); ++i) {
            const KeptState state = s_.over(i);
            if (!s_.evacuated(state.pressure, s_.discrete(i))) continue;
            hottest_ = std::max(hottest_, warmest(state.zones));
            for (const plant::ZoneState& zone : state.zones)
                reached_ = std::max({reached_, zone.control.hi, zone.load.hi});
            // Of a span whose set-point comes down from above the limit, what is beyond it is found piece by
            // piece.
            const double highest = highest_set(state.zones), set = highest > set_limit() ? limit_ : highest;
            if (highest > set_limit()) beyond_ = true;
            if (set > set_) set_ = set, at_ = i;
            beyond_ = beyond_ || warmest(state.zones) - strays_ > set_limit() ||
                      warmest(state.zones) > limit_ + may_stray;
        }
        return set_ > 0;
    }
    template<class Hot>
    std::optional<Scene::Found> where(const Hot& too_hot) const {
        if (!beyond_) return std::nullopt;
        return s_.first([&](const plant::State& state, const timeline::State& discrete) {
            return s_.evacuated(state.pressure, discrete) && too_hot(state);
        });
    }

    Diagnostic& tell(const Scene::Found& found, std::string message) {
        return s_.out.error(Code::tube_vacuum_limit, s_.source(found.span), std::move(message))
            .with_label(s_.moment(found.at_s))
            .also(s_.rig.tube.source, "the tube");
    }

    void set_too_hot(const Scene::Found& found) {
        const std::string limit = to_text(limit_, Kind::temperature);
        tell(found, fmt::format("{} under vacuum is above what an evacuated tube of {} stands, {}",
                                to_text(highest_set(found.state.zones), Kind::temperature), tube_.name, limit))
            .cause(s_.discrete(found.span).pump ? "the pump runs"
                                                : "the pump is off, and the pressure is still that of a vacuum")
            .remedy(fmt::format("stay at {} or below while the tube is evacuated, or fill it first", limit));
    }
    void still_hot(const Scene::Found& found) {
        tell(found, fmt::format("the tube may still be at {} while it is evacuated; one of {} stands {} then",
                                to_text(warmest(found.state.zones), Kind::temperature), tube_.name,
                                to_text(limit_, Kind::temperature)))
            .cause("the set-point is lower, and the tube is hot from before")
            .remedy(fmt::format(
                "come down by `cool to {}` or lower before it is pumped, which waits for the furnace",
                to_text(limit_, Kind::temperature)));
    }
    void strays(const Scene::Found& found) {
        advise_strays(s_,
                      tell(found, fmt::format("the hot zone may come to {} while it is evacuated; a tube of {} "
                                              "stands {} then",
                                              degrees(hottest_), tube_.name, degrees(limit_))),
                      hottest_ - limit_ - may_stray);
    }

    Scene& s_;
    const check::Material& tube_;
    const double limit_, strays_;      // K
    double set_ = 0;                   // of the set-points
    double hottest_ = 0, reached_ = 0; // of the hot zone, with what furnace and sensor add; of the load as well
    std::size_t at_ = 0;
    bool beyond_ = false; // somewhere, as far as whole spans say
};

/// Cold, too: a tube buckles by its shape and its stiffness.
void buckles(Scene& s) {
    const check::Tube& tube = s.rig.tube;
    const check::Material* m = material(s);
    if (m == nullptr || !tube.wall.given || !tube.inner_diameter.given || !tube.length.given) return;
    if (!s.extremes().evacuated) return;
    double presses = 0;
    std::size_t at = 0;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        const KeptState state = s.over(i);
        if (!s.evacuated(state.pressure, s.discrete(i))) continue;
        const double difference = s.rig.ambient_pressure.hi() - std::max(0.0, state.pressure.lo);
        // Where it begins, not where it is a pascal more.
        if (difference > 1.01 * presses) at = i;
        presses = std::max(presses, difference);
    }
    if (!(presses > 0)) return;
    if (!m->elastic_modulus.given || !m->poisson.given) {
        s.out
            .warning(
                Code::tube_vacuum_limit, s.source(at),
                fmt::format("whether the evacuated tube buckles is not judged: `{}` does not say how stiff "
                            "it is",
                            m->name))
            .also(tube.source, "the tube")
            .remedy("declare what its data sheet says, for steel:  elastic_modulus 200 GPa ; poisson 0.3");
        return;
    }
    const double outer = tube.inner_diameter.hi() + 2 * tube.wall.hi();
    const auto collapses = [&](double wall) {
        return physics::collapse_pressure(m->elastic_modulus.lo(), m->poisson.lo(),
                                          std::max(outer, tube.inner_diameter.hi() + 2 * wall), wall,
                                          tube.length.hi());
    };
    const double stands = collapses(tube.wall.lo()), needed = against_collapse * presses;
    const bool holds = stands >= needed;
    s.row("tube_vacuum_limit", "The evacuated tube does not buckle", holds,
          fmt::format("collapses at {}, needed {}, {} times what presses on it",
                      to_text(stands, Kind::pressure, 3), to_text(needed, Kind::pressure, 3), against_collapse),
          s.walk.at_s(at), s.source(at));
    if (holds) return;
    Diagnostic& d = s.out.error(
        Code::tube_vacuum_limit, s.source(at),
        fmt::format(
            "a tube of {} of {} bore and {} wall collapses at {} outside; the room presses with up to {}",
            m->name, to_text(tube.inner_diameter.hi(), Kind::length, 4),
            to_text(tube.wall.lo(), Kind::length, 3), to_text(stands, Kind::pressure, 3),
            to_text(presses, Kind::pressure, 4)));
    d.with_label(s.moment(s.walk.at_s(at)));
    d.also(tube.source, "the tube");
    d.cause(fmt::format("{} times what presses is needed: no tube is quite round, and a hot one is less stiff",
                        against_collapse));
    for (double wall = std::ceil(tube.wall.lo() * 2000) / 2000; wall < tube.inner_diameter.hi(); wall += 0.0005)
        if (collapses(wall) >= needed) {
            d.remedy(fmt::format("a tube with a wall of {} or more", to_text(wall, Kind::length, 3)));
            break;
        }
}

} // namespace

void check_tube(Scene& scene) {
    const check::Material* tube = material(scene);
    const bool told = tube != nullptr && tube->limit_vacuum.given && UnderVacuum(scene, *tube).judge();
    strays_beyond(scene, told);
    buckles(scene);
}

} // namespace athanor::prove
