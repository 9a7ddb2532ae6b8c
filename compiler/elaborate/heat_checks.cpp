// What furnace, tube and sensor can stand and follow.
#include "compiler/elaborate/elaborator.hpp"
#include "compiler/plant/allowance.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace athanor::elaborate {

using timeline::LawKind;

namespace {

/// A rate of two digits that is surely not above the given one.
double rounded_down(double rate) {
    double per_minute = rate * 60;
    if (!(per_minute > 0) || std::isinf(per_minute)) return 0;
    double unit = std::pow(10, std::floor(std::log10(per_minute)) - 1);
    return std::floor(per_minute / unit + 1e-9) * unit / 60;
}

std::string rate_text(double rate) {
    return to_text(rate, Kind::rate);
}

} // namespace

bool Elaborator::check_target(const Statement& s, ZonePlan& zone, bool cooling) {
    const Interval furnace = rig->furnace.range.value;
    // Below its range a furnace may cool, down to the room; what no room has ever been is a slip.
    constexpr double coldest = 173.15;
    if (cooling && zone.to < coldest) {
        const double limit = std::max(furnace.lo, rig->ambient_temperature.hi() + 10);
        if (Diagnostic* d = error(Code::beyond_furnace, zone.target,
                                  fmt::format("{} is colder than any room, and no furnace cools below its room",
                                              degrees(zone.to))))
            d->remedy(rewritten(s, zone.target, degrees(limit)))
                .remedy("where a difference is meant, subtract it from a temperature: `700 degC - 5 K`");
        zone.to = limit;
        return false;
    }
    // A ramp on its way up from the room may go on up from there: the next step shows it.
    const bool on_the_way = zone.law == LawKind::line && zone.to > zone.from;
    bool low = zone.to < furnace.lo && !cooling && !on_the_way;
    if (zone.to > furnace.hi || low) {
        outside_furnace(s, zone.target, zone.to);
        zone.to = low ? furnace.lo : furnace.hi;
        return false;
    }
    return inside_tube(s, zone) && inside_sensor(s, zone);
}

bool Elaborator::inside_tube(const Statement& s, const ZonePlan& zone) {
    const check::Material* tube = rig->tube.material == none ? nullptr : &model.materials[rig->tube.material];
    if (tube == nullptr || !tube->limit.given || zone.to <= tube->limit.lo()) return true;
    if (Diagnostic* d =
            error(Code::beyond_tube, zone.target,
                  fmt::format("{} is above what a tube of {} stands, {}", degrees(zone.to),
                              tube->title.empty() ? tube->name : tube->title, degrees(tube->limit.lo()))))
        d->cause(fmt::format("the limit of `{}` is declared at {}{}", tube->name, place(tube->limit.source),
                             tube->limit.reference.empty() ? "" : " (" + tube->limit.reference + ")"))
            .cause(fmt::format("the tube of rig `{}` is declared at {}", rig->name, place(rig->tube.source)))
            .remedy(
                rewritten(s, zone.target, limit_as_written(zone.target, tube->limit.lo(), Kind::temperature)));
    return false;
}

bool Elaborator::inside_sensor(const Statement& s, const ZonePlan& zone) {
    const check::Thermocouple* type =
        rig->sensor.type == none ? nullptr : &model.thermocouples[rig->sensor.type];
    if (type == nullptr) return true;
    const Interval sensor = type->range.value;
    if (type->range.given && !sensor.contains(zone.to)) {
        double limit = zone.to > sensor.hi ? sensor.hi : sensor.lo;
        if (Diagnostic* d =
                error(Code::beyond_sensor, zone.target,
                      fmt::format("{} is outside what thermocouple `{}` measures, {}", degrees(zone.to),
                                  type->name, to_text(sensor, Kind::temperature))))
            d->cause(
                 fmt::format("the sensor of rig `{}` is declared at {}", rig->name, place(rig->sensor.source)))
                .remedy(rewritten(s, zone.target,
                                  limit_as_written(zone.target, limit, Kind::temperature, limit == sensor.lo)));
        return false;
    }
    for (const check::Tolerance& c : type->classes) {
        if (c.number != rig->sensor.tolerance_class || c.range.contains(zone.to)) continue;
        if (Diagnostic* d = warning(
                Code::beyond_sensor, zone.target,
                fmt::format("{} is outside {}, where class {} of thermocouple `{}` states its tolerance",
                            degrees(zone.to), to_text(c.range, Kind::temperature), c.number, type->name)))
            d->cause(
                fmt::format("the sensor of rig `{}` is declared at {}", rig->name, place(rig->sensor.source)));
    }
    return true;
}

