// Fuel that the load gives off: the rules of the policy are read for each line, and no line carries it. It
// obeys the same rules from the instant at which it may be a quarter of its lower limit.
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace athanor::prove {
namespace {

using timeline::SignalKind;

/// The fuel of the load, by name; nothing where it gives off none.
std::string fuel(const Scene& s) {
    for (const timeline::Evolved& e : s.timeline.evolved) {
        const check::Index index = s.model.gas_named(s.timeline.species[e.species]);
        if (index != check::none && s.model.gases[index].hazards.flammable)
            return s.timeline.species[e.species];
    }
    return {};
}

class Load {
public:
    Load(Scene& s, std::string name) : s_(s), name_(std::move(name)), open_(s.open_tube()) {}

    void judge() {
        const auto some = [&](const plant::State& state, const timeline::State& discrete) {
            return rest(state, discrete) >= flammable_rest;
        };
        auto start = s_.first(some);
        const auto end = after_end();
        // What the gas sweeps away as long as it flows stays in the tube when the power fails.
        auto failed_start = start;
        if (!failed_start) {
            failed_start = s_.first([&](const plant::State& state, const timeline::State& discrete) {
                return rest(without_power(state, discrete), discrete) >= flammable_rest;
            });
            if (failed_start)
                failed_start->state = without_power(failed_start->state, s_.discrete(failed_start->span));
        }
        if (!start && end) start = end;
        if (start) while_it_runs(*start, end, some);
        if (failed_start) without_the_power(*failed_start);
    }

private:
    std::optional<Scene::Found> after_end() const {
        const timeline::State& last = s_.timeline.states[s_.timeline.end_state];
        if (rest(s_.walk.end, last) >= flammable_rest)
            return Scene::Found{s_.spans() - 1, s_.walk.end_s, s_.walk.end};
        const Scene::Behind behind = s_.behind_end();
        if (rest(behind.state, last) < flammable_rest) return std::nullopt;
        return Scene::Found{s_.spans() - 1, s_.walk.end_s, behind.state};
    }
    plant::State without_power(const plant::State& state, const timeline::State& discrete) const {
        const Abort& abort = s_.aborts(discrete);
        return s_.plant.during(state, {abort.laws.data(), &abort.discrete}, {0, longest_abort});
    }

    template<class Some>
    void while_it_runs(const Scene::Found& start, const std::optional<Scene::Found>& left, const Some& some) {
        // Lines of fuel are judged by the policy; the same finding is not made twice.
        rule(Code::flammable_mixture, "What the load gives off cannot burn in the tube",
             s_.first([&](const plant::State& state, const timeline::State& discrete) {
                 return some(state, discrete) && signal(SignalKind::ignitability, state, discrete) >= 1;
             }),
             start, "it may meet air inside the flammable range",
             "sweep with an inert gas before the load is hot enough, and with more of it");
        rule(Code::burner_off, "What the load gives off is burnt where it leaves",
             s_.first([&](const plant::State& state, const timeline::State& discrete) {
                 return some(state, discrete) && !discrete.burner;
             }),
             start, "it leaves the tube and no burner is lit", "light burner");
        rule(Code::flammable_to_pump, "What the load gives off is not pumped",
             s_.first([&](const plant::State& state, const timeline::State& discrete) {
                 return some(state, discrete) && discrete.pump;
             }),
             start, "the pump takes it in", "keep it below a quarter of its limit, with an inert flow");
        opened(start);
        rule(Code::flammable_left_at_end, "Nothing that the load gave off is left in the tube", left, start,
             "the run ends with it in the tube, or hot enough to give it off",
             "sweep on until the load is cold and it is under a quarter of its limit");
    }

    /// What holds for every instant at which the fuel may be there.
    void without_the_power(const Scene::Found& start) {
        const auto failed = [&](bool holds) {
            return holds ? std::nullopt : std::optional<Scene::Found>(start);
        };
        const timeline::Index open = falls_open(start.span);
        const bool set = open == timeline::none || surely_flows(open, start.span);
        rule(Code::no_inert_on_abort, "Inert gas flows by itself when power fails",
             failed(open != timeline::none && set), start,
             set ? "no inert line falls open when power fails"
                 : fmt::format("`{}` falls open when power fails, and may let nothing through",
                               s_.rig.lines[open].name),
             set ? "de_energised open, on a line of inert gas" : flows_by_itself(s_.rig, s_.timeline, open));
        const check::Exhaust& out = s_.rig.exhaust;
        rule(Code::abort_outflow_unburnt, "What leaves the tube after a failure is burnt or drawn off",
             failed((out.has_burner() && out.pilot) || (out.extraction && out.extraction_backup)), start,
             "when power fails neither burner nor extraction takes it",
             "exhaust into extraction_hood { backup_power yes }");
    }

    /// An inert line that a failure of power opens: one that surely flows then, if there is one.
    timeline::Index falls_open(std::size_t from) const {
        timeline::Index found = timeline::none;
        for (timeline::Index l = 0; l < s_.rig.lines.size(); ++l) {
            if (!s_.inert_without_fuel(l) || !s_.timeline.lines[l].falls_open()) continue;
            if (surely_flows(l, from)) return l;
            if (found == timeline::none) found = l;
        }
        return found;
    }
    bool surely_flows(timeline::Index line, std::size_t from) const {
        for (std::size_t i = from; i < s_.spans(); ++i)
            if (!(s_.aborts(s_.discrete(i)).discrete.between[line].lo > 0)) return false;
        return true;
    }

    double signal(SignalKind kind, const plant::State& state, const timeline::State& discrete) const {
        return s_.plant.signal({kind, timeline::none}, state, discrete).hi;
    }
    double rest(const plant::State& state, const timeline::State& discrete) const {
        return s_.fuel(state, discrete);
    }

    void opened(const Scene::Found& start) {
        std::optional<Scene::Found> found;
        for (std::size_t i = 0; i < s_.spans() && !found; ++i) {
            const std::optional<Scene::Opening> met = s_.opening(i);
            if (!met) continue;
            if (rest(met->before, met->was) >= flammable_rest)
                found = Scene::Found{i, s_.walk.at_s(i), met->before};
            else if (rest(met->meanwhile, met->shut) >= flammable_rest)
                found = Scene::Found{i, s_.walk.at_s(i), met->meanwhile};
        }
        rule(Code::opening_tube, "The tube is opened only without what the load gave off", found, start,
             "the tube is opened with it inside", "sweep it first, until it is under a quarter of its limit");
    }

    void rule(Code code, std::string title, const std::optional<Scene::Found>& found, const Scene::Found& start,
              std::string_view what, std::string_view remedy) {
        s_.row(std::string(name(code)), std::move(title), !found, "", found ? found->at_s : start.at_s,
               s_.source(found ? found->span : start.span));
        if (!found || s_.out.has_error(code)) return;
        if (open_.applies()) return through_open_ends(*found);
        s_.out
            .error(code, s_.source(found->span),
                   fmt::format("the load gives off {}, up to {} of its lower limit: {}", name_,
                               to_text(rest(found->state, s_.discrete(found->span)), Kind::fraction, 3), what))
            .with_label(fmt::format("at {} of the run", to_clock(found->at_s)))
            .cause("the recipe's `load` declares it; gas from the load obeys every rule of its hazard")
            .remedy(std::string(remedy));
    }

    /// One fault, whatever rules it breaks: nothing is known to carry the gas out. No inert gas, no burner
    /// could be had.
    void through_open_ends(const Scene::Found& found) {
        if (std::exchange(open_told_, true)) return;
        const check::Figure& draught = s_.rig.ends.draught;
        Diagnostic& d = s_.out.error(
            Code::flammable_mixture, s_.source(found.span),
            fmt::format(
                "the load gives off {}, up to {} of its lower limit in a tube with open ends: it may burn "
                "with the air in it",
                name_, to_text(rest(found.state, s_.discrete(found.span)), Kind::fraction, 3)));
        d.with_label(fmt::format("at {} of the run", to_clock(found.at_s)));
        d.cause(draught.given
                    ? fmt::format("the declared draught of {} mixes to {} at least (`mixing`)",
                                  to_text(draught.lo(), Kind::flow, 3),
                                  to_text(s_.rig.mixing.lo(), Kind::fraction, 2))
                    : "only diffusion is sure to carry it out of the ends; what draught passes through is not "
                      "declared");
        // Two digits, and never less than is needed.
        const double needed = 1.02 * from_si(open_.draught(), *unit_named("slm")),
                     digit = std::pow(10, std::floor(std::log10(needed)) - 1);
        d.remedy(fmt::format(
            "see that enough air passes through, and declare it in the rig:  ends open_ends {{ draught "
            "{:.6g} slm }}",
            std::ceil(needed / digit) * digit));
        d.remedy("or heat more slowly, and declare the smaller flow that then comes off at a time");
    }

    Scene& s_;
    std::string name_;
    OpenTube open_;
    bool open_told_ = false;
};

} // namespace

void check_load(Scene& s) {
    if (std::string name = fuel(s); !name.empty()) Load(s, std::move(name)).judge();
}

} // namespace athanor::prove
