#include "tests/mutation/danger.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>
#include <stdexcept>

namespace athanor::mutation {

using simulator::Sample;

namespace {

constexpr double quarter = 0.25 * (1 + 1e-6); // of the lower limit
constexpr double air = 0.01 * (1 + 1e-6);     // mole fraction of oxygen
constexpr double kelvin = 0.6;                // the simulator's own gap, see condition.cpp
constexpr double pressure = 100;              // Pa, the same

bool flammable(const check::Model& model, const check::Line& line) {
    return line.gas < model.gases.size() && model.gases[line.gas].hazards.flammable;
}

/// The greatest safety temperature of the fuels that a line carries.
double safety(const check::Model& model, const check::Line& line) {
    double greatest = 0;
    for (const auto& [part, share] : model.gases[line.gas].parts)
        if (part < model.gases.size() && model.gases[part].safety_temperature.given)
            greatest = std::max(greatest, model.gases[part].safety_temperature.hi());
    return greatest;
}

/// The declared ends that all work against a purge and against a hot tube: poor mixing, meters that show too
/// much, slow plugs, the greatest leak; a sensor that shows too much, a load that is cold and slow.
void adverse(const check::Rig& rig, simulator::Draw& d) {
    const auto own = [](const check::Figure& figure, double end, double& value) {
        if (figure.given) value = end;
    };
    own(rig.mixing, rig.mixing.lo(), d.mixing);
    own(rig.leak_rate, std::max(0.0, rig.leak_rate.hi()) / (8.314462618 * 293.15), d.leak); // stated at 20 degC
    d.leaks_always = true;
    own(rig.ends.air_release, rig.ends.air_release.hi(), d.air_release);
    own(rig.ends.porosity, rig.ends.porosity.hi(), d.porosity);
    own(rig.load_lag, rig.load_lag.hi(), d.load_lag);
    own(rig.load_offset, rig.load_offset.lo(), d.load_offset);
    d.sensor = 1;
    d.control_error = -std::abs(d.control_error);
    for (simulator::LineDraw& line : d.lines) {
        line.of_reading = -std::abs(line.of_reading);
        line.of_full = -std::abs(line.of_full);
    }
}

class Judge {
public:
    Judge(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
          const simulator::Draw& draw, const simulator::Trajectory& run, bool failed)
        : model_(model), rig_(rig), timeline_(timeline), draw_(draw), run_(run), failed_(failed) {}

    Verdict verdict() {
        if (run_.samples.empty()) return {};
        for (std::size_t i = 0; i < run_.spans.size() && !out_.danger; ++i) {
            // A failure that would come after the run's end does not come.
            const bool after = run_.samples[run_.spans[i].first].span >= timeline_.spans.size();
            if (after)
                fall(i - 1);
            else
                enter(i);
            const timeline::State& state = after ? fallen_ : state_of(i);
            for (std::size_t k = run_.spans[i].first; k < run_.spans[i].last && !out_.danger; ++k)
                look(run_.samples[k], state, after, i);
        }
        if (!failed_ && run_.spans.size() == timeline_.spans.size() && run_.spans.back().ended) finish();
        return std::move(out_);
    }

private:
    const timeline::State& state_of(std::size_t span) const {
        return timeline_.states[timeline_.spans[span].state];
    }
    void say(Harm harm, const Sample& s, std::string text) {
        if (!out_.danger) out_.danger = Danger{harm, s.time, std::move(text)};
    }
    Instant instant(const Sample& s, const timeline::State& state) const {
        return {model_, rig_, timeline_, state, draw_, s};
    }

    /// Only the burner and the pump of a failed rig are asked for; flows are measured.
    void fall(std::size_t last) {
        fallen_ = state_of(last);
        fallen_.burner = fallen_.burner && rig_.exhaust.pilot;
        fallen_.pump = fallen_.pump && rig_.pump.open_without_power;
    }

    void enter(std::size_t span) {
        const timeline::Span& s = timeline_.spans[span];
        if (span > 0 && exposed_)
            for (timeline::Index a = 0; a < s.actions; ++a)
                if (timeline_.actions[s.first_action + a].kind == timeline::ActionKind::open_tube)
                    say(Harm::opened_or_pumped, *before_, fmt::format("tube opened in span {}", span));
        expectations(span);
    }

