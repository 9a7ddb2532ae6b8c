#pragma once
#include "compiler/plant/pair.hpp"
#include "compiler/quantity/interval.hpp"

#include <array>
#include <cstddef>

/// Dilution of a well-mixed tube, with porous plugs as a second compartment:
///   x' = a (x* - x) + c (y - x),   y' = g (x - y),
/// x free gas, y pore gas, a = mixing * inflow / content, c = (pore content / free content) / release time,
/// g = 1 / release time. Both off-diagonal terms are positive: the system is cooperative, so that larger c and
/// smaller a and g give an upper bound wherever y >= x >= x*. The release time is one number of the rig: its
/// interval is cut into cells and the greatest of their bounds is taken.
namespace athanor::plant {

/// Bounds of an excess over the target after a time: the free gas's and the pore gas's.
struct Excess {
    double free = 0, pore = 0;
};

/// The rig's release time, cut into cells.
class Release {
public:
    Release() = default;
    explicit Release(Interval seconds);

private:
    friend class Dilution;
    static constexpr std::size_t max_cells = 24;
    std::size_t count_ = 0;                     // even; 0: pores that give off at once, as if there were none
    std::array<double, max_cells> fast_, slow_; // s, least and greatest of each cell; the last may stand twice
};

class Dilution {
public:
    /// a in 1/s: least; ratio of pore to free content: greatest; `stirring`: further exchange in 1/s, when heat
    /// drives gas out of the pores. ratio = 0: no pores.
    Dilution(double a, double ratio, const Release& release, double stirring, double seconds);
    /// Share of an excess that is left without pores.
    static double left(double a, double seconds);
    /// From excesses >= 0 of one species over its target.
    Excess operator()(Excess start) const;

    /// Whether the free gas may still gain from the pores at that time: its greatest value is yet to come.
    bool rising(Excess start) const;

private:
    struct Cells {                   // two at a time
        Pair ff, fp, pf, pp;         // free from free, free from pore, …
        Pair slope_free, slope_pore; // of the free gas, from free and from pore, 1/s
    };
    struct Rates;
    struct Slowest;
    std::size_t pairs_ = 0; // of cells that may bound; 0: no pores
    // From an excess that free gas and pores have alike: what is left of it.
    double free_ = 0, pore_ = 0;
    std::array<Cells, Release::max_cells / 2> cells_; // the first `pairs_` are set
};

} // namespace athanor::plant
