// How long a span lasts and what state it leaves.
#include "compiler/plant/data.hpp"
#include "compiler/quantity/unit.hpp"

#include <cmath>
#include <fmt/format.h>

namespace athanor::plant {

using timeline::Comparison;
using timeline::Condition;
using timeline::Ending;
using timeline::EndingKind;
using timeline::SignalKind;
using timeline::Term;

namespace {

constexpr double longest_search = 90 * 86400.0; // s: a condition that takes longer counts as unreachable
constexpr double search_accuracy = 2e-4;        // of the time found
constexpr double proof_share = 0.1;             // the condition is asked again this much later

std::string amount_of(timeline::Signal signal, Interval value) {
    switch (signal.kind) {
    case SignalKind::temperature:
    case SignalKind::zone_temperature:
    case SignalKind::load_temperature:
    case SignalKind::setpoint: return to_text(value, Kind::temperature, 3);
    case SignalKind::dew_point: return to_text(value, Kind::dew_point, 3);
    case SignalKind::pressure: return to_text(value, Kind::pressure, 3);
    case SignalKind::flow: return to_text(value, Kind::flow, 3);
    case SignalKind::fraction:
    case SignalKind::flammability: return to_text(value, Kind::fraction, 3);
    case SignalKind::elapsed: return to_text(value, Kind::time, 3);
    default: return fmt::format("{:.3g}", value.middle());
    }
}

} // namespace

Passage Plant::pass(const State& entry, Drive drive, const Ending& ending) const {
    Memory& memory = data_->memory;
    memory.ask(entry, drive, ending);
    Passage passage;
    if (memory.find(passage)) {
        add_time(entry, drive, passage.duration, passage.exit);
        if (ending.kind == EndingKind::person) passage.exit.elapsed = entry.elapsed;
        return passage;
    }
    passage = data_->resolve(*this, entry, drive, ending);
    memory.keep(passage);
    return passage;
}

Passage Plant::Data::resolve(const Plant& plant, const State& entry, Drive drive, const Ending& ending) const {
    const Data& d = *this;
    Passage passage;
    switch (ending.kind) {
    case EndingKind::fixed:
        passage.duration = ending.duration;
        passage.exit = plant.during(entry, drive, ending.duration);
        break;

    case EndingKind::band: {
        double extra = 0;
        for (std::size_t z = 0; z < d.zones; ++z) {
            // On a ramp the time stops while the furnace lags: it can stand still no longer than what is
            // missing at the end takes.
            ZoneState at = entry.zones[z];
            timeline::Law law = drive.laws[z];
            if (law.kind == timeline::LawKind::line) {
                at = d.zone.during(at, law, ending.duration);
                law = {timeline::LawKind::hold, law.to, law.to, 0};
            }
            extra = std::max(extra, d.zone.settling_time(at, law, ending.band));
        }
        if (!std::isfinite(extra)) {
            passage.reachable = false;
            passage.why =
                fmt::format("the measured temperature is not certain to come within {} of the set-point",
                            to_text(ending.band, Kind::difference, 3));
            extra = 0;
        }
        passage.duration = {ending.duration, ending.duration + extra};
        passage.exit = plant.during(entry, drive, passage.duration);
        for (std::size_t z = 0; z < d.zones; ++z) d.zone.narrow(passage.exit.zones[z], ending.band);
        break;
    }

    case EndingKind::passes: {
        // A zone that is held beside cooling ones is not waited for.
        bool cooling = false;
        for (std::size_t z = 0; z < d.zones; ++z)
            cooling = cooling || drive.laws[z].kind == timeline::LawKind::off;
        const auto counts = [&](std::size_t z) {
            return !cooling || drive.laws[z].kind == timeline::LawKind::off;
        };
        Interval time = 0;
        std::size_t last = 0; // the zone that may take longest
        bool any = false;
        for (std::size_t z = 0; z < d.zones; ++z) {
            if (!counts(z)) continue;
            const Interval one = d.zone.passing(entry.zones[z], drive.laws[z], ending.temperature);
            if (!any || one.hi > time.hi) last = z;
            time = any ? max(time, one) : one;
            any = true;
        }
        if (!std::isfinite(time.hi)) {
            passage.reachable = false;
            const double start = entry.zones[last].control.hi;
            passage.why =
                start >= ending.temperature
                    ? fmt::format("natural cooling from {} is not certain to pass {}: the room may have {}",
                                  to_text(start, Kind::temperature, 3),
                                  to_text(ending.temperature, Kind::temperature, 3),
                                  to_text(d.zone.furnace().ambient().hi, Kind::temperature, 3))
                    : fmt::format("the furnace is not certain to pass {} on low mains",
                                  to_text(ending.temperature, Kind::temperature, 3));
            passage.duration = {time.lo, infinity};
            passage.exit = plant.during(entry, drive, passage.duration);
            break;
        }
        passage.duration = time;
        State exit = entry;
        for (std::size_t z = 0; z < d.zones; ++z)
            exit.zones[z] = counts(z)
                                ? d.zone.at_passing(entry.zones[z], drive.laws[z], ending.temperature, time)
                                : d.zone.during(entry.zones[z], drive.laws[z], time);
        d.contents(entry, exit, drive, time);
        add_time(entry, drive, time, exit);
        passage.exit = exit;
        break;
    }

    case EndingKind::person:
        passage.duration = {0, infinity};
        passage.exit = plant.during(entry, drive, passage.duration);
        passage.exit.elapsed = entry.elapsed; // durations do not count a person's time
        break;

    case EndingKind::certain: {
        const Condition& condition = d.timeline.conditions[ending.condition];
        const auto holds = [&](double t) {
            return plant.evaluate(condition, plant.during(entry, drive, t), *drive.state) == Verdict::proven;
        };
        // The tail is asked too: a bound that only passes through the condition does not count.
        const auto certain = [&](double t) { return holds(t) && holds(t * (1 + proof_share)); };
        double bad = 0, good = 0;
        if (!certain(0) || !holds(1.0)) {
            good = 1;
            while (!certain(good)) {
                bad = good;
                good *= 1.7;
                if (good > longest_search) break;
            }
            if (good > longest_search) {
                passage.reachable = false;
                const State late = plant.during(entry, drive, longest_search);
                for (const Term& term : condition.terms) {
                    if (term.kind != Term::Kind::compare && term.kind != Term::Kind::truth) continue;
                    Condition alone;
                    alone.terms.push_back(term);
                    if (plant.evaluate(alone, late, *drive.state) == Verdict::proven) continue;
                    const Interval reached = plant.signal(term.left, late, *drive.state);
                    const bool upper =
                        term.comparison == Comparison::less || term.comparison == Comparison::less_equal;
                    const std::string name = timeline::print(term.left, d.timeline);
                    std::string text = term.kind == Term::Kind::truth
                                           ? fmt::format("{} never becomes certain", name)
                                           : fmt::format("{} stays {} {}", name, upper ? "above" : "below",
                                                         amount_of(term.left, upper ? reached.hi : reached.lo));
                    const std::string cause = plant.explain(term.left, late, *drive.state);
                    if (!cause.empty()) text += ": " + cause;
                    if (!passage.why.empty()) passage.why += "; ";
                    passage.why += text;
                }
                passage.duration = {0, infinity};
                passage.exit = late;
                break;
            }
            while (good - bad > search_accuracy * good && good - bad > 1e-3) {
                const double middle = 0.5 * (good + bad);
                (certain(middle) ? good : bad) = middle;
            }
        }
        passage.duration = good;
        passage.exit = plant.during(entry, drive, good);
        if (ending.at_most > 0 && good > ending.at_most) {
            passage.reachable = false;
            passage.why = fmt::format("it takes {} to be certain of {}, and at most {} are given",
                                      to_text(good, Kind::time, 4), timeline::print(condition, d.timeline),
                                      to_text(ending.at_most, Kind::time, 4));
        }
        break;
    }
    }
    return passage;
}

} // namespace athanor::plant
