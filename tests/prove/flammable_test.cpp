// The standard rules about flammable gas: what breaks each, the nearest recipe that passes, and the two values
// of one number between which its limit lies. The limits are the policy's: 1 % of oxygen and five volumes, 60 s
// of flame (common practice, no source), 760 degC for hydrogen (NFPA 86: 1400 degF), a quarter of the lower
// limit.
#include "tests/prove/support.hpp"

#include <doctest/doctest.h>

using namespace athanor;
using namespace athanor::prove::test;

namespace {

const std::string purge =
    "purge argon at 2 slm until oxygen < 0.5 % and swept > 6 volumes\n"; // line 3 when first
const std::string heat = "ramp to 850 degC at 5 K/min\ndwell 20 min within 3 K\n";
const std::string light = "light burner\ndwell 2 min\n";
const std::string soak = "switch to hydrogen at 0.5 slm\ndwell 30 min within 3 K\n";
const std::string clear = "switch to argon at 2 slm\ndwell until flammability < 20 %\n";
const std::string finish = "shut burner\ncool to 100 degC\nclose all\n";

/// The text gives exactly these errors ("rule:line"); none: it is proven.
void gives(const std::string& text, std::string_view errors, std::string_view head = {}) {
    std::string rig = head.empty() ? "small" : "special";
    auto c = run("use \"rigs.ath\" ; " + std::string(head) + "\nrecipe r on " + rig + " {\n" + text + "}\n");
    CAPTURE(text);
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK_MESSAGE(c->errors() == errors, c->all());
    CHECK(c->assurance.proven == errors.empty());
}

} // namespace

TEST_CASE("the safe recipe is proven, and each standard rule applied to it") {
    auto c = steps(purge + heat + light + soak + clear + finish);
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK_MESSAGE(c->errors().empty(), c->all());
    CHECK(c->assurance.proven);
    CHECK(c->assurance.concessions.empty());
    for (const char* rule : {"no_inert_purge_first", "flammable_below_ignition", "burner_off"}) {
        CAPTURE(rule);
        CHECK(c->row(rule).applied);
        CHECK(c->row(rule).verdict == plant::Verdict::proven);
        CHECK_FALSE(c->row(rule).title.empty());
        CHECK_FALSE(c->row(rule).margin.empty());
    }
    CHECK_FALSE(c->assurance.cautions.empty());
}

TEST_CASE("without flammable gas no rule about it applies") {
    auto c = steps(purge + heat + "cool to 100 degC\n");
    CHECK_MESSAGE(c->errors().empty(), c->all());
    for (const char* rule : {"no_inert_purge_first", "flammable_below_ignition", "burner_off"}) {
        CAPTURE(rule);
        CHECK_FALSE(c->row(rule).applied);
        CHECK(c->row(rule).margin.empty());
    }
}

TEST_CASE("no_inert_purge_first: no purge at all") {
    gives(heat + light + soak + clear + finish,
          "no_inert_purge_first:7 flammable_mixture:8 cold_ends_open_to_air:8");
    auto c = steps(heat + light + soak + clear + finish);
    const Diagnostic& d = c->first(Code::no_inert_purge_first);
    CHECK(c->files.text(d.span) == "switch to hydrogen at 0.5 slm");
    CHECK(d.message.find("swept is 0 volumes") != std::string::npos);
    CHECK(d.message.find("20.95 %") != std::string::npos); // air: 20.95 % when dry, less with its water
    CHECK_FALSE(d.causes.empty());
    CHECK_FALSE(d.remedies.empty());
    CHECK(c->row("no_inert_purge_first").verdict != plant::Verdict::proven);
    CHECK(c->row("burner_off").verdict == plant::Verdict::proven);
}

TEST_CASE("no_inert_purge_first: five tube volumes") {
    auto with = [](const std::string& volumes) {
        return heat + light + "purge argon at 2 slm for " + volumes + " volumes\n" + soak + clear + finish;
    };
    gives(with("4.9"), "no_inert_purge_first:8");
    gives(with("5.1"), "");
}

