#include "compiler/plant/atmosphere.hpp"

#include "compiler/plant/dilution.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace athanor::plant {

namespace {

constexpr double thickest =
    2.4e-5; // Pa s, more than argon or oxygen at 30 degC (Perry, tables 2-312 and 2-314)

Interval clamp_share(Interval x) {
    return {std::clamp(x.lo, 0.0, 1.0), std::clamp(x.hi, 0.0, 1.0)};
}

} // namespace

Atmosphere::Atmosphere(const check::Rig& rig, const Substances& substances, const Volume& volume,
                       const Vacuum& vacuum)
    : substances_(&substances), volume_(&volume), vacuum_(&vacuum), ambient_(rig.ambient_pressure.value) {
    mixing_ = rig.mixing.given ? rig.mixing.value : Interval{0.5, 1};
    mixing_ = {std::clamp(mixing_.lo, 1e-3, 1.0), std::clamp(mixing_.hi, 1e-3, 1.0)};
    release_ = rig.ends.air_release.given ? rig.ends.air_release.value : Interval{60, 600};
    leak_ = vacuum.leak().hi / (gas_constant * leak_temperature);
    outgassing_ = vacuum.outgassing().hi / (gas_constant * leak_temperature);
    if (rig.outlet_diameter.given && rig.outlet_diameter.lo() > 0) outlet_diameter_ = rig.outlet_diameter.lo();
    if (rig.outlet_length.given) outlet_length_ = rig.outlet_length.hi();
    for (const check::Line& line : rig.lines)
        supply_ = std::max(supply_, line.supply.given ? line.supply.hi() : 0.0);
    relief_ = rig.relief.given ? rig.relief.hi() : 0;
    tight_ = rig.seals.gas_tight;
    shut_ = rig.exhaust.kind == check::ExhaustKind::shut;
}

void Atmosphere::start(State& state) const {
    for (std::size_t i = 0; i < substances_->count(); ++i)
        state.fraction[i] = state.pore[i] = substances_->air()[i];
    state.pressure = ambient_;
    state.swept = 0;
    state.inflow = state.drawn_in = 0;
}

double Atmosphere::outlet_drop(double flow) const {
    const double volume_flow = flow * gas_constant * volume_->ambient().hi / ambient_.lo;
    const double d = outlet_diameter_;
    return 128 * thickest * outlet_length_ * volume_flow / (std::numbers::pi * d * d * d * d);
}

// --- what the contents tend to -----------------------------------------------------------------------

Atmosphere::Shares Atmosphere::shares(const Inlet& inlet, double drawn) const {
    Shares s;
    const double useful = mixing_.lo * inlet.flow.lo;
    if (useful <= 0 || !tight_) {
        s.drawn = 1; // nothing keeps the air out
        return s;
    }
    const double all = useful + leak_ + drawn;
    s.leak = leak_ / all;
    s.drawn = drawn / all;
    const double area = 0.25 * std::numbers::pi * outlet_diameter_ * outlet_diameter_;
    const double speed = inlet.flow.lo * gas_constant * volume_->ambient().lo /
                         ((ambient_.hi + outlet_drop(inlet.flow.hi)) * area);
    const double peclet = speed * outlet_length_ / fastest_diffusion;
    s.diffusion = peclet > 60 ? 0 : std::exp(-peclet);
    return s;
}

Composition Atmosphere::target(const Inlet& inlet, double air_share) const {
    const Composition& air = substances_->air();
    Composition to{};
    for (std::size_t i = 0; i < substances_->count(); ++i) {
        if (!inlet.any()) {
            to[i] = air[i];
            continue;
        }
        const Interval in = inlet.parts[i];
        to[i] = clamp_share({in.lo - air_share * std::max(0.0, in.lo - air[i].lo),
                             in.hi + air_share * std::max(0.0, air[i].hi - in.hi)});
    }
    return to;
}

Floor Atmosphere::floor(std::size_t species, const Inlet& inlet, double drawn) const {
    Floor f;
    const double air = substances_->air()[species].hi;
    f.inlet = inlet.any() ? inlet.parts[species].hi : 0;
    const Shares s = shares(inlet, drawn);
    const double gap = std::max(0.0, air - f.inlet);
    f.leak = s.leak * gap;
    f.drawn = s.drawn * gap;
    f.diffusion = s.diffusion * gap;
    return f;
}

// --- modes -------------------------------------------------------------------------------------------

