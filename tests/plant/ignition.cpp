// What can burn in a hot tube, against published limits.
#include "compiler/plant/ignition.hpp"
#include "tests/plant/rigs.hpp"

#include <cmath>
#include <doctest/doctest.h>
#include <random>

using namespace bench;

namespace {

/// Hydrogen as the standard library declares it.
void declare(check::Gas& gas) {
    gas.formula = "H2";
    gas.lower_limit = figure(0.04);
    gas.limiting_oxygen = figure(0.0425);
    gas.heat_of_combustion = figure(241826);
}

plant::Composition gas(double oxygen, double hydrogen, bool argon) {
    plant::Composition c{};
    c[Bench::oxygen] = oxygen;
    c[Bench::hydrogen] = hydrogen;
    c[argon ? Bench::argon : Bench::nitrogen] = 1 - oxygen - hydrogen;
    return c;
}

struct Hydrogen : Bench {
    Hydrogen() {
        for (check::Gas& g : model.gases) {
            if (g.name == "hydrogen") declare(g);
            if (g.name == "argon") g.inert_equivalence = figure(0.55);
        }
    }
    plant::Ignition ignition() const { return {model, timeline}; }
};

} // namespace

TEST_CASE("lower limits of hydrogen measured in hot air lie above the line") {
    Hydrogen b;
    const plant::Ignition ignition = b.ignition();
    // Schroeder and Holtappels, BAM, 2005 (from memory): lower limit of hydrogen in air, 1 atm.
    const double measured[5][2] = {{20, 0.039}, {100, 0.034}, {200, 0.029}, {300, 0.021}, {400, 0.015}};
    for (const auto& [celsius, limit] : measured) {
        CAPTURE(celsius);
        const double t = celsius + zero;
        CHECK(ignition.mixture(gas(0.2, limit, false), t).hi > 1);       // what burns is never called safe
        CHECK(ignition.mixture(gas(0.2, 0.5 * limit, false), t).hi < 1); // and the line is no useless one
    }
    // Burgess-Wheeler and straight lines to 900 degC lie above: a mixture they call safe need not be.
    CHECK(plant::limit_share(400 + zero) < 0.015 / 0.04);
    CHECK(plant::limit_share(700 + zero) == 0);
}

TEST_CASE("limiting oxygen of hydrogen in nitrogen: published values count as flammable") {
    Hydrogen b;
    const plant::Ignition ignition = b.ignition();
    const double room = 20 + zero;
    // ASTM E2079 4.6 and 4.7 %, NFPA 69 flammability tube 5.0 %, adjusted 4.25 %.
    for (double oxygen : {0.046, 0.047, 0.05, 0.0425})
        CHECK(ignition.mixture(gas(oxygen, 0.1, false), room).hi > 1);
    CHECK(ignition.mixture(gas(0.035, 0.1, false), room).hi < 1);
    // Argon quenches less: ISO 10156 gives it 0.55 of nitrogen.
    CHECK(ignition.mixture(gas(0.035, 0.1, true), room).hi > 1);
    CHECK(ignition.mixture(gas(0.01, 0.1, true), room).hi < 1);
}

TEST_CASE("above 600 degC only cleared gas is harmless") {
    Hydrogen b;
    const plant::Ignition ignition = b.ignition();
    // 1 % oxygen, or a quarter of hydrogen's lower limit of 4.0 % (IEC 60079-20-1:2010).
    for (double celsius : {700.0, 900.0, 1200.0})
        for (double hydrogen : {0.0099, 0.0101, 0.5, 1.0})
            for (double oxygen : {0.0099, 0.0101, 0.05}) {
                CAPTURE(celsius);
                CAPTURE(hydrogen);
                CAPTURE(oxygen);
                const bool harmless = hydrogen < 0.01 || oxygen < 0.01;
                CHECK((ignition.mixture(gas(oxygen, hydrogen, true), celsius + zero).hi < 1) == harmless);
            }
}

TEST_CASE("hotter gas burns at less") {
    Hydrogen b;
    const plant::Ignition ignition = b.ignition();
    std::mt19937 random(77);
    std::uniform_real_distribution<> share(0, 1);
    for (int i = 0; i < 3000; ++i) {
        const double cold = 293 + 200 * share(random), hot = cold + 1000 * share(random);
        const plant::Composition c =
            gas(std::pow(10, -6 + 5.3 * share(random)), std::pow(10, -6 + 5.9 * share(random)), i % 2 == 0);
        CHECK(ignition.mixture(c, cold).hi <= ignition.mixture(c, hot).hi);
    }
}

TEST_CASE("a mixture that may hold neither of two oxidisers does not surely burn") {
    Hydrogen b;
    for (check::Gas& g : b.model.gases)
        if (g.name == "oxygen" || g.name == "argon") g.hazards.oxidiser = true;
    plant::Composition c = gas(0.2, 0.3, true);
    CHECK(b.ignition().mixture(c, 20 + zero).lo >= 1); // both, for certain
    c[Bench::oxygen] = {0, 0.2};
    c[Bench::argon] = {0, 0.5};
    const Interval may = b.ignition().mixture(c, 20 + zero);
    CHECK(may.lo == 0);
    CHECK(may.hi >= 1);
}

TEST_CASE("the tube's mixture: inert before hydrogen, and air let in after it") {
    Hydrogen b;
    plant::Plant& p = b.build();
    plant::State s = p.start();
    const timeline::State none = Bench::closed();
    CHECK(p.mixture(s, none).hi == 0); // no fuel at all
    s.zones[0].control = s.zones[0].load = {880 + zero, 900 + zero};
    s.fraction[Bench::hydrogen] = s.pore[Bench::hydrogen] = {0, 1};
    s.fraction[Bench::oxygen] = {0, 1e-5};
    s.pore[Bench::oxygen] = {0, 1e-5};
    CHECK(p.mixture(s, none).hi < 1);
    s.pore[Bench::oxygen] = {0, 0.02}; // air left in the plugs
    CHECK(p.mixture(s, none).hi > 1);
    s.pore[Bench::oxygen] = {0, 1e-5};
    s.fraction[Bench::oxygen] = {0.05, 0.2};
    s.fraction[Bench::hydrogen] = {0.1, 0.5};
    const Interval burns = p.mixture(s, none);
    CHECK(burns.lo >= 1);
    // A fuel without a limiting oxygen is judged by its own share alone.
    for (check::Gas& g : b.model.gases)
        if (g.name == "hydrogen") g.limiting_oxygen = {};
    CHECK(b.ignition().mixture(gas(0.02, 0.03, false), 300).hi < 1);
    CHECK(b.ignition().mixture(gas(0.02, 0.05, false), 300).hi > 1);
}
