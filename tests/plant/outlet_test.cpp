// Pressure of the outlet's flow resistance, by the textbook's equations.
#include "compiler/plant/outlet.hpp"
#include "tests/plant/rigs.hpp"

#include <cmath>
#include <doctest/doctest.h>
#include <numbers>

using namespace bench;

namespace {

constexpr double eta = 2.4e-5, heavy = 0.04; // Pa s, kg/mol

/// A pipe with 1 bar and 300 K at its end.
struct Pipe {
    double bore, length;

    plant::Outlet outlet() const {
        check::Rig rig;
        rig.ambient_pressure = figure(1e5);
        rig.outlet_diameter = figure(bore);
        rig.outlet_length = figure(length);
        return {rig, Interval{300}, heavy};
    }
    double area() const { return std::numbers::pi * bore * bore / 4; }
    double speed(double flow) const { return flow * 8.314462618 * 300 / 1e5 / area(); }
    double head(double flow) const { // rho v^2 / 2
        const double density = 1e5 * heavy / (8.314462618 * 300);
        return 0.5 * density * speed(flow) * speed(flow);
    }
    double reynolds(double flow) const { return flow * heavy / area() * bore / eta; }
    double drop(double flow, double friction) const {
        return (friction * length / bore + 0.5 + 1) * head(flow);
    }
};

} // namespace

TEST_CASE("the outlet's pressure: laminar, turbulent, and its ends") {
    for (const Pipe pipe : {Pipe{1e-3, 2}, Pipe{6e-3, 1}, Pipe{2e-3, 0.02}}) {
        CAPTURE(pipe.bore);
        const plant::Outlet outlet = pipe.outlet();
        const double unit = 1 / pipe.reynolds(1); // mol/s of Re = 1
        for (const double re : {1.0, 300.0, 1180.0}) {
            const double friction = 64 / re; // Hagen-Poiseuille
            CHECK(outlet.drop(re * unit) ==
                  doctest::Approx(pipe.drop(re * unit, friction)).scale(0).epsilon(1e-6));
        }
        for (const double re : {1200.0, 4000.0, 50000.0}) {
            const double friction = 0.316 * std::pow(re, -0.25); // Blasius
            CHECK(outlet.drop(re * unit) ==
                  doctest::Approx(pipe.drop(re * unit, friction)).scale(0).epsilon(1e-6));
        }
    }
    CHECK(Pipe{1e-3, 2}.outlet().drop(0) == 0);
}
