// Waits, power failures and the interlock of a cold tube: what breaks each rule, the nearest recipe that
// passes, and the two values between which a limit lies. Common practice, no source, but where one is named.
#include "tests/prove/rules.hpp"

using namespace athanor;
using namespace athanor::prove::test;

namespace {

/// Argon that flows without power, a pilot and an interlock: no fault is left open.
std::string guarded(const std::string& below = "775") {
    return "line argon { de_energised open, 1.5 slm to 2 slm }\n"
           "exhaust afterburner { output 4 ; pilot yes ; into extraction_hood { backup_power yes } }\n"
           "interlock hydrogen is open and temperature < " +
           below + " degC closes hydrogen, opens argon";
}

std::string controller(const std::string& properties) {
    return "controller c { programs 9 ; segments 40 ; linking yes ; setpoint 0 degC to 1200 degC by 1 K ; "
           "ramps by rate "
           "0.1 K/min to 99 K/min by 0.1 K/min ; dwells 0 s to 99 h by 1 min ; outputs 6 ; soak_band 1 K to 99 "
           "K by 1 K ; "
           "operator_wait yes ; " +
           properties + " }";
}

const std::string enter =
    "purge argon at 2 slm until oxygen < 0.5 % and swept > 6 volumes\n"
    "ramp to 850 degC at 5 K/min\nlight burner\ndwell 20 min within 3 K\n"; // lines 7 to 10
const std::string leave =
    "switch to argon at 2 slm\ndwell until flammability < 20 %\nshut burner\ncool to 100 degC\n";
const std::string wait = "wait for operator \"Look\"\n";
const std::string soak = "switch to hydrogen at 0.5 slm\ndwell 30 min\n";
const std::string pumped =
    "evacuate to 1 mbar\nramp to 300 degC at 5 K/min\ndwell 20 min within 3 K\ncool to 100 degC\n"
    "backfill argon at 2 slm to ambient + 20 mbar\n";
const std::string fine = "after_power_failure stop ; longest_wait 2 h";

/// `on`, with the line breaks of the rig taken out, so that the first step stands on line 3.
std::unique_ptr<Case> with(std::string rig, const std::string& text, const std::string& settings = {}) {
    for (char& c : rig)
        if (c == '\n') c = ';';
    return on(rig, text, settings.empty() ? "" : controller(settings), settings.empty() ? "" : "c");
}

} // namespace

TEST_CASE("wait_without_end: a person, while flammable gas is open") {
    refused(with(guarded(), enter + soak + wait + leave), "wait_without_end", "wait_without_end:9");
    passes(with(guarded(), enter + wait + soak + leave), "wait_without_end");
    auto c = with(guarded(), enter + soak + wait + leave);
    CHECK(c->only().message.find("`hydrogen`") != std::string::npos);
}

TEST_CASE("wait_without_end: a person, while toxic gas is open") {
    const std::string rig =
        "line sulf { gas trace ; output 7 ; de_energised closed ; meter controlled ; flow 0.1 slm to 2 slm "
        "; supply 150 mbar gauge }\nexhaust into extraction_hood { backup_power yes }\n"
        "line argon { de_energised open, 1.5 slm to 2 slm }";
    const std::string gas = "gas trace = 500 ppm hydrogen_sulfide + rest argon";
    const auto run = [&](const std::string& first, const std::string& second) {
        return on(rig,
                  "purge argon at 2 slm until oxygen < 0.5 %\n" + first + second + "dwell 1 h\nclose all\n",
                  gas);
    };
    auto waits = run("switch to sulf at 1 slm\n", "wait for operator \"Look\"\n");
    CHECK_MESSAGE(waits->out.has(Code::wait_without_end), waits->all());
    CHECK(waits->row("wait_without_end").outcome() != prove::Outcome::proven);
    auto before = run("wait for operator \"Look\"\n", "switch to sulf at 1 slm\n");
    CHECK_FALSE(before->out.has(Code::wait_without_end));
}

TEST_CASE("wait_without_end: a soak band on a controller without a longest wait") {
    refused(with(guarded(), enter + "switch to hydrogen at 0.5 slm\ndwell 30 min within 3 K\n" + leave,
                 "after_power_failure stop"),
            "wait_without_end", "wait_without_end:8");
    passes(with(guarded(), enter + "switch to hydrogen at 0.5 slm\ndwell 30 min within 3 K\n" + leave, fine),
           "wait_without_end");
    // Without a band no one waits; in argon nothing is at stake.
    auto plain = with(guarded(), enter + soak + leave, "after_power_failure stop");
    CHECK_MESSAGE(plain->errors().empty(), plain->all());
    refused(with("", pumped, "after_power_failure stop"), "wait_without_end", "wait_without_end:5");
    passes(with("", pumped, fine), "wait_without_end");
}

