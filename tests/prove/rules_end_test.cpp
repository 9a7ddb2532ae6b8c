// The end of the whole run: a load that is left alone while it is hot.
#include "tests/prove/rules.hpp"

using namespace athanor;
using namespace athanor::prove::test;

namespace {

std::string controller(const std::string& at_end) {
    return "controller c { programs 2 ; segments 30 ; linking no ; loops none ; zones 1 ; setpoint 0 degC to "
           "1200 "
           "degC by 1 K ; ramps by rate 0.1 K/min to 20 K/min by 0.1 K/min ; dwells 0 s to 50 h by 1 s ; "
           "outputs 8 "
           "; thresholds 0 ; channels 4 ; soak_band none ; operator_wait yes ; starts_from measured ; "
           "segment_form ramp_or_dwell ; at_end " +
           at_end + " ; after_power_failure stop }";
}

/// The steps begin on line 3.
std::unique_ptr<Case> ends(const std::string& text, const std::string& at_end = "off",
                           const std::string& rig = "") {
    return on(rig, text, controller(at_end), "c");
}

} // namespace

TEST_CASE("ends_hot: 100 degC, load and sensor's error included") {
    const auto cooled = [](const std::string& to) {
        return ends("ramp to 300 degC at 5 K/min\ncool to " + to + " degC\n");
    };
    auto hot = ends("ramp to 300 degC at 5 K/min\ndwell 10 min\n");
    CHECK_MESSAGE(hot->errors() == "", hot->all());
    CHECK(found(*hot, Code::ends_hot, Severity::warning) == "4");
    CHECK(hot->row("ends_hot").outcome() == prove::Outcome::warned);
    CHECK(hot->first(Code::ends_hot).message.find("may be at 3") != std::string::npos);
    CHECK(hot->first(Code::ends_hot).causes.front().find("c then switches the heater off") == 0);
    auto cold = cooled("60");
    CHECK(found(*cold, Code::ends_hot, Severity::warning) == "");
    CHECK(cold->row("ends_hot").outcome() == prove::Outcome::proven);
    const double above = number_behind(cold->row("ends_hot").margin, "at most ") - 60;
    CHECK(above > 0);
    CHECK(found(*cooled(std::to_string(100 - above - 2)), Code::ends_hot, Severity::warning) == "");
    CHECK(found(*cooled("100"), Code::ends_hot, Severity::warning) == "4");
}

TEST_CASE("ends_hot: what the controller does then") {
    auto held = ends("ramp to 300 degC at 5 K/min\n", "hold");
    CHECK_MESSAGE(found(*held, Code::ends_hot, Severity::warning) == "3", held->all());
    CHECK(
        held->first(Code::ends_hot).causes.front().find("holds its set-point, 300 °C, until a person comes") !=
        std::string::npos);
    auto unknown = on("", "ramp to 300 degC at 5 K/min\n");
    CHECK(found(*unknown, Code::ends_hot, Severity::warning) == "3");
    // A person who has the tube open is there; `opened_hot` says it.
    auto opened = ends("ramp to 300 degC at 5 K/min\nwait for operator \"Take it out\" with tube open\n");
    CHECK(found(*opened, Code::ends_hot, Severity::warning) == "");
    CHECK(found(*opened, Code::opened_hot, Severity::warning) == "4");
}

