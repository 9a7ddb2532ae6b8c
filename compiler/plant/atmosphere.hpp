#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/dilution.hpp"
#include "compiler/plant/outlet.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/plant/substances.hpp"
#include "compiler/plant/vacuum.hpp"
#include "compiler/plant/volume.hpp"
#include "compiler/plant/zone.hpp"

#include <algorithm>

/// What is in the tube and at which pressure, over a stretch of one span.
///
/// Flowing (outlet open): the contents tend to what flows in, plus air from the leak, through the outlet
/// against the flow, and by contraction when the tube cools faster than gas comes in. Bounds of a species: the
/// slow side is the least flow with the least mixing, the fast side plug flow, in which some point holds the
/// inlet's gas at once. What is swept out passes the outlet's pipe on its way to where it is burnt or drawn
/// off: the slow side counts the pipe as part of one mixed volume, there without dead corners. That also bounds
/// what leaves the pipe, mixed or in plug flow, once less than a quarter of a step is left; before, the pipe's
/// end may still have all of it. With no certain inflow the outlet lets room air in: any mixture of what was
/// there with air is possible, and with the water that the walls have given off meanwhile.
///
/// Held by a throttle (pumped, with a pressure to hold): above it the throttle stands open, and the pump is at
/// least as fast as at that pressure; below it the throttle is shut and the inflow raises the pressure.
/// Assumed: it closes tightly enough for the least inflow, and holds within its declared accuracy.
///
/// Pumped: the composition is kept, but for leaked air and gas from the walls, whose share grows as the content
/// falls.
///
/// Filling: assumed, and to be read on the assurance table: in a rig with a pump the exhaust's non-return valve
/// keeps room air out while the tube is below ambient, and stays shut until the tube is `valve_lift` above the
/// greatest declared ambient pressure. So a fill to 20 mbar above ambient ends, at whatever ambient pressure of
/// the day.
///
/// Sealed (exhaust shut): the pressure follows the content; a relief caps it.
namespace athanor::plant {

inline constexpr double valve_lift = 5000;         // Pa above ambient: common practice, no source
inline constexpr double leak_temperature = 293.15; // K at which leak and outgassing rates are stated

struct Cooling {
    Interval hot;           // K, hot zone
    double contraction = 0; // mol/(Pa s) that the contents take in at most
};

/// What of an interval can be a mole fraction.
inline Interval clamp_share(Interval x) {
    return {std::clamp(x.lo, 0.0, 1.0), std::clamp(x.hi, 0.0, 1.0)};
}

/// One stretch as the contents see it.
struct Stretch {
    Stretch(Interval time, Interval entry, Interval over_all, Interval in_it, const Pace& moves, double cools)
        : t(time), hot_entry(entry), hot_over(over_all), hot_now(in_it), pace(moves), cooling_now(cools) {}

    Interval t;         // s after entry
    Interval hot_entry; // K, hot zone at entry
    Interval hot_over;  // K, from entry to t.hi
    Interval hot_now;   // K, in [t.lo, t.hi]
    const Pace& pace;   // from entry to t.hi
    double cooling_now; // K/s, at most, in [t.lo, t.hi]
    /// The hot zone goes one way all the time, but for a little at the beginning, which hot_over holds; up
    /// unless it `falls`.
    bool straight = true, falls = false;
    bool rises = false;          // hot_now.lo is that at t.lo
    const Inlet* over = nullptr; // from entry to t.hi
    const Inlet* now = nullptr;
    /// Hot zone over any stretch of the span; null where it is held, and hot_over is good enough.
    Interval (*hot_within)(const void* context, Interval time) = nullptr;
    /// Over any part of [0, t.hi]; null as above.
    Cooling (*cooling_within)(const void* context, Interval time) = nullptr;
    /// What flows in over any part of [0, t.hi]; null where it is what `over` says all the time.
    void (*inlet_within)(const void* context, Interval time, Inlet& inlet) = nullptr;
    const void* context = nullptr;
    bool mixed = false; // a volume passes behind this stretch: what was there may be counted as mixed
};

/// What keeps one species from its inlet's value, as fractions.
struct Floor {
    double inlet = 0, leak = 0, drawn = 0, diffusion = 0, walls = 0;
    double total() const { return inlet + leak + drawn + diffusion + walls; }
};

/// What a stretch does to the volumes that were counted before it.
struct Sweep {
    bool keeps_lo = true, keeps_hi = true; // false: air may have been let in, and the count begins anew
    Interval gained;
    Interval after(Interval before) const {
        return {(keeps_lo ? before.lo : 0) + gained.lo, (keeps_hi ? before.hi : 0) + gained.hi};
    }
};

class Atmosphere {
public:
    Atmosphere() = default;
    /// `cooler`: the pump at a tube that is not as hot as it may get, coolest first.
    Atmosphere(const check::Rig& rig, const Substances& substances, const Volume& volume, const Vacuum& vacuum,
               const std::vector<Vacuum>& cooler);