TEST_CASE("wait_without_end: natural cooling that is keyed with a soak band waits in it") {
    const std::string cooled = enter + soak + "cool to 800 degC\n" + leave;
    for (const bool limited : {false, true}) {
        auto c = with(guarded(), cooled,
                      limited ? "after_power_failure stop ; longest_wait 9 h" : "after_power_failure stop");
        CHECK_MESSAGE(c->errors().empty(), c->all());
        timeline::Timeline keyed = *c->done.timeline;
        for (timeline::Span& span : keyed.spans)
            if (span.ending.kind == timeline::EndingKind::passes) span.ending.band = 1;
        Diagnostics out;
        prove::prove(c->model, c->rig(), keyed, *c->done.plant, c->files, out, c->model.controllers.data());
        CHECK(out.has(Code::wait_without_end) == !limited);
    }
}

TEST_CASE("wait_without_end: a rest counts from a quarter of the lower limit") {
    auto cleared = [&](const std::string& rest) {
        return enter + soak + "switch to argon at 2 slm\ndwell until flammability < " + rest +
               " %\ndwell 10 min within 3 K\ndwell until flammability < 20 %\nshut burner\ncool to 100 degC\n";
    };
    refused(with(guarded(), cleared("26"), "after_power_failure stop"), "wait_without_end",
            "wait_without_end:11");
    auto c = with(guarded(), cleared("24"), "after_power_failure stop");
    CHECK_MESSAGE(c->errors().empty(), c->all());
}

TEST_CASE("power_return: a controller that resumes, or does not say") {
    for (const char* setting : {"after_power_failure resume ; longest_wait 2 h", "longest_wait 2 h"}) {
        CAPTURE(setting);
        refused(with(guarded(), enter + soak + leave, setting), "power_return", "power_return:7");
        refused(with("", pumped, setting), "power_return", "power_return:3");
    }
    passes(with(guarded(), enter + soak + leave, fine), "power_return");
    passes(with("", pumped, fine), "power_return");
    // Argon alone may come back; and without a controller nothing is said.
    const std::string harmless = "open argon at 2 slm\nramp to 300 degC at 5 K/min\ncool to 100 degC\n";
    auto resumes = with("", harmless, "after_power_failure resume");
    CHECK_MESSAGE(resumes->errors().empty(), resumes->all());
    auto none = with("", pumped);
    CHECK_MESSAGE(none->errors().empty(), none->all());
}

TEST_CASE("power_return: toxic is above the limit that the gas declares") {
    // Hydrogen sulfide, 5 ppm (Commission Directive 2009/161/EU, from memory).
    auto lean = [&](const std::string& share) {
        return on("line sulfide { gas lean ; output 6 ; de_energised closed ; meter controlled ; flow 0.1 slm "
                  "to 1 slm ; "
                  "supply 100 mbar gauge }",
                  "open sulfide at 0.5 slm\ndwell 20 min\nswitch to argon at 1 slm\ndwell until "
                  "hydrogen_sulfide < 4 ppm\nclose all\n",
                  "gas lean = " + share + " ppm hydrogen_sulfide + rest nitrogen ; " +
                      controller("after_power_failure resume"),
                  "c");
    };
    refused(lean("5.1"), "power_return", "power_return:3");
    auto c = lean("4.9");
    CHECK_MESSAGE(c->errors().empty(), c->all());
}

