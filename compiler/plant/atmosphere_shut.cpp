#include "compiler/plant/atmosphere.hpp"

#include <algorithm>
#include <cmath>

// The atmosphere of a tube that no gas leaves but by its leak.
namespace athanor::plant {

/// What a tube that nothing leaves has gone through from its entry to the end of a stretch.
struct Atmosphere::Shut {
    bool fills = false;              // behind its non-return valve; else the exhaust is shut
    Volume::Content content;         // mol/Pa, at every temperature on the way
    Interval all, before, after;     // with the pores; at the entry, in the stretch
    double rise_lo = 1, rise_hi = 1; // of the pressure, at constant gas
    double rise_most = 1;            // at any time on the way
    double cooled = 0, warmed = 0;   // K by which the gas of one rig does so at most
    double top = infinity;           // Pa, greatest on the way
    double leaks_out = 0;            // mol/s, greatest on the way
    double start = 0, added = 0;     // mol: greatest at the entry, and what has surely come in and mixed since
    double still(const State& entry) const { return entry.pressure.hi * rise_hi; } // Pa, without what comes in
};

Atmosphere::Shut Atmosphere::shut(const Stretch& s, bool fills) const {
    Shut c;
    c.fills = fills;
    c.content = volume_->content(s.hot_over);
    c.all = c.content.free + c.content.pore;
    const Volume::Content before = volume_->content(s.hot_entry), after = volume_->content(s.hot_now);
    c.before = before.free + before.pore;
    c.after = after.free + after.pore;
    // At constant gas the pressure goes at most with the temperature of the hot zone, and with what the content
    // says.
    c.rise_lo = std::min(1.0, s.hot_now.lo / s.hot_entry.hi);
    c.rise_hi = std::max(1.0, s.hot_now.hi / s.hot_entry.lo);
    c.rise_lo = std::max(c.rise_lo, std::min(1.0, c.before.lo / c.after.hi));
    c.rise_hi = std::min(c.rise_hi, std::max(1.0, c.before.hi / c.after.lo));
    // In one rig the gas warms and cools no further than the time allows.
    const auto moved = [&](double law, double most) {
        const double way = most > 0 ? most * s.t.hi : 0;
        return law > 0 ? way : std::min(way, s.pace.inside);
    };
    c.cooled = moved(s.pace.cooling_hi, s.pace.cooling_most);
    c.warmed = moved(s.pace.heating_hi, s.pace.heating_most);
    c.rise_lo = std::max(c.rise_lo, 1 - c.cooled / s.hot_entry.lo);
    c.rise_hi = std::min(c.rise_hi, 1 + c.warmed / s.hot_entry.lo);
    c.rise_most = std::max(1.0, std::min(s.hot_over.hi, s.hot_entry.lo + c.warmed) / s.hot_entry.lo);
    return c;
}

void Atmosphere::closed_pressure(const State& entry, State& out, const Stretch& s, Shut& c) const {
    const Inlet& in = *s.over;
    const double seeping = leak_ + outgassing_;
    const double through = // Pa that the outlet adds to the valve
        outlet_.drop(in.flow.hi + seeping +
                     1.01 * (ambient_.hi + valve_lift) * volume_->contraction(s.hot_over).hi *
                         s.pace.heating_most);
    // Gas comes in only against a lower pressure: leaks up to ambient, lines up to their supply.
    const double ceiling = in.any() ? ambient_.hi + (c.fills ? valve_lift : supply_) : ambient_.hi;
    const double from_walls = outgassing_ * s.t.hi / c.all.lo;
    /// At constant gas the pressure has risen by `rise`, and what came in has warmed by `warming`.
    const auto greatest = [&](double rise, double warming) {
        const double still = entry.pressure.hi * rise;
        double hi = still + (in.flow.hi + seeping) * s.t.hi / c.all.lo;
        // The walls push on whatever stands there, and no supply bounds what the load gives off.
        if (!(in.evolved > 0)) hi = std::min(hi, std::max(still, ceiling * warming) + from_walls);
        if (c.fills) // the valve lifts
            return std::min(hi, std::max(entry.pressure.hi, ambient_.hi + valve_lift + through));
        if (relief_ > 0)
            return std::min(hi, std::max(entry.pressure.hi, ambient_.hi + check::relief_passes * relief_));
        return hi;
    };
    // What came in warms from the coldest that the stretch knows.
    const double coldest = s.hot_over.lo;
    const double warming = std::min(
        {std::max(1.0, s.hot_now.hi / coldest), std::max(1.0, c.all.hi / c.after.lo), 1 + c.warmed / coldest});
    const double hi = greatest(c.rise_hi, warming);
    c.top = std::max(hi, greatest(c.rise_most, std::min(s.hot_over.hi, coldest + c.warmed) / coldest));
    // A leak is stated from one atmosphere into a vacuum, and passes by the difference of the squares.
    c.leaks_out = leak_ * std::max(0.0, c.top * c.top / (ambient_.lo * ambient_.lo) - 1);

    // What left when the tube was hottest is missing once it has cooled.
    const double back = s.hot_now.lo / std::min(s.hot_over.hi, s.hot_now.lo + c.cooled);
    // The leak lets out what stands above the room, whatever flows in, and no further than to the room.
    const auto less = [&](double pressure, double lost) {
        return std::min(pressure, std::max(pressure - lost * s.t.hi / c.all.lo, back * ambient_.lo));
    };
    const double gain = in.flow.lo - c.leaks_out, lost = std::max(0.0, -gain); // mol/s
    const double kept = entry.pressure.lo * c.rise_lo;
    // Lines stop at their supply's pressure; what is in the tube may stand higher.
    const double sure = less(kept, c.leaks_out);
    const double fed = std::min(ambient_.lo + least_supply_, c.fills ? ambient_.hi + valve_lift : infinity);
    double lo =
        gain > 0 ? kept + gain * s.t.lo / c.all.hi : less(kept + in.flow.lo * s.t.lo / c.all.hi, c.leaks_out);
    lo = std::max(sure, std::min(lo, fed));
    // Where more flows in than cooling and leak take, the pressure does not fall again.
    const double full = c.fills ? ambient_.hi + valve_lift : fed;
    if (std::isfinite(full) &&
        !(gain > 0 && gain >= full * contracted(s.hot_over, s.pace.cooling_most, s.pace))) {
        lo = std::min(lo, less(back * full, lost));
        if (!c.fills) lo = std::max(lo, sure); // a supply lets nothing out
    }
    if (relief_ > 0) // it may open at its setting already
        lo = std::min(lo, less(back * (ambient_.lo + relief_opens_), lost));
    out.pressure = {std::min(lo, hi), std::max(lo, hi)};
    if (out.pressure.hi >= ambient_.lo + least_supply_) out.inflow.lo = 0;
    if (c.fills) out.taken.hi += out.pressure.hi * contracted(s.hot_now, s.cooling_now, s.pace);

    c.start = entry.pressure.hi * c.all.hi;
    const double first = relief_ > 0 ? std::min(least_supply_, relief_opens_) : least_supply_;
    // What was there takes more room once it is warm.
    const double room =
        std::max(0.0, (c.fills ? ambient_.lo : ambient_.lo + first) - c.still(entry)) * c.all.lo;
    // Of what comes in some may leave unmixed, as much as the leak lets out.
    const double mixed = std::max(mixing_.lo * in.flow.lo, gain);
    c.added = std::min(mixed * s.t.lo, room);
}

/// Superposition: what was there, thinned by what surely came in; air and vapour at their share of the inflow.
void Atmosphere::closed_composition(const State& entry, State& out, const Stretch& s, const Shut& c) const {
    const Inlet& in = *s.over;
    // mol, least on the way: the leak lets nothing out below the room's pressure.
    const double least = std::min(c.rise_lo * entry.pressure.lo, ambient_.lo) * c.content.free.lo;
    if (!in.any()) return seep(entry, out, least, s.t.hi);
    const std::size_t n = substances_->count();
    const double rest = c.start > 0 ? c.start / (c.start + c.added) : c.added > 0 ? 0.0 : 1.0;
    const double air_share = leak_ > 0 ? leak_ / (mixing_.lo * in.flow.lo + leak_) : 0;
    const double steady = outgassing_ > 0 ? outgassing_ / (mixing_.lo * in.flow.lo + outgassing_) : 0;
    double walls = outgassing_ > 0 ? -std::expm1(-outgassing_ * s.t.hi / std::max(1e-12, least)) : 0;
    // At its supply's pressure a line gives what leaves, and no more.
    if (c.top < ambient_.lo + least_supply_) walls = std::min(walls, steady);
    Composition to;
    target(in, air_share, 0, to);
    for (std::size_t i = 0; i < n; ++i) {
        const auto mix = [&](Interval x, double kept) {
            const double top = to[i].hi + kept * std::max(0.0, x.hi - to[i].hi);
            const double bottom = (to[i].lo - kept * std::max(0.0, to[i].lo - x.lo)) * (1 - walls);
            return clamp_share({bottom, i == substances_->water() ? top + walls * (1 - top) : top});
        };
        out.fraction[i] = mix(entry.fraction[i], rest);
        // Pores fill with whatever stands before them: no thinning is counted.
        out.pore[i] = volume_->porous() ? hull(mix(entry.pore[i], 1.0), out.fraction[i]) : out.fraction[i];
    }
    if (!(c.fills && in.flow.lo > 0 && out.inflow.lo > 0)) return;
    // Behind a valve that has lifted the flow sweeps on.
    State swept = out;
    target(in, air_share, steady, swept.fraction);
    tend(entry, swept.fraction, swept, s, {out.pressure.lo, std::max(out.pressure.hi, entry.pressure.hi)},
         pipe_);
    const auto both = [](Interval a, Interval b) {
        const Interval x{std::max(a.lo, b.lo), std::min(a.hi, b.hi)};
        return x.lo <= x.hi ? x : a;
    };
    for (std::size_t i = 0; i < n; ++i) {
        out.fraction[i] = both(out.fraction[i], swept.fraction[i]);
        out.pore[i] = both(out.pore[i], swept.pore[i]);
    }
}

/// By the logarithm of the content, and what passes a valve or relief that is open as flow through.
Sweep Atmosphere::closed_volumes(const State& entry, const State& out, const Stretch& s, const Shut& c) const {
    const Inlet& in = *s.over;
    const double seeping = leak_ + outgassing_;
    double gained_lo = 0, gained_hi = 0;
    if (in.any() && entry.pressure.hi > 0) {
        const double pure = in.flow.lo > 0 ? in.flow.lo / (in.flow.lo + seeping) : 0;
        // What only warms raises the pressure as well.
        gained_lo =
            std::max({0.0, std::log(out.pressure.lo / c.still(entry)), std::log1p(c.added / c.start)}) * pure;
        // Until relief or valve lets out, the content grows by what flows in; then it counts as flow through.
        const double most = std::max(ambient_.hi + (c.fills       ? valve_lift
                                                    : relief_ > 0 ? check::relief_passes * relief_
                                                                  : infinity),
                                     c.still(entry)) *
                            c.all.hi;
        const double least = std::min(volume_->cold().lo * ambient_.lo, ambient_.lo * c.all.lo);
        const double opens = c.fills ? ambient_.lo : ambient_.lo + relief_opens_;
        const double missing = opens * c.all.lo - c.still(entry) * c.all.hi;
        const double passing = std::max(0.0, s.t.hi - std::max(0.0, missing) / (in.flow.hi + seeping));
        const double start = std::max(1e-12, entry.pressure.lo * c.before.lo);
        const double lost = c.leaks_out;
        gained_hi = in.flow.lo > lost ? std::min(std::log1p(in.flow.hi * s.t.hi / start),
                                                 std::max(0.0, std::log(most / start))) *
                                            in.flow.lo / (in.flow.lo - lost)
                                      : in.flow.hi * s.t.hi / std::min(start, least);
        if (c.fills || relief_ > 0 || c.top >= ambient_.lo + least_supply_)
            gained_hi += in.flow.hi * passing / least;
    }
    if (c.fills && out.inflow.lo > 0) gained_lo = std::max(gained_lo, in.flow.lo * s.t.lo / cold_volume_.hi);
    return {tight_, true, {tight_ ? gained_lo : 0.0, gained_hi}};
}

/// n' = in + seep - leak out, p = n / content(T), up to what relief or valve lets stand.
/// No gas leaves but by the leak: an exhaust that is shut, or (`fills`) an evacuated tube behind its non-return
/// valve.
Sweep Atmosphere::closed(const State& entry, State& out, const Stretch& s, bool fills) const {
    Shut c = shut(s, fills);
    closed_pressure(entry, out, s, c);
    closed_composition(entry, out, s, c);
    return closed_volumes(entry, out, s, c);
}

} // namespace athanor::plant
