#pragma once
#include "compiler/check/equipment.hpp"
#include "tests/simulator/draw.hpp"

#include <span>

/// The work tube as a row of pieces between one seal and the other: ends in which the gas's temperature goes
/// straight from the seal to the hot zone, zones of even temperature, plugs somewhere in the ends.
namespace athanor::simulator {

/// mol per Pa.
struct Content {
    double free = 0, pore = 0;
};

class Tube {
public:
    Tube(const check::Rig& rig, const Draw& draw, std::size_t zones);
    /// For the gas's temperature in each zone, K.
    Content content(std::span<const double> zones) const;
    /// mol/(Pa s) by which that content changes where the zones' gas warms at `rates`, K/s.
    Content change(std::span<const double> zones, std::span<const double> rates) const;
    /// Cold, open bore and pores, m3.
    double volume() const { return volume_; }
    bool porous() const { return porosity_ > 0 && plug_ > 0; }
    /// Conductance of half the work tube, counted as flow at room temperature, m3/s, at a mean pressure in Pa.
    double conductance(std::span<const double> zones, double pressure, double gas) const;

private:
    struct Seal {
        double at, follows; // K; by a kelvin of the hot zone
    };
    Seal seal(double hot) const;
    double end(double hot, double from, double to) const;
    double end_change(double hot, double from, double to) const;

    double area_ = 0, bore_ = 0, heated_ = 0, end_ = 0, plug_ = 0, porosity_ = 0, plug_start_ = 0, volume_ = 0;
    double room_ = 0, rise_ = 0, reach_ = 0;    // K
    double shields_ = 0, open_ = 1, place_ = 0; // how many on the way to the pump, open share, as plugs' place
    std::size_t zones_ = 1;
};

/// Long round pipe, air at 20 degC, m3/s: 135 d^4 p/l and 12.1 d^3/l in cm, mbar, L/s (vacuum handbooks).
double pipe_conductance(double diameter, double length, double mean_pressure);

} // namespace athanor::simulator