TEST_CASE("no_inert_purge_first: air that flows in through a line sweeps nothing") {
    const auto with = [](const std::string& line, const std::string& until) {
        return "open oxygen at " + line + "\ndwell 1 h\n" + heat + light +
               "switch to argon at 1 slm\ndwell until " + until + "\n" + soak + clear + finish;
    };
    gives(with("1 slm", "oxygen < 0.9 %"), "no_inert_purge_first:11");
    gives(with("1 slm", "oxygen < 0.9 % and swept > 5.1 volumes"), "");
    // Beside argon, as lean as a purge may leave it, it is no air: 100 of 11 000 and of 5100 sccm, at 2 %.
    const auto beside = [](const std::string& argon) {
        return "open argon at " + argon +
               "\nopen oxygen at 0.1 slm\ndwell 1 h\nexpect swept > 20 volumes\nclose all\n";
    };
    const std::string wide = "rig special from small { line argon { flow 0.1 slm to 20 slm } }";
    gives(beside("11 slm"), "", wide);
    gives(beside("5 slm"), "expectation_violated:6", wide);
}

TEST_CASE("no_inert_purge_first: one per cent of oxygen, which the purge gas itself may carry") {
    auto with = [](const std::string& oxygen) {
        return "gas lean = " + oxygen +
               " % oxygen + rest argon ; rig special from small { line argon { gas lean } }";
    };
    std::string text = "purge argon at 2 slm for 8 volumes\n" + heat + light + soak + clear + finish;
    gives(text, "", with("0.9"));
    gives(text, "no_inert_purge_first:8 flammable_mixture:9 cold_ends_open_to_air:9", with("1.1"));
}

TEST_CASE("no_inert_purge_first: opening the tube undoes the purge") {
    std::string wait = "wait for operator \"Look in\"";
    gives(purge + wait + "\n" + heat + light + soak + clear + finish, "");
    gives(purge + "close argon\n" + wait + " with tube open\n" + heat + light + soak + clear + finish,
          "no_inert_purge_first:10 flammable_mixture:11 cold_ends_open_to_air:11");
}

TEST_CASE("flammable_below_ignition: hydrogen on the way up") {
    gives(purge + "ramp to 600 degC at 5 K/min\ndwell 20 min within 3 K\n" + light + soak + clear + finish,
          "flammable_below_ignition:9");
}

TEST_CASE("flammable_below_ignition: the coldest point of the hot zone decides, not the set-point") {
    // Bounds of the set-point below 850 degC: 3 K of the band, the load up to 20 K under the sensor, the
    // sensor's 0.4 %.
    auto at = [](const std::string& degrees) {
        return purge + "ramp to " + degrees + " degC at 5 K/min\nlight burner\ndwell 40 min within 3 K\n" +
               soak + clear + finish;
    };
    gives(at("784"), "flammable_below_ignition:8");
    gives(at("786"), "");
    // A ramp that has just arrived lags; the soak band is what makes the temperature certain.
    gives(purge + "ramp to 786 degC at 5 K/min\nlight burner\ndwell 61 s\n" + soak + clear + finish,
          "flammable_below_ignition:8");
}

TEST_CASE("flammable_below_ignition: hydrogen on the way down") {
    gives(purge + heat + light + soak + "cool to 600 degC\n" + clear + finish, "flammable_below_ignition:10");
    gives(purge + heat + light + soak + "cool to 820 degC at 1 K/min\n" + clear + finish, "");
}

TEST_CASE("flammable_below_ignition: a rest of hydrogen on the way down") {
    auto until = [](const std::string& rest) {
        return purge + heat + light + soak + "switch to argon at 0.2 slm\ndwell until flammability < " + rest +
               " %\ncool to 100 degC\nshut burner\nclose all\n";
    };
    // Argon goes on while the tube cools to 760 degC, so somewhat more than a quarter may be left at first.
    gives(until("60"), "");
    gives(until("80"), "flammable_below_ignition:12");
}

TEST_CASE("burner_off: never lit") {
    gives(purge + heat + soak + clear + "cool to 100 degC\nclose all\n", "burner_off:6");
    auto c = steps(purge + heat + soak + clear + "cool to 100 degC\nclose all\n");
    CHECK(c->files.text(c->only().span) == "switch to hydrogen at 0.5 slm");
}