TEST_CASE("ends_hot: a tube that must be free of oxygen while hot draws in air as it cools") {
    const std::string hot = "require oxygen < 100 ppm while temperature > 200 degC\npurge argon at 2 slm until "
                            "oxygen < 50 ppm\nramp to 600 degC at 5 K/min\n";
    const std::string shut =
        "line argon { de_energised closed } ; interlock temperature > 1100 degC opens argon";
    const auto ends = [](const std::string& text, const std::string& at_end, const std::string& rig) {
        return run("use \"vented.ath\" ; rig special from small { " + rig + " } ; " + controller(at_end) +
                   "\nrecipe r on special for c {\n" + text + "}\n");
    };
    auto air = ends(hot, "off", shut);
    CHECK_MESSAGE(air->errors() == "ends_hot:5", air->all());
    CHECK_FALSE(air->assurance.proven);
    CHECK(air->row("ends_hot").outcome() == prove::Outcome::not_provable);
    REQUIRE(air->only().related.size() == 1);
    CHECK(air->files.position(air->only().related[0].span).line == 3);
    // Argon that falls open makes up for the contraction; one that may stand shut does not.
    auto flows = ends(hot, "off", "line argon { de_energised open, 3 slm to 4 slm }");
    CHECK_MESSAGE(flows->errors() == "", flows->all());
    CHECK(found(*flows, Code::ends_hot, Severity::warning) == "5");
    CHECK(ends(hot, "off", "line argon { de_energised open, 0 slm to 4 slm }")->errors() == "ends_hot:5");
    // However it is asked.
    const std::string purged = "purge argon at 2 slm until oxygen < 50 ppm\n",
                      heated = "ramp to 600 degC at 5 K/min\n";
    for (const char* asked :
         {"oxygen < 100 ppm", "oxygen < 100 ppm or temperature < 200 degC",
          "not oxygen > 100 ppm while temperature > 200 degC", "argon > 99 % while temperature > 200 degC"}) {
        CAPTURE(asked);
        CHECK(ends(purged + "require " + asked + "\n" + heated, "off", shut)->errors() == "ends_hot:5");
    }
    // Air that comes in slowly is still too much before all is cold.
    CHECK(
        ends(purged + "require oxygen < 5 % while temperature > 150 degC\n" + heated, "off", shut)->errors() ==
        "ends_hot:5");
    // What a controller goes on holding is as long as a dwell can be.
    auto held = ends(hot + "dwell 10 min\nclose argon\n", "hold", shut);
    CHECK_MESSAGE(held->errors() == "ends_hot:6", held->all());
    // Held hot it does not contract; cold, or asked only up to here, nothing is broken.
    CHECK(ends(hot, "hold", shut)->errors() == "");
    CHECK(ends(hot + "cool to 60 degC\n", "off", shut)->errors() == "");
    CHECK(ends("repeat 1 times {\n" + hot + "}\ndwell 1 min\n", "off", shut)->errors() == "");
    // Behind a non-return valve only the leak brings air.
    const std::string loose = "require oxygen < 5 % while temperature > 150 degC\n";
    CHECK(ends(purged + loose + heated, "off", shut)->errors() == "ends_hot:5");
    CHECK(on(shut, purged + loose + heated, controller("off"), "c")->errors() == "");
}

TEST_CASE("ends_evacuated: what is left evacuated for whoever comes next") {
    const std::string pumped = "evacuate to 1 mbar\n", shut = "line argon { de_energised closed }";
    auto empty = ends(pumped, "off", shut);
    CHECK_MESSAGE(empty->errors() == "", empty->all());
    CHECK(found(*empty, Code::ends_evacuated, Severity::warning) == "3");
    CHECK(empty->row("ends_evacuated").outcome() == prove::Outcome::warned);
    CHECK(empty->first(Code::ends_evacuated).remedies.at(0).find("backfill argon at 4 slm to ambient") !=
          std::string::npos);
    auto filled = ends(pumped + "backfill argon at 4 slm to ambient\n", "off", shut);
    CHECK(found(*filled, Code::ends_evacuated, Severity::warning) == "");
    CHECK(filled->row("ends_evacuated").outcome() == prove::Outcome::proven);
    CHECK(found(*ends(pumped + "backfill argon at 4 slm to 875 mbar\n", "off", shut), Code::ends_evacuated,
                Severity::warning) == "4");
    // Argon that falls open fills it; a controller that holds keeps it shut.
    CHECK(found(*ends(pumped), Code::ends_evacuated, Severity::warning) == "");
    CHECK(found(*ends(pumped, "hold"), Code::ends_evacuated, Severity::warning) == "3");
    // The person who has it open is told by `opening_tube`.
    CHECK(found(*ends(pumped + "wait for operator \"Take it out\" with tube open\n", "off", shut),
                Code::ends_evacuated, Severity::warning) == "");
}

TEST_CASE("ends_hot: behind a quench nobody is told to cool first") {
    auto c = ends("open argon at 1 slm\nramp to 300 degC at 5 K/min\nquench in water\n", "hold");
    CHECK(c->first(Code::ends_hot).remedies.at(0).find("switch the furnace off") != std::string::npos);
}

