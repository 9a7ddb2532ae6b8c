#include "compiler/prove/interlock.hpp"

#include "compiler/check/evaluate.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/prove/hazards.hpp"
#include "compiler/prove/meter.hpp"
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
double trips_below(const check::Model& model, const check::Rig& rig, ExprId id, timeline::Index line) {
    const Expr& e = model.exprs[id];
    if (e.op == Op::and_)
        return std::min(trips_below(model, rig, e.a, line), trips_below(model, rig, e.b, line));
    if (e.op == Op::or_)
        return std::max(trips_below(model, rig, e.a, line), trips_below(model, rig, e.b, line));
    if (e.op == Op::signal) {
        const bool open = e.signal == SignalKind::line_open && e.name != 0 &&
                          names_line(model, rig, line, model.names[e.name]);
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
               const plant::Plant& plant, timeline::Index fuel, std::vector<FaultAnswer>& list)
        : model_(model), rig_(rig), timeline_(timeline), plant_(plant), fuel_(fuel),
          name_(rig.lines[fuel].name), opens_(opens_inert(model, rig, timeline)), list_(list) {}

    void all() {
        heater_lost();
        for (timeline::Index l = 0; l < rig_.lines.size() && l < timeline_.lines.size(); ++l)
            if (timeline_.lines[l].used && (l == fuel_ || inert_without_fuel(model_, rig_.lines[l])))
                supply_lost(l);
        add(Fault::burner_out, fmt::format("burner out while {} flows", name_),
            interlock([](const Part& p) { return p.signal == SignalKind::burner && p.negated; }),
            advice("not burner"));
        programme_held();
    }

private:
    void heater_lost() {
        const std::optional<Cutoff> cutoff = cold_cutoff(model_, rig_, fuel_, plant_);
        const double safe = cutoff ? cutoff->needed : infinity;
        const double asked =
            std::isfinite(safe) ? std::ceil(safe - physics::zero_celsius) + physics::zero_celsius : safe;
        add(Fault::heater_lost, fmt::format("heater lost while {} flows", name_), interlock([&](const Part& p) {
                return p.signal == SignalKind::temperature && p.compares && p.less && p.limit >= safe;
            }),
            advice("temperature < " + to_text(asked, Kind::temperature)));
    }

    void supply_lost(timeline::Index l) {
        const bool is_fuel = l == fuel_;
        const check::Line& line = rig_.lines[l];
        const double told = least_told(line.meter) * (1 - 1e-9); // but for the rounding of units
        const check::Interlock* by = interlock(
            [&](const Part& p) {
                return p.signal == SignalKind::flow && p.compares && p.less && p.limit > 0 && p.limit >= told &&
                       names_line(model_, rig_, l, p.name);
            },
            l);
        add(is_fuel ? Fault::fuel_lost : Fault::inert_lost, fmt::format("supply of {} lost", line.name), by,
            // While the fuel flows alone its inert gas does not: an interlock on that flow would act in the run
            // as planned.
            fmt::format("low_pressure trips, on line {}{}", line.name,
                        is_fuel ? "" : ", beside another inert line that falls open"));
        if (by != nullptr || !line.low_pressure_trips) return;
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
                return p.signal == SignalKind::elapsed && p.compares && !p.less && p.limit <= latest;
            }),
            advice("elapsed > 24 h"));
    }

    /// An interlock that acts on `wanted`, with nothing beside it but that the fuel is open, and opens an inert
    /// line other than the one that is `lost`.
    const check::Interlock* interlock(const std::function<bool(const Part&)>& wanted,
                                      timeline::Index lost = timeline::none) const {
        const Reader reader(model_);
        for (const check::Interlock& i : rig_.interlocks) {
            if (i.condition == check::none || i.condition == 0) continue;
            const bool shuts = std::find(i.closes.begin(), i.closes.end(), name_) != i.closes.end();
            bool purges = false;
            for (timeline::Index l = 0; l < rig_.lines.size(); ++l)
                purges =
                    purges || (l != lost && inert_without_fuel(model_, rig_.lines[l]) &&
                               std::find(i.opens.begin(), i.opens.end(), rig_.lines[l].name) != i.opens.end());
            if (!shuts || !purges) continue;
            for (const std::vector<Part>& all : reader.alternatives(i.condition)) {
                const bool nothing_else =
                    std::all_of(all.begin(), all.end(), [&](const Part& p) { return is_open(p) || wanted(p); });
                if (nothing_else && std::any_of(all.begin(), all.end(), wanted)) return &i;
            }
        }
        return nullptr;
    }
    bool is_open(const Part& p) const {
        return p.signal == SignalKind::line_open && !p.negated && names_line(model_, rig_, fuel_, p.name);
    }

    void add(Fault fault, std::string what, const check::Interlock* by, std::string needed) {
        FaultAnswer a{fault, fuel_, std::move(what), "", std::move(needed), rig_.lines[fuel_].source};
        if (by != nullptr) {
            a.answer = "interlock";
            a.source = by->source;
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
    std::vector<FaultAnswer>& list_;
};

} // namespace

bool names_line(const check::Model& model, const check::Rig& rig, timeline::Index line, std::string_view name) {
    const std::vector<check::Index> named = model.lines_named(rig, name);
    return named.size() == 1 && named.front() == line;
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
        if (i.condition == check::none || i.condition == 0) continue;
        if (std::find(i.closes.begin(), i.closes.end(), rig.lines[line].name) == i.closes.end()) continue;
        const double trip = trips_below(model, rig, i.condition, line);
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
                                       const timeline::Timeline& timeline, const plant::Plant& plant) {
    std::vector<FaultAnswer> list;
    const auto lines = static_cast<timeline::Index>(std::min(rig.lines.size(), timeline.lines.size()));
    for (timeline::Index fuel = 0; fuel < lines; ++fuel) {
        const check::Index gas = rig.lines[fuel].gas;
        if (!timeline.lines[fuel].used || gas >= model.gases.size() || !model.gases[gas].hazards.flammable)
            continue;
        FuelFaults(model, rig, timeline, plant, fuel, list).all();
    }
    return list;
}

} // namespace athanor::prove