void Atmosphere::during(const State& entry, State& out, const timeline::State& discrete,
                        const Stretch& s) const {
    out.inflow = s.now->flow;
    out.drawn_in = 0;
    if (s.t.hi <= 0) return;
    if (discrete.tube_open) {
        Composition mix = substances_->air();
        for (std::size_t i = 0; i < substances_->count(); ++i) {
            if (s.over->any()) mix[i] = hull(mix[i], s.over->parts[i]);
            out.fraction[i] = s.t.lo > 0 ? mix[i] : hull(entry.fraction[i], mix[i]);
            out.pore[i] = hull(entry.pore[i], mix[i]);
        }
        out.pressure = ambient_;
        out.swept = s.t.lo > 0 ? Interval{0} : Interval{0, entry.swept.hi};
        return;
    }
    if (discrete.pump && vacuum_->present())
        pumped(entry, out, discrete, s);
    else if (shut_)
        closed(entry, out, s, false);
    else if (vacuum_->present() && entry.pressure.lo < ambient_.lo)
        closed(entry, out, s, true);
    else
        flowing(entry, out, s);
}

void Atmosphere::flowing(const State& entry, State& out, const Stretch& s) const {
    const Interval flow = s.over->flow;
    out.pressure = {ambient_.lo, ambient_.hi + (flow.hi > 0 ? outlet_drop(flow.hi) : 0)};
    if (s.t.lo <= 0) out.pressure = hull(out.pressure, entry.pressure);

    double drawn_over = 0;
    if (s.pace.cooling_hi > 0) {
        const Interval now = volume_->contraction(s.hot_now);
        const Interval taken{out.pressure.lo * now.lo * s.pace.cooling_lo,
                             out.pressure.hi * now.hi * s.pace.cooling_hi};
        out.drawn_in = {std::max(0.0, taken.lo - s.now->flow.hi), std::max(0.0, taken.hi - s.now->flow.lo)};
        const double most = out.pressure.hi * volume_->contraction(s.hot_over).hi * s.pace.cooling_hi;
        drawn_over = std::max(0.0, most - flow.lo);
    }

    const Shares air = shares(*s.over, drawn_over);
    const double share = std::min(1.0, air.leak + air.drawn + air.diffusion);
    tend(entry, out, s, target(*s.over, share), out.pressure);

    if (flow.lo > 0 && drawn_over <= 0 && tight_) {
        const Interval volume = volume_->cold() * ambient_;
        out.swept = {entry.swept.lo + flow.lo * s.t.lo / volume.hi,
                     entry.swept.hi + flow.hi * s.t.hi / volume.lo};
    } else {
        const double gained = flow.hi > 0 ? flow.hi * s.t.hi / (volume_->cold().lo * ambient_.lo) : 0;
        out.swept = {0, entry.swept.hi + gained}; // air may have been let in
    }
}

/// Moves free gas and pore gas towards a target; the slow side by dilution, the fast side at once.
void Atmosphere::tend(const State& entry, State& out, const Stretch& s, const Composition& target,
                      Interval pressure) const {
    const std::size_t n = substances_->count();
    bool settled = true;
    for (std::size_t i = 0; i < n && settled; ++i)
        settled = target[i].contains(entry.fraction[i]) && target[i].contains(entry.pore[i]);
    if (settled) {
        for (std::size_t i = 0; i < n; ++i) out.fraction[i] = out.pore[i] = target[i];
        return;
    }
    const bool porous = volume_->porous();
    struct Sides {
        Excess above, below;
    };
    std::array<Sides, max_species> sides;
    for (std::size_t i = 0; i < n; ++i) {
        const Interval pore = porous ? entry.pore[i] : entry.fraction[i];
        sides[i].above = {std::max(0.0, entry.fraction[i].hi - target[i].hi),
                          std::max(0.0, pore.hi - target[i].hi), false};
        sides[i].below = {std::max(0.0, target[i].lo - entry.fraction[i].lo),
                          std::max(0.0, target[i].lo - pore.lo), false};
        sides[i].above.rising = sides[i].above.pore > sides[i].above.free;
        sides[i].below.rising = sides[i].below.pore > sides[i].below.free;
    }
    if (s.t.lo > 0) {
        // The content falls with temperature; a ramp is cut so that it changes little in each piece.
        const Interval last = s.hot_at ? s.hot_at(s.context, s.t.lo) : s.hot_over;
        const double ratio =
            std::max(last.lo, s.hot_entry.lo) / std::max(1.0, std::min(last.lo, s.hot_entry.lo));
        const int pieces =
            ratio > 1.15 && s.hot_at ? std::min(8, static_cast<int>(std::log(ratio) / 0.18) + 1) : 1;
        Interval before = s.hot_entry;
        for (int k = 1; k <= pieces; ++k) {
            const double until = s.t.lo * k / pieces;
            const Interval after = k == pieces ? last : s.hot_at(s.context, until);
            const Volume::Content content = volume_->content(hull(before, after));
            const double rate = mixing_.lo * s.over->flow.lo / (pressure.hi * content.free.hi);
            const double pores = porous ? content.pore.hi / content.free.lo : 0;
            const double stirring = pores * s.pace.heating_hi / std::max(1.0, hull(before, after).lo);
            const Dilution dilution(rate, pores, release_, stirring, s.t.lo / pieces);
            for (std::size_t i = 0; i < n; ++i) {
                if (sides[i].above.free > 0 || sides[i].above.pore > 0)
                    sides[i].above = dilution(sides[i].above);
                if (sides[i].below.free > 0 || sides[i].below.pore > 0)
                    sides[i].below = dilution(sides[i].below);
            }
            before = after;
        }
    }
    const bool point = s.t.lo == s.t.hi;
    const auto free = [&](const Excess& e) { return !point && e.rising ? std::max(e.free, e.pore) : e.free; };
    for (std::size_t i = 0; i < n; ++i) {
        out.fraction[i] =
            clamp_share({target[i].lo - free(sides[i].below), target[i].hi + free(sides[i].above)});
        // Pores that are leaner than the free gas gain from it, at most up to it.
        const auto pore = [&](const Excess& e) { return point ? e.pore : std::max(e.pore, e.free); };
        out.pore[i] =
            porous ? clamp_share({target[i].lo - pore(sides[i].below), target[i].hi + pore(sides[i].above)})
                   : out.fraction[i];
    }
}