void Elaborator::outside_furnace(const Statement& s, athanor::Span target, double to) {
    const Interval furnace = rig->furnace.range.value;
    const bool low = to < furnace.lo;
    const double limit = low ? furnace.lo : furnace.hi;
    if (Diagnostic* d = error(Code::beyond_furnace, target,
                              fmt::format("{} is {} what the furnace holds, {}", degrees(to),
                                          low ? "below" : "above", degrees(limit))))
        d->cause(fmt::format("the range of rig `{}`, {}, is declared at {}", rig->name,
                             to_text(furnace, Kind::temperature), place(rig->furnace.range.source)))
            .remedy(rewritten(s, target, limit_as_written(target, limit, Kind::temperature, low)));
}

/// Below its range the furnace holds nothing: a ramp that ends there must go on up in the step that follows.
void Elaborator::goes_on_up(const Step* step) {
    // A wait inside a band for no time is over when the temperature is there: it holds nothing, either.
    if (step != nullptr && step->ending.kind == timeline::EndingKind::band && step->ending.duration == 0)
        return;
    for (std::size_t z = 0; z < passing.size(); ++z) {
        const ZonePlan* plan = step != nullptr && z < step->zones.size() ? &step->zones[z] : nullptr;
        const bool up = plan != nullptr && plan->law == LawKind::line && plan->to > plan->from;
        if (passing[z].statement != nullptr) {
            const Passing before = std::exchange(passing[z], {});
            if (!up) outside_furnace(*before.statement, before.target, before.to);
        }
        if (up && plan->to < rig->furnace.range.value.lo)
            passing[z] = {step->statement, plan->target, plan->to};
    }
}

double Elaborator::tube_allowance(double from, double to, const check::Figure*& row) const {
    return plant::tube_allowance(model, *rig, from, to, &row);
}

/// Every pass of a loop asks the same; the plant is asked once.
bool Elaborator::judged_before(const Statement& s, const ZonePlan& zone) {
    if (loops == 0 && calls.empty()) return false;
    std::array<double, 3> way{zone.from, zone.to, zone.rate};
    auto [before, first] = last_ramp.try_emplace(&s, way);
    if (!first && before->second == way) return true;
    before->second = way;
    return false;
}

/// A commanded straight line against tube and furnace; the tighter of two limits is the one reported.
void Elaborator::check_ramp(const Statement& s, const ZonePlan& zone, athanor::Span rate_span) {
    if (blind || judged_before(s, zone)) return;
    AskedRamp ramp{s, zone, rate_span};
    ramp.rate = std::fabs(zone.rate);
    ramp.tube = tube_allowance(zone.from, zone.to, ramp.row);
    const bool up = zone.to > zone.from;
    ramp.furnace =
        up ? plant->certain_heating_rate(zone.from, zone.to) : plant->certain_cooling_rate(zone.from, zone.to);
    // A line that follows from `over` misses a stated rate by rounding only.
    const bool too_fast = ramp.rate > ramp.tube * (1 + 1e-9),
               out_of_reach = ramp.rate > ramp.furnace * (1 + 1e-9);
    // A furnace that only may be too slow for the ramp does not save the tube: some rig follows it.
    if (too_fast && (up || ramp.tube <= ramp.furnace)) return shocks_tube(ramp);
    if (!out_of_reach) return;
    if (up)
        heats_too_fast(ramp);
    else
        cools_too_fast(ramp);
}

