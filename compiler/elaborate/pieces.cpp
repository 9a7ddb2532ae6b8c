// A step is cut at the instants of the actions placed inside it, and where one zone arrives before another.
#include "compiler/elaborate/elaborator.hpp"

#include "compiler/physics/constants.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace athanor::elaborate {

using timeline::EndingKind;
using timeline::Law;
using timeline::LawKind;

namespace {

/// Two instants nearer than this are one (s); no controller keeps time finer.
constexpr double one_instant = 1e-6;

Laws laws_of(const Few<ZonePlan>& zones) {
    Laws laws;
    for (const ZonePlan& z : zones) laws.push_back({z.law, z.from, z.to, z.law == LawKind::line ? z.rate : 0});
    return laws;
}

} // namespace

void Elaborator::never_reached(const Placed& p, const std::string& why) {
    error(Code::never_reached, p.span, why);
}

bool Elaborator::placed(const Statement& s, std::vector<Placed>& list) {
    for (StatementId id = s.body; id != 0; id = model.statements[id].next) {
        const Statement& a = model.statements[id]; // `at` or `after`: `check` lets nothing else into it
        Placed p;
        p.by_temperature = a.kind == StatementKind::at_action;
        p.action = a.body;
        p.span = a.span;
        p.instant = span_of(a.value);
        if (!(p.by_temperature ? number(a.value, p.value) : duration(a.value, p.value))) return false;
        list.push_back(p);
    }
    return true;
}

void Elaborator::perform(Step& step) {
    const Statement& s = *step.statement;
    step.defaulted = defaulted_value;
    goes_on_up(&step);
    step_path = path_of(s);
    std::vector<Placed> list;
    Block* own = nullptr;
    if (s.body != 0 && s.kind != StatementKind::repeat_until && s.kind != StatementKind::run) {
        own = &blocks.emplace_back();
        own->path_length = path.size();
        if (!placed(s, list)) blind = true;
    }
    for (const Placed& p : list) step.by_way = step.by_way || p.by_temperature;
    if (step.ending.kind == EndingKind::fixed || step.ending.kind == EndingKind::band)
        timed(step, list);
    else if (step.ending.kind == EndingKind::passes)
        natural(step, list);
    else
        open_ended(step, list);
    if (own != nullptr) close_block();
}

namespace {

struct Cut {
    double at;
    const Placed* action;
    std::size_t zone; // whose set-point is exactly `value` there
};

/// The zones of a natural cooling, a piece of which goes down to a temperature: held there, the controller sees
/// when they are. Where one is set lower already, no cooling lifts its set-point: all go on to their own
/// targets, and the piece ends where the last of them has passed.
Few<ZonePlan> cooling_to(Few<ZonePlan> zones, double temperature) {
    const auto off = [](const ZonePlan& z) { return z.law == LawKind::off; };
    if (std::any_of(zones.begin(), zones.end(),
                    [&](const ZonePlan& z) { return off(z) && z.from < temperature; }))
        return zones;
    for (ZonePlan& z : zones)
        if (off(z)) z.to = std::max(z.to, temperature);
    return zones;
}

/// The first instant at which a set-point that moves passes the temperature; false where none does.
bool passes(const Step& step, Cut& cut) {
    const double temperature = cut.action->value;
    bool any = false;
    for (std::size_t z = 0; z < step.zones.size(); ++z) {
        const ZonePlan& zone = step.zones[z];
        if (zone.law != LawKind::line || temperature < std::min(zone.from, zone.to) ||
            temperature > std::max(zone.from, zone.to))
            continue;
        const double at = (temperature - zone.from) / zone.rate;
        if (any && at >= cut.at) continue;
        cut.at = at;
        cut.zone = z;
        any = true;
    }
    return any;
}

/// The part of a step between two instants; `zones`, which stand at the first, go on to the second.
Few<ZonePlan> part_of(const Step& step, Few<ZonePlan>& zones, double from, double until, const Cut* cut) {
    Few<ZonePlan> piece = zones;
    for (std::size_t z = 0; z < piece.size(); ++z) {
        ZonePlan& p = piece[z];
        if (p.law != LawKind::line) continue;
        const ZonePlan& whole = step.zones[z];
        if (from >= whole.length - one_instant)
            p.law = LawKind::hold, p.from = p.to = whole.to;
        else if (until >= whole.length - one_instant)
            p.to = whole.to;
        else if (cut != nullptr && cut->zone == z)
            p.to = cut->action->value;
        else
            p.to = whole.from + whole.rate * until;
        zones[z].from = p.to;
    }
    for (ZonePlan& z : zones)
        if (z.law == LawKind::jump) z.law = LawKind::hold, z.from = z.to;
    return piece;
}

/// Instants that are one become equal to the first of them in the text, whose order they then keep.
void unite(std::vector<Cut>& cuts) {
    std::vector<double> first; // in time
    for (const Cut& cut : cuts) first.push_back(cut.at);
    std::sort(first.begin(), first.end());
    std::size_t kept = 0;
    for (const double at : first)
        if (kept == 0 || at > first[kept - 1] + one_instant) first[kept++] = at;
    first.resize(kept);
    std::vector<double> written(kept, -infinity);
    for (Cut& cut : cuts) {
        const auto after = std::upper_bound(first.begin(), first.end(), cut.at);
        double& one = written[static_cast<std::size_t>(after - first.begin()) - 1];
        if (one == -infinity) one = cut.at;
        cut.at = one;
    }
}

} // namespace

