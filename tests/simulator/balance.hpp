#pragma once
#include "tests/simulator/simulate.hpp"
#include "tests/simulator/tube.hpp"

#include <vector>

/// The right-hand side that is integrated.
namespace athanor::simulator {

using Vector = std::vector<double>;

/// What a controller of one zone is up to. It tracks its aim with the drawn time constant; on a line it stands
/// above (below) by the overshoot; at the end of a line, and where it arrives from afar, the overshoot stands
/// for a while and is then taken back with full or no power. Idle: no power.
enum class Phase : std::uint8_t { tracking, approaching, standing, returning, idle };

struct ZoneControl {
    Phase phase = Phase::tracking;
    double above = 0;               // K, of the aim over the set-point with its error; -0.0 comes from above
    double stands_until = infinity; // s since the span began
};

/// One span as the equations see it.
struct Scene {
    std::vector<timeline::Law> laws;
    timeline::State state;
    double band = 0; // K; the set-point's clock stops outside it; 0: it always runs
    std::vector<ZoneControl> control;
};

/// Whether a zone is on its way down, rather than in the band of its set-point (K).
inline bool cools(const timeline::Law& law, double control, double setpoint) {
    constexpr double above_band = 30; // K
    return law.kind == timeline::LawKind::off || law.rate < 0 || control > setpoint + above_band;
}

/// Where each quantity stands in the vector.
struct Layout {
    std::size_t zones = 1, species = 0;
    std::size_t control(std::size_t z) const { return z; }
    std::size_t load(std::size_t z) const { return zones + z; }
    std::size_t pressure() const { return 2 * zones; }
    std::size_t free(std::size_t i) const { return 2 * zones + 1 + i; }
    std::size_t pore(std::size_t i) const { return 2 * zones + 1 + species + i; }
    std::size_t swept() const { return 2 * zones + 1 + 2 * species; }
    std::size_t clock() const { return swept() + 1; }  // s of the span that count
    std::size_t energy() const { return clock() + 1; } // J that the heater has taken in the span
    std::size_t size() const { return energy() + 1; }
};

/// Molar flows at one instant, mol/s.
struct Flows {
    double in = 0;                                     // through the lines
    double mixed = 0;                                  // of it what mixes with the tube's gas
    double leak = 0, walls = 0, ingress = 0, back = 0; // air, water vapour, air, air through the outlet
    double out = 0;                                    // net through outlet, pump, relief; negative: drawn in
    double pore_out = 0;                               // what the pores breathe out; negative: in
    double pressure = 0;                               // Pa
    double rise = 0;                                   // Pa/s
    bool lifted = false;                               // relief or non-return valve lets out
    double taken = 0;                                  // what contraction and leak ask for
};

class Balance {
public:
    Balance(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
            const Draw& draw);

    Layout layout;
    Scene scene;

    void operator()(const Vector& y, Vector& d, double t);
    double setpoint(std::size_t zone, double clock) const;
    double measured(double kelvin) const;
    double load(const Vector& y, std::size_t zone) const;
    /// Flows and pressure of a state.
    Flows flows(const Vector& y, double t);
    /// The pressure, where it follows at once, into the state.
    void settle(Vector& y, double t);
    double line_flow(std::size_t line, double measured) const;
    /// What is set to flow holds more oxygen than a purge may leave: it sweeps nothing.
    bool lets_air_in(double measured) const;
    bool vented() const; // the outlet is open: the pressure stays at ambient

private:
    double at_rest(double control) const;
    void heat(const Vector& y, Vector& d, double t) const;
    void gas(const Vector& y, const Vector& d, Flows& f);
    void open_flow(Flows& f, double change) const;
    void pumped(Flows& f, double change, double whole) const;
    void closed(Flows& f, double change, double whole, double p);

    const check::Model& model_;
    const check::Rig& rig_;
    const timeline::Timeline& timeline_;
    const Draw& draw_;
    Tube tube_;
    std::size_t water_ = SIZE_MAX;
    double outlet_area_ = 0, outlet_length_ = 1, outlet_diameter_ = 6e-3;
    Vector gas_, warms_; // scratch: K and K/s of the gas in each zone
    Content content_, change_;
    std::vector<double> line_;
};

} // namespace athanor::simulator