    void expectations(std::size_t boundary) {
        // Before anything ran it is asked of the tube as it was loaded.
        if (before_ == nullptr) before_ = &run_.samples.front();
        for (const timeline::Expectation& e : timeline_.expectations) {
            if (e.boundary != boundary || failed_) continue;
            timeline::Index action = timeline_.end_first;
            timeline::State state = state_of(boundary == 0 ? 0 : boundary - 1);
            if (boundary < timeline_.spans.size()) action = timeline_.spans[boundary].first_action;
            if (e.after_actions > 0)
                state = timeline_.states[timeline_.actions[action + e.after_actions - 1].state];
            const Truth t = truth(timeline_.conditions[e.condition], instant(*before_, state), true);
            if (t == Truth::somewhere || t == Truth::nowhere)
                say(Harm::requirement, *before_,
                    "expect " + timeline::print(timeline_.conditions[e.condition], timeline_));
        }
    }

    void requirements(const Sample& s, const timeline::State& state, std::size_t span) {
        for (const timeline::Requirement& r : timeline_.requirements) {
            if (span < r.first_span || span >= r.last_span) continue;
            const Instant now = instant(s, state);
            if (r.guard != timeline::none) {
                // A guard is met as soon as one point meets it, beyond doubt.
                const Truth g = truth(timeline_.conditions[r.guard], now, false);
                if (g == Truth::nowhere || g == Truth::unknown) continue;
            }
            const Truth t = truth(timeline_.conditions[r.condition], now, true);
            if (t == Truth::somewhere || t == Truth::nowhere)
                say(Harm::requirement, s,
                    "require " + timeline::print(timeline_.conditions[r.condition], timeline_));
        }
    }

    void look(const Sample& s, const timeline::State& state, bool after, std::size_t span) {
        const Instant now = instant(s, state);
        before_ = &s;
        bool flows = false, inert = false;
        for (std::size_t l = 0; l < rig_.lines.size(); ++l) {
            if (s.lines[l] <= 0) continue;
            if (flammable(model_, rig_.lines[l])) {
                flows = true;
                safe_above_ = std::max(safe_above_, safety(model_, rig_.lines[l]));
            } else if (rig_.lines[l].gas < model_.gases.size() &&
                       model_.gases[rig_.lines[l].gas].hazards.inert) {
                inert = true;
            }
        }
        const double free = fuel(now, false), pores = fuel(now, true);
        const bool fuelled = free > quarter || pores > quarter;
        exposed_ = flows || (exposed_ && fuelled);
        double coldest = infinity;
        for (const simulator::ZoneSample& z : s.zones) coldest = std::min({coldest, z.control, z.load});
        if (exposed_) {
            if (out_.exposed.empty() || coldest < coldest_) {
                coldest_ = coldest;
                out_.coldest_at = s.time;
            }
            out_.exposed.push_back(s.time);
            const bool cold = coldest < safe_above_ - kelvin;
            const double oxygen_free = fraction(now, "oxygen", false),
                         oxygen_pores = fraction(now, "oxygen", true);
            const bool mixed = (free > quarter && oxygen_free > air) || (pores > quarter && oxygen_pores > air);
            const std::string facts = fmt::format(
                "{:.1f} degC, fuel {:.3g} (pores {:.3g}) of the limit, oxygen {:.3g} (pores {:.3g})",
                coldest - 273.15, free, pores, oxygen_free, oxygen_pores);
            if (!after && cold) say(Harm::cold_fuel, s, facts);
            if (mixed) say(Harm::fuel_and_oxygen, s, facts);
            if (!state.burner &&
                (!after || (fuelled && !(rig_.exhaust.extraction && rig_.exhaust.extraction_backup))))
                say(Harm::unburnt, s, facts);
            const bool air_inside = oxygen_free > air || oxygen_pores > air;
            // Fuel that no valve stops goes on for any length of time.
            if (after && cold && (flows || (fuelled && (air_inside || !inert))))
                say(Harm::cold_after_failure, s,
                    facts + (flows   ? ", fuel flows"
                             : inert ? ""
                                     : ", no inert flow"));
            if (fuelled && (state.tube_open || state.pump)) say(Harm::opened_or_pumped, s, facts);
        }
        double rated = infinity;
        if (rig_.seals.rated.given) rated = rig_.seals.rated.lo();
        if (rig_.tube.rated.given) rated = std::min(rated, rig_.tube.rated.lo());
        const double over = s.pressure - draw_.ambient_pressure;
        if (over > rated + pressure)
            say(Harm::over_rated, s, fmt::format("{:.0f} Pa over the room, rated {:.0f} Pa", over, rated));
        if (!after) requirements(s, state, span);
    }