/// Straight lines and dwells: every instant is known before the plant is asked.
void Elaborator::timed(const Step& step, const std::vector<Placed>& list) {
    double total = step.ending.duration;
    std::vector<Cut> cuts;
    for (const ZonePlan& z : step.zones)
        if (z.law == LawKind::line && z.length < total - one_instant)
            cuts.push_back({z.length, nullptr, step.zones.size()});
    for (const Placed& p : list) {
        Cut cut{p.value, &p, step.zones.size()};
        if (p.by_temperature && !passes(step, cut)) {
            if (!blind)
                never_reached(p,
                              fmt::format("the set-point never passes {} in this step: it goes from {} to {}",
                                          to_text(p.value, Kind::temperature),
                                          to_text(step.zones.front().from, Kind::temperature),
                                          to_text(step.zones.front().to, Kind::temperature)));
            continue;
        }
        if (!p.by_temperature && p.value > total + one_instant) {
            never_reached(p, fmt::format("this step is over after {}, before {}", to_text(total, Kind::time),
                                         to_text(p.value, Kind::time)));
            continue;
        }
        cuts.push_back(cut);
    }
    // In a band even no time waits until the temperature is there. A dwell that other corners of a range have
    // is one of no length here.
    const bool waits = step.ending.kind == EndingKind::band;
    const bool kept = request.corner && std::all_of(step.zones.begin(), step.zones.end(),
                                                    [](const ZonePlan& z) { return z.law == LawKind::hold; });
    if (cuts.empty() && (total > one_instant || waits || kept))
        return emit(laws_of(step.zones), step.ending, step);
    unite(cuts);
    std::stable_sort(cuts.begin(), cuts.end(), [](const Cut& a, const Cut& b) { return a.at < b.at; });

    Few<ZonePlan> zones = step.zones;
    double passed = 0;
    auto advance = [&](double until, const Cut* cut) {
        double length = until - passed;
        bool jump =
            std::any_of(zones.begin(), zones.end(), [](const ZonePlan& z) { return z.law == LawKind::jump; });
        if (length <= one_instant && !jump) return;
        timeline::Ending ending = step.ending;
        ending.duration = length;
        emit(laws_of(part_of(step, zones, passed, until, cut)), ending, step);
        passed = until;
    };
    for (const Cut& cut : cuts) {
        advance(std::clamp(cut.at, 0.0, total), &cut);
        if (cut.action != nullptr && cut.action->action != 0) statement(cut.action->action);
    }
    advance(total, nullptr);
    for (std::size_t z = 0; z < zones.size(); ++z) setpoints[z] = step.zones[z].to;
}

/// Temperatures at which the load should have ceased to give off a gas: a piece of the cooling ends there, so
/// that the plant can judge what follows without it.
std::vector<Placed> Elaborator::gas_ceases(const Step& step) const {
    std::vector<Placed> cuts;
    for (const timeline::Evolved& e : t->evolved) {
        if (blind || request.corner || !(e.above > 0)) continue;
        // How far the load may lie above what the sensor shows.
        const double behind = rig->load_lag.value.hi * plant->capacity(e.above).cooling.hi +
                              std::max(0.0, rig->load_offset.value.hi) + 2 * plant->sensor_tolerance(e.above) +
                              1;
        const double at =
            std::floor(e.above - behind - physics::zero_celsius) + physics::zero_celsius; // readable
        const bool passed = std::any_of(step.zones.begin(), step.zones.end(), [&](const ZonePlan& z) {
            return z.law == LawKind::off && z.from > at && at > step.ending.temperature &&
                   std::isfinite(plant->natural_cooling(z.from, at).hi);
        });
        if (passed) cuts.push_back({true, at, 0, step.statement->span});
    }
    return cuts;
}

/// The times inside a natural cooling, while no rig is below the first temperature that is passed: the
/// set-point need not be, either.
void Elaborator::times_in_cooling(const Step& step, const std::vector<const Placed*>& times, double first,
                                  bool also_by_temperature) {
    // A furnace that has not come up to its set-point cools from where it is.
    double start = first;
    for (std::size_t z = 0; z < step.zones.size() && !blind; ++z) {
        const double set = step.zones[z].from, is = here.zones[z].control.lo;
        if (step.zones[z].law == LawKind::off)
            start = std::max(start, is < set - plant->above_setpoint(set) ? is : set);
    }
    const double shortest_time = blind ? infinity : plant->natural_cooling(start, first).lo;
    const Few<ZonePlan> before = cooling_to(step.zones, first);
    double passed = 0;
    for (const Placed* p : times) {
        if (p->value > shortest_time) {
            never_reached(*p,
                          !also_by_temperature
                              ? fmt::format("the cooling may be over after {}, before {}",
                                            to_text(shortest_time, Kind::time), to_text(p->value, Kind::time))
                              : fmt::format("{} may come before or after {} is passed, which takes {} or more: "
                                            "place both by temperature",
                                            to_text(p->value, Kind::time), to_text(first, Kind::temperature),
                                            to_text(shortest_time, Kind::time)));
            continue;
        }
        timeline::Ending ending;
        ending.duration = p->value - passed;
        if (ending.duration > one_instant) emit(laws_of(before), ending, step);
        passed = p->value;
        if (p->action != 0) statement(p->action);
    }
}

