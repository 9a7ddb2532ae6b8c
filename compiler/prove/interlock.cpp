#include "compiler/prove/interlock.hpp"

#include "compiler/check/evaluate.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

namespace athanor::prove {
namespace {

using check::Expr;
using check::ExprId;
using check::Op;
using timeline::SignalKind;

/// s that a held programme may go on behind its end (common practice, no source).
constexpr double held_at_most = 24 * 3600;

/// One comparison or truth of a condition, turned so that the signal stands on the left.
struct Part {
    SignalKind signal{};
    std::string_view name; // of a line, where the signal has one
    bool negated = false, less = false, compares = false;
    double limit = 0;
};

class Reader {
public:
    explicit Reader(const check::Model& model) : model_(model) {}

    /// The condition as alternatives of parts that must all hold; empty where it has another shape.
    std::vector<std::vector<Part>> alternatives(ExprId id) const {
        const Expr& e = model_.exprs[id];
        if (e.op != Op::or_ && e.op != Op::and_) {
            Part part;
            if (!leaf(id, part)) return {};
            return {{part}};
        }
        auto left = alternatives(e.a), right = alternatives(e.b);
        if (left.empty() || right.empty()) return {};
        if (e.op == Op::or_) {
            left.insert(left.end(), right.begin(), right.end());
            return left;
        }
        std::vector<std::vector<Part>> both;
        for (const auto& a : left)
            for (const auto& b : right) {
                both.push_back(a);
                both.back().insert(both.back().end(), b.begin(), b.end());
            }
        return both;
    }

private:
    bool leaf(ExprId id, Part& part) const {
        const Expr& e = model_.exprs[id];
        if (e.op == Op::not_) {
            part.negated = true;
            return truth(e.a, part);
        }
        if (e.op != Op::less && e.op != Op::less_equal && e.op != Op::greater && e.op != Op::greater_equal)
            return truth(id, part);
        part.compares = true;
        part.less = e.op == Op::less || e.op == Op::less_equal;
        ExprId left = e.a, right = e.b;
        if (model_.exprs[left].op != Op::signal) {
            std::swap(left, right);
            part.less = !part.less;
        }
        if (!truth(left, part)) return false;
        Diagnostics ignored; // what cannot be evaluated here answers nothing
        const check::Value value = check::evaluate(model_, right, check::Frame{}, ignored);
        if (value.poison()) return false;
        part.limit = part.less ? value.number.lo : value.number.hi;
        return true;
    }

    bool truth(ExprId id, Part& part) const {
        const Expr& e = model_.exprs[id];
        if (e.op != Op::signal) return false;
        part.signal = e.signal;
        if (e.name != 0) part.name = model_.names[e.name];
        return true;
    }