/// Leaked air and gas from the walls collect in `content` mol that nothing renews.
void Atmosphere::seep(const State& entry, State& out, double content, double seconds) const {
    const Composition& air = substances_->air();
    const double share = content > 0 ? -std::expm1(-leak_ * seconds / content) : leak_ > 0 ? 1.0 : 0.0;
    const double walls = content > 0       ? -std::expm1(-outgassing_ * seconds / content)
                         : outgassing_ > 0 ? 1.0
                                           : 0.0;
    for (std::size_t i = 0; i < substances_->count(); ++i) {
        const auto grow = [&](Interval x) {
            const double hi = x.hi + share * std::max(0.0, air[i].hi - x.hi);
            const double lo = (x.lo - share * std::max(0.0, x.lo - air[i].lo)) * (1 - walls);
            return clamp_share({lo, i == substances_->water() ? hi + walls * (1 - hi) : hi});
        };
        out.fraction[i] = grow(entry.fraction[i]);
        out.pore[i] = volume_->porous() ? hull(grow(entry.pore[i]), out.fraction[i]) : out.fraction[i];
    }
}

void Atmosphere::pumped(const State& entry, State& out, const timeline::State& discrete,
                        const Stretch& s) const {
    const Volume::Content content = volume_->content(s.hot_over);
    const Interval room = volume_->ambient();
    const double large =
        gas_constant * room.hi * (content.free.hi + content.pore.hi); // as gas at room temperature
    const double small = gas_constant * room.lo * content.free.lo;
    const double slow = vacuum_->speed(vacuum_->lowest().hi).lo;
    const Inlet& in = *s.over;

    double hi = vacuum_->slowest(entry.pressure.hi, large, s.t.lo);
    if (in.any() && slow > 0) hi += in.flow.hi * gas_constant * room.hi / slow;
    // A tube that warms while it is pumped drives out a little more than the leak.
    if (s.pace.heating_hi > 0 && slow > 0) hi *= 1 + large * s.pace.heating_hi / (s.hot_over.lo * slow);
    double lo = vacuum_->fastest(entry.pressure.lo, small, s.t.hi);
    if (discrete.regulated > 0) {
        hi = std::max(hi, 1.05 * discrete.regulated);
        lo = std::max(lo, std::min(entry.pressure.lo, 0.95 * discrete.regulated));
    }
    out.pressure = {std::min(lo, hi), hi};
    if (s.t.lo <= 0) out.pressure.hi = std::max(out.pressure.hi, entry.pressure.hi);

    if (in.flow.lo > 0) {
        const double share = leak_ / (mixing_.lo * in.flow.lo + leak_);
        const double walls = outgassing_ / (mixing_.lo * in.flow.lo + outgassing_);
        Composition to = target(in, share);
        for (std::size_t i = 0; i < substances_->count(); ++i) {
            to[i].lo *= 1 - walls;
            if (i == substances_->water()) to[i].hi += walls * (1 - to[i].hi);
        }
        tend(entry, out, s, to, {out.pressure.lo, std::max(out.pressure.hi, entry.pressure.hi)});
    } else {
        seep(entry, out, out.pressure.lo * content.free.lo, s.t.hi);
        if (in.any())
            for (std::size_t i = 0; i < substances_->count(); ++i) {
                out.fraction[i] = hull(out.fraction[i], in.parts[i]);
                out.pore[i] = hull(out.pore[i], in.parts[i]);
            }
    }
    const double gained = in.any() ? in.flow.hi * s.t.hi / (out.pressure.lo * content.free.lo) : 0;
    out.swept = {entry.swept.lo, entry.swept.hi + gained};
}

