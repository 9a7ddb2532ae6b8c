// Gas that leaves into the room takes the place of its air, or makes it richer in oxygen.
#include "compiler/check/gas_mixture.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/prove/room.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

namespace athanor::prove {
namespace {

/// Share of oxygen from which cloth and hair burn fiercely: OSHA 29 CFR 1910.146, "hazardous atmosphere" (from
/// memory).
constexpr double too_much = check::enriched_share;

/// m3/s, greatest, that a line lets through where it falls open, in a failure of power at any time of the run.
double without_power(const Scene& s, timeline::Index l, double molar) {
    double most = 0;
    if (!s.timeline.lines[l].falls_open()) return most;
    std::vector<bool> known(s.timeline.states.size(), false);
    for (const timeline::Span& span : s.timeline.spans) {
        if (known[span.state]) continue;
        known[span.state] = true;
        most = std::max(most, s.aborts.failure().flow(l, s.timeline.states[span.state]).hi);
    }
    return most * molar;
}

/// The same behind the end: on a controller that holds also what stands open then.
double after_end(const Scene& s, timeline::Index l, double molar) {
    const timeline::State& last = s.timeline.states[s.timeline.end_state];
    double most = 0;
    if (s.controller != nullptr && s.controller->holds_at_end) most = s.flow(l, s.walk.end, last).hi;
    if (s.timeline.lines[l].falls_open()) most = std::max(most, s.aborts.failure().flow(l, last).hi);
    return most * molar;
}

/// What too much or too little oxygen in the room is called, and where it begins.
struct Danger {
    bool enriched; // looks for the most oxygen; what else flows, which would thin it, is left out
    double limit;
    Code code;
    const char *rule, *title, *greatest, *may, *beyond, *gas, *inside, *less;