TEST_CASE("burner_off: a minute of flame before the gas") {
    auto after = [](const std::string& flame) {
        return purge + heat + "light burner\ndwell " + flame + " s\n" + soak + clear + finish;
    };
    gives(after("58"), "burner_off:8");
    gives(after("60"), "");
    // Lighting it again does not count the first flame.
    gives(purge + heat + light + "shut burner\ndwell 1 min\nlight burner\ndwell 30 s\n" + soak + clear + finish,
          "burner_off:12");
}

TEST_CASE("burner_off: a person's wait is as short as may be, and has no longest") {
    auto c = steps(purge + heat + "light burner\nwait for operator \"flame?\"\n" + soak + clear + finish);
    const Diagnostic& d = c->first(Code::burner_off);
    CHECK(c->files.text(d.span) == "switch to hydrogen at 0.5 slm");
    CHECK_MESSAGE(d.message.find("burning is 0 s or more; needed") != std::string::npos, d.message);
}

TEST_CASE("burner_off: shut and lit again at one instant burns anew") {
    gives(purge + heat + light + "shut burner\nlight burner\n" + soak + clear + finish, "burner_off:10");
    gives(purge + heat + light + "shut burner\nlight burner\ndwell 1 min\n" + soak + clear + finish, "");
    auto c =
        steps(purge + heat + light + "shut burner\nlight burner\nexpect burning > 0 s\ndwell 1 min\n" + finish);
    CHECK_MESSAGE(c->errors() == "expectation_violated:10", c->all());
}

TEST_CASE("burner_off: shut while hydrogen still leaves") {
    auto until = [](const std::string& rest) {
        return purge + heat + light + soak + "switch to argon at 2 slm\ndwell until flammability < " + rest +
               " %\nshut burner\ndwell 1 h\ncool to 100 degC\nclose all\n";
    };
    gives(until("24"), "");
    gives(until("26"), "burner_off:13");
    gives(purge + heat + light + soak + "shut burner\ndwell 1 min\nlight burner\ndwell 1 min\n" + clear +
              finish,
          "burner_off:11");
}

TEST_CASE("flammable_left_at_end: the last actions leave hydrogen in the tube") {
    std::string head = purge + heat + light + soak;
    for (const char* end : {"shut burner\nclose all\n", "close all\nshut burner\n", "shut burner\n"}) {
        auto c = steps(head + end);
        CAPTURE(std::string(end));
        CHECK_MESSAGE(c->out.has(Code::flammable_left_at_end), c->all());
        CHECK_FALSE(c->assurance.proven);
    }
    auto rest = steps(head + "switch to argon at 2 slm\ndwell 5 s\nshut burner\n");
    CHECK_MESSAGE(rest->out.has(Code::flammable_left_at_end), rest->all());
    gives(head + clear + "shut burner\n", "");
}

TEST_CASE("two faults are two findings, each at its place") {
    gives(heat + soak + clear + "cool to 100 degC\nclose all\n",
          "no_inert_purge_first:5 burner_off:5 flammable_mixture:6 cold_ends_open_to_air:6");
}

TEST_CASE("a rule is reported once, at its first place") {
    std::string cycle = soak + clear;
    gives(purge + heat + cycle + cycle + "cool to 100 degC\nclose all\n", "burner_off:6");
}

TEST_CASE("a standing threshold that opens hydrogen obeys the rules") {
    auto head = [](const std::string& flame) {
        return "operation soak() { " + flame +
               "keep hydrogen open at 0.5 slm above 840 degC ; "
               "ramp to 850 degC at 5 K/min ; dwell 30 min within 3 K } rig special from small { }";
    };
    // The line opens inside the operation's steps, on line 1.
    gives(purge + "soak()\n" + clear + finish, "burner_off:1", head(""));
    gives(purge + light + "soak()\n" + clear + finish, "", head(""));
}

TEST_CASE("opening_tube: never on flammable gas") {
    std::string wait = "wait for operator \"Look in\" with tube open\n";
    auto until = [&](const std::string& rest) {
        return purge + heat + light + soak + "switch to argon at 2 slm\ndwell until flammability < " + rest +
               " %\n" + wait + finish;
    };
    gives(until("24"), "");
    gives(until("26"), "opening_tube:12");
}