void Elaborator::offer_slower(Diagnostic& d, const AskedRamp& ramp, double rate) const {
    const double good = rounded_down(rate);
    if (!(good > 0)) {
        d.remedy("another target: this one is out of reach");
        return;
    }
    const double time = std::ceil(std::fabs(ramp.zone.to - ramp.zone.from) / good / 60) * 60;
    const Statement& s = ramp.statement;
    const bool over = model.clause(s, ClauseKind::over) != nullptr;
    std::string text = over ? to_text(time, Kind::time) : limit_as_written(ramp.at, good, Kind::rate);
    athanor::Span at = ramp.at;
    if (!over && model.clause(s, ClauseKind::at) == nullptr && s.targets != 0) {
        // The rate is a default's: the ramp gets one of its own, behind its last target.
        at = span_of(model.targets[s.first_target + s.targets - 1].target);
        text = fmt::format("{} at {}", files.text(at), text);
    }
    d.remedy(rewritten(s, at, text)).mend(at, text);
}

void Elaborator::shocks_tube(const AskedRamp& ramp) {
    const check::Material& material = model.materials[rig->tube.material];
    const double diameter = rig->tube.inner_diameter.hi() + 2 * rig->tube.wall.hi();
    Diagnostic* d =
        error(Code::tube_shock, ramp.at,
              fmt::format("{} is faster than a tube of {}, {} outside, allows: {}", rate_text(ramp.rate),
                          material.title.empty() ? material.name : material.title,
                          to_text(diameter, Kind::length), rate_text(ramp.tube)));
    if (d == nullptr) return;
    d->cause(fmt::format("the rate is declared at {}{}", place(ramp.row->source),
                         ramp.row->reference.empty() ? "" : " (" + ramp.row->reference + ")"))
        .cause(fmt::format("the tube of rig `{}` is declared at {}", rig->name, place(rig->tube.source)));
    offer_slower(*d, ramp, std::min(ramp.tube, ramp.furnace));
}

/// How far a set-point is ahead of the tube once it has gone from one temperature to another in that time.
Elaborator::Ahead Elaborator::ahead_after(Index z, double from, double to, double seconds) const {
    Ahead after = ahead[z];
    if (after.seconds <= 0) after.from = from;
    const check::Figure* row = nullptr;
    const double allowed = tube_allowance(from, to, row);
    if (!std::isinf(allowed)) after.seconds += (to - from) / allowed;
    return {std::max(0.0, after.seconds - seconds), std::min(after.from, to)};
}

/// Behind a span, by the shortest time that it may take.
void Elaborator::keep_ahead(const Laws& laws, double seconds) {
    for (Index z = 0; z < laws.size(); ++z) {
        const timeline::Law& law = laws[z];
        const double before = ahead[z].seconds;
        // Only a set-point that jumps up comes ahead of the tube.
        if (before <= 0 && (law.to <= law.from || law.kind == LawKind::line)) continue;
        ahead[z] = ahead_after(z, law.from, law.to, seconds);
        // A ramp is judged alone; none brings the set-point further ahead.
        if (law.kind == LawKind::line) ahead[z].seconds = std::min(ahead[z].seconds, before);
    }
}

/// A jump no larger than what the tube stands in a minute is no shock. What went before it counts with it until
/// the tube may have come so far, so that many small jumps are no way round. False where it is too much.
bool Elaborator::check_jump(const Statement& s, Index z, const ZonePlan& zone) {
    constexpr double stood = 60; // s
    const check::Figure* row = nullptr;
    const double allowed = tube_allowance(zone.from, zone.to, row);
    const Ahead then = ahead_after(z, zone.from, zone.to, 0);
    if (std::isinf(allowed) || then.seconds <= stood * (1 + 1e-9)) return true;
    double fastest = 0;
    for (int i = 0; i <= 8; ++i)
        fastest = std::max(fastest, plant->capacity(then.from + (zone.to - then.from) * i / 8).heating.hi);
    if (fastest <= allowed) return true;
    const double alone = (zone.to - zone.from) / allowed;
    const bool many = alone <= stood;
    Diagnostic* d =
        error(Code::tube_shock, zone.target,
              fmt::format("after {} the furnace heats at up to {}, and the tube allows {}",
                          many ? "this jump of the set-point and those before it" : "a jump of the set-point",
                          to_text(fastest, Kind::rate), to_text(allowed, Kind::rate)));
    if (d == nullptr) return false;
    d->cause(fmt::format("the rate is declared at {}", place(row->source)));
    if (!many) {
        d->remedy(fmt::format("ramp {} at {}", towards(s, zone), to_text(allowed, Kind::rate, 2)));
        return false;
    }
    d->cause(fmt::format("the set-point is then {} ahead of what the tube stands; more than {}, what it stands "
                         "in a minute, is a shock",
                         to_text(then.seconds * allowed, Kind::difference, 3),
                         to_text(stood * allowed, Kind::difference, 3)))
        .remedy(fmt::format("wait between them:  dwell {}", to_text(std::ceil(alone / 60) * 60, Kind::time)))
        .remedy(fmt::format("or one ramp in place of them, at {}", to_text(allowed, Kind::rate, 2)));
    return false;
}

