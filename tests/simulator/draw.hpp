#pragma once
#include "compiler/check/model.hpp"
#include "compiler/timeline/timeline.hpp"

#include <random>
#include <string>
#include <vector>

/// One rig out of all those that a declaration allows: every uncertain quantity gets one value inside its
/// interval. SI: K, s, Pa, W, J/K, mol/s, fractions.
namespace athanor::simulator {

/// A furnace that meets every row of its data sheet.
struct Member {
    double share = 0;                // of radiation in the loss at the first holding temperature
    double holding = 0, at = 0;      // W at K
    double rated = 0;                // W at the mains voltage of this run
    double heating = 0, cooling = 0; // heat capacity while it is heated and while it cools, J/K
    double ambient = 0;              // K

    /// U (T-Ta) + R (T^4-Ta^4), W
    double loss(double temperature) const;
};

/// One gas line as it is, not as its meter says.
struct LineDraw {
    double of_reading = 0, of_full = 0; // meter's error: share of the reading; mol/s of full scale
    std::vector<double> parts;          // mole fractions by species of the timeline
    double without_power = 0;           // mol/s when power has failed and the valve falls open
};

struct Draw {
    double ambient_temperature = 0, ambient_pressure = 0;
    Member furnace;
    double tracking = 0;      // s: time constant of the controller
    double settling = 0;      // s for which an overshoot stands at the end of a ramp
    double overshoot = 0;     // K
    double control_error = 0; // K, signed
    double sensor = 0;        // share of the class's tolerance, -1 to 1
    double load_lag = 0, load_offset = 0;
    double gas_of_load = 0; // share of the load's temperature in the gas's: 0 control sensor, 1 load
    double mixing = 1;
    double leak = 0, outgassing = 0;      // mol/s
    bool leaks_always = false;            // or with the pressure difference
    double seal_rise = 0, plug_place = 0; // K; 0 next to the seals … 1 next to the hot zone
    double seal_reach = 0; // K of the hot zone above the room over which the seals warm; 0: they stay
    double open_area = 1;  // share of the bore that each radiation shield leaves open
    double porosity = 0, air_release = 0; // 1, s
    double diffusivity = 0;               // m2/s, air through the outlet
    double viscosity = 0;                 // Pa s, of what leaves through the outlet
    double pump_speed = 0, pump_ultimate = 0;
    double conductance_gas = 1; // conductance for this gas over that for air
    double pipe_pressure = 0.5; // mean pressure in the pipe over that in the tube
    double lift = 0;            // Pa above the greatest ambient at which the non-return valve lifts
    double relief = 0;          // Pa above ambient at which the relief opens; 0: none
    double ingress = 0;         // mol/s of air that wanders in where seals are not tight or the tube is open
    std::vector<double> air;    // mole fractions by species
    std::vector<LineDraw> lines;
    std::vector<double> waits; // s of a person, used in turn
    unsigned seed = 0;
};

/// Draws from the declared intervals. With `corners` each quantity is mostly at one of its ends. False when no
/// furnace was found that meets all rows.
bool draw(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline, unsigned seed,
          bool corners, Draw& out);

/// What differs between rigs, for people.
std::string describe(const Draw& draw);

/// Saturation pressure over water, below 0 degC over ice, Pa: Sonntag, Meteorol. Z. N. F. 3 (1994) 51.
double saturation(double kelvin);
/// Tolerance of a thermocouple at a true temperature, K.
double tolerance(const check::Model& model, const check::Sensor& sensor, double kelvin);

} // namespace athanor::simulator
