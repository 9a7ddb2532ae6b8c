// Slips in a rig or a controller, and values that only a machine writes: an error at its place, in no time.
#include "tests/driver/page.hpp"

#include <doctest/doctest.h>

namespace {

const std::string bench = "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n";

std::string on(const std::string& rig, const std::string& controller = "bench_twenty_five") {
    return "recipe t on " + rig + " for " + controller +
           " {\n    purge argon at 2.4 slm until oxygen < 1 %\n    close argon\n}\n";
}

/// One error of this code, and nothing claimed.
void one(const std::string& text, const std::string& code) {
    const Bench b;
    for (const char* command : {"check", "build"}) {
        const Verdict v = b.run(command, "t.ath", text);
        CAPTURE(text);
        CAPTURE(v.said);
        CHECK(v.status == 1);
        CHECK(v.errors == Codes{code});
        CHECK(v.said.find("proven") == std::string::npos);
    }
}

} // namespace

TEST_CASE("a line whose gas nothing declares, or that names none") {
    one(bench + "rig mine from quartz_bench_inert { line argon { gas argn } }\n" + on("mine"), "unknown_name");
    one(bench +
            "rig mine from quartz_bench_inert { without line argon\nline argon { output 1 ; de_energised "
            "closed ; supply 100 mbar gauge ; meter controlled ; flow 0.1 slm to 4 slm } }\n" +
            on("mine"),
        "rig_inconsistent");
}

TEST_CASE("a controller without set-points that can be keyed") {
    for (const char* setpoint : {"", "setpoint 0 degC to 1800 degC", "setpoint 0 degC to 1800 degC by 0 K"}) {
        const Bench b;
        const Verdict v =
            b.run("check", "t.ath",
                  bench + "controller small { programs 1 ; segments 20 ; " + setpoint +
                      " ; ramps by rate 0.1 K/min to 99 K/min by 0.1 K/min ; dwells 0 s to 99 h by 1 min ; "
                      "outputs 6 ; after_power_failure stop }\n" +
                      on("quartz_bench_inert", "small"));
        CAPTURE(setpoint);
        CAPTURE(v.said);
        CHECK(v.status == 1);
        CHECK_FALSE(v.errors.empty());
        CHECK(v.said.find("proven") == std::string::npos);
    }
}

TEST_CASE("a furnace that cannot be") {
    one(bench +
            "rig mine from quartz_bench_inert { furnace { range 40 degC to 1000000 degC ; heated_length 450 mm "
            "; power 2.2 kW ; "
            "heat_up 60 min to 1000 degC ; holding_power 0.9 kW at 1000 degC ; cool_down 1000 degC to 200 degC "
            "in 4 h ; "
            "zones centre } }\n" +
            on("mine"),
        "rig_inconsistent");
}

TEST_CASE("a line that one rig changes twice") {
    one(bench +
            "rig mine from quartz_bench_inert { line argon { gas nitrogen }\nline argon { gas helium } }\n" +
            on("mine"),
        "duplicate_name");
}

TEST_CASE("`let`s of a file that hang on one another without measure") {
    std::string chain, doubled = "let x0 = 1 s\n";
    for (int i = 0; i < 20000; ++i)
        chain += "let x" + std::to_string(i) + " = x" + std::to_string(i + 1) + " + 1 s\n";
    chain += "let x20000 = 1 s\n";
    for (int i = 1; i <= 60; ++i) {
        const std::string before = "x" + std::to_string(i - 1);
        doubled += "let x" + std::to_string(i) + " = " + before + " + " + before + "\n";
    }
    one(bench + chain + "recipe t on quartz_bench_inert for bench_twenty_five {\n    dwell x0\n}\n",
        "too_large");
    one(bench + doubled + "recipe t on quartz_bench_inert for bench_twenty_five {\n    dwell x60\n}\n",
        "too_large");
    // Within measure they are what they say.
    const Bench b;
    std::string few = "let x0 = 1 s\n";
    for (int i = 1; i <= 10; ++i) {
        const std::string before = "x" + std::to_string(i - 1);
        few += "let x" + std::to_string(i) + " = " + before + " + " + before + "\n";
    }
    const Verdict v =
        b.run("check", "t.ath",
              bench + few + "recipe t on quartz_bench_inert for bench_twenty_five {\n    dwell x10\n}\n");
    CAPTURE(v.said);
    CHECK(v.status == 0);
}

TEST_CASE("standard streams that cannot be written, or are closed") {
    const Bench b;
    b.write("bad.ath", bench + on("nowhere"));
    b.write("good.ath", bench + on("quartz_bench_inert"));
    const std::string program = ATHANOR_PROGRAM;
    for (const char* to : {" 2>/dev/full", " 2>&-"}) {
        CAPTURE(to);
        const Result r = shell(program + " check bad.ath" + to, b.path());
        CHECK((r.status == 1 || r.status == 2));
    }
    for (const char* command : {" functions", " units", " assure good.ath", " check good.ath"}) {
        CAPTURE(command);
        CHECK(shell(program + command + " >/dev/full", b.path()).status == 2);
    }
    // A closed stream does not become the file that is opened next.
    CHECK(shell(program + " build good.ath -o out >&-", b.path()).status == 0);
    CHECK(b.has("out"));
}

TEST_CASE("diff compares what --set asks for") {
    const Bench b;
    const std::string text =
        bench + "recipe t(peak : temperature in 100 degC to 900 degC = 400 degC) on quartz_bench_inert for "
                "bench_twenty_five {\n    purge argon at 2.4 slm until oxygen < 1 %\n    ramp to peak at 5 "
                "K/min\n    cool to 60 degC\n    close argon\n}\n";
    b.write("a.ath", text);
    std::string other = text;
    other.replace(other.find("= 400"), 5, "= 500");
    b.write("b.ath", other);
    CHECK(athanor({"diff", "a.ath", "b.ath"}, b.path()).out.find("500") != std::string::npos);
    const Result set = athanor({"diff", "a.ath", "b.ath", "--set", "peak=450 degC"}, b.path());
    CAPTURE(set.out);
    CHECK(set.status == 0);
    CHECK(set.out.find("500") == std::string::npos);
    const Result none = athanor({"diff", "a.ath", "b.ath", "--set", "peak=2000 degC"}, b.path());
    CHECK(none.status != 0); // it is the value that is taken
}

TEST_CASE("a figure that cannot be read is told once, and the rig is not run without it") {
    for (const std::string property :
         {"mixing 0,6 to 1",
          "tube { material fused_quartz ; inner_diameter 70,0 mm ; wall 3 mm ; length 1300 mm }",
          "load_lag 1,5 min to 5 min"})
        one(bench + "rig mine from quartz_bench_inert { " + property + " }\n" + on("mine"), "syntax");
    const Bench b;
    const Verdict v = b.run(
        "check", "t.ath",
        bench +
            "thermocouple type_q \"Own\" { range 0 degC to 1200 degC ; class 5 { range 0 degC to 1200 degC ; "
            "tolerance 1.5 K, 0.4 % } }\nrig mine from quartz_bench_inert { sensor type_q class 1 }\n" +
            on("mine"));
    CHECK(v.status == 1);
    CHECK_MESSAGE(v.said.find("a tolerance class is 1, 2 or 3") != std::string::npos, v.said);
}
