#include "compiler/plant/atmosphere.hpp"

#include "compiler/physics/constants.hpp"
#include "compiler/plant/given.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::plant {

namespace {

/// mol/(m s): diffusivity times density of water vapour in cold air, 0.2178 cm2/s at 0 degC (Massman, Atmos.
/// Environ. 32 (1998) 1111; from memory), and half of it: for vapour in argon or carbon dioxide, and for the
/// middle of the tube, where it is wettest. Grows with temperature, whatever the pressure; convection through
/// open ends, which exceeds it, is not credited.
constexpr double vapour_spreads = 0.5 * 9.7e-4;

} // namespace

Atmosphere::Atmosphere(const check::Rig& rig, const Substances& substances, const Volume& volume,
                       const Vacuum& vacuum, const std::vector<Vacuum>& cooler)
    : substances_(&substances), volume_(&volume), vacuum_(&vacuum), cooler_(&cooler),
      ambient_(rig.ambient_pressure.value) {
    mixing_ = given(rig.mixing);
    mixing_ = {std::clamp(mixing_.lo, 1e-3, 1.0), std::clamp(mixing_.hi, 1e-3, 1.0)};
    if (rig.ends.kind == check::EndsKind::insulation_plugs) release_ = Release(given(rig.ends.air_release));
    leak_ = vacuum.leak().hi / (physics::gas_constant * leak_temperature);
    outgassing_ = vacuum.outgassing().hi / (physics::gas_constant * leak_temperature);
    outlet_ = Outlet(rig, volume.ambient(), substances.heaviest());
    cold_volume_ = volume.cold() * Interval{ambient_.lo, ambient_.hi + (vacuum.present() ? valve_lift : 0)};
    pipe_ = outlet_.volume() * ambient_.hi / (physics::gas_constant * volume.ambient().lo);
    cold_volume_.hi += pipe_;
    diffusing_ = substances.diffusion() * outlet_.area_per_length();
    const double exchange = vapour_spreads * volume.openness();
    dampest_ = exchange > 0 ? outgassing_ / (exchange + outgassing_) : 1;
    for (const check::Line& line : rig.lines) {
        if (!line.supply.given) continue;
        supply_ = std::max(supply_, line.supply.hi());
        least_supply_ = std::min(least_supply_, line.supply.lo());
    }
    relief_ = rig.relief.given ? rig.relief.hi() : 0;
    relief_opens_ = rig.relief.given ? rig.relief.lo() : 0;
    if (rig.has_throttle) throttle_ = given(rig.throttle_accuracy).hi;
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

double Atmosphere::let_out(double flow) const {
    return outlet_.drop(flow + leak_ + outgassing_) + (vacuum_->present() ? valve_lift : 0);
}

// --- what the contents tend to -----------------------------------------------------------------------

/// Advection against diffusion in the outlet: at a net outflow w air comes in by w / (exp(Pe) - 1), Pe = w / g,
/// at most g.
double Atmosphere::diffused(double outflow) const {
    const double g = diffusing_;
    if (!(g > 0)) return 0;
    const double peclet = std::max(0.0, outflow) / g;
    return peclet > 60 ? 0 : peclet < 1e-9 ? g : g * peclet / std::expm1(peclet);
}

Atmosphere::Shares Atmosphere::shares(const Inlet& inlet, double contraction) const {
    Shares s;
    const double useful = mixing_.lo * inlet.flow.lo, drawn = std::max(0.0, contraction - inlet.flow.lo);
    s.walls = useful > 0 ? outgassing_ / (useful + outgassing_) : outgassing_ > 0 ? 1 : 0;
    if (useful <= 0 || !tight_) {
        s.drawn = 1; // nothing keeps the air out
        return s;
    }
    const double all = useful + leak_ + drawn;
    s.leak = leak_ / all;
    s.drawn = drawn / all;
    // Contraction slows what leaves.
    const double back = diffused(inlet.flow.lo - contraction);
    s.diffusion = back / (useful + back);
    return s;
}

/// Something flows in: with room air at `air_share` and water from the walls at `walls`.
void Atmosphere::target(const Inlet& inlet, double air_share, double walls, Composition& result) const {
    const std::size_t n = substances_->count(), water = substances_->water();
    Interval* const to = result.overwrite(n);
    const Interval* const air = substances_->air().begin();
    for (std::size_t i = 0; i < n; ++i) {
        const Interval in = inlet.part(i);
        const Interval mixed = clamp_share({in.lo - air_share * std::max(0.0, in.lo - air[i].lo),
                                            in.hi + air_share * std::max(0.0, air[i].hi - in.hi)});
        to[i] = {mixed.lo * (1 - walls), mixed.hi};
    }
    if (water < n) to[water].hi += walls * (1 - to[water].hi);
}

/// The same of a tube that gas flows through; `room` is for what the inlet does not remember.
const Composition& Atmosphere::swept_target(const Inlet& inlet, double contraction, Composition& room) const {
    const bool rests = contraction <= 0;
    if (rests && inlet.at_rest.size() > 0) return inlet.at_rest;
    Composition& result = rests ? inlet.at_rest : room;
    const Shares air = shares(inlet, contraction);
    target(inlet, std::min(1.0, air.leak + air.drawn + air.diffusion), air.walls, result);
    return result;
}

Floor Atmosphere::floor(std::size_t species, const Inlet& inlet, double drawn) const {
    Floor f;
    const double air = substances_->air()[species].hi;
    f.inlet = inlet.any() ? inlet.part(species).hi : 0;
    const Shares s = shares(inlet, drawn > 0 ? inlet.flow.lo + drawn : 0);
    const double gap = std::max(0.0, air - f.inlet);
    f.leak = s.leak * gap;
    f.drawn = s.drawn * gap;
    f.diffusion = s.diffusion * gap;
    if (species == substances_->water()) f.walls = s.walls;
    return f;
}

// --- modes -------------------------------------------------------------------------------------------

Sweep Atmosphere::during(const State& entry, State& out, const timeline::State& discrete,
                         const Stretch& s) const {
    out.inflow = s.now->flow;
    out.drawn_in = 0;
    out.taken = {0, leak_};
    if (s.t.hi <= 0) {
        out.pressure = entry.pressure;
        out.fraction = entry.fraction;
        out.pore = entry.pore;
        return {};
    }
    if (discrete.tube_open) {
        Composition mix = substances_->air();
        for (std::size_t i = 0; i < substances_->count(); ++i) {
            if (s.over->any()) mix[i] = hull(mix[i], s.over->part(i));
            out.fraction[i] = hull(entry.fraction[i], mix[i]); // nobody knows how fast they are exchanged
            out.pore[i] = hull(entry.pore[i], mix[i]);
        }
        out.pressure = ambient_;
        return {false, s.t.lo <= 0, 0};
    }
    if (discrete.pump && vacuum_->present()) return pumped(entry, out, discrete, s);
    if (shut_) return closed(entry, out, s, false);
    if (vacuum_->present() && entry.pressure.lo < ambient_.lo) return closed(entry, out, s, true);
    return vacuum_->present() ? behind_valve(entry, out, s) : flowing(entry, out, s);
}

/// The valve may be shut or lifted: the pressure is either's, and air counts as drawn in where it is lifted.
Sweep Atmosphere::behind_valve(const State& entry, State& out, const Stretch& s) const {
    State shut = out;
    const Sweep kept = closed(entry, shut, s, true);
    Sweep sweep = flowing(entry, out, s);
    if (tight_) { // no room air comes in but by the leak
        out.drawn_in = 0;
        if (!(s.over->flow.lo > 0)) {
            out.fraction = shut.fraction;
            out.pore = shut.pore;
            sweep = kept;
        }
    }
    // While more flows in than contraction takes, the pressure does not sink below the room's.
    const double flow = s.over->flow.lo;
    const double takes = out.pressure.hi * contracted(s.hot_over, s.pace.cooling_hi, s.pace) + leak_;
    const double foot = flow > 0 && flow >= takes ? out.pressure.lo : shut.pressure.lo;
    out.pressure = {std::min(out.pressure.lo, foot), std::max(out.pressure.hi, shut.pressure.hi)};
    out.taken = hull(out.taken, shut.taken);
    return sweep;
}

/// mol/(Pa s) that contents take in at most whose gas, anywhere in `hot`, cools by no more than `rate` K/s, nor
/// by more than what it cools by at its own temperature: the fastest gas is the hottest, and the thinnest.
double Atmosphere::contracted(Interval hot, double rate, const Pace& pace) const {
    if (rate <= 0) return 0;
    const double all = volume_->contraction(hot).hi * rate;
    constexpr double step = 1.06;
    if (!pace.lined() || hot.hi < step * hot.lo) return all;
    double most = 0;
    for (double from = hot.lo; from < hot.hi; from *= step) {
        const double contracts = volume_->contraction(from).hi; // at its coldest
        if (contracts * rate <= most) break;                    // still hotter gas contracts even less
        most = std::max(most, contracts * std::min(rate, pace.cooling_at(std::min(hot.hi, from * step))));
    }
    return std::min(all, most);
}

/// mol/s, greatest from the entry to the end of the stretch, as far as `swept` depends on it; `each`: mol for a
/// kelvin and a pascal, greatest.
double Atmosphere::contraction_over(const State& out, const Stretch& s, double each) const {
    // A non-return valve shuts before any is drawn in.
    if (s.pace.cooling_hi <= 0 || (vacuum_->present() && tight_)) return 0;
    const double flow = s.over->flow.lo;
    const double all = out.pressure.hi * (each * s.pace.cooling_hi);
    // What flows in may keep the air out even if all of the gas cools at once.
    if (s.inlet_within == nullptr && all <= flow && !(tight_ && diffused(flow - all) > 0)) return 0;
    return out.pressure.hi * contracted(s.hot_over, s.pace.cooling_hi, s.pace);
}

/// p = ambient + drop of the outlet, n = p content(T), n x' = K in (x_in - x) + air (x_air - x).
Sweep Atmosphere::flowing(const State& entry, State& out, const Stretch& s) const {
    const Interval flow = s.over->flow;
    const double each = volume_->contraction(s.hot_over).hi; // mol/(Pa K)
    const double expansion = ambient_.hi * each * s.pace.heating_most;
    // The outlet's own drop makes the contents a little denser than at ambient: a hundredth covers it twice.
    const double leaving = flow.hi + 1.01 * expansion + leak_ + outgassing_;
    out.pressure = {ambient_.lo, ambient_.hi + outlet_.drop(leaving) + (vacuum_->present() ? valve_lift : 0)};
    if (s.t.lo <= 0) out.pressure = hull(out.pressure, entry.pressure);

    if (s.pace.cooling_hi > 0) {
        const Interval taken{out.pressure.lo * volume_->contraction(s.hot_now).lo * s.pace.cooling_lo,
                             out.pressure.hi * contracted(s.hot_now, s.cooling_now, s.pace)};
        out.taken = {std::max(0.0, taken.lo), std::max(0.0, taken.hi) + leak_};
        out.drawn_in = {std::max(0.0, taken.lo - s.now->flow.hi), std::max(0.0, taken.hi - s.now->flow.lo)};
    }

    double drawn_over = 0; // mol/s
    if (flow.lo > 0) {
        drawn_over = std::max(0.0, swept(entry, out, s, contraction_over(out, s, each)) - flow.lo);
    } else {
        stand(entry, out, s);
    }

    // A volume is that of the cold tube; behind a valve that has not lifted yet it is what the tube holds.
    Interval volume = cold_volume_;
    if (vacuum_->present()) {
        const Volume::Content content = volume_->content(s.hot_over);
        volume.lo = std::min(volume.lo, (content.free.lo + content.pore.lo) * ambient_.lo);
    }
    const double gained = flow.hi * s.t.hi / volume.lo;
    if (flow.lo > 0 && drawn_over <= 0 && tight_) return {true, true, {flow.lo * s.t.lo / volume.hi, gained}};
    return {false, true, {0, gained}}; // air may have been let in
}

/// n x' = K in (x_in - x) + air (x_air - x), air varying on the way.
/// The contents of a tube that gas flows through; `contraction`: mol/s, for all of the stretch. Returns what
/// was needed of it.
double Atmosphere::swept(const State& entry, State& out, const Stretch& s, double contraction) const {
    const bool covered = contraction <= s.over->flow.lo, varies = s.inlet_within != nullptr && s.t.lo > 0;
    if ((!covered || varies) && s.cooling_within != nullptr)
        return swept_in_parts(entry, out, s, contraction, varies);
    tend(entry, swept_target(*s.over, contraction, out.fraction), out, s, out.pressure, pipe_);
    return contraction;
}

/// Where the flow does not cover that, or temperatures decide what flows in, the way is cut: contraction is
/// greatest somewhere on it, and what came in there has been swept out in part. The contents follow the target
/// linearly in the volumes passed, and of a step of the target at most 1 is left before one volume,
/// exp(-volumes) after. So a target that only falls (each part is given the greatest that is to come, as well
/// as its own) is the last one and the decaying remainders of its steps, and the steps within the last volume
/// are not counted as decayed.
double Atmosphere::swept_in_parts(const State& entry, State& out, const Stretch& s, double contraction,
                                  bool varies) const {
    struct Part {
        Interval time, hot;
        double contraction = 0, passes = 0; // mol/s; volumes
        Composition target;
    };
    double needed = 0; // mol/s
    const auto look = [&](Interval time, Part& part) {
        const Cooling cooling = s.cooling_within(s.context, time);
        Inlet own;
        if (varies) s.inlet_within(s.context, time, own);
        const Inlet& inlet = varies ? own : *s.over;
        part.time = time;
        part.hot = cooling.hot;
        part.contraction = std::min(contraction, out.pressure.hi * cooling.contraction);
        part.passes = mixing_.lo * inlet.flow.lo /
                      (out.pressure.hi * volume_->most_free(cooling.hot) + mixing_.lo * pipe_) * time.width();
        const Composition& target = swept_target(inlet, part.contraction, part.target);
        if (&target != &part.target) part.target = target;
        needed = std::max(needed, part.contraction);
    };
    const auto widen = [](Composition& to, const Composition& by) {
        for (std::size_t i = 0; i < to.size(); ++i) to[i] = hull(to[i], by[i]);
    };
    std::array<Part, cooling_parts + 1> parts; // the last in use is the stretch itself
    std::size_t count = 0;
    Part stretch, cut;
    // Cut at the same times whatever is asked for, so that bounds of a stretch hold those of its instants; a
    // furnace cools faster at first.
    double from = 0, length = 12; // s
    for (std::size_t k = 1; k <= cooling_parts && from < s.t.hi; ++k, length *= 1.1) {
        const double to = k < cooling_parts ? from + length : infinity;
        if (from < s.t.lo) look({from, std::min(to, s.t.lo)}, parts[count++]);
        if (to >= s.t.lo) {
            look({std::max(from, s.t.lo), std::min(to, s.t.hi)}, cut);
            if (stretch.target.size() == 0) stretch.target = cut.target;
            widen(stretch.target, cut.target);
        }
        from = to;
    }
    parts[count++] = stretch;
    double passing = 0;    // volumes from the end of a part to t.lo
    std::size_t mixed = 0; // parts from whose end on a volume passes
    for (std::size_t k = count - 1; k-- > 0;) {
        widen(parts[k].target, parts[k + 1].target);
        if (passing >= 1) mixed = std::max(mixed, k + 1);
        passing += parts[k].passes;
    }

    State now = entry;
    Stretch piece = s;
    if (mixed > 0) {
        piece.hot_within = nullptr;
        piece.mixed = true;
        for (std::size_t k = 0; k + 1 < count; ++k) {
            piece.t = parts[k].time.width();
            piece.hot_over = parts[k].hot;
            State next;
            tend(now, parts[std::min(k, mixed)].target, next, piece, out.pressure, pipe_);
            now = next;
        }
        piece.t = s.t - Interval{s.t.lo};
        piece.hot_over = s.hot_now;
    }
    tend(now, parts[mixed].target, out, piece, out.pressure, pipe_);
    return needed;
}

/// Water alone has a balance: n x' = walls (1 - x) - g x.
/// Nothing flows for certain: any mixture of what was there, the room's air and what may flow in, and the water
/// that the walls have given off since the entry, as far as open ends do not let it out.
void Atmosphere::stand(const State& entry, State& out, const Stretch& s) const {
    const double content = out.pressure.lo * volume_->free(s.hot_over).lo;
    const double walls = outgassing_ > 0 ? -std::expm1(-outgassing_ * s.t.hi / content) : 0;
    for (std::size_t i = 0; i < substances_->count(); ++i) {
        Interval mix = substances_->air()[i];
        if (s.over->any()) mix = hull(mix, s.over->part(i));
        const auto grow = [&](Interval x) {
            x.lo = std::max(x.lo * (1 - walls), std::min(x.lo, mix.lo * (1 - dampest_)));
            if (i == substances_->water())
                x.hi = std::min(x.hi + walls * (1 - x.hi), std::max(x.hi, mix.hi + dampest_ * (1 - mix.hi)));
            return clamp_share(x);
        };
        out.fraction[i] = grow(hull(mix, entry.fraction[i]));
        out.pore[i] =
            volume_->porous() ? hull(out.fraction[i], grow(hull(mix, entry.pore[i]))) : out.fraction[i];
    }
    if (!volume_->porous()) return;
    for (std::size_t i = 0; i < substances_->count(); ++i) // pores breathe out
        out.fraction[i] = hull(out.fraction[i], out.pore[i]);
}

/// Calls visit(hot zone in K, s, whether it is the last) for the pieces of [0, t.lo]: the content falls with
/// temperature, and a ramp is cut so that it changes little in each.
template<class Visit>
void Atmosphere::in_pieces(const Stretch& s, Visit visit) const {
    if (s.hot_within == nullptr) return visit(s.hot_over, s.t.lo, true);
    if (!s.straight) {
        for (int k = 0; k < most_pieces; ++k)
            visit(s.hot_within(s.context, {s.t.lo * k / most_pieces, s.t.lo * (k + 1) / most_pieces}),
                  s.t.lo / most_pieces, k + 1 == most_pieces);
        return;
    }
    const bool known = s.t.lo == s.t.hi || (s.rises && !volume_->porous()); // without pores its .lo is enough
    const Interval last = known ? s.hot_now : s.hot_within(s.context, s.t.lo);
    const double ratio = std::max(last.lo, s.hot_entry.lo) / std::max(1.0, std::min(last.lo, s.hot_entry.lo));
    const int pieces = ratio > 1.15 ? std::min(most_pieces, static_cast<int>(std::log(ratio) / 0.18) + 1) : 1;
    Interval before = s.hot_entry; // and what it first goes through on the other side
    if (s.falls)
        before.hi = s.hot_over.hi;
    else
        before.lo = s.hot_over.lo;
    for (int k = 1; k <= pieces; ++k) {
        const Interval after = k == pieces ? last : s.hot_within(s.context, s.t.lo * k / pieces);
        visit(hull(before, after), s.t.lo / pieces, k == pieces);
        before = after;
    }
}

/// As `tend`, where the free gas is all there is.
void Atmosphere::tend_without_pores(const State& entry, const Composition& target, State& out, const Stretch& s,
                                    Interval pressure, double behind) const {
    std::array<double, most_pieces> kept{}; // share of an excess that a piece leaves
    std::size_t pieces = 0;
    double passed = 0; // tube volumes
    if (s.t.lo > 0)
        in_pieces(s, [&](Interval hot, double seconds, bool) {
            const double rate =
                mixing_.lo * s.over->flow.lo / (pressure.hi * volume_->most_free(hot) + mixing_.lo * behind);
            passed += rate * seconds;
            kept[pieces++] = Dilution::left(rate, seconds);
        });
    const bool unmixed = passed < 1 && !s.mixed; // as below
    const auto left = [&](double excess) {
        if (unmixed) return excess;
        for (std::size_t k = 0; k < pieces; ++k) excess *= kept[k];
        return excess;
    };
    const std::size_t n = substances_->count();
    Interval* const free_out = out.fraction.overwrite(n);
    Interval* const pore_out = out.pore.overwrite(n);
    for (std::size_t i = 0; i < n; ++i) {
        Interval free = target.begin()[i];
        const Interval was = entry.fraction.begin()[i];
        if (const double over = was.hi - free.hi; over > 0) free.hi = std::min(1.0, free.hi + left(over));
        if (const double under = free.lo - was.lo; under > 0) free.lo = std::max(0.0, free.lo - left(under));
        free_out[i] = pore_out[i] = free;
    }
}

/// As `tend`, over a stretch that begins at the entry: no time is sure to have passed.
void Atmosphere::begin(const State& entry, const Composition& target, State& out) const {
    const std::size_t n = substances_->count();
    Interval* const free_out = out.fraction.overwrite(n);
    Interval* const pore_out = out.pore.overwrite(n);
    for (std::size_t i = 0; i < n; ++i) {
        Interval to = target.begin()[i];
        const Interval free = entry.fraction.begin()[i], pore = entry.pore.begin()[i];
        const double over = std::max(free.hi - to.hi, pore.hi - to.hi);
        const double under = std::max(to.lo - free.lo, to.lo - pore.lo);
        if (over > 0) to.hi = std::min(1.0, to.hi + over);
        if (under > 0) to.lo = std::max(0.0, to.lo - under);
        free_out[i] = pore_out[i] = to;
    }
}

/// Moves free gas and pore gas towards the target, which may be that of `out`; the slow side by dilution, the
/// fast side at once.
void Atmosphere::tend(const State& entry, const Composition& target, State& out, const Stretch& s,
                      Interval pressure, double behind) const {
    if (!volume_->porous()) return tend_without_pores(entry, target, out, s, pressure, behind);
    if (s.t.lo <= 0 && s.t.hi > 0) return begin(entry, target, out);
    tend_with_pores(entry, target, out, s, pressure, behind);
}

/// n x' = K in (x* - x) + m (y - x) / tau, y' = (x - y) / tau.
void Atmosphere::tend_with_pores(const State& entry, const Composition& target, State& out, const Stretch& s,
                                 Interval pressure, double behind) const {
    const std::size_t n = substances_->count();
    // What exceeds the target on one of its sides; few do on both.
    struct Side {
        bool above;
        Interval* free;
        Interval* pore;
        bool rising;
        double first_free, first_pore, now_free, now_pore;
    };
    std::array<Side, 2 * max_species> sides; // the first `count` are set
    std::size_t count = 0;
    Interval* const free_out = out.fraction.overwrite(n);
    Interval* const pore_out = out.pore.overwrite(n);
    const Interval* const free_in = entry.fraction.begin();
    const Interval* const pore_in = entry.pore.begin();
    for (std::size_t i = 0; i < n; ++i) {
        const Interval to = target.begin()[i], free = free_in[i], pore = pore_in[i];
        const auto add = [&](bool above, double f, double p) {
            if (!(f > 0) && !(p > 0)) return;
            Side& side = sides[count++];
            side.above = above;
            side.free = free_out + i;
            side.pore = pore_out + i;
            side.first_free = side.now_free = std::max(0.0, f);
            side.first_pore = side.now_pore = std::max(0.0, p);
            side.rising = side.first_pore > side.first_free;
        };
        add(true, free.hi - to.hi, pore.hi - to.hi);
        add(false, to.lo - free.lo, to.lo - pore.lo);
        free_out[i] = pore_out[i] = to;
    }
    if (count == 0) return;
    const auto each = [&](auto visit) {
        for (std::size_t k = 0; k < count; ++k) visit(sides[k]);
    };
    const bool point = s.t.lo == s.t.hi;
    if (s.t.lo > 0) {
        double passed = 0; // tube volumes
        in_pieces(s, [&](Interval hot, double seconds, bool last) {
            const Interval content = volume_->free(hot);
            const double rate = mixing_.lo * s.over->flow.lo / (pressure.hi * content.hi + mixing_.lo * behind);
            const double pores = volume_->most_pore(hot) / content.lo;
            const double stirring = pores * s.pace.heating_hi / std::max(1.0, hot.lo);
            passed += rate * seconds;
            const Dilution dilution(rate, pores, release_, stirring, seconds);
            each([&](Side& side) {
                const Excess start{side.now_free, side.now_pore}, now = dilution(start);
                side.now_free = now.free;
                side.now_pore = now.pore;
                // Whether the free gas rises matters where it may rise further.
                if (last && !point) side.rising = now.pore > now.free && dilution.rising(start);
            });
        });
        // Before one volume has passed the gas may move on unmixed: the last point of the tube still has what
        // was there.
        if (passed < 1 && !s.mixed)
            each([&](Side& side) {
                side.now_free = std::max(side.now_free, side.first_free);
                side.now_pore = std::max(side.now_pore, side.first_pore);
            });
    }
    each([&](const Side& side) {
        const double f = side.now_free, p = side.now_pore, more = std::max(f, p);
        const double free = !point && side.rising ? more : f;
        // Pores that are leaner than the free gas gain from it, at most up to it.
        const double pore = point ? p : more;
        if (side.above) {
            side.free->hi = std::min(1.0, side.free->hi + free);
            side.pore->hi = std::min(1.0, side.pore->hi + pore);
        } else {
            side.free->lo = std::max(0.0, side.free->lo - free);
            side.pore->lo = std::max(0.0, side.pore->lo - pore);
        }
    });
}

/// n x' = leak (x_air - x) + walls (x_water - x).
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

/// n' = in + leak + walls - S(p) (p - p_ult) / (R T_room), p = n / content(T); S as pump and throttle let pass.
Sweep Atmosphere::pumped(const State& entry, State& out, const timeline::State& discrete,
                         const Stretch& s) const {
    const Volume::Content content = volume_->content(s.hot_over);
    const Interval room = volume_->ambient();
    const Vacuum* pump = vacuum_;
    for (const Vacuum& v : *cooler_)
        if (s.hot_over.hi <= v.hottest()) {
            pump = &v;
            break;
        }
    const double large =
        physics::gas_constant * room.hi * (content.free.hi + content.pore.hi); // as gas at room temperature
    const double small = physics::gas_constant * room.lo * content.free.lo;
    const double slow = pump->speed(pump->lowest().hi).lo;
    const Inlet& in = *s.over;

    // m3/s that a tube which warms or cools drives out or takes in, for each pascal.
    const double unit = physics::gas_constant * room.hi * volume_->contraction(s.hot_over).hi;
    const double expands = unit * s.pace.heating_most, contracts = unit * s.pace.cooling_most;
    const Volume::Content now = volume_->content(s.hot_now);
    const double thinned = (content.free.hi + content.pore.hi) / (now.free.lo + now.pore.lo);
    // What flows in adds at most what the pump, at its slowest, lets stand.
    const auto added = [&](double speed, double ratio) {
        if (!in.any()) return 0.0;
        const double flow = in.flow.hi * physics::gas_constant * room.hi;
        const double whole = speed > 0 ? ratio * flow / speed : infinity;
        return speed > expands ? std::min(whole, flow / (speed - expands)) : whole;
    };
    const double emptied = pump->slowest(entry.pressure.hi, large, s.t.lo, expands, thinned);
    double hi = emptied + added(slow, thinned);
    double lo = pump->fastest(entry.pressure.lo, small, s.t.hi, contracts);
    // At its ultimate pressure a pump takes nothing away: from there on gas only gets denser as it cools.
    lo = std::max(lo, std::min(entry.pressure.lo, pump->lowest().lo) * (content.free.lo + content.pore.lo) /
                          (now.free.hi + now.pore.hi));
    if (discrete.regulated > 0) {
        const double held = discrete.regulated, open = pump->speed(held).lo;
        if (in.any() && open > 0) {
            // Above the held pressure the pump is at least as fast as there.
            hi = emptied + added(open, thinned);
        }
        hi = std::max(hi, (1 + throttle_) * held);
        const double taken =
            s.pace.cooling_hi > 0 ? held * contracted(s.hot_over, s.pace.cooling_hi, s.pace) : 0;
        if (in.flow.lo > taken) {
            const double most = content.free.hi + content.pore.hi;
            lo = std::min((1 - throttle_) * held, entry.pressure.lo + (in.flow.lo - taken) * s.t.lo / most);
        }
        lo = std::min(lo, hi);
    }
    out.pressure = {std::min(lo, hi), hi};
    if (s.t.lo <= 0) out.pressure.hi = std::max(out.pressure.hi, entry.pressure.hi);

    if (in.flow.lo > 0) {
        const double share = leak_ / (mixing_.lo * in.flow.lo + leak_);
        const double walls = outgassing_ / (mixing_.lo * in.flow.lo + outgassing_);
        target(in, share, walls, out.fraction);
        tend(entry, out.fraction, out, s, {out.pressure.lo, std::max(out.pressure.hi, entry.pressure.hi)}, 0);
    } else {
        seep(entry, out, out.pressure.lo * content.free.lo, s.t.hi);
        if (in.any())
            for (std::size_t i = 0; i < substances_->count(); ++i) {
                out.fraction[i] = hull(out.fraction[i], in.part(i));
                out.pore[i] = hull(out.pore[i], in.part(i));
            }
    }
    double gained = 0;
    if (in.any()) {
        const double start = entry.pressure.lo * content.free.lo;
        const double least = std::min(start, out.pressure.lo * content.free.lo);
        gained = in.flow.hi * s.t.hi / least;
        // Up to a held pressure the throttle is shut, and the content grows by all that flows in: the
        // logarithm.
        const double filled = (1 - throttle_) * discrete.regulated;
        if (filled > 0) {
            const double grown = std::max(1.0, filled * (content.free.hi + content.pore.hi) / start);
            gained = std::min(gained, std::min(std::log1p(in.flow.hi * s.t.hi / start), std::log(grown)) +
                                          in.flow.hi * s.t.hi / std::max(least, filled * content.free.lo));
        }
    }
    const double surely =
        in.flow.lo > 0
            ? in.flow.lo * s.t.lo / (volume_->cold().hi * std::max(out.pressure.hi, entry.pressure.hi))
            : 0;
    return {true, true, {surely, gained}};
}

} // namespace athanor::plant