    Interval ambient_pressure() const { return ambient_; }
    Interval mixing() const { return mixing_; }
    /// mol, greatest, of one volume of a purge: tube and outlet, cold, at the greatest pressure.
    double one_volume() const { return cold_volume_.hi; }
    void start(State& state) const;
    /// All of `out` but the volumes swept, which are returned.
    Sweep during(const State& entry, State& out, const timeline::State& discrete, const Stretch& s) const;
    /// Contributions to the greatest fraction of a species that lasts for ever under this inflow.
    Floor floor(std::size_t species, const Inlet& inlet, double drawn) const;
    /// Pa above the room that the tube needs to let mol/s of inflow out, at rest: outlet and non-return valve.
    double let_out(double flow) const;
    double contracted(Interval hot, double rate, const Pace& pace) const;

private:
    struct Shares { // of air in what the contents tend to
        double leak = 0, drawn = 0, diffusion = 0;
        double walls = 0; // of water vapour
    };
    /// `contraction`: mol/s that the cooling contents take in.
    inline Shares shares(const Inlet& inlet, double contraction) const;
    double diffused(double outflow) const; // mol/s
    inline double contraction_over(const State& out, const Stretch& s, double each) const;
    Sweep behind_valve(const State& entry, State& out, const Stretch& s) const;
    Sweep flowing(const State& entry, State& out, const Stretch& s) const;
    Sweep pumped(const State& entry, State& out, const timeline::State& discrete, const Stretch& s) const;
    struct Shut;
    Sweep closed(const State& entry, State& out, const Stretch& s, bool fills) const;
    Shut shut(const Stretch& s, bool fills) const;
    void closed_pressure(const State& entry, State& out, const Stretch& s, Shut& c) const;
    void closed_composition(const State& entry, State& out, const Stretch& s, const Shut& c) const;
    Sweep closed_volumes(const State& entry, const State& out, const Stretch& s, const Shut& c) const;
    inline double swept(const State& entry, State& out, const Stretch& s, double contraction) const;
    double swept_in_parts(const State& entry, State& out, const Stretch& s, double contraction,
                          bool varies) const;
    void stand(const State& entry, State& out, const Stretch& s) const;
    /// `behind`: mol, greatest, of the outlet, where what is swept out has to pass it.
    void tend(const State& entry, const Composition& target, State& out, const Stretch& s, Interval pressure,
              double behind) const;
    inline void begin(const State& entry, const Composition& target, State& out) const;
    void tend_without_pores(const State& entry, const Composition& target, State& out, const Stretch& s,
                            Interval pressure, double behind) const;
    void tend_with_pores(const State& entry, const Composition& target, State& out, const Stretch& s,
                         Interval pressure, double behind) const;
    static constexpr int most_pieces = 8;
    static constexpr std::size_t cooling_parts = 96;
    template<class Visit>
    void in_pieces(const Stretch& s, Visit visit) const;
    void seep(const State& entry, State& out, double content, double seconds) const;
    void target(const Inlet& inlet, double air_share, double walls, Composition& to) const;
    inline const Composition& swept_target(const Inlet& inlet, double contraction, Composition& room) const;

    const Substances* substances_ = nullptr;
    const Volume* volume_ = nullptr;
    const Vacuum* vacuum_ = nullptr;
    const std::vector<Vacuum>* cooler_ = nullptr;
    Interval ambient_, mixing_;
    Release release_;
    double leak_ = 0, outgassing_ = 0; // mol/s, greatest
    double dampest_ = 1;               // share of water from the walls that open ends let stand
    Outlet outlet_;
    double pipe_ = 0;      // mol, greatest, in the outlet
    Interval cold_volume_; // mol of one volume of tube and outlet; a non-return valve may still be shut
    double diffusing_ = 0; // mol/s that diffusion passes through it
    double throttle_ = 0;  // by which a held pressure may miss, either way
    double supply_ = 0;    // Pa above ambient, greatest of the lines
    double least_supply_ = infinity; // the least, of those declared
    double relief_ = 0;              // Pa above ambient; 0 = none
    double relief_opens_ = 0;        // the least of its setting
    bool tight_ = false, shut_ = false;
};

} // namespace athanor::plant
