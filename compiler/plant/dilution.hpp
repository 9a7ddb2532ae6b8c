#pragma once
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
    bool rising = false; // the free gas may still gain from the pores: its greatest value is yet to come
};

class Dilution {
public:
    /// a in 1/s: least; ratio of pore to free content: greatest; release in s; `stirring`: further exchange in
    /// 1/s, when heat drives gas out of the pores. ratio = 0: no pores.
    Dilution(double a, double ratio, Interval release, double stirring, double seconds);
    /// From excesses >= 0 of one species over its target.
    Excess operator()(Excess start) const;

private:
    static constexpr std::size_t max_cells = 24;
    struct Cell {
        double a_c, c;         // for the sign of the slope
        double ff, fp, pf, pp; // free from free, free from pore, …
    };
    bool porous_ = false;
    std::size_t count_ = 1;
    std::array<Cell, max_cells> cells_; // the first `count_` are set; without pores only the first one's `ff`
};

/// Well-mixed sweep, closed form: time for the fraction to fall from `from` to `to` with inlet fraction `inlet`
/// (Crowl and Louvar, Chemical Process Safety, ch. 7; from memory). `rate` in 1/s is mixing * flow / content.
double sweep_time(double rate, double from, double to, double inlet);

} // namespace athanor::plant