TEST_CASE("ends_evacuated: a shut tube that let gas out while it was hot") {
    const auto shut = [](const std::string& relief, const std::string& peak) {
        return run("use \"vented.ath\" ; rig special from small { exhaust shut ; relief " + relief +
                   " mbar gauge ; line argon { de_energised closed } } ; " + controller("off") +
                   "\nrecipe r on special for c {\nramp to " + peak +
                   " degC at 4 K/min\ndwell 1 h\ncool to 60 degC\n}\n");
    };
    const auto cold = shut("60", "900");
    CHECK_MESSAGE(cold->errors() == "", cold->all());
    CHECK(found(*cold, Code::ends_evacuated, Severity::warning) == "5");
    CHECK(cold->row("ends_evacuated").outcome() == prove::Outcome::warned);
    // Never heated, nothing leaves it.
    const auto still =
        run("use \"vented.ath\" ; rig special from small { exhaust shut ; line argon { de_energised closed "
            "} } ; " +
            controller("off") + "\nrecipe r on special for c {\ndwell 1 h\n}\n");
    CHECK_MESSAGE(!still->out.has(Code::ends_evacuated), still->all());
}

TEST_CASE("ends_hot: what is offered is not in the recipe already") {
    // It is set to 60 degC, and hot by an overshoot: colder than that, or nothing.
    const std::string text = "open argon at 1 slm\nramp to 60 degC at 5 K/min\n";
    const auto untuned = ends(text, "off", "overshoot 0 K to 200 K");
    REQUIRE_MESSAGE(found(*untuned, Code::ends_hot, Severity::warning) == "4", untuned->all());
    for (const std::string& remedy : untuned->first(Code::ends_hot).remedies)
        CHECK_MESSAGE(remedy.find("cool to 60") == std::string::npos, remedy);
    const auto hot = ends("open argon at 1 slm\nramp to 300 degC at 5 K/min\n");
    CHECK(hot->first(Code::ends_hot).remedies.at(0).find("cool to 60 °C") != std::string::npos);
}

namespace {

std::unique_ptr<Case> left(const std::string& base, const std::string& properties, const std::string& text,
                           const std::string& at_end, const std::string& gases = "") {
    return run("use \"vented.ath\" ; rig special from " + base + " { " + properties + " } ; " + gases +
               controller(at_end) + "\nrecipe r on special for c {\n" + text + "}\n");
}

} // namespace

TEST_CASE("what a controller that holds goes on to behind the end is judged") {
    // A last step is on its way when the programme ends. A relief passes 1.1 times its setting; rated 200 mbar.
    const std::string far = "dwell 3 min\nstep to 900 degC\n";
    const auto burst = [&](const std::string& relief, const std::string& at_end) {
        return left("slow", "without line hydrogen ; exhaust shut ; relief " + relief + " mbar gauge", far,
                    at_end)
                   ->errors()
                   .find("closed_tube_heated") != std::string::npos;
    };
    CHECK(burst("190", "hold"));
    CHECK(left("slow", "without line hydrogen ; exhaust shut ; relief 190 mbar gauge", far, "hold")
              ->first(Code::closed_tube_heated)
              .label.find("behind the end, while `c` holds") != std::string::npos);
    CHECK_FALSE(burst("170", "hold"));
    CHECK_FALSE(burst("190", "off"));
    const auto hot = left("slow", "", far, "hold"), cold = left("slow", "", far, "off");
    CHECK_MESSAGE(found(*hot, Code::ends_hot, Severity::warning) == "4", hot->all());
    CHECK(hot->first(Code::ends_hot).message.find("behind the end the load may come to 9") !=
          std::string::npos);
    CHECK(found(*cold, Code::ends_hot, Severity::warning) == "");
}

TEST_CASE("lean fuel that a held hot tube is left with is judged as in the run") {
    const std::string rig =
        "without line hydrogen ; line forming { gas lean ; output 7 ; de_energised closed ; meter "
        "controlled, channel 4 ; flow 0.1 slm to 4 slm ; accuracy 2 % of reading ; supply 150 mbar "
        "gauge }";
    const auto ended = [&](const std::string& last) {
        return left(
            "small", rig,
            "purge argon at 2 slm until oxygen < 0.1 %\nramp to 800 degC at 5 K/min\nswitch to forming at 1 "
            "slm\ndwell 10 min\n" +
                last,
            "hold", "gas lean = 5 % hydrogen + rest nitrogen ; ");
    };
    const auto ends_so = ended("close all\n"), stands = ended("close all\ndwell 10 min\n");
    CHECK_MESSAGE(ends_so->errors().find("flammable_mixture") != std::string::npos, ends_so->all());
    CHECK_MESSAGE(stands->errors().find("flammable_mixture") != std::string::npos, stands->all());
    const auto swept =
        ended("switch to argon at 2 slm\ndwell until flammability < 20 %\ncool to 60 degC\nclose all\n");
    CHECK_MESSAGE(swept->errors() == "", swept->all());
}
