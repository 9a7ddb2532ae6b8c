#pragma once
#include "compiler/check/equipment.hpp"
#include "compiler/quantity/interval.hpp"

/// How much gas the tube holds: n = (p/R) * integral of A dx / T(x) over the hot zone and the two cold ends, in
/// which the temperature falls linearly to that of the seals. SI.
namespace athanor::plant {

class Volume {
public:
    Volume() = default;
    explicit Volume(const check::Rig& rig);

    /// mol per Pa. `free` is the open bore, `pore` the gas in porous plugs.
    struct Content {
        Interval free, pore;
    };
    /// For a hot zone whose every point lies in `hot`, in K. Where in the ends the plugs sit is not known: the
    /// bounds hold for every place.
    Content content(Interval hot) const { return {free(hot), {least_pore(hot), most_pore(hot)}}; }
    Interval free(Interval hot) const { return {least_free(hot), most_free(hot)}; }
    double least_free(Interval hot) const;
    double most_free(Interval hot) const;
    double least_pore(Interval hot) const;
    double most_pore(Interval hot) const;
    /// -dn/dT / p in mol/(Pa K): what the content gives up per kelvin that the hot zone warms, or takes in per
    /// kelvin that it cools. Free gas and pores; the seals cool with the hot zone, in proportion at most.
    Interval contraction(Interval hot) const {
        // In the hot zone -d(1/T)/dT = 1/T^2. The seals cool with the furnace, in proportion or less: (T_seal -
        // T_room) / (T_hot - T_room) for each kelvin of it. Then the gas at any place of an end follows by (T -
        // T_room) / (T_hot - T_room) at most, T its own temperature, whatever the seals' rise; and that over
        // T^2 is greatest where T = 2 T_room, or at the hot zone where that is colder. Both fall with either
        // temperature.
        const double cold = hot.lo < seals_.lo ? hot.lo : seals_.lo;
        const double in_end = hot.lo > 2 * cold ? 1 / (4 * cold * (hot.lo - cold)) : 1 / (hot.lo * hot.lo);
        return {unit_ * hot_ / (hot.hi * hot.hi), unit_ * (hot_ / (hot.lo * hot.lo) + 2 * end_ * in_end)};
    }
    /// m3, cold; free gas and pores.
    double total() const { return free_ + pore_; }
    double pores() const { return pore_; }
    bool porous() const { return pore_ > 0; }
    /// m: cross-section over length of the way that gas has from the middle of the tube to the room, through
    /// both ends and the pores of their plugs; least. 0: something else stands in the ends, or a seal closes
    /// them.
    double openness() const { return openness_; }
    /// mol per Pa of the whole tube at ambient temperature: one "volume" of a purge.
    Interval cold() const;
    Interval ambient() const { return ambient_; }

private:
    double area_ = 0, hot_ = 0, end_ = 0, plug_ = 0; // m2, m, m (one end), m (one plug)
    double unit_ = 0;                                // mol K/(Pa m), of the open bore
    double open_share_ = 1, plug_share_ = 0;         // of an end
    Interval porosity_;
    double free_ = 0, pore_ = 0, least_pore_ = 0; // m3
    double openness_ = 0;                         // m
    Interval ambient_, seals_;                    // K
};

} // namespace athanor::plant
