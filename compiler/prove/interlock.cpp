#include "compiler/prove/interlock.hpp"

#include "compiler/check/condition.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/prove/fault.hpp"
#include "compiler/prove/hazards.hpp"
#include "compiler/prove/meter.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

namespace athanor::prove {
namespace {

using timeline::Signal;
using timeline::SignalKind;
using timeline::Term;

/// s that a held programme may go on behind its end (common practice, no source).
constexpr double held_at_most = 24 * 3600;

/// What the words of an interlock's condition mean on its rig.
class InterlockWords : public check::Words {
public:
    InterlockWords(const check::Model& model, const check::Rig& rig, const timeline::Timeline* timeline,
                   Diagnostics* out)
        : model_(model), rig_(rig), timeline_(timeline), out_(out) {}

    check::Value value(check::ExprId expr) override {
        check::Frame frame;
        frame.ambient_pressure = rig_.ambient_pressure.value;
        frame.has_ambient = true;
        Diagnostics unheard;
        return check::evaluate(model_, expr, frame, out_ == nullptr ? unheard : *out_);
    }

    bool signal(const check::Expr& e, Signal& signal) override {
        signal = {e.signal, timeline::none};
        if (e.name == 0) return true;
        const std::string_view name = model_.names[e.name];
        const auto find = [&](const std::vector<std::string>& list) {
            const auto at = std::find(list.begin(), list.end(), name);
            return at == list.end() ? timeline::none : static_cast<timeline::Index>(at - list.begin());
        };
        switch (e.signal) {
        case SignalKind::flow:
        case SignalKind::line_open: {
            const std::vector<check::Index> named = model_.lines_named(rig_, name);
            if (named.size() == 1) signal.index = named.front();
            break;
        }
        case SignalKind::fraction:
            if (timeline_ != nullptr) signal.index = find(timeline_->species);
            break;
        case SignalKind::zone_temperature:
        case SignalKind::setpoint:
            signal.index = find(timeline_ != nullptr ? timeline_->zones : rig_.furnace.zones);
            if (signal.index != timeline::none) return true;
            refuse(Code::unknown_name, e.span, fmt::format("rig `{}` has no zone `{}`", rig_.name, name));
            return false;
        default: return true;
        }
        if (signal.index == timeline::none) signal = {SignalKind::constant, 0};
        return true;
    }

    void refuse(Code code, athanor::Span at, const std::string& message) override {
        if (out_ != nullptr) out_->error(code, at, message);
    }

private:
    const check::Model& model_;
    const check::Rig& rig_;
    const timeline::Timeline* timeline_;
    Diagnostics* out_;
};

/// One comparison or truth of a condition.
struct Part {
    Term term;
    bool negated = false;
    bool compares() const { return term.kind == Term::Kind::compare; }
    bool less() const { return check::upper(term.comparison); }
    double limit() const { return less() ? term.value.lo : term.value.hi; }
};
using Alternatives = std::vector<std::vector<Part>>;

Alternatives both(const Alternatives& left, const Alternatives& right) {
    Alternatives all;
    for (const std::vector<Part>& a : left)
        for (const std::vector<Part>& b : right) {
            all.push_back(a);
            all.back().insert(all.back().end(), b.begin(), b.end());
        }
    return all;
}

/// The condition as alternatives of parts that must all hold; empty where it has another shape.
Alternatives alternatives(const timeline::Condition& condition) {
    std::vector<Alternatives> stack;
    for (const Term& term : condition.terms) {
        if (term.kind == Term::Kind::compare || term.kind == Term::Kind::truth) {
            const bool leaf = !term.right_is_signal;
            stack.push_back(leaf ? Alternatives{{Part{term}}} : Alternatives{});
            continue;
        }
        if (term.kind == Term::Kind::not_) {
            Alternatives& last = stack.back();
            const bool leaf =
                last.size() == 1 && last[0].size() == 1 && !last[0][0].compares() && !last[0][0].negated;
            if (leaf)
                last[0][0].negated = true;
            else
                last.clear();
            continue;
        }
        const Alternatives right = std::move(stack.back());
        stack.pop_back();
        Alternatives& left = stack.back();
        if (term.kind == Term::Kind::and_ || left.empty() || right.empty())
            left = both(left, right);
        else
            left.insert(left.end(), right.begin(), right.end());
    }
    return stack.empty() ? Alternatives{} : std::move(stack.back());
}

/// Below which measured temperature the condition surely holds while the line is open; 0: never sure.
double trips_below(const timeline::Condition& condition, timeline::Index line) {
    std::vector<double> stack;
    for (const Term& term : condition.terms) {
        if (term.kind == Term::Kind::truth) {
            stack.push_back(term.left == Signal{SignalKind::line_open, line} ? infinity : 0);
        } else if (term.kind == Term::Kind::compare) {
            const bool tells = term.left.kind == SignalKind::temperature && !term.right_is_signal &&
                               check::upper(term.comparison);
            stack.push_back(tells ? term.value.lo : 0);
        } else if (term.kind == Term::Kind::not_) {
            stack.back() = 0;
        } else {
            const double right = stack.back();
            stack.pop_back();
            stack.back() =
                term.kind == Term::Kind::and_ ? std::min(stack.back(), right) : std::max(stack.back(), right);
        }
    }
    return stack.empty() ? 0 : stack.back();
}

/// mol/s that a meter surely shows to be more than nothing. Below the least flow that it can be set to no
/// accuracy is declared, so that what it shows there says nothing.
double least_told(const check::Meter& meter) {
    if (!meter.range.given) return infinity;
    const double least = meter.range.lo();
    return std::max(least, with_error(least, meter).hi - least);
}

/// What answers each fault of one line of flammable gas.
class FuelFaults {
public:
    FuelFaults(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
               const plant::Plant& plant, const PowerFailure& failure, timeline::Index fuel,
               std::vector<FaultAnswer>& list)
        : model_(model), rig_(rig), timeline_(timeline), plant_(plant), fuel_(fuel),
          name_(rig.lines[fuel].name), opens_(opens_inert(model, rig, timeline)), list_(list) {
        flows_.assign(rig.lines.size(), true);
        for (const timeline::Span& span : timeline.spans) {
            const timeline::State& state = timeline.states[span.state];
            if (!may_flow(state)) continue;
            for (std::size_t l = 0; l < flows_.size(); ++l)
                flows_[l] = flows_[l] && failure.flow(l, state).lo > 0;
        }
    }