    void finish() {
        expectations(timeline_.spans.size());
        if (exposed_) say(Harm::opened_or_pumped, run_.samples.back(), "the run ends with fuel in the tube");
    }

    const check::Model& model_;
    const check::Rig& rig_;
    const timeline::Timeline& timeline_;
    const simulator::Draw& draw_;
    const simulator::Trajectory& run_;
    const bool failed_;
    timeline::State fallen_;
    const Sample* before_ = nullptr;
    bool exposed_ = false;
    double safe_above_ = 0, coldest_ = infinity;
    Verdict out_;
};

} // namespace

std::string_view name(Harm harm) {
    switch (harm) {
    case Harm::cold_fuel: return "flammable gas in a cold tube";
    case Harm::fuel_and_oxygen: return "fuel and oxygen together";
    case Harm::unburnt: return "fuel leaves unburnt";
    case Harm::cold_after_failure: return "cold with fuel after a failure";
    case Harm::opened_or_pumped: return "opened, pumped or ended with fuel";
    case Harm::over_rated: return "pressure over the rating";
    case Harm::requirement: return "requirement broken";
    }
    return "";
}

Verdict judge(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
              const simulator::Draw& draw, const simulator::Trajectory& run, bool failed) {
    return Judge(model, rig, timeline, draw, run, failed).verdict();
}

std::optional<Found> search(const check::Model& model, const check::Rig& rig,
                            const timeline::Timeline& timeline, const Search& how, Effort& effort) {
    simulator::Options options;
    options.every_step = true;
    options.accuracy = 1e-7;
    std::mt19937 random(how.seed);
    for (std::size_t k = 0; k < how.draws; ++k) {
        Found found;
        const auto seed = static_cast<unsigned>(random());
        if (!simulator::draw(model, rig, timeline, seed, k % 2 == 0, found.draw)) continue;
        if (k % 4 == 0) adverse(rig, found.draw);
        const auto run = [&](std::optional<simulator::Fault> fault) -> Verdict {
            simulator::Trajectory t;
            try {
                t = simulator::simulate(model, rig, timeline, found.draw, fault, options);
            } catch (const std::runtime_error&) { // no headway: the simulator's own fault, counted
                ++effort.given_up;
                return {};
            }
            ++effort.runs;
            effort.steps += t.steps;
            if (how.look) how.look(found.draw, t, fault.has_value());
            return judge(model, rig, timeline, found.draw, t, fault.has_value());
        };
        const Verdict plain = run({});
        if (plain.danger) {
            found.danger = *plain.danger;
            return found;
        }
        if (k % 2 != 0) continue;
        std::vector<double> instants;
        const std::vector<double>& exposed = plain.exposed;
        if (exposed.empty()) {
            instants.push_back(3600 * static_cast<double>(random() % 12));
        } else {
            // Where it has just come in, where it is about to be gone, where it is coldest, and anywhere.
            instants = {exposed.front() + 1, exposed.back() - 1, plain.coldest_at + 0.5};
            while (instants.size() < how.faults) instants.push_back(exposed[random() % exposed.size()] + 0.5);
            instants.resize(how.faults);
        }
        for (const double at : instants) {
            found.fault = simulator::Fault{at, 3 * 3600.0};
            ++effort.faults;
            const Verdict failed = run(found.fault);
            if (!failed.danger) continue;
            found.danger = *failed.danger;
            return found;
        }
    }
    return {};
}

} // namespace athanor::mutation
