// The pressure that lets a flow out: what its supply gives, the tube stands and the relief lets pass.
#include "compiler/plant/atmosphere.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::prove {
namespace {

constexpr double instant = 1;    // s, by which a flow that was greater before has left
constexpr double reserve = 1.05; // of a bore that is proposed

enum class Limit { supply, rating, relief };

/// Of what is allowed.
double share_of(double needed, double allowed) {
    return allowed > 0 ? needed / allowed : needed > 0 ? infinity : 0;
}

/// A pressure that the tube needs, and the least that it may be.
struct Demand {
    double needed = 0, allowed = infinity; // Pa above the room
    Limit limit = Limit::supply;
    timeline::Index line = timeline::none; // of Limit::supply
    double flow = 0;                       // mol/s
    std::size_t span = 0;
    bool failed = false; // the power
    double share() const { return share_of(needed, allowed); }
};

std::string gauge(double pressure) {
    return to_text(pressure, Kind::pressure, 3) + " gauge";
}

class Outlets {
public:
    explicit Outlets(Scene& s)
        : s_(s), ambient_(s.rig.ambient_pressure.hi()),
          rated_(s.plant
                     .signal({timeline::SignalKind::rated_overpressure, timeline::none}, s.walk.end,
                             s.timeline.states[s.timeline.end_state])
                     .lo) {
        lowest_ = s.rig.relief.given ? s.rig.relief.lo() : rated_;
        for (const check::Line& line : s.rig.lines)
            if (line.supply.given) lowest_ = std::min(lowest_, line.supply.lo());
    }

    void run() {
        std::vector<bool> failed(s_.timeline.states.size(), false);
        std::vector<bool> harmless(s_.aborts.count(), false); // of what states fall into
        for (std::size_t i = 0; i < s_.spans(); ++i) {
            const timeline::Index index = s_.timeline.spans[i].state;
            const timeline::State& discrete = s_.timeline.states[index];
            if (discrete.tube_open) continue;
            if (!discrete.pump && may_be_worst(s_.over(i))) whole(i, s_.over(i), discrete);
            if (failed[index]) continue;
            failed[index] = true;
            if (const std::size_t which = s_.aborts.which(index); !harmless[which])
                harmless[which] = fallen(i, s_.aborts.of(index).discrete);
        }
        if (!worst_) return;
        const bool holds = worst_->share() < 1;
        Row& row = s_.row("outlet_too_narrow", "Supply and outlet let the set flow through", holds,
                          fmt::format("needs {}, {} {}", gauge(worst_->needed), word(), gauge(worst_->allowed)),
                          s_.walk.at_s(worst_->span), s_.source(worst_->span));
        if (!holds) report(row);
    }

private:
    void take(const Demand& demand) {
        // The first place that breaks it is told, not the worst.
        if (worst_ && (worst_share_ >= 1 || demand.share() <= worst_share_)) return;
        worst_ = demand;
        worst_share_ = demand.share();
    }

    bool hazardous(const plant::State& state, const timeline::State& discrete) const {
        return s_.flammable(state, discrete) || s_.toxic(state, discrete);
    }

    /// Whatever limits a whole span, most are no nearer to that than the worst.
    bool may_be_worst(const KeptState& over) const {
        return over.inflow.hi > 0 &&
               !(worst_ && std::max(0.0, share_of(over.pressure.hi - ambient_, lowest_)) <= worst_share_);
    }
    /// A whole span, by the plant's pressure: what warms and what the load gives off is in it.
    void whole(std::size_t span, const plant::State& state, const timeline::State& discrete) {
        Demand demand;
        demand.needed = state.pressure.hi - ambient_;
        demand.flow = state.inflow.hi;
        demand.span = span;
        for (timeline::Index l = 0; l < s_.rig.lines.size(); ++l) {
            const check::Figure& supply = s_.rig.lines[l].supply;
            if (!supply.given || supply.lo() >= demand.allowed || !s_.may_be_open(l, state, discrete)) continue;
            demand.allowed = supply.lo();
            demand.line = l;
        }
        // A relief saves the tube; it may blow what harms nobody.
        const check::Figure& relief = s_.rig.relief;
        if (!relief.given && rated_ < demand.allowed) demand.allowed = rated_, demand.limit = Limit::rating;
        if (relief.given && relief.lo() < demand.allowed && hazardous(state, discrete))
            demand.allowed = relief.lo(), demand.limit = Limit::relief;
        if (!std::isfinite(demand.allowed)) return;
        if (demand.share() >= 1) {
            // What a greater flow before has left is no demand of this one.
            const double last = std::min(s_.timeline.spans[span].duration.hi, longest_abort);
            if (!(last > 0)) return;
            const plant::State later = s_.plant.during(s_.walk.entry(span), plant::drive(s_.timeline, span),
                                                       {std::min(instant, last), last});
            demand.needed = later.pressure.hi - ambient_;
        }
        take(demand);
    }

    /// What falls open when power fails: that flow counts as certain, whatever the others let in. True where
    /// no more comes of it from whatever other state it is fallen into.
    bool fallen(std::size_t span, const timeline::State& after) {
        double all = 0;
        for (const timeline::Evolved& e : s_.timeline.evolved) all += e.flow;
        for (const Interval flow : after.between) all += flow.hi;
        for (timeline::Index l = 0; l < after.between.size() && l < s_.rig.lines.size(); ++l) {
            const check::Figure& supply = s_.rig.lines[l].supply;
            const Interval flow = after.between[l];
            if (!(flow.lo > 0) || !supply.given || !std::isfinite(all)) continue;
            Demand demand;
            demand.flow = all - flow.hi + flow.lo;
            demand.needed = s_.plant.let_out(demand.flow);
            demand.allowed = supply.lo();
            demand.line = l;
            demand.span = span;
            demand.failed = true;
            take(demand);
        }
        const check::Figure& relief = s_.rig.relief;
        if (!relief.given || !(all > 0)) return true;
        Demand demand;
        demand.needed = s_.plant.let_out(all);
        demand.allowed = relief.lo();
        demand.limit = Limit::relief;
        demand.flow = all;
        demand.failed = true;
        if (demand.share() < 1) return true;
        for (std::size_t i = span; i < s_.spans(); ++i) {
            if (s_.timeline.spans[i].state != s_.timeline.spans[span].state) continue;
            if (!hazardous(s_.over(i), s_.discrete(i))) continue;
            demand.span = i;
            take(demand);
            break;
        }
        return false;
    }