    void all() {
        heater_lost();
        for (timeline::Index l = 0; l < rig_.lines.size() && l < timeline_.lines.size(); ++l)
            if (timeline_.lines[l].used && (l == fuel_ || inert_without_fuel(model_, rig_.lines[l])))
                supply_lost(l);
        add(Fault::burner_out, fmt::format("burner out while {} flows", name_),
            interlock([](const Part& p) { return p.term.left.kind == SignalKind::burner && p.negated; }),
            advice("not burner"));
        programme_held();
    }

private:
    /// Whether the fuel is open, or may become so as the temperature goes.
    bool may_flow(const timeline::State& state) const {
        if (state.open[fuel_] != 0) return true;
        for (std::size_t t = 0; t < timeline_.thresholds.size(); ++t)
            if ((state.armed >> t & 1U) != 0 && timeline_.thresholds[t].line == fuel_) return true;
        return false;
    }

    void heater_lost() {
        const std::optional<Cutoff> cutoff = cold_cutoff(model_, rig_, fuel_, plant_);
        const double safe = cutoff ? cutoff->needed : infinity;
        const double asked =
            std::isfinite(safe) ? std::ceil(safe - physics::zero_celsius) + physics::zero_celsius : safe;
        add(Fault::heater_lost, fmt::format("heater lost while {} flows", name_), interlock([&](const Part& p) {
                return p.term.left.kind == SignalKind::temperature && p.compares() && p.less() &&
                       p.limit() >= safe;
            }),
            advice("temperature < " + to_text(asked, Kind::temperature)));
    }

    void supply_lost(timeline::Index l) {
        const bool is_fuel = l == fuel_;
        const check::Line& line = rig_.lines[l];
        const double told = least_told(line.meter) * (1 - 1e-9); // but for the rounding of units
        const Answer answer = interlock(
            [&](const Part& p) {
                return p.term.left == Signal{SignalKind::flow, l} && p.compares() && p.less() &&
                       p.limit() > 0 && p.limit() >= told;
            },
            l);
        add(is_fuel ? Fault::fuel_lost : Fault::inert_lost, fmt::format("supply of {} lost", line.name), answer,
            // While the fuel flows alone its inert gas does not: an interlock on that flow would act in the run
            // as planned.
            fmt::format("low_pressure trips, on line {}{}", line.name,
                        is_fuel ? "" : ", beside another inert line that falls open"));
        if (answer.by != nullptr || !line.low_pressure_trips) return;
        // The trip is a power failure with this gas missing.
        const bool another =
            !is_fuel && std::none_of(rig_.lines.begin(), rig_.lines.end(), [&](const check::Line& o) {
                return &o != &line && o.open_without_power && inert_without_fuel(model_, o);
            });
        if (another) return;
        list_.back().answer = "low_pressure trips";
        if (!is_fuel) list_.back().without = l;
    }

    /// A timer answers within a day of the planned end; a wait for a person counts nothing.
    void programme_held() {
        double latest = held_at_most;
        for (const timeline::Span& span : timeline_.spans)
            if (std::isfinite(span.duration.hi)) latest += span.duration.hi;
        add(Fault::programme_held, fmt::format("programme held while {} flows", name_),
            interlock([&](const Part& p) {
                return p.term.left.kind == SignalKind::elapsed && p.compares() && !p.less() &&
                       p.limit() <= latest;
            }),
            advice("elapsed > 24 h"));
    }

