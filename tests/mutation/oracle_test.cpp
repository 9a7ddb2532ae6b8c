// What the simulator finds in recipes that are wrong in one known way, and that it finds nothing in the right
// one.
#include "tests/mutation/compile.hpp"
#include "tests/mutation/danger.hpp"

#include <doctest/doctest.h>
#include <regex>

using namespace athanor;
using namespace athanor::mutation;

namespace {

Subject sinter() {
    return subject(ATHANOR_ROOT "/tests/examples/accepted/copper_sinter.ath");
}

/// The recipe or the rig with one stretch of text exchanged; the text must be there.
Subject with(Subject s, const std::string& old, const std::string& by) {
    const std::string before = joined(s.recipe);
    bool done = false;
    for (std::string& line : s.recipe) {
        const std::size_t at = line.find(old);
        if (at == std::string::npos) continue;
        line.replace(at, old.size(), by);
        done = true;
        break;
    }
    const std::size_t at = s.rig.find(old);
    if (!done && at != std::string::npos) {
        s.rig.replace(at, old.size(), by);
        done = true;
    }
    REQUIRE_MESSAGE(done, old);
    return s;
}

/// What is found, and that the proof refuses it for its own reasons.
std::string harm(const Subject& s) {
    const auto c = compile(s);
    if (!c->runs) {
        std::string why;
        for (const Diagnostic& d : c->out.all()) why += d.rule + ": " + d.message + "; ";
        FAIL("does not run: ", why);
    }
    Effort effort;
    const auto found = search(c->model, c->rig(), c->timeline(), {11, 6, 8}, effort);
    CHECK(c->accepted == !found);
    return found ? std::string(name(found->danger.harm)) : "none";
}

} // namespace

TEST_CASE("an accepted recipe shows no danger") {
    CHECK(harm(sinter()) == "none");
}

TEST_CASE("every kind of danger is found in a recipe that has it") {
    const Subject s = sinter();
    // Hydrogen at 700 degC, or kept on while the tube cools.
    CHECK(harm(with(with(s, "ramp to 880 degC at 5", "ramp to 700 degC at 5"), "cool to 880", "cool to 700")) ==
          name(Harm::cold_fuel));
    CHECK(harm(with(with(s, "make_inert(limit = 10 ppm)", "note \"no purge\""), "    require",
                    "    # require")) == name(Harm::fuel_and_oxygen));
    CHECK(harm(with(s, "light burner", "note \"\"")) == name(Harm::unburnt));
    CHECK(harm(with(s, "backup_power yes", "backup_power no")) == name(Harm::unburnt));
    // Without inert flow the gas that shrinks draws air in; a non-return valve in the outlet keeps it out, but
    // the fuel stays.
    const Subject shut = with(s, "output 1 ; de_energised open", "output 1 ; de_energised closed");
    CHECK(harm(shut) == name(Harm::fuel_and_oxygen));
    CHECK(harm(with(shut, "on bench_two for", "on bench_two_vacuum for")) == name(Harm::cold_after_failure));
    const Subject opened =
        with(s, "    dwell until hydrogen < 1 %", "    wait for operator \"look\" with tube open");
    CHECK(harm(opened) == name(Harm::opened_or_pumped));
    CHECK(harm(with(s, "while temperature > 250 degC",
                    "while temperature > 250 degC\n    require hydrogen < 50 %")) == name(Harm::requirement));
    // Asked of the tube before anything ran: air.
    CHECK(harm(with(with(s, "wait for operator", "expect oxygen < 30 ppm\n    wait for operator"),
                    "    require", "    # require")) == name(Harm::requirement));
    // Both valves fall open: fuel goes on into the cooling tube.
    CHECK(harm(with(s, "output 2 ; de_energised closed", "output 2 ; de_energised open")) ==
          name(Harm::cold_after_failure));
}