    std::string word() const {
        return worst_->limit == Limit::supply   ? fmt::format("`{}` is fed with", name())
               : worst_->limit == Limit::rating ? "rated"
                                                : "the relief opens at";
    }
    const std::string& name() const { return s_.rig.lines[worst_->line].name; }

    void report(Row& row) {
        const Demand& d = *worst_;
        const check::Rig& rig = s_.rig;
        const athanor::Span at = d.failed ? s_.source(d.span) : s_.entered_by(d.span);
        row.source = at;
        std::string message = fmt::format("{} needs {} in the tube to leave by the outlet; ",
                                          to_text(d.flow, Kind::flow, 3), gauge(d.needed));
        switch (d.limit) {
        case Limit::supply: message += fmt::format("`{}` is fed with {}", name(), gauge(d.allowed)); break;
        case Limit::rating: message += fmt::format("the tube is rated for {}", gauge(d.allowed)); break;
        case Limit::relief:
            message +=
                fmt::format("the relief opens at {}, and what it lets out burns or is toxic", gauge(d.allowed));
            break;
        }
        Diagnostic& e = s_.out.error(Code::outlet_too_narrow, at, message);
        e.with_label(d.failed ? fmt::format("after a power failure, from {} of the run on",
                                            to_clock(s_.walk.at_s(d.span)))
                              : fmt::format("from {} of the run", to_clock(s_.walk.at_s(d.span))));
        const std::string bore = to_text(rig.outlet_diameter.lo(), Kind::length),
                          length = to_text(rig.outlet_length.hi(), Kind::length);
        if (rig.outlet_diameter.defaulted)
            e.cause(fmt::format("rig `{}` declares no outlet; {} by {} is taken", rig.name, bore, length));
        else
            e.also(rig.outlet_diameter.source, fmt::format("the outlet, {} by {}", bore, length));
        const double lift = rig.pump.present ? plant::valve_lift : 0;
        if (lift > 0)
            e.cause(fmt::format("the non-return valve behind a tube with a pump opens at {} (common practice, "
                                "no source)",
                                gauge(lift)));
        if (const double warms = d.needed - s_.plant.let_out(d.flow); warms > 0.01 * d.needed)
            e.cause(fmt::format("{} of it for gas that warms while the furnace ramps or regulates",
                                to_text(warms, Kind::pressure, 2)));
        if (d.limit == Limit::supply)
            e.also(rig.lines[d.line].supply.source, "the supply")
                .cause("with less than it needs less flows in than is set, and what rests on that flow is not "
                       "certain");
        if (d.limit == Limit::relief) e.also(rig.relief.source, "the relief");

        // The drop grows with 1/d^4 or faster.
        const double left = d.allowed - lift, drop = d.needed - lift;
        if (left > 0 && drop > 0) {
            constexpr double half_millimetre = 5e-4;
            const double wanted = reserve * rig.outlet_diameter.lo() * std::pow(drop / left, 0.25);
            e.remedy(fmt::format(
                "fit a wider outlet and declare it:  outlet {} by {}",
                to_text(std::ceil(wanted / half_millimetre - 1e-9) * half_millimetre, Kind::length), length));
            if (const double most = flow_for(d); most > 0)
                e.remedy(fmt::format("or let in at most {}, the meter's error included",
                                     to_text(most, Kind::flow, 3)));
        }
        // Up to what seals and tube stand.
        constexpr double five_mbar = 500;
        const double higher = (std::floor(d.needed / five_mbar) + 1) * five_mbar;
        const std::string text = to_text(higher, Kind::pressure) + " gauge";
        if (d.limit == Limit::supply && higher <= std::min(rated_, check::usual_pressure))
            e.remedy(fmt::format("feed `{}` with more and declare it:  supply {}", name(), text));
        if (d.limit == Limit::relief && check::relief_passes * higher <= rated_)
            e.remedy(fmt::format("set the relief higher and declare it:  relief {}", text));
    }

    /// mol/s that leave at the pressure that is allowed, with what else the tube drives out.
    double flow_for(const Demand& d) const {
        const double warms = std::max(0.0, d.needed - s_.plant.let_out(d.flow));
        double least = 0, most = d.flow;
        for (int i = 0; i < 40; ++i) {
            const double middle = 0.5 * (least + most);
            (s_.plant.let_out(middle) + warms < d.allowed ? least : most) = middle;
        }
        return std::floor(least / d.flow * 100) / 100 * d.flow; // not rounded up when it is printed
    }

    Scene& s_;
    const double ambient_; // Pa
    const double rated_;   // Pa above the room that seals and tube stand
    double lowest_;        // of all that may limit it
    std::optional<Demand> worst_;
    double worst_share_ = 0;
};

} // namespace

/// Only a tube that is tight holds its gas to the outlet; a shut one is another rule's.
void check_outlet(Scene& s) {
    if (s.rig.seals.gas_tight && s.rig.exhaust.kind != check::ExhaustKind::shut) Outlets(s).run();
}

} // namespace athanor::prove