    struct Answer {
        const check::Interlock* by = nullptr;
        timeline::Index unset =
            timeline::none; // else the line that one would open, and from which nothing may come
    };
    /// An interlock that acts on `wanted`, with nothing beside it but that the fuel is open, and opens an inert
    /// line other than the one that is `lost`, from which gas surely comes then.
    Answer interlock(const std::function<bool(const Part&)>& wanted,
                     timeline::Index lost = timeline::none) const {
        Answer answer;
        for (const check::Interlock& i : rig_.interlocks) {
            const bool shuts = std::find(i.closes.begin(), i.closes.end(), name_) != i.closes.end();
            bool purges = false;
            timeline::Index unset = timeline::none;
            for (timeline::Index l = 0; l < rig_.lines.size(); ++l) {
                if (l == lost || !inert_without_fuel(model_, rig_.lines[l]) ||
                    std::find(i.opens.begin(), i.opens.end(), rig_.lines[l].name) == i.opens.end())
                    continue;
                if (flows_[l])
                    purges = true;
                else
                    unset = l;
            }
            if (!shuts || (!purges && unset == timeline::none)) continue;
            const std::optional<timeline::Condition> condition = condition_of(model_, rig_, &timeline_, i);
            if (!condition) continue;
            for (const std::vector<Part>& all : alternatives(*condition)) {
                const bool nothing_else =
                    std::all_of(all.begin(), all.end(), [&](const Part& p) { return is_open(p) || wanted(p); });
                if (!nothing_else || std::none_of(all.begin(), all.end(), wanted)) continue;
                if (purges) return {&i, timeline::none};
                answer.unset = unset;
            }
        }
        return answer;
    }
    bool is_open(const Part& p) const {
        return p.term.left == Signal{SignalKind::line_open, fuel_} && !p.negated;
    }

    void add(Fault fault, std::string what, const Answer& answer, std::string needed) {
        FaultAnswer a{fault, fuel_, std::move(what), "", std::move(needed), rig_.lines[fuel_].source};
        if (answer.by != nullptr) {
            a.answer = "interlock";
            a.source = answer.by->source;
        } else if (answer.unset != timeline::none) {
            a.needed = flows_by_itself(rig_, timeline_, answer.unset);
            a.unset = answer.unset;
        }
        list_.push_back(std::move(a));
    }
    std::string advice(const std::string& condition) const {
        return fmt::format("interlock {} is open and {} closes {}{}", name_, condition, name_, opens_);
    }

    const check::Model& model_;
    const check::Rig& rig_;
    const timeline::Timeline& timeline_;
    const plant::Plant& plant_;
    const timeline::Index fuel_;
    const std::string& name_;
    const std::string opens_;
    std::vector<bool> flows_; // per line: gas surely comes from it if it is opened while the fuel is
    std::vector<FaultAnswer>& list_;
};

} // namespace

std::optional<timeline::Condition> condition_of(const check::Model& model, const check::Rig& rig,
                                                const timeline::Timeline* timeline,
                                                const check::Interlock& interlock, Diagnostics* out) {
    if (interlock.condition == check::none || interlock.condition == 0) return std::nullopt;
    timeline::Condition condition;
    InterlockWords words(model, rig, timeline, out);
    if (!check::lower(model, rig, interlock.condition, words, condition)) return std::nullopt;
    return condition;
}

std::optional<Cutoff> cold_cutoff(const check::Model& model, const check::Rig& rig, timeline::Index line,
                                  const plant::Plant& plant) {
    const check::Index index = rig.lines[line].gas;
    if (index >= model.gases.size()) return std::nullopt;
    const check::Gas& gas = model.gases[index];
    if (!gas.hazards.flammable || !gas.safety_temperature.given) return std::nullopt;
    const double safety = gas.safety_temperature.hi();
    Cutoff cutoff{0, safety + plant.sensor_tolerance(safety), nullptr};
    for (const check::Interlock& i : rig.interlocks) {
        if (std::find(i.closes.begin(), i.closes.end(), rig.lines[line].name) == i.closes.end()) continue;
        const std::optional<timeline::Condition> condition = condition_of(model, rig, nullptr, i);
        const double trip = condition ? trips_below(*condition, line) : 0;
        if (trip > cutoff.trips) cutoff.trips = trip, cutoff.by = &i;
    }
    return cutoff;
}

std::string opens_inert(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline) {
    const std::string* name = nullptr;
    for (std::size_t l = 0; l < rig.lines.size() && l < timeline.lines.size(); ++l)
        if (inert_without_fuel(model, rig.lines[l]) && (name == nullptr || timeline.lines[l].used))
            name = &rig.lines[l].name;
    return name == nullptr ? "" : fmt::format(", opens {}", *name);
}

std::vector<FaultAnswer> fault_answers(const check::Model& model, const check::Rig& rig,
                                       const timeline::Timeline& timeline, const plant::Plant& plant,
                                       const PowerFailure& failure) {
    std::vector<FaultAnswer> list;
    const auto lines = static_cast<timeline::Index>(std::min(rig.lines.size(), timeline.lines.size()));
    for (timeline::Index fuel = 0; fuel < lines; ++fuel) {
        const check::Index gas = rig.lines[fuel].gas;
        if (!timeline.lines[fuel].used || gas >= model.gases.size() || !model.gases[gas].hazards.flammable)
            continue;
        FuelFaults(model, rig, timeline, plant, failure, fuel, list).all();
    }
    return list;
}

} // namespace athanor::prove