TEST_CASE("no_low_temperature_cutoff: safety temperature plus the sensor's tolerance") {
    // Hydrogen 760 degC (NFPA 86, 1400 degF); class 1 of type K: 0.4 % of 760 degC are 3.04 K (IEC
    // 60584-1:2013).
    const std::string text = enter + soak + leave;
    auto warned = [&](const std::string& rig) {
        auto c = with(rig, text);
        REQUIRE_MESSAGE(c->done.complete, c->all());
        return found(*c, Code::no_low_temperature_cutoff, Severity::warning);
    };
    CHECK(warned(guarded("763")) == "7");
    CHECK(warned(guarded("763.1")) == "");
    CHECK(warned("") == "7"); // no interlock at all
    CHECK(with("", text)->row("no_low_temperature_cutoff").outcome() == prove::Outcome::needs_interlock);
    CHECK(with(guarded("763"), text)->row("no_low_temperature_cutoff").outcome() == prove::Outcome::warned);
    const std::string act = " closes hydrogen, opens argon";
    // What may not trip is no cut-off; what trips in more cases is one.
    CHECK(warned("interlock hydrogen is open and temperature < 800 degC and pressure > 1 bar" + act) == "7");
    CHECK(warned("interlock temperature > 800 degC" + act) == "7");
    CHECK(warned("interlock hydrogen is open and pressure < 900 mbar" + act) == "7"); // of another signal
    CHECK(warned("interlock temperature < 800 degC or pressure > 1.2 bar" + act) == "");
    CHECK(warned("interlock 800 degC > temperature and hydrogen is open" + act) == "");
    CHECK(warned("interlock hydrogen is open and temperature < 800 degC closes oxygen, opens argon") == "7");
    // Nothing flammable, nothing asked.
    auto argon = with("", "open argon at 2 slm\nramp to 300 degC at 5 K/min\n");
    CHECK(found(*argon, Code::no_low_temperature_cutoff, Severity::warning) == "");
}

TEST_CASE("wait_without_end: a band that the controller does not wait for long enough") {
    // A furnace that heats in an hour what its set-point steps to at once: the clock stands still that long.
    const std::string medium =
        "rig medium from small { furnace { range 30 degC to 1150 degC ; heated_length 300 mm ; power 1.55 kW ; "
        "heat_up 90 min to 1000 degC ; holding_power 0.7 kW ± 10 % at 1000 degC ; cool_down 1000 degC to 200 "
        "degC "
        "in 5 h ± 10 % ; zones centre } }";
    const std::string argon = "open argon at 2 slm\n",
                      held = "dwell 1 h within 5 K\ncool to 100 degC\nclose all\n";
    const auto on_slow = [&](const std::string& come, const std::string& wait) {
        return run("use \"rigs.ath\" ; " + medium + " ; " +
                   controller("after_power_failure stop ; longest_wait " + wait) +
                   "\nrecipe r on medium for c {\n" + argon + come + held + "}\n");
    };
    const auto stepped = on_slow("step to 900 degC\n", "10 min");
    CHECK_MESSAGE(stepped->errors() == "wait_without_end:5", stepped->all());
    CHECK_FALSE(stepped->assurance.proven);
    CHECK(stepped->row("wait_without_end").verdict != plant::Verdict::proven);
    const Diagnostic& d = stepped->only();
    CHECK(d.message.find("breaks the programme off after 10 min") != std::string::npos);
    CHECK(d.remedies.at(0).find("longest_wait ") != std::string::npos);
    REQUIRE_MESSAGE(d.remedies.at(1).find("ramp to 900 °C at ") != std::string::npos, stepped->all());
    // What the remedies say: a longer wait, a ramp that the furnace follows, no band.
    const std::string wait = d.remedies[0].substr(d.remedies[0].find("longest_wait ") + 13);
    const std::string ramp = d.remedies[1].substr(d.remedies[1].find("ramp to "));
    CHECK_MESSAGE(on_slow("step to 900 degC\n", wait)->errors().empty(), wait);
    CHECK_MESSAGE(on_slow(ramp + "\n", "30 min")->errors().empty(), on_slow(ramp + "\n", "30 min")->all());
    const auto fixed = run(
        "use \"rigs.ath\" ; " + medium + " ; " + controller("after_power_failure stop ; longest_wait 10 min") +
        "\nrecipe r on medium for c {\n" + argon + "step to 900 degC\ndwell 1 h\ncool to 100 degC\n}\n");
    CHECK_MESSAGE(fixed->errors().empty(), fixed->all());
}

TEST_CASE("power_return: a cooled tube is heated at full power") {
    // Quartz of 55 mm stands 20 K/min (common practice, no source); this furnace heats faster when it is cold.
    const std::string heated =
        "open argon at 2 slm\nramp to 900 degC at 5 K/min\ncool to 100 degC\nclose all\n";
    for (const char* setting : {"after_power_failure resume", "longest_wait 2 h"}) {
        auto c = with("", heated, setting);
        CHECK_MESSAGE(c->errors().empty(), c->all());
        CHECK_MESSAGE(found(*c, Code::power_return, Severity::warning) == "4", c->all());
        CHECK(c->row("power_return").outcome() == prove::Outcome::warned);
        CHECK(c->first(Code::power_return).message.find("the tube allows 20 K/min") != std::string::npos);
    }
    CHECK_FALSE(with("", heated, "after_power_failure stop")->out.has(Code::power_return));
    // A furnace that is no faster than the tube stands may go on.
    auto slow = run("use \"rigs.ath\" ; " + controller("after_power_failure resume") +
                    "\nrecipe r on slow for c {\n" + heated + "}\n");
    CHECK_MESSAGE(!slow->out.has(Code::power_return), slow->all());
}