    /// Share of oxygen in a line's gas that counts for it; none: the gas is no danger.
    std::optional<double> brings(const check::Gas& gas, check::Index oxygen) const {
        Interval share = 0;
        for (const auto& [part, fraction] : gas.parts)
            if (part == oxygen) share = fraction;
        if (enriched) return share.hi > limit ? std::optional(share.hi) : std::nullopt;
        return share.lo < limit ? std::optional(0.0) : std::nullopt;
    }
};

constexpr Danger rich{true,
                      too_much,
                      Code::oxygen_enrichment,
                      "oxygen_enrichment",
                      "The room does not grow rich in oxygen when its extraction fails",
                      "most",
                      "rise",
                      "above",
                      "oxygen or a gas rich in it",
                      "under",
                      "oxygen"};
constexpr Danger poor{false,
                      breathable,
                      Code::asphyxiation,
                      "asphyxiation",
                      "The room keeps enough oxygen when its extraction fails",
                      "least",
                      "fall",
                      "below",
                      "gas without oxygen",
                      "above",
                      "gas"};

/// With the extraction failed: all that flows in, or that the load gives off, comes out into the room.
void check_danger(Scene& s, const Danger& danger) {
    const double molar = Room::per_mol(s.rig);
    const auto oxygen = s.model.gas_named("oxygen");
    std::vector<std::pair<timeline::Index, double>> lines; // and their share of oxygen
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l)
        if (s.gas(l) != nullptr)
            if (const auto share = danger.brings(*s.gas(l), oxygen)) lines.emplace_back(l, *share);
    std::vector<const timeline::Evolved*> load; // what it gives off that counts
    for (const timeline::Evolved& e : s.timeline.evolved)
        if ((s.timeline.species[e.species] == "oxygen") == danger.enriched) load.push_back(&e);
    if (lines.empty() && load.empty()) return;
    Room room(s.rig, physics::oxygen_in_air, danger.enriched);
    bool applied = false;
    std::size_t at = 0;
    double most = 0, before = room.worst;
    const auto worsened = [&] { return danger.enriched ? room.worst > before : room.worst < before; };
    struct Through {
        double gas = -1, brought = 0; // m3/s; negative: not looked at yet
    };
    std::vector<Through> through(s.timeline.states.size()); // the lines
    plant::State state;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        Through& known = through[s.timeline.spans[i].state];
        const timeline::State& discrete = s.discrete(i);
        // Only a threshold lets the rig's state decide what flows at most.
        if (known.gas < 0 || discrete.armed != 0) {
            known.gas = known.brought = 0;
            if (discrete.armed != 0) state = s.over(i);
            for (const auto& [l, share] : lines) {
                const double flow = s.flow(l, state, discrete).hi * molar;
                known.gas += flow;
                known.brought += flow * share;
            }
        }
        auto [gas, brought] = known;
        for (const timeline::Evolved* e : load) {
            if (e->line != timeline::none && !s.may_be_open(e->line, i)) continue;
            gas += e->flow * molar;
            if (danger.enriched) brought += e->flow * molar;
        }
        applied = applied || gas > 0;
        room.pass(gas, s.timeline.spans[i].duration, brought);
        if (worsened()) before = room.worst, at = i, most = gas;
    }
    // What falls open flows on after the end, or in a failure of power at any time, until a person shuts it.
    enum class When { run, end, failure };
    When when = When::run;
    const double run = room.worst;
    const auto goes_on = [&](auto flows, When then) {
        double gas = 0, own = 0;
        for (const auto& [l, share] : lines) {
            const double flow = flows(s, l, molar);
            gas += flow;
            own += flow * share;
        }
        if (!(gas > 0)) return;
        room.now = run;
        room.pass(gas, {0, infinity}, own);
        if (worsened()) before = room.worst, when = then, at = s.spans() - 1, most = gas;
    };
    const double fresh = room.fresh;
    goes_on(after_end, When::end);
    room.fresh = room.unpowered;
    goes_on(without_power, When::failure);
    if (when != When::failure) room.fresh = fresh;
    if (!applied && when == When::run) return;
    const double limit = danger.limit;
    const bool holds = danger.enriched ? room.worst <= limit : room.worst >= limit;
    const bool assumed = s.rig.room_volume.defaulted;
    s.row(danger.rule, danger.title, holds,
          fmt::format("oxygen in the room at {} {}, limit {}{}", danger.greatest,
                      to_text(room.worst, Kind::fraction, 4), to_text(limit, Kind::fraction),
                      assumed ? " (default room)" : ""),
          when == When::run ? s.walk.at_s(at) : s.walk.end_s, s.source(at));
    if (holds) return;
    // As many digits as tell it from the limit.
    std::string worst;
    for (int digits = 3; digits <= 9 && (worst.empty() || worst == to_text(limit, Kind::fraction)); ++digits)
        worst = to_text(room.worst, Kind::fraction, digits);
    Diagnostic& d = s.out.error(danger.code, s.source(at),
                                fmt::format("with the extraction failed the room's oxygen may {} to {}, {} {}",
                                            danger.may, worst, danger.beyond, to_text(limit, Kind::fraction)));
    d.with_label(
        when == When::run   ? fmt::format("during the step from {} of the run", to_clock(s.walk.at_s(at)))
        : when == When::end ? std::string("after the end, until a person shuts what falls open")
                            : std::string("in a failure of power, until a person shuts what falls open"));
    d.also(assumed ? s.rig.source : s.rig.room_volume.source, assumed ? "declares no room" : "the room");
    d.cause(fmt::format("{} of {} into {} of room with {} of fresh air{}", to_text(most, Kind::volume_flow, 3),
                        danger.gas, to_text(room.volume, Kind::volume, 3),
                        to_text(room.fresh, Kind::volume_flow, 3), assumed ? " (default)" : ""));
    // Where the room rests at the limit, with nothing but oxygen or with none coming out.
    const double enough = room.enough(most, danger.enriched ? most : 0, limit);
    if (room.fresh < fresh)
        d.cause("a fan stands still without power; what changes the air then is said by "
                "`ventilated_without_power`")
            .remedy(fmt::format("a fan with backup power, or vents: {} keep it {} the limit for any time",
                                room.air_text(enough, "ventilated_without_power"), danger.inside));
    else
        d.remedy(fmt::format("{}: {} keep it {} the limit for any time",
                             assumed ? room_as_it_is : "ventilate more", room.air_text(enough), danger.inside));
    d.remedy(fmt::format("or less {}; and an oxygen alarm in the room", danger.less));
}

} // namespace

void check_room(Scene& s) {
    if (!s.rig.room_volume.given || !s.rig.room_air_changes.given) return;
    check_danger(s, rich);
    check_danger(s, poor);
}

} // namespace athanor::prove