TEST_CASE("flammable_to_pump: never flammable gas into the pump") {
    auto until = [&](const std::string& rest) {
        return purge + heat + light + soak + "switch to argon at 2 slm\ndwell until flammability < " + rest +
               " %\nclose argon\nevacuate to 1 mbar\n" + finish;
    };
    gives(until("24"), "");
    auto c = steps(until("26"));
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK_MESSAGE(c->out.has(Code::flammable_to_pump), c->all());
    CHECK_FALSE(c->out.has(Code::no_inert_purge_first));
}

TEST_CASE("flammable_to_pump: no flammable line opens while the pump holds a pressure") {
    auto held = [&](const std::string& gas) {
        return run(
            "use \"rigs.ath\" ; rig special from small { throttle 0.5 mbar to 50 mbar }\nrecipe r on special "
            "{\n" +
            purge + heat + light + "close argon\nevacuate to 20 mbar\nregulate pressure to 50 mbar\nopen " +
            gas + " at 0.5 slm\ndwell 30 min\nclose " + gas +
            "\nstop pump\nbackfill argon at 2 slm to ambient + 20 mbar\nopen argon at 2 slm\ndwell 1 h\n" +
            finish + "}\n");
    };
    auto c = held("hydrogen");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    REQUIRE_MESSAGE(c->out.has(Code::flammable_to_pump), c->all());
    const Diagnostic& d = c->first(Code::flammable_to_pump);
    CHECK(d.message == "while pump, hydrogen is open; needed: hydrogen is closed");
    CHECK(c->files.position(d.span).line == 12); // the first step with it open
    CHECK(d.remedies.at(0).find("stop pump") != std::string::npos);
    auto inert = held("argon");
    REQUIRE_MESSAGE(inert->done.complete, inert->all());
    CHECK_FALSE_MESSAGE(inert->out.has(Code::flammable_to_pump), inert->all());
}

TEST_CASE("flammable_below_ignition: a temperature that works is offered") {
    for (const char* before :
         {"ramp to 765 degC at 5 K/min\n", "ramp to 770 degC at 5 K/min\ndwell 20 min within 5 K\n",
          "ramp to 792 degC at 5 K/min\n"}) {
        const std::string behind = "switch to hydrogen at 0.5 slm\ndwell 30 min\n" + clear + finish;
        auto c = steps(purge + "light burner\n" + before + behind);
        REQUIRE_MESSAGE(c->errors().starts_with("flammable_below_ignition"), c->all());
        REQUIRE(c->first(Code::flammable_below_ignition).remedies.size() == 1);
        std::string offered = c->first(Code::flammable_below_ignition).remedies[0];
        offered = offered.substr(offered.find(":  ") + 3);
        if (const std::size_t both = offered.find("  and  "); both != std::string::npos)
            offered.replace(both, 7, "\n");
        CAPTURE(offered);
        auto mended = steps(purge + "light burner\n" + before + offered + "\n" + behind);
        CHECK_MESSAGE(mended->errors() == "", mended->all());
    }
    // Where it cools, no heat is offered.
    auto down = steps(purge + heat + light + soak + "cool to 600 degC\n" + clear + finish);
    REQUIRE(down->only().remedies.size() == 1);
    CHECK(down->only().remedies[0].find("before cooling, clear the tube") == 0);
}

TEST_CASE("flammable_below_ignition: a sample that a slide brings in cold leaves the hot zone hot") {
    const std::string slide = "rig special from small { slide { output 6 ; out 50 mm ; hot 450 mm } }",
                      moved = "move sample to hot\ndwell 30 min\n";
    gives(purge + heat + light + soak + moved + clear + finish, "", slide);
    // The hot zone itself is asked all the same.
    gives(purge + "ramp to 762 degC at 5 K/min\ndwell 20 min within 3 K\n" + light +
              "switch to hydrogen at 0.5 slm\n" + moved + clear + finish,
          "flammable_below_ignition:10", slide);
    // Of the load it is said why it may be cold.
    auto c = run("use \"rigs.ath\" ; " + slide + "\nrecipe r on special {\n" + heat +
                 "move sample to hot\ndwell 1 min\nexpect temperature > 700 degC\n}\n");
    REQUIRE_MESSAGE(c->errors() == "expectation_violated:7", c->all());
    CHECK(c->only().causes.at(0).find("the slide brings it in from aside") != std::string::npos);
}