/// No gas leaves: an exhaust that is shut, or (`fills`) an evacuated tube behind its non-return valve.
void Atmosphere::closed(const State& entry, State& out, const Stretch& s, bool fills) const {
    const Volume::Content content = volume_->content(s.hot_over);
    const Interval all = content.free + content.pore;
    // A held zone keeps its gas's temperature; under any other law the content changes between its bounds.
    double rise_lo = 1, rise_hi = 1;
    if (s.pace.heating_hi > 0 || s.pace.cooling_hi > 0) {
        const Volume::Content before = volume_->content(s.hot_entry), after = volume_->content(s.hot_now);
        const Interval from = before.free + before.pore, to = after.free + after.pore;
        rise_lo = std::min(1.0, from.lo / to.hi);
        rise_hi = std::max(1.0, from.hi / to.lo);
    }
    const Inlet& in = *s.over;
    const double seeping = leak_ + outgassing_;
    double lo = entry.pressure.lo * rise_lo + in.flow.lo * s.t.lo / all.hi;
    double hi = entry.pressure.hi * rise_hi + (in.flow.hi + seeping) * s.t.hi / all.lo;
    const double still = entry.pressure.hi * rise_hi; // without what comes in
    // Gas comes in only against a lower pressure: leaks up to ambient, lines up to their supply.
    const double ceiling = in.any() ? ambient_.hi + (fills ? valve_lift : supply_) : ambient_.hi;
    hi = std::min(hi, std::max(still, ceiling));
    if (fills)
        hi = std::min(hi, ambient_.hi + valve_lift); // then the valve lifts
    else if (relief_ > 0)
        hi = std::min(hi, std::max(entry.pressure.hi, ambient_.hi + 1.1 * relief_));
    lo = std::min(lo, fills ? ambient_.hi + valve_lift : ambient_.hi + supply_);
    if (leak_ > 0 && !fills && lo > ambient_.lo && in.flow.lo <= 0) lo = ambient_.lo; // leaks out as well
    out.pressure = {std::min(lo, hi), std::max(lo, hi)};

    const std::size_t n = substances_->count();
    const double start_lo = entry.pressure.lo * content.free.lo;
    if (!in.any()) {
        seep(entry, out, std::min(1.0, rise_lo) * start_lo, s.t.hi);
    } else {
        // Superposition: what was there, thinned by what surely came in; air and vapour at their share of the
        // inflow.
        const double start_hi = entry.pressure.hi * all.hi;
        const double room =
            std::max(0.0, (fills ? ambient_.lo : ambient_.lo + supply_) - entry.pressure.hi) * all.lo;
        const double added = std::min(in.flow.lo * s.t.lo, room);
        const double rest = start_hi > 0 ? start_hi / (start_hi + added) : added > 0 ? 0.0 : 1.0;
        const double air_share = leak_ > 0 ? leak_ / (in.flow.lo + leak_) : 0;
        const double walls = outgassing_ > 0 ? outgassing_ / (in.flow.lo + outgassing_) : 0;
        const Composition to = target(in, air_share);
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
    }

    double gained_lo = 0, gained_hi = 0;
    if (in.any() && entry.pressure.hi > 0) {
        const double pure = in.flow.lo > 0 ? in.flow.lo / (in.flow.lo + seeping) : 0;
        gained_lo = std::max(0.0, std::log(out.pressure.lo / entry.pressure.hi)) * pure;
        gained_hi = in.flow.hi * s.t.hi / std::max(1e-12, start_lo);
        gained_hi =
            std::min(gained_hi, std::max(0.0, std::log(out.pressure.hi / std::max(1e-6, entry.pressure.lo))) +
                                    in.flow.hi * s.t.hi / (volume_->cold().lo * ambient_.lo));
    }
    out.swept = {entry.swept.lo + gained_lo, entry.swept.hi + gained_hi};
}

} // namespace athanor::plant