TEST_CASE("power_return: fuel that cannot burn cold, into a tube that has drawn air in") {
    const auto forming = [&](const std::string& share, const std::string& argon, const std::string& peak,
                             const std::string& setting = "after_power_failure resume") {
        return on("line hydrogen { gas lean } ; line argon { de_energised " + argon + " }",
                  "purge argon at 2 slm until oxygen < 0.1 %\nramp to " + peak +
                      " degC at 5 K/min\nswitch to hydrogen at 1 slm\ndwell 10 min\nswitch to argon at 2 "
                      "slm\ndwell until flammability < 20 %\ncool to 100 degC\n",
                  "gas lean = " + share + " % hydrogen + rest nitrogen ; " + controller(setting), "c");
    };
    const auto shut = forming("5", "closed", "700");
    CHECK_MESSAGE(shut->errors() == "power_return:5", shut->all());
    // Argon that surely flows keeps the air out; under the lower limit, or too cold to light, nothing burns.
    CHECK_MESSAGE(forming("5", "open, 1.5 slm to 4 slm", "700")->errors().empty(),
                  forming("5", "open, 1.5 slm to 4 slm", "700")->all());
    CHECK(forming("3", "closed", "700")->errors().empty());
    CHECK(forming("5", "closed", "300")->errors().empty());
    CHECK(forming("5", "closed", "700", "after_power_failure stop")->errors().empty());
}

TEST_CASE("wait_without_end: a person, while the load gives off fuel or carbon monoxide is made") {
    const std::string hood =
        "exhaust afterburner { output 4 ; pilot yes ; into extraction_hood { backup_power yes } }";
    const auto load = [&](const std::string& most, const std::string& before, const std::string& at) {
        return with(guarded(),
                    "load { evolves methane 0 sccm to " + most +
                        " sccm above 400 degC }\nopen argon at 2 slm\ndwell until oxygen < 0.2 %\nlight "
                        "burner\ndwell 2 min\n" +
                        before + "ramp to 600 degC at 5 K/min\ndwell 30 min\n" + at +
                        "cool to 60 degC\nshut burner\n");
    };
    const auto hot = load("100", "", wait);
    CHECK_MESSAGE(hot->errors().find("wait_without_end:10") != std::string::npos, hot->all());
    CHECK(hot->first(Code::wait_without_end).message.find("the load gives off methane") == 0);
    CHECK_MESSAGE(load("100", wait, "")->errors() == "", load("100", wait, "")->all());
    CHECK(load("5", "", wait)->errors().find("wait_without_end") == std::string::npos);

    const std::string reverse =
        "line carbon { gas dioxide ; output 7 ; de_energised closed ; meter controlled, channel 6 ; flow 0.1 "
        "slm to 2 "
        "slm ; accuracy 2 % of reading ; supply 150 mbar gauge } ; without line hydrogen ; line lean { gas "
        "forming ; "
        "output 8 ; de_energised closed ; meter controlled, channel 7 ; flow 0.1 slm to 2 slm ; accuracy 2 % "
        "of reading "
        "; supply 150 mbar gauge } ; line argon { de_energised open, 1.5 slm to 2 slm } ; " +
        hood;
    const auto shift = [&](const std::string& degC) {
        return on(
            reverse,
            "purge argon at 2 slm until oxygen < 0.1 %\nramp to " + degC +
                " degC at 5 K/min\nopen lean at 1 slm\nopen carbon at 0.5 slm\ndwell 10 min\n" + wait +
                "close carbon\nclose lean\ndwell 2 h\ncool to 60 degC\nclose all\n",
            "gas forming = 3 % hydrogen + rest nitrogen ; gas dioxide = 20 % carbon_dioxide + rest argon");
    };
    CHECK_MESSAGE(shift("860")->errors().find("wait_without_end:8") != std::string::npos, shift("860")->all());
    CHECK(shift("300")->errors().find("wait_without_end") == std::string::npos);
}