    const check::Model& model_;
};

/// Below which measured temperature the condition surely holds while the line is open; 0: never sure.
double trips_below(const check::Model& model, ExprId id, std::string_view line, std::string_view gas) {
    const Expr& e = model.exprs[id];
    if (e.op == Op::and_)
        return std::min(trips_below(model, e.a, line, gas), trips_below(model, e.b, line, gas));
    if (e.op == Op::or_)
        return std::max(trips_below(model, e.a, line, gas), trips_below(model, e.b, line, gas));
    if (e.op == Op::signal) {
        const bool open = e.signal == SignalKind::line_open && e.name != 0 &&
                          (model.names[e.name] == line || model.names[e.name] == gas);
        return open ? infinity : 0;
    }
    const bool less = e.op == Op::less || e.op == Op::less_equal;
    if (!less && e.op != Op::greater && e.op != Op::greater_equal) return 0;
    const ExprId signal = less ? e.a : e.b, limit = less ? e.b : e.a;
    if (model.exprs[signal].op != Op::signal || model.exprs[signal].signal != SignalKind::temperature) return 0;
    Diagnostics ignored; // a limit that cannot be evaluated here promises nothing
    const check::Value value = check::evaluate(model, limit, check::Frame{}, ignored);
    return value.poison() ? 0 : value.number.lo;
}

bool is_inert(const check::Model& model, const check::Line& line) {
    if (line.gas >= model.gases.size()) return false;
    const check::Hazards& hazards = model.gases[line.gas].hazards;
    return hazards.inert && !hazards.flammable;
}

} // namespace

bool names_line(const check::Model& model, const check::Rig& rig, timeline::Index line, std::string_view name) {
    const check::Index gas = rig.lines[line].gas;
    return rig.lines[line].name == name || (gas < model.gases.size() && model.gases[gas].name == name);
}

std::optional<Cutoff> cold_cutoff(const check::Model& model, const check::Rig& rig, timeline::Index line,
                                  const plant::Plant& plant) {
    const check::Index index = rig.lines[line].gas;
    if (index >= model.gases.size()) return std::nullopt;
    const check::Gas& gas = model.gases[index];
    if (!gas.hazards.flammable || !gas.safety_temperature.given) return std::nullopt;
    const double safety = gas.safety_temperature.hi();
    Cutoff cutoff{0, safety + plant.sensor_tolerance(safety), nullptr};
    const std::string& name = rig.lines[line].name;
    for (const check::Interlock& i : rig.interlocks) {
        if (i.condition == check::none || i.condition == 0) continue;
        if (std::none_of(i.closes.begin(), i.closes.end(),
                         [&](const std::string& n) { return names_line(model, rig, line, n); }))
            continue;
        const double trip = trips_below(model, i.condition, name, gas.name);
        if (trip > cutoff.trips) cutoff.trips = trip, cutoff.by = &i;
    }
    return cutoff;
}

std::string opens_inert(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline) {
    const std::string* name = nullptr;
    for (std::size_t l = 0; l < rig.lines.size() && l < timeline.lines.size(); ++l)
        if (is_inert(model, rig.lines[l]) && (name == nullptr || timeline.lines[l].used))
            name = &rig.lines[l].name;
    return name == nullptr ? "" : fmt::format(", opens {}", *name);
}

std::vector<FaultAnswer> fault_answers(const check::Model& model, const check::Rig& rig,
                                       const timeline::Timeline& timeline, const plant::Plant& plant) {
    std::vector<FaultAnswer> list;
    static const check::Gas nothing;
    const auto gas = [&](timeline::Index l) -> const check::Gas& {
        const check::Index index = rig.lines[l].gas;
        return index < model.gases.size() ? model.gases[index] : nothing;
    };
    const auto inert = [&](timeline::Index l) { return is_inert(model, rig.lines[l]); };
    const Reader reader(model);
    // A timer answers a held programme within a day of the planned end; a wait for a person counts nothing.
    double latest = held_at_most;
    for (const timeline::Span& span : timeline.spans)
        if (std::isfinite(span.duration.hi)) latest += span.duration.hi;
    const auto lines = static_cast<timeline::Index>(std::min(rig.lines.size(), timeline.lines.size()));
    for (timeline::Index fuel = 0; fuel < lines; ++fuel) {
        if (!timeline.lines[fuel].used || !gas(fuel).hazards.flammable) continue;
        const std::string& name = rig.lines[fuel].name;
        const auto is_open = [&](const Part& p) {
            return p.signal == SignalKind::line_open && !p.negated && names_line(model, rig, fuel, p.name);
        };
        // An interlock that acts on `wanted`, with nothing beside it but that the fuel is open.
        const auto interlock = [&](const std::function<bool(const Part&)>& wanted) -> const check::Interlock* {
            for (const check::Interlock& i : rig.interlocks) {
                if (i.condition == check::none || i.condition == 0) continue;
                const bool shuts = std::any_of(i.closes.begin(), i.closes.end(), [&](const std::string& n) {
                    return names_line(model, rig, fuel, n);
                });
                bool purges = false;
                for (const std::string& n : i.opens)
                    for (timeline::Index l = 0; l < lines; ++l)
                        purges = purges || (inert(l) && names_line(model, rig, l, n));
                if (!shuts || !purges) continue;
                for (const std::vector<Part>& all : reader.alternatives(i.condition)) {
                    const bool nothing_else = std::all_of(
                        all.begin(), all.end(), [&](const Part& p) { return is_open(p) || wanted(p); });
                    if (nothing_else && std::any_of(all.begin(), all.end(), wanted)) return &i;
                }
            }
            return nullptr;
        };
        const auto add = [&](Fault fault, std::string what, const check::Interlock* by, std::string needed) {
            FaultAnswer a{fault, fuel, std::move(what), "", std::move(needed), rig.lines[fuel].source};
            if (by != nullptr) {
                a.answer = "interlock";
                a.source = by->source;
            }
            list.push_back(std::move(a));
        };
        const std::string opens = opens_inert(model, rig, timeline);
        const auto advice = [&](const std::string& condition) {
            return fmt::format("interlock {} is open and {} closes {}{}", name, condition, name, opens);
        };

        const std::optional<Cutoff> cutoff = cold_cutoff(model, rig, fuel, plant);
        const double safe = cutoff ? cutoff->needed : infinity;
        add(Fault::heater_lost, fmt::format("heater lost while {} flows", name), interlock([&](const Part& p) {
                return p.signal == SignalKind::temperature && p.compares && p.less && p.limit >= safe;
            }),
            advice("temperature < " +
                   to_text(std::isfinite(safe) ? std::ceil(safe - physics::zero_celsius) + physics::zero_celsius
                                               : safe,
                           Kind::temperature)));

        for (timeline::Index l = 0; l < lines; ++l) {
            if (!timeline.lines[l].used || (l != fuel && !inert(l))) continue;
            const bool is_fuel = l == fuel;
            // No meter shows less than nothing.
            const auto* by = interlock([&](const Part& p) {
                return p.signal == SignalKind::flow && p.compares && p.less && p.limit > 0 &&
                       names_line(model, rig, l, p.name);
            });
            add(is_fuel ? Fault::fuel_lost : Fault::inert_lost,
                fmt::format("supply of {} lost", rig.lines[l].name), by,
                // While the fuel flows alone its inert gas does not: an interlock on that flow would act in the
                // run as planned.
                fmt::format("low_pressure trips, on line {}{}", rig.lines[l].name,
                            is_fuel ? "" : ", beside another inert line that falls open"));
            if (by == nullptr && rig.lines[l].low_pressure_trips) {
                // The trip is a power failure with this gas missing.
                const bool another =
                    !is_fuel && std::none_of(rig.lines.begin(), rig.lines.end(), [&](const check::Line& o) {
                        return &o != &rig.lines[l] && o.open_without_power &&
                               gas(static_cast<timeline::Index>(&o - rig.lines.data())).hazards.inert;
                    });
                if (!another) list.back().answer = "low_pressure trips";
                if (!another && !is_fuel) list.back().without = l;
            }
        }
        add(Fault::burner_out, fmt::format("burner out while {} flows", name),
            interlock([&](const Part& p) { return p.signal == SignalKind::burner && p.negated; }),
            advice("not burner"));
        add(Fault::programme_held, fmt::format("programme held while {} flows", name),
            interlock([&](const Part& p) {
                return p.signal == SignalKind::elapsed && p.compares && !p.less && p.limit <= latest;
            }),
            advice("elapsed > 24 h"));
    }
    return list;
}

} // namespace athanor::prove