/// A piece of the cooling down to each temperature; `zones` go on to the last of them.
void Elaborator::temperatures_in_cooling(const Step& step, const std::vector<const Placed*>& temperatures,
                                         double start, Few<ZonePlan>& zones) {
    const double target = step.ending.temperature;
    double at = start;
    for (const Placed* p : temperatures) {
        if (!blind && (p->value > start || p->value < target)) {
            never_reached(*p, fmt::format("the cooling from {} to {} never passes {}",
                                          to_text(start, Kind::temperature), to_text(target, Kind::temperature),
                                          to_text(p->value, Kind::temperature)));
            continue;
        }
        if (p->value < at && p->value > target) {
            const Few<ZonePlan> piece = cooling_to(zones, p->value);
            for (std::size_t z = 0; z < zones.size(); ++z)
                if (piece[z].law == LawKind::off) zones[z].from = piece[z].to;
            timeline::Ending ending;
            ending.kind = EndingKind::passes;
            ending.temperature = p->value;
            Step part = step;
            part.instant = p->instant;
            emit(laws_of(piece), ending, part);
            at = p->value;
        }
        if (p->value <= target) continue;
        if (p->action != 0) statement(p->action);
    }
}

/// Natural cooling: temperatures are passed in falling order; a time inside it must come surely before them.
void Elaborator::natural(const Step& step, const std::vector<Placed>& list) {
    std::vector<const Placed*> temperatures, times;
    for (const Placed& p : list) (p.by_temperature ? temperatures : times).push_back(&p);
    std::vector<Placed> ceases;
    if (times.empty()) ceases = gas_ceases(step);
    for (const Placed& p : ceases) temperatures.push_back(&p);
    std::stable_sort(temperatures.begin(), temperatures.end(),
                     [](const Placed* a, const Placed* b) { return a->value > b->value; });
    std::stable_sort(times.begin(), times.end(),
                     [](const Placed* a, const Placed* b) { return a->value < b->value; });

    Few<ZonePlan> zones = step.zones;
    double start = 0, target = step.ending.temperature;
    for (const ZonePlan& z : zones)
        if (z.law == LawKind::off) start = std::max(start, z.from);
    double first = temperatures.empty() ? target : std::max(target, temperatures.front()->value);
    if (!times.empty()) times_in_cooling(step, times, first, !temperatures.empty());
    temperatures_in_cooling(step, temperatures, start, zones);
    emit(laws_of(zones), step.ending, step);
    for (std::size_t z = 0; z < zones.size(); ++z) setpoints[z] = step.zones[z].to;
    for (const Placed* p : temperatures)
        if (p->value == target && p->action != 0) statement(p->action);
}

/// Steps that end by a condition or a person: a time inside cuts off a fixed part first.
void Elaborator::open_ended(const Step& step, const std::vector<Placed>& list) {
    std::vector<const Placed*> times;
    for (const Placed& p : list) {
        if (p.by_temperature) {
            if (!blind)
                never_reached(p, fmt::format("this step holds its set-point at {} and never passes {}",
                                             to_text(step.zones.front().from, Kind::temperature),
                                             to_text(p.value, Kind::temperature)));
        } else if (step.ending.kind == EndingKind::person) {
            never_reached(p, "a person may end this step before or after that: place the action behind it");
        } else if (step.ending.at_most > 0 && p.value > step.ending.at_most) {
            never_reached(p,
                          fmt::format("this step takes {} at most, and {} is later",
                                      to_text(step.ending.at_most, Kind::time), to_text(p.value, Kind::time)));
        } else {
            times.push_back(&p);
        }
    }
    std::stable_sort(times.begin(), times.end(),
                     [](const Placed* a, const Placed* b) { return a->value < b->value; });
    double passed = 0;
    for (const Placed* p : times) {
        timeline::Ending ending;
        ending.duration = p->value - passed;
        if (ending.duration > one_instant) emit(laws_of(step.zones), ending, step);
        passed = p->value;
        if (p->action != 0) statement(p->action);
    }
    timeline::Ending ending = step.ending;
    if (ending.at_most > 0) ending.at_most = std::max(ending.at_most - passed, one_instant);
    Step rest = step;
    rest.passed = passed;
    emit(laws_of(rest.zones), ending, rest);
}

} // namespace athanor::elaborate
