#pragma once
#include "compiler/program/program.hpp"
#include "compiler/quantity/interval.hpp"
#include "compiler/source/span.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

/// Equipment and substances after checking: typed, complete, in SI, every figure with its place.
namespace athanor::check {

using Index = std::uint32_t;
inline constexpr Index none = 0xFFFFFFFFU;

/// One figure of a declaration. `defaulted` figures come from the schema's conservative defaults.
struct Figure {
    Interval value;
    athanor::Span source;
    bool given = false;     // written, or filled from a default
    bool defaulted = false; // filled from a default
    std::string reference;  // text of `source "…"`, where there is one
    double lo() const { return value.lo; }
    double hi() const { return value.hi; }
};

/// Classes that rules speak of.
enum class Hazard : std::uint8_t { flammable, oxidiser, inert, toxic };

struct Hazards {
    bool flammable = false, oxidiser = false, inert = false, toxic = false, asphyxiant = false;
    bool pyrophoric = false; // may light by itself where it meets air, at any temperature
    bool enriched = false;   // more than 23.5 % oxygen: things burn in it that do not in air
    bool of(Hazard hazard) const {
        switch (hazard) {
        case Hazard::flammable: return flammable;
        case Hazard::oxidiser: return oxidiser;
        case Hazard::inert: return inert;
        case Hazard::toxic: return toxic;
        }
        return false;
    }
};

/// Pa above ambient that a tube with clamped ends is fed with, and stands, at most where nothing else is
/// declared (common practice, no source).
inline constexpr double usual_pressure = 20000;
/// A relief passes this many times its setting (common practice, no source).
inline constexpr double relief_passes = 1.1;

/// A pure gas, or a mixture with its parts resolved to pure gases.
struct Gas {
    std::string name, title, formula;
    athanor::Span source;
    bool pure = true;
    /// Feeds a fire as oxygen does.
    bool oxidises() const { return hazards.oxidiser || name == "oxygen" || formula == "O2"; }
    Hazards hazards;                 // for a mixture: flammable by ISO 10156, the others from its parts
    std::string hazard_source;       // text of `source` behind its hazards
    std::string hazard_reason;       // "5 % hydrogen in argon: over 3.1 % by ISO 10156"
    Figure molar_mass;               // kg/mol
    Figure lower_limit, upper_limit; // fraction in air at 20 degC
    Figure safety_temperature;       // K
    Figure autoignition;             // K
    Figure limiting_oxygen;          // fraction
    Figure inert_equivalence;        // Kk of ISO 10156 (nitrogen = 1), for gases that are not fuels
    Figure fuel_threshold;           // Tci of ISO 10156, fraction in nitrogen, for fuels
    Figure exposure_limit;           // fraction in room air, for toxic gases
    Figure toxic_above;              // K, where what it breaks up to is toxic
    Figure heat_of_combustion;       // J/mol, lower
    Figure viscosity;                // Pa s at 20 degC
    Figure meter_factor;             // thermal meter, nitrogen = 1
    /// Parts as (index of a pure gas, fraction); {itself, 1} for a pure gas.
    std::vector<std::pair<Index, Interval>> parts;
    bool broken = false; // an error was reported inside
};

/// A gas that a material or a sensor does not stand.
struct Exposure {
    std::string name;     // of the gas, or of a formula of substances.ath
    Index gas = none;     // a pure gas; none where no gas has the formula
    Interval temperature; // K, where it matters
    bool scarce = false;  // what harms is less of the gas than `share`, not its presence
    double share = 1e-3;  // of one atmosphere; less does no harm that shows (common practice, no source)
    bool refused = true;  // else a warning
    athanor::Span source;
    std::string reference;
};

struct RateRow {
    Figure rate;          // K/s
    Interval diameter;    // m, outer; whole line when none was stated
    Interval temperature; // K range in which the row holds
};

struct Material {
    std::string name, title;
    athanor::Span source;
    Figure limit, limit_vacuum; // K
    std::vector<Exposure> exposures;
    std::vector<RateRow> rates;
    Figure elastic_modulus, poisson, expansion, conductivity, density, heat_capacity, strength;
    bool broken = false; // an error was reported inside
};

struct Tolerance {
    int number = 1;
    Interval range;                    // K
    double absolute = 0, relative = 0; // the greater of absolute (K) and relative * |t in degC| (beyond `from`)
    double from = 0; // degC: relative counts (t - from) on top of absolute where the standard says so
    bool added = false;
    athanor::Span source;
    std::string reference;
};

struct Thermocouple {
    std::string name, title;
    athanor::Span source;
    Figure range; // K
    std::vector<Tolerance> classes;
    std::vector<Exposure> exposures;
    bool broken = false; // an error was reported inside
};

struct HeatUp {
    Figure duration;
    double to;
}; // s from ambient at full power, empty; K
struct HoldingPower {
    Figure power;
    double at;
}; // W; K
struct CoolDown {
    double from, to;
    Figure duration;
}; // K, K, s, heater off

struct Furnace {
    athanor::Span source;
    Figure range;         // K
    Figure heated_length; // m
    Figure power;         // W, nominal
    Figure mains;         // relative tolerance of the voltage, as an interval about 1: [0.9, 1.1]
    std::vector<HeatUp> heat_up;
    std::vector<HoldingPower> holding_power;
    std::vector<CoolDown> cool_down;
    std::vector<std::string> zones;
    Figure zone_opening; // m, diameter through which neighbouring zones see each other; only with several zones
    Figure overshoot;    // K
    Figure tracking;     // s, lag of the measured temperature behind a ramp the furnace can follow
    Figure control_error; // K, steady |measured - setpoint| when no soak band is asked
};

struct Tube {
    athanor::Span source;
    Index material = none;
    Figure inner_diameter, wall, length; // m
    Figure rated;                        // Pa above ambient; not given = not stated
};

enum class EndsKind : std::uint8_t { insulation_plugs, radiation_shields, open_ends };

struct Ends {
    EndsKind kind = EndsKind::open_ends;
    athanor::Span source;
    Figure length, porosity, air_release, count; // m, 1, s, 1
    Figure open_area;                            // share of the bore that one shield leaves open
    Figure draught;                              // mol/s of air that surely passes through open ends
};

struct Seals {
    bool gas_tight = false;
    athanor::Span source;
    Figure rated; // Pa above ambient
    Figure limit; // K, that their rubber or polymer stands
    bool cooled = false;
    bool cooled_without_power = false; // the coolant needs no pump and no chiller
    bool coolant_loss_trips = false;   // a flow switch shuts heater and fuel
    Figure rise;                       // K, how far seals lie above ambient
    Figure usual_rise;                 // K, the same of the whole rig, where the seals say nothing themselves
};

struct Sensor {
    Index type = none;
    int tolerance_class = 2;
    bool in_tube = false;
    athanor::Span source;
};

struct Meter {
    bool controlled = false; // else set by hand
    Index channel = none;
    Figure range;                                             // mol/s
    Figure accuracy;                                          // of reading, fraction
    Figure accuracy_full;                                     // of full scale, fraction
    bool has_reference = false;                               // a volume at the meter has a meaning
    double reference_temperature = 0, reference_pressure = 0; // K, Pa
    athanor::Span source;
    /// mol/s of one m3/s at the reference condition.
    double molar(double volume_flow) const;
};

struct Line {
    std::string name;
    athanor::Span source;
    Index gas = none;
    Index output = 0; // 0 = none
    bool open_without_power = false;
    Interval flow_without_power; // mol/s, for a controlled meter that declares it
    Meter meter;
    Figure supply;                             // Pa above ambient
    Figure cylinder_volume, cylinder_pressure; // m3, Pa
    bool low_pressure_trips = false;
    bool double_shut_off = false;
};

struct Pump {
    bool present = false;
    athanor::Span source;
    Index output = 0;
    Figure speed, ultimate;            // m3/s, Pa
    Figure accuracy;                   // fraction, either way; given where the speed was one figure
    Figure pipe_diameter, pipe_length; // m
    bool open_without_power = false;
    bool oil_sealed = true;
};

enum class ExhaustKind : std::uint8_t { open, afterburner, extraction_hood, shut };

struct Exhaust {
    ExhaustKind kind = ExhaustKind::open;
    athanor::Span source;
    Index output = 0; // of the burner; 0 = lit by hand
    bool has_burner() const { return kind == ExhaustKind::afterburner; }
    bool extraction = false, extraction_backup = false, pilot = false;
    bool feed_open_without_power = false; // of the burner, as declared: its output is energised to shut it
};

/// Hardware that acts by itself: when `condition` holds the lines move and stay so.
struct Interlock {
    athanor::Span source;
    Index unit = none;      // file (index of units) and `interlock` node whose first child is the condition:
    std::uint32_t node = 0; // names in it resolve as in that file
    Index condition = none; // expression in Model
    std::vector<std::string> closes, opens;
};

/// Gas led through warm water.
struct Bubbler {
    bool present = false;
    athanor::Span source;
    std::string line;  // name of a line of the rig
    Index output = 0;  // 0 = none
    Figure range;      // K, what the bath can be set to
    Figure bath_error; // K, either way
    Figure saturation; // share of saturation that the gas leaves with
};

/// Moves the sample along the tube.
struct Slide {
    bool present = false, hand = false;
    athanor::Span source;
    Index output = 0;                                   // 0 = none
    std::vector<std::pair<std::string, Figure>> places; // name, m from the loading end
};

struct Rig {
    std::string name, title;
    athanor::Span source;
    Figure ambient_temperature, ambient_pressure; // K, Pa
    Furnace furnace;
    Tube tube;
    Ends ends;
    Seals seals;
    Figure mixing;                         // effective share of ideal mixing
    Figure leak_rate;                      // Pa m3/s of air at 20 degC, [0, declared]
    Figure outgassing;                     // Pa m3/s, whole tube
    Figure load_lag;                       // s
    Figure load_offset;                    // K, load minus control sensor at rest
    Figure outlet_diameter, outlet_length; // m
    Figure uniform_length;                 // m
    Figure room_volume, room_air_changes;  // m3, 1/s
    Figure room_air_without_power;         // 1/s
    Figure heated_lines; // K, least of what the gas wets outside the furnace; not given = ambient
    Sensor sensor;
    std::vector<Line> lines;
    Pump pump;
    Exhaust exhaust;
    Figure relief; // Pa above ambient; not given = none
    std::vector<Interlock> interlocks;
    bool has_throttle = false;
    Figure throttle;          // Pa, what it can hold; not given = not stated
    Figure throttle_accuracy; // fraction, either way
    Bubbler bubbler;
    Slide slide;
    bool broken = false; // an error was reported inside; it is not elaborated
    /// Names of properties whose values are the schema's defaults, for the assurance table.
    std::vector<std::string> defaulted;
};

} // namespace athanor::check