void Elaborator::cools_too_fast(const AskedRamp& ramp) {
    const ZonePlan& zone = ramp.zone;
    const Interval time = plant->natural_cooling(zone.from, zone.to);
    Diagnostic* d = error(Code::cooling_beyond_furnace, ramp.at,
                          fmt::format("{} from {} to {} is faster than the furnace loses heat",
                                      rate_text(ramp.rate), degrees(zone.from), degrees(zone.to)));
    if (d == nullptr) return;
    if (std::isinf(time.hi))
        d->cause(fmt::format(
            "with the heater off not every furnace inside the stated data gets to {} at all; ambient is {}",
            degrees(zone.to), to_text(rig->ambient_temperature.value, Kind::temperature)));
    else
        d->cause(fmt::format("with the heater off it takes {}; held to a straight line it can do {}",
                             to_text(time, Kind::time), rate_text(rounded_down(ramp.furnace))));
    d->cause(fmt::format("the furnace of rig `{}` is declared at {}", rig->name, place(rig->furnace.source)));
    if (std::isinf(time.hi)) return;
    const std::string natural =
        fmt::format("without a rate, by natural cooling:  cool to {}", degrees(zone.to));
    const double rate = rounded_down(std::min(ramp.furnace, ramp.tube));
    // The last kelvins decide the rate that a line can have: where that would cost more than as much time
    // again, nobody wants it.
    const double line = rate > 0 ? std::fabs(zone.to - zone.from) / rate : infinity;
    if (line > 2 * time.hi) {
        d->remedy(natural);
        if (rate > 0)
            d->remedy(fmt::format("or {}, which takes {}", rate_text(rate), to_text(line, Kind::time, 3)));
        return;
    }
    offer_slower(*d, ramp, rate);
    d->remedy("or " + natural);
}

/// The plant follows a set-point that runs away with the lag it computes. Where no furnace inside the intervals
/// can follow, the text asks for something else than what would happen: refused. Where only some cannot: a
/// warning.
void Elaborator::heats_too_fast(const AskedRamp& ramp) {
    const ZonePlan& zone = ramp.zone;
    double best = infinity;
    for (int i = 0; i <= 8; ++i)
        best = std::min(best, plant->capacity(zone.from + (zone.to - zone.from) * i / 8).heating.hi);
    const bool some = ramp.rate <= best;
    const std::string message =
        fmt::format("{} from {} to {} is faster than {} furnace inside the stated data heats: {} is certain",
                    rate_text(ramp.rate), degrees(zone.from), degrees(zone.to), some ? "every" : "any",
                    rate_text(rounded_down(std::max(ramp.furnace, 0.0))));
    Diagnostic* d = some ? warning(Code::rate_beyond_furnace, ramp.at, message)
                         : error(Code::rate_beyond_furnace, ramp.at, message);
    if (d == nullptr) return;
    d->cause(fmt::format("the furnace of rig `{}`, {} nominal, is declared at {}", rig->name,
                         to_text(rig->furnace.power.value, Kind::power), place(rig->furnace.source)));
    if (some) d->cause("the measured temperature may fall behind the set-point; every proof counts with that");
    offer_slower(*d, ramp, std::min(ramp.furnace, ramp.tube));
}

} // namespace athanor::elaborate
