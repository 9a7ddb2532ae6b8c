#pragma once
#include "compiler/check/model.hpp"
#include "compiler/timeline/timeline.hpp"
#include "tests/simulator/draw.hpp"

#include <array>
#include <optional>
#include <vector>

/// An independent simulator of one rig under one timeline, for tests. It shares nothing with `compiler/plant`
/// but the declarations: the balances of heat and of each gas are written down again from the physics and
/// integrated with Boost.odeint (Dormand-Prince, adaptive).
///
/// State: true temperature at each control sensor and of its load, pressure, mole fractions of the free gas and
/// of the gas in the plugs, swept volumes. Flows are molar:
///   free gas   n x_i' = sum over what comes in of (amount) (its fraction - x_i)
///   pores      m y_i' = (m/release + what they breathe in) (x_i - y_i)
///   pressure   (n + m)' = in - out
/// with n = p k(T), k the integral of A dx/(R T) over the tube. `mixing` is the share of the inflow that mixes;
/// the rest passes to the outlet.
namespace athanor::simulator {

/// The power fails: heater off, burner and pump as without power, lines at their de-energised positions.
struct Fault {
    double at = infinity;       // s after the start
    double follow = 2 * 3600.0; // s that are simulated after it
};

struct ZoneSample {
    double setpoint = 0, control = 0, load = 0; // K; true temperatures
};

/// What the rig is like at one instant.
struct Sample {
    std::size_t span = 0; // of the timeline; spans.size() after a fault
    double since = 0;     // s since the span began
    double time = 0;      // s since the start, a person's waits included
    double elapsed = 0;   // s, without a person's waits
    double burning = 0;   // s since the burner was lit
    std::vector<ZoneSample> zones;
    double pressure = 0;
    std::vector<double> free, pore; // mole fractions; the same without plugs
    double swept = 0, flow = 0, drawn_in = 0;
    double taken = 0;          // mol/s that contraction and leak ask for
    std::vector<double> lines; // what really flows through each line of the rig, mol/s
};

/// Least and greatest of each fact that a rule may ask for, over every step of the integrator.
struct Extremes {
    double hottest = 0, coldest = infinity; // of every point of the hot zone
    double pressure_lo = infinity, pressure_hi = 0;
    std::vector<double> fraction_lo, fraction_hi; // free gas and pores
    double flammability = 0;                      // greatest share of the lower limit
    double flow_lo = infinity, flow_hi = 0;
    double drawn_in = 0;
};

struct SpanRun {
    double begin = 0, duration = 0;  // s
    double energy = 0;               // J that the heater took
    bool ended = true;               // false: given up after `patience`
    std::size_t first = 0, last = 0; // samples, half-open; the last one is the end of the span
    Extremes extremes;
};

struct Trajectory {
    std::vector<Sample> samples;
    std::vector<SpanRun> spans; // one per span of the timeline that was entered; one more after a fault
    Extremes extremes;
    std::size_t steps = 0;
};

struct Options {
    int samples = 6;                // inside each span, besides its end; early ones are closer
    bool every_step = false;        // besides those, a sample at each span's begin and after every step
    double accuracy = 1e-8;         // relative, of one step
    double patience = 10 * 86400.0; // s after which a span that waits for a temperature is given up
};

Trajectory simulate(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
                    const Draw& draw, std::optional<Fault> fault = {}, const Options& options = {});

} // namespace athanor::simulator
