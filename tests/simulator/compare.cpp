#include "tests/simulator/compare.hpp"

#include "tests/simulator/balance.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>

namespace athanor::simulator {

using timeline::EndingKind;
using timeline::SignalKind;

namespace {

constexpr double slack = 1e-7;  // relative, for the integrator
constexpr double kelvin = 0.05; // K: a tolerance is taken at the set-point, not at the temperature itself
constexpr double in_band_pressure = 5e-5; // what the integrator makes of a valve that lifts
constexpr double of_load = 0.05;          // K: the same, of the load
constexpr double share = 1e-9;            // of a mole fraction: the integrator steps to 1e-8
constexpr double of_dew = 0.02;           // K, where a vapour pressure is turned into a temperature

constexpr double edge = 0.05;    // K over which the simulated clock of a band comes to a stop
constexpr double tracking = 120; // s, the slowest controller of the random rigs
constexpr double in_band = 3e-9; // mol/s

double allowance(SignalKind kind) {
    switch (kind) {
    case SignalKind::load_temperature: return of_load;
    case SignalKind::temperature:
    case SignalKind::zone_temperature:
    case SignalKind::setpoint: return kelvin;
    case SignalKind::dew_point: return of_dew;
    case SignalKind::fraction: return share;
    case SignalKind::flammability: return 100 * share;
    case SignalKind::pressure: return 1e-4;
    case SignalKind::swept:
    case SignalKind::elapsed:
    case SignalKind::burning: return 1e-6;
    default: return 1e-15;
    }
}

bool within(Interval bound, double value, double absolute) {
    return bound.lo - absolute - slack * std::abs(bound.lo) <= value &&
           value <= bound.hi + absolute + slack * std::abs(bound.hi);
}

/// K at which a vapour pressure saturates, by bisection; 0 for none.
double dew_point(double pressure) {
    if (!(pressure > 0)) return 0;
    double lo = 100, hi = 700;
    for (int i = 0; i < 60; ++i) {
        const double middle = 0.5 * (lo + hi);
        (saturation(middle) < pressure ? lo : hi) = middle;
    }
    return std::max(123.15, 0.5 * (lo + hi)); // the formula is not carried below -150 degC
}

} // namespace

std::string Violation::text() const {
    std::ostringstream s;
    s.precision(10);
    s << signal << " = " << value << " outside [" << bound.lo << ", " << bound.hi << "] in span " << span
      << " at " << since;
    if (until > since) s << " to " << until;
    s << " s";
    return s.str();
}

Chain chain(const timeline::Timeline& timeline, const plant::Plant& plant) {
    Chain c;
    plant::State here = plant.start();
    for (std::size_t i = 0; i < timeline.spans.size(); ++i) {
        const timeline::Span& span = timeline.spans[i];
        for (timeline::Index a = 0; a < span.actions; ++a)
            if (timeline.actions[span.first_action + a].kind == timeline::ActionKind::open_tube)
                here = plant.open_tube(here);
        c.entries.push_back(here);
        c.passages.push_back(
            plant.pass(here, {timeline.laws_of(i), &timeline.states[span.state]}, span.ending));
        here = c.passages.back().exit;
    }
    return c;
}

std::vector<Reading> readings(const check::Model& model, const timeline::Timeline& timeline, const Sample& s,
                              bool setpoint_known) {
    std::vector<Reading> r;
    const auto add = [&](std::string name, SignalKind kind, timeline::Index index, double value) {
        r.push_back({std::move(name), {kind, index}, value});
    };
    for (timeline::Index z = 0; z < s.zones.size(); ++z) {
        add("control of " + timeline.zones[z], SignalKind::zone_temperature, z, s.zones[z].control);
        add("load of " + timeline.zones[z], SignalKind::load_temperature, timeline::none, s.zones[z].load);
        add("temperature", SignalKind::temperature, timeline::none, s.zones[z].control);
        if (setpoint_known)
            add("setpoint of " + timeline.zones[z], SignalKind::setpoint, z, s.zones[z].setpoint);
    }
    add("pressure", SignalKind::pressure, timeline::none, s.pressure);
    double free = 0, pore = 0;
    for (timeline::Index i = 0; i < s.free.size(); ++i) {
        add(timeline.species[i], SignalKind::fraction, i, s.free[i]);
        add(timeline.species[i] + " in pores", SignalKind::fraction, i, s.pore[i]);
        for (const check::Gas& gas : model.gases)
            if (gas.name == timeline.species[i] && gas.pure && gas.hazards.flammable && gas.lower_limit.given) {
                free += s.free[i] / gas.lower_limit.lo();
                pore += s.pore[i] / gas.lower_limit.lo();
            }
        if (timeline.species[i] == "water") {
            add("dew_point", SignalKind::dew_point, timeline::none, dew_point(s.free[i] * s.pressure));
            add("dew_point in pores", SignalKind::dew_point, timeline::none, dew_point(s.pore[i] * s.pressure));
        }
    }
    add("flammability", SignalKind::flammability, timeline::none, free);
    add("flammability in pores", SignalKind::flammability, timeline::none, pore);
    add("swept", SignalKind::swept, timeline::none, s.swept);
    add("flow", SignalKind::flow, timeline::none, s.flow);
    add("elapsed", SignalKind::elapsed, timeline::none, s.elapsed);
    add("burning", SignalKind::burning, timeline::none, s.burning);
    return r;
}

std::optional<Violation> outside(const check::Model& model, const timeline::Timeline& timeline,
                                 const plant::Plant& plant, const Chain& chain, const Trajectory& trajectory,
                                 Tally& tally) {
    std::optional<Violation> found;
    const bool outlet = std::none_of(model.rigs.begin(), model.rigs.end(), [&](const check::Rig& rig) {
        return rig.name == timeline.rig && rig.exhaust.kind == check::ExhaustKind::shut;
    });
    const auto judge = [&](const plant::State& state, const Sample& s, double since, double until,
                           bool at_end) {
        const timeline::Span& span = timeline.spans[s.span];
        const timeline::State& discrete = timeline.states[span.state];
        const bool person = span.ending.kind == EndingKind::person;
        for (const Reading& r : readings(model, timeline, s, span.ending.kind != EndingKind::band)) {
            // A person's time is not counted at the end, and no instant inside it is known.
            if (person && r.signal.kind == SignalKind::elapsed && !at_end) continue;
            const Interval bound = plant.signal(r.signal, state, discrete);
            const double value = person && r.signal.kind == SignalKind::elapsed ? s.elapsed - s.since : r.value;
            ++tally.compared;
            double allowed = allowance(r.signal.kind);
            if (r.signal.kind == SignalKind::swept) allowed += 1e-3 * value; // counted from pressures, as above
            if (r.signal.kind == SignalKind::pressure) allowed += in_band_pressure * value;
            if (within(bound, value, allowed)) continue;
            ++tally.by_signal[r.name];
            if (!found) found = Violation{r.name, s.span, since, until, value, bound};
        }
        // Free gas and pores are bounded apart, too, and what the outlet draws in.
        for (std::size_t i = 0; i < s.free.size() && !found; ++i) {
            if (!within(state.fraction[i], s.free[i], share))
                found = Violation{timeline.species[i] + ", free gas alone",
                                  s.span,
                                  since,
                                  until,
                                  s.free[i],
                                  state.fraction[i]};
            else if (!within(state.pore[i], s.pore[i], share))
                found = Violation{
                    timeline.species[i] + ", pores alone", s.span, since, until, s.pore[i], state.pore[i]};
        }
        // What moves inside the band of a held set-point is not counted, and is less than a leak; nor is it
        // with the tube open: what it holds is the room's.
        bool comes_down = false;
        for (std::size_t z = 0; z < timeline.zones.size(); ++z)
            comes_down =
                comes_down || cools(timeline.laws_of(s.span)[z], s.zones[z].control, s.zones[z].setpoint);
        const bool open = timeline.states[timeline.spans[s.span].state].tube_open;
        if (!at_end && since > 0 && comes_down && !open && !found &&
            s.drawn_in > state.drawn_in.hi * (1 + slack) + in_band)
            found = Violation{"drawn_in", s.span, since, until, s.drawn_in, state.drawn_in};
        // Where the outlet may be open; what a pump or a shut exhaust does instead shows in the pressure.
        if (outlet && !discrete.pump && !at_end && since > 0 && comes_down && !open && !found &&
            s.taken > state.taken.hi * (1 + slack) + in_band)
            found = Violation{"taken", s.span, since, until, s.taken, state.taken};
    };
    for (std::size_t i = 0; i < trajectory.spans.size() && i < timeline.spans.size() && !found; ++i) {
        const SpanRun& run = trajectory.spans[i];
        const plant::Drive drive = plant::drive(timeline, i);
        double before = 0;
        for (std::size_t k = run.first; k < run.last && !found; ++k) {
            const Sample& s = trajectory.samples[k];
            if (s.since <= 0) continue; // the entry itself is judged as the end of what was before
            judge(plant.during(chain.entries[i], drive, s.since), s, s.since, s.since, false);
            if (s.since > before) {
                const plant::State over = plant.during(chain.entries[i], drive, {before, s.since});
                judge(over, s, before, s.since, false);
                if (k > run.first) judge(over, trajectory.samples[k - 1], before, s.since, false);
            }
            before = s.since;
        }
        const plant::Passage& passage = chain.passages[i];
        if (found || run.first == run.last || run.duration <= 0 || !passage.reachable) continue;
        judge(passage.exit, trajectory.samples[run.last - 1], run.duration, run.duration, true);
        // A clock that stops over hundredths of a kelvin loses the time in which the controller closes them:
        // the error left is at most half the band, so the pace at least half the band in a tracking time.
        const timeline::Ending& ending = timeline.spans[i].ending;
        const double late = ending.kind == EndingKind::band ? edge * tracking / (0.5 * ending.band) : 0;
        if (!found && !(passage.duration.lo * (1 - slack) - 1e-3 <= run.duration &&
                        run.duration <= passage.duration.hi * (1 + slack) + 1e-3 + late))
            found = Violation{"duration", i, 0, 0, run.duration, passage.duration};
        // A person may take any time; what a heater takes over the time that was drawn is bounded all the same.
        const Interval taken = plant.energy(
            chain.entries[i], drive,
            ending.kind == EndingKind::person ? Interval{run.duration} : hull(passage.duration, run.duration));
        ++tally.compared;
        if (!found && !within(taken, run.energy, 1))
            found = Violation{"energy", i, 0, run.duration, run.energy, taken};
    }
    return found;
}

} // namespace athanor::simulator
