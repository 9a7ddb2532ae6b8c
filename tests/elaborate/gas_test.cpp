#include "tests/elaborate/support.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

using namespace athanor;
using namespace athanor::elaborate::test;

namespace {

void refused(std::string_view broken, std::string_view code, std::string_view good,
             std::string_view rig = "bench") {
    auto bad = steps(broken, rig);
    CHECK_MESSAGE(bad->errors() == code, broken, "\n", bad->all());
    auto fine = steps(good, rig);
    CHECK_MESSAGE(fine->done.complete, good, "\n", fine->all());
}

constexpr double sccm =
    101325.0 / (8.314462618 * 273.15) * 1e-6 / 60; // mol/s, 0 degC and 101.325 kPa (SEMI E12)

} // namespace

TEST_CASE("a hand meter has one flow in a run") {
    refused("open argon at 1 L/min\ndwell 5 min\nset argon to 0.5 L/min\ndwell 5 min", "hand_meter_changed",
            "open argon at 1 L/min\ndwell 5 min\nset argon to 1 L/min\ndwell 5 min");
    // A person is there between two runs.
    auto c = steps("run \"a\" { open argon at 1 L/min\ndwell 5 min\nclose all }\nrun \"b\" { open argon at 0.5 "
                   "L/min\ndwell 5 min }");
    CHECK_MESSAGE(c->done.complete, c->all());
    // A controlled meter may change.
    auto oxygen = steps("open oxygen at 100 sccm\ndwell 5 min\nset oxygen to 200 sccm\ndwell 5 min");
    CHECK_MESSAGE(oxygen->done.complete, oxygen->all());
}

TEST_CASE("what reads the same on a hand meter is one setting, and the first is kept") {
    auto c = steps("open argon at 0.8 L/min\ndwell 5 min\nset argon to 0.80002 L/min\ndwell 5 min");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    REQUIRE(t.spans.size() == 2);
    CHECK(t.states[t.spans[0].state].flows ==
          t.states[t.spans[1].state].flows); // what is proven is what was set
    refused("open argon at 0.8 L/min\ndwell 5 min\nset argon to 0.802 L/min\ndwell 5 min", "hand_meter_changed",
            "open argon at 0.8 L/min\ndwell 5 min\nset argon to 0.80003 L/min\ndwell 5 min");
    // A controlled meter is set to each of them.
    auto oxygen = steps("open oxygen at 100 sccm\ndwell 5 min\nset oxygen to 100.002 sccm\ndwell 5 min");
    REQUIRE_MESSAGE(oxygen->done.complete, oxygen->all());
    const timeline::Timeline& u = oxygen->timeline();
    CHECK(u.states[u.spans[0].state].flows != u.states[u.spans[1].state].flows);
}

TEST_CASE("a flow outside its meter") {
    refused("open argon at 3 L/min\ndwell 5 min", "flow_out_of_range", "open argon at 2 L/min\ndwell 5 min");
    refused("open argon at 0.1 L/min\ndwell 5 min", "flow_out_of_range",
            "open argon at 0.2 L/min\ndwell 5 min");
    // The remedy is in the unit of the person, inside what the meter sets: 2 L/min at 20 °C are 1.863 slm.
    auto slm = steps("open argon at 3 slm\ndwell 5 min");
    REQUIRE_MESSAGE(slm->first(Code::flow_out_of_range) != nullptr, slm->all());
    const std::string most = slm->first(Code::flow_out_of_range)->remedies.front();
    CHECK_MESSAGE(most.ends_with(" slm"), most);
    CHECK_MESSAGE(steps(most + "\ndwell 5 min")->done.complete, most);
}

TEST_CASE("a flow outside its meter is said as it is written, and as the meter shows it") {
    const auto told = [](const std::string& text) {
        return steps(text)->first(Code::flow_out_of_range)->message;
    };
    CHECK(told("open argon at 3 slm\ndwell 5 min") ==
          "3 slm (3.262 L/min at this meter) of `argon` is outside what its meter sets, 0.2 L/min to 2 L/min");
    CHECK(told("open argon at 3 L/min\ndwell 5 min") ==
          "3 L/min of `argon` is outside what its meter sets, 0.2 L/min to 2 L/min");
}

TEST_CASE("a flow far outside its meter is likely a slip, and nothing is written for it") {
    const auto edit = [](const std::string& flow) {
        return steps("open argon at " + flow + "\ndwell 5 min")
            ->first(Code::flow_out_of_range)
            ->edit.has_value();
    };
    CHECK(edit("3.9 L/min"));
    CHECK_FALSE(edit("4.1 L/min"));
    CHECK_FALSE(edit("20 L/min"));
    CHECK(edit("0.11 L/min"));
    CHECK_FALSE(edit("0.09 L/min"));
    const auto far = steps("open argon at 20 L/min\ndwell 5 min");
    CHECK(far->first(Code::flow_out_of_range)->remedies ==
          std::vector<std::string>{"open argon at 2 L/min",
                                   "or, where the figure is a slip, the flow that is meant"});
}

TEST_CASE("no flow is no flow: the valve would stay shut") {
    for (const char* nothing : {"open argon at 0 L/min\ndwell 5 min", "purge argon at 0 L/min for 10 min",
                                "open hydrogen at 100 sccm\nswitch to argon at 0 L/min\ndwell 5 min",
                                "open argon at 1 L/min\ndwell 1 min\nset argon to 0 L/min\ndwell 5 min",
                                "keep argon open at 0 L/min above 300 degC\nramp to 400 degC at 5 K/min"}) {
        auto c = steps(nothing);
        CHECK_MESSAGE(c->errors() == "flow_out_of_range", nothing, "\n", c->all());
    }
    auto fill = steps("evacuate to 1 mbar\nbackfill argon at 0 L/min to ambient", "shields");
    CHECK_MESSAGE(fill->first(Code::flow_out_of_range) != nullptr, fill->all());
    CHECK(steps("open argon at 0 L/min\ndwell 5 min")->first(Code::flow_out_of_range)->remedies.front() ==
          "close argon");
    refused("purge argon at 1 L/min for 0 s", "misplaced", "purge argon at 1 L/min for 1 s");
}

TEST_CASE("set gives an open line another flow") {
    refused("set oxygen to 100 sccm\ndwell 5 min", "misplaced",
            "open oxygen at 50 sccm\ndwell 1 min\nset oxygen to 100 sccm\ndwell 5 min");
    auto shut = steps("open oxygen at 50 sccm\ndwell 1 min\nclose oxygen\nset oxygen to 100 sccm\ndwell 5 min");
    CHECK_MESSAGE(shut->errors() == "misplaced", shut->all());
    CHECK(shut->first(Code::misplaced)->remedies.front() == "open oxygen at 100 sccm");
    REQUIRE(shut->first(Code::misplaced)->edit);
    auto argon = steps("set argon to 1.4 slm\ndwell 5 min"); // its meter reads L/min
    CHECK(argon->first(Code::misplaced)->remedies.front() == "open argon at 1.4 slm");
}

TEST_CASE("a channel that the controller does not have") {
    const auto on = [](const std::string& channel,
                       const std::string& text = "open oxygen at 100 sccm\ndwell 5 min") {
        return run(
            "use \"rigs.ath\"\nrig special from bench { line oxygen { meter controlled, channel " + channel +
            " } }\ncontroller c { programs 1 ; segments 9 ; linking no ; loops none ; zones 1 ; setpoint 0 "
            "degC to 1200 degC by 1 K ; ramps by rate 0.1 K/min to 20 K/min by 0.1 K/min ; dwells 0 s to 50 h "
            "by 1 s ; outputs 8 ; thresholds 0 ; channels 2 ; soak_band none ; operator_wait no ; starts_from "
            "measured ; segment_form ramp_or_dwell ; at_end off ; after_power_failure stop }\n"
            "recipe r on special for c {\n" +
            text + "\n}\n");
    };
    auto seventh = on("7");
    CHECK_MESSAGE(seventh->errors() == "too_many_outputs", seventh->all());
    CHECK(seventh->first(Code::too_many_outputs)->message == "the meter of `oxygen` is on channel 7, c has 2");
    CHECK(on("2")->errors() == "");
    CHECK(on("7", "dwell 5 min")->errors() == ""); // never used
}

TEST_CASE("a share above the whole asks nothing") {
    for (const char* asked :
         {"require oxygen < 150 %\ndwell 5 min", "purge argon at 1 L/min until oxygen < 101 %"}) {
        auto c = steps(asked);
        CHECK_MESSAGE(c->errors() == "implausible_value", asked, "\n", c->all());
    }
    CHECK(steps("require oxygen <= 100 %\ndwell 5 min")->errors() == "");
}

TEST_CASE("a pump only draws down, a fill only lifts") {
    const std::string pumped = "evacuate to 100 mbar\n";
    for (const char* pressure : {"2 bar", "1000 mbar", "985 mbar"}) // the room may stand at 980
        CHECK_MESSAGE(steps(std::string("evacuate to ") + pressure, "shields")->errors() ==
                          "pressure_unreachable",
                      pressure);
    CHECK(steps("evacuate to 970 mbar", "shields")->errors() == "");
    auto up = steps(pumped + "evacuate to 500 mbar", "shields");
    CHECK_MESSAGE(up->errors() == "", up->all()); // a checkpoint: it does no harm
    CHECK(up->first(Code::misplaced)->message.find(" mbar already: this step is over at once") !=
          std::string::npos);
    CHECK(steps(pumped + "evacuate to 50 mbar", "shields")->errors() == "");
    CHECK(steps(pumped + "backfill argon at 1 L/min to ambient\nevacuate to 500 mbar", "shields")->errors() ==
          "");
    auto down = steps("backfill argon at 1 L/min to 1 mbar", "shields");
    CHECK_MESSAGE(down->errors() == "misplaced", down->all());
    CHECK(down->first(Code::misplaced)->message.find("the tube stands at 980 mbar to ") == 0);
    CHECK(steps(pumped + "backfill argon at 1 L/min to 300 mbar\nbackfill argon at 1 L/min to 200 mbar",
                "shields")
              ->errors() == "misplaced");
    CHECK(steps(pumped + "backfill argon at 1 L/min to 300 mbar", "shields")->errors() == "");
}

TEST_CASE("a volume needs the meter's reference") {
    refused("open hydrogen at 0.5 L/min\ndwell 5 min", "ambiguous_volume_flow",
            "open argon at 0.5 L/min\ndwell 5 min");
    // 1 L/min at 20 degC and 1 bar: 1e5 Pa * 1e-3 m3/min / (R * 293.15 K), the ideal gas law.
    auto c = steps("open argon at 1 L/min\ndwell 5 min");
    REQUIRE(c->done.complete);
    CHECK(c->timeline().states[c->timeline().spans[0].state].flows[0] ==
          doctest::Approx(1e5 * 1e-3 / 60 / (8.314462618 * 293.15)).scale(0).epsilon(1e-9));
}

TEST_CASE("seals, supplies, plugs") {
    refused("open argon at 1 L/min\ndwell 5 min", "seals_missing", "dwell 5 min", "loose");
    std::string high =
        "use \"rigs.ath\"\nrig high from bench { line argon { supply 400 mbar gauge } }\nrecipe r on high {\n";
    auto fed = run(high + "open argon at 1 L/min\ndwell 5 min }");
    CHECK_MESSAGE(fed->errors() == "supply_pressure", fed->all());
    CHECK(run(high + "open oxygen at 100 sccm\ndwell 5 min }")->done.complete); // the line is not used
    auto plugs = steps("evacuate to 1 mbar\ndwell 5 min", "pumped_plugs");
    CHECK_MESSAGE(plugs->errors() == "plugs_in_vacuum", plugs->all());
    auto shields = steps("evacuate to 1 mbar\ndwell 5 min", "shields");
    CHECK_MESSAGE(shields->done.complete, shields->all());
}

TEST_CASE("the pump and the gas") {
    refused("open argon at 1 L/min\nevacuate to 1 mbar", "evacuate_with_gas_open",
            "open argon at 1 L/min\ndwell 1 min\nclose argon\nevacuate to 1 mbar", "shields");
    refused("evacuate to 1 mbar\nkeep argon open at 1 L/min above 300 degC\nramp to 400 degC at 5 K/min",
            "evacuate_with_gas_open",
            "evacuate to 1 mbar\nstop pump\nkeep argon open at 1 L/min above 300 degC\nramp to 400 degC at 5 "
            "K/min",
            "shields");
    refused("evacuate to 1 mbar\nopen argon at 1 L/min\ndwell 1 min", "evacuate_with_gas_open",
            "evacuate to 1 mbar\nbackfill argon at 1 L/min to ambient", "shields");
    refused("evacuate to 1e-4 mbar", "pressure_unreachable", "evacuate to 1 mbar", "shields");
    refused("evacuate to 1 mbar at most 1 s", "pressure_unreachable", "evacuate to 1 mbar at most 1 h",
            "shields");
    CHECK(steps("evacuate to 1 mbar")->errors() == "rig_inconsistent");
}

TEST_CASE("evacuate leaves the pump on, backfill closes pump and gas") {
    auto c = steps("evacuate to 1 mbar\nbackfill argon at 1 L/min to ambient\ndwell 5 min", "shields");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    REQUIRE(t.spans.size() == 3);
    CHECK(t.states[t.spans[0].state].pump);
    CHECK_FALSE(t.states[t.spans[1].state].pump);
    CHECK(t.states[t.spans[1].state].open[0]);
    CHECK_FALSE(t.states[t.spans[2].state].open[0]);
    CHECK(t.actions[t.spans[1].first_action].kind == timeline::ActionKind::stop_pump);
}

TEST_CASE("what can never be certain") {
    // The grade of argon carries 2 ppm of oxygen itself.
    refused("purge argon at 1 L/min until oxygen < 1 ppm", "condition_unreachable",
            "purge argon at 1 L/min until oxygen < 100 ppm");
    refused("purge argon at 1 L/min until oxygen < 100 ppm at most 1 min", "condition_unreachable",
            "purge argon at 1 L/min until oxygen < 100 ppm at most 10 h");
}

TEST_CASE("what can never be certain is told as far as it is certain") {
    const auto why = [](std::string_view text, std::string_view rig = "bench") {
        auto c = steps(text, rig);
        const Diagnostic* d = c->first(Code::condition_unreachable);
        if (d == nullptr) d = c->first(Code::pressure_unreachable);
        REQUIRE_MESSAGE(d != nullptr, c->all());
        REQUIRE(!d->causes.empty());
        return d->causes.front();
    };
    // Another end of the interval would be no fact.
    CHECK(why("dwell until pressure < 1 mbar").starts_with("pressure remains 9"));
    const std::string air = why("dwell until oxygen < 1 ppm");
    CHECK_MESSAGE(air.starts_with("oxygen remains "), air);
    CHECK_MESSAGE(air.find(" to 20.9 %") != std::string::npos, air);
    const std::string grade = why("purge argon at 1 L/min until oxygen < 1 ppm");
    CHECK_MESSAGE(grade.starts_with("oxygen "), grade);
    CHECK(why("ramp to 300 degC at 5 K/min\ndwell until temperature > 500 degC")
              .ends_with("the set-point is 300 °C"));
    const std::string barely = why("ramp to 500 degC at 5 K/min\ndwell until temperature > 499 degC");
    CHECK(barely.starts_with("temperature may be as low as "));
    CHECK_MESSAGE(barely.find("above") == std::string::npos, barely);
}

TEST_CASE("fuel and oxygen never meet") {
    std::string purge = "switch to argon at 1 L/min\ndwell until oxygen < 0.5 % and swept > 5 volumes\n";
    refused("open oxygen at 100 sccm\ndwell 5 min\nopen hydrogen at 100 sccm\ndwell 5 min", "opposing_valves",
            "open oxygen at 100 sccm\ndwell 5 min\n" + purge + "switch to hydrogen at 100 sccm\ndwell 5 min");
    refused("open oxygen at 100 sccm\ndwell 5 min\nswitch to hydrogen at 100 sccm\ndwell 5 min",
            "opposing_valves",
            "open oxygen at 100 sccm\ndwell 5 min\n" + purge + "switch to hydrogen at 100 sccm\ndwell 5 min");
    refused(purge + "switch to hydrogen at 100 sccm\ndwell 1 h\nswitch to oxygen at 100 sccm\ndwell 5 min",
            "opposing_valves",
            purge + "switch to hydrogen at 100 sccm\ndwell 1 h\nswitch to argon at 1 L/min\ndwell until "
                    "flammability < 20 %\n"
                    "switch to oxygen at 100 sccm\ndwell 5 min");
}

TEST_CASE("cooling draws air in where protection is asked") {
    std::string head = "require oxygen < 100 ppm while temperature > 150 degC\npurge argon at 1.5 L/min until "
                       "oxygen < 10 ppm\n"
                       "ramp to 700 degC at 5 K/min\ndwell 1 h within 5 K\n";
    refused(head + "close argon\ncool to 80 degC", "air_drawn_in", head + "cool to 80 degC\nclose argon");
    // Air harms nothing that is asked where no oxygen limit is.
    CHECK(steps("ramp to 900 degC at 5 K/min\nrequire temperature < 1000 degC\ncool to 80 degC")->errors() ==
          "");
    // A step down leaves the tube hotter than what is held, and the same is asked in other words.
    CHECK(steps(head + "close argon\nstep to 400 degC\ndwell 3 h")->errors() == "air_drawn_in");
    CHECK(steps("require not (oxygen > 100 ppm)\npurge argon at 1.5 L/min until oxygen < 10 ppm\n"
                "ramp to 700 degC at 5 K/min\nclose argon\ncool to 80 degC")
              ->errors() == "air_drawn_in");
    CHECK(steps("require not (oxygen < 1 ppm)\nramp to 700 degC at 5 K/min\ncool to 80 degC")->errors() == "");
    // A meter that is set by hand stays as it is set.
    CHECK(steps(head + "close argon\ncool to 80 degC")->all().find("as its hand meter is set:  open argon\n") !=
          std::string::npos);
    // Below the guard's temperature nobody asks any more.
    auto later = steps(head + "cool to 120 degC\nclose argon\ncool to 80 degC");
    CHECK_MESSAGE(later->done.complete, later->all());
    // Nothing is asked: air may come in.
    auto free = steps("ramp to 700 degC at 5 K/min\ncool to 80 degC");
    CHECK_MESSAGE(free->done.complete, free->all());
}

TEST_CASE("a line that falls open at the end is said") {
    auto c = steps("open argon at 1 L/min\ndwell 5 min\nclose argon");
    CHECK(c->warnings() == "gas_flows_after_end");
    CHECK(steps("open oxygen at 100 sccm\ndwell 5 min\nclose oxygen")->warnings().empty());
}

TEST_CASE("what a controller holds open at the end is said, and not what it holds shut") {
    const auto held = [](const std::string& text) {
        return run(
            "use \"rigs.ath\"\ncontroller holding { programs 1 ; segments 9 ; linking no ; loops none ; zones "
            "1 "
            "; setpoint 0 degC to 1200 degC by 1 K ; ramps by rate 0.1 K/min to 20 K/min by 0.1 K/min ; dwells "
            "0 s to 50 h by 1 s ; outputs 4 ; thresholds 0 ; channels 2 ; soak_band none ; operator_wait no ; "
            "starts_from measured ; segment_form ramp_or_dwell ; at_end hold ; after_power_failure stop }\n"
            "recipe r on bench for holding {\n" +
            text + "\n}\n");
    };
    auto shut = held("open argon at 1 L/min\ndwell 5 min\nclose argon");
    CHECK_MESSAGE(shut->warnings() == "", shut->all());
    auto left = held("open argon at 1 L/min\ndwell 5 min");
    CHECK_MESSAGE(left->warnings() == "gas_flows_after_end", left->all());
    CHECK(left->files.text(left->first(Code::gas_flows_after_end)->span) == "open argon at 1 L/min");
    CHECK(left->all().find("`argon` is open when the programme ends, and holding holds it so") !=
          std::string::npos);
}

TEST_CASE("a burner whose feed falls open at the end is said, and may be declared apart from its pilot") {
    const auto lit = [](const std::string& block,
                        const std::string& text = "light burner\ndwell 5 min\nshut burner") {
        return run("use \"rigs.ath\"\nrig special from bench { exhaust afterburner { output 4 " + block +
                   " } }\nrecipe r on special {\n" + text + "\n}\n");
    };
    auto falls = lit("; pilot yes ; de_energised open");
    CHECK_MESSAGE(falls->warnings() == "gas_flows_after_end", falls->all());
    CHECK(falls->files.text(falls->first(Code::gas_flows_after_end)->span) == "light burner");
    CHECK(falls->timeline().burner.on_without_power);
    CHECK(lit("; pilot yes ; de_energised open", "dwell 5 min")->warnings() == ""); // never lit
    // A fuel valve is closed without power unless its block says otherwise.
    auto apart = lit("; pilot yes");
    CHECK_MESSAGE(apart->warnings() == "", apart->all());
    CHECK_FALSE(apart->timeline().burner.on_without_power);
    CHECK(apart->model.rigs[apart->model.rig_named("special")].exhaust.pilot); // still lit after a failure
    CHECK(lit("")->warnings() == "");
    CHECK(lit("; de_energised open")->errors() == "rig_inconsistent"); // nothing lights it
}

TEST_CASE("the limit of a condition may be a function of numbers") {
    const auto lasts = [](const std::string& limit) {
        auto c = steps("open argon at 1 L/min\ndwell until oxygen < " + limit);
        REQUIRE_MESSAGE(c->done.complete, c->all());
        return c->timeline().spans[0].duration.hi;
    };
    CHECK(lasts("max(1 %, 0.5 %)") == lasts("1 %"));
}

TEST_CASE("a blend is solved from pure lines and from a premix") {
    auto c = steps("blend 10 % hydrogen + rest argon at 500 sccm\ndwell 5 min");
    REQUIRE_MESSAGE(c->timeline().spans.size() == 1, c->all());
    const timeline::State& pure = c->timeline().states[c->timeline().spans[0].state];
    CHECK(pure.flows[1] / sccm == doctest::Approx(50).scale(0).epsilon(1e-6));
    CHECK((pure.flows[0] + pure.flows[1]) / sccm == doctest::Approx(500).scale(0).epsilon(1e-6));
    auto mixed = steps("blend 4 % hydrogen + rest argon at 500 sccm\ndwell 5 min", "premixed");
    REQUIRE_MESSAGE(mixed->timeline().spans.size() == 1, mixed->all());
    const timeline::State& state = mixed->timeline().states[mixed->timeline().spans[0].state];
    auto lean = std::find_if(mixed->timeline().lines.begin(), mixed->timeline().lines.end(),
                             [](const timeline::Line& line) { return line.name == "lean"; });
    REQUIRE(lean != mixed->timeline().lines.end());
    // 4 % of 500 sccm is 20 sccm of hydrogen: 200 sccm of a 10 % premix.
    CHECK(state.flows[static_cast<std::size_t>(lean - mixed->timeline().lines.begin())] / sccm ==
          doctest::Approx(200).scale(0).epsilon(1e-4));
    refused("blend 1 % hydrogen + rest argon at 500 sccm\ndwell 5 min", "flow_out_of_range",
            "blend 2 % hydrogen + rest argon at 500 sccm\ndwell 5 min");
    CHECK(steps("blend 60 % hydrogen + 60 % argon at 500 sccm\ndwell 5 min")->errors() == "misplaced");
}

TEST_CASE("a blend opens no line that brings a gas it does not name") {
    const auto with = [](std::string_view lines, std::string_view blend) {
        return run(fmt::format(R"(use "rigs.ath"
gas sulfide = 2 % hydrogen_sulfide + rest argon
gas forming = 5 % hydrogen + rest nitrogen
gas trace = 100 ppm hydrogen_sulfide + rest argon
gas breathable = 4 ppm hydrogen_sulfide + rest argon
gas technical = 1 % nitrogen + rest argon
rig other from bench {{
    line argon {{ meter controlled ; flow 100 sccm to 2 slm }}
    line hydrogen {{ meter controlled }}
    {}
}}
recipe r on other {{
    {}
    dwell 5 min
}}
)",
                               lines, blend));
    };
    const auto line = [](std::string_view name, std::string_view gas) {
        return fmt::format("line {} {{ gas {} ; output 6 ; de_energised closed ; meter controlled ; "
                           "flow 10 sccm to 200 sccm ; supply 150 mbar gauge }}\n",
                           name, gas);
    };
    const std::string_view small = "blend 20 % hydrogen + rest argon at 100 sccm";
    for (std::string_view gas : {"sulfide", "trace", "technical", "breathable"}) {
        auto c = with(line("spare", gas), small);
        const Diagnostic* d = c->first(Code::flow_out_of_range);
        if (gas == "breathable") {
            CHECK_MESSAGE(c->done.complete, c->all());
            continue;
        }
        REQUIRE_MESSAGE(d != nullptr, gas, "\n", c->all());
        CHECK(d->message == "this blend needs 80 sccm of `argon`, and its meter sets 100 sccm to 2 slm");
        REQUIRE(d->remedies.size() == 1);
        auto mended = with(line("spare", gas), d->remedies.front());
        REQUIRE_MESSAGE(mended->done.complete, mended->all());
        CHECK(std::count(mended->timeline().states.back().open.begin(),
                         mended->timeline().states.back().open.end(), true) == 2);
    }
    CHECK(with(line("spare", "sulfide"), small)
              ->all()
              .find("`spare` is not taken for argon: it also brings 2 % hydrogen_sulfide") !=
          std::string::npos);
    // What the gas of a premix is in decides: nitrogen was not asked for, argon was.
    CHECK(with(line("spare", "forming"), "blend 1 % hydrogen + rest argon at 900 sccm")->errors() ==
          "flow_out_of_range");
    CHECK(with(line("spare", "lean"), "blend 1 % hydrogen + rest argon at 900 sccm")->done.complete);
    // A line that is named itself is meant.
    CHECK(with(line("spare", "sulfide"), "blend 20 % hydrogen + rest spare at 100 sccm")->done.complete);
    auto none_pure =
        run("use \"rigs.ath\"\ngas sulfide = 2 % hydrogen_sulfide + rest argon\nrig other from bench { "
            "without line argon\n" +
            line("spare", "sulfide") +
            "}\nrecipe r on other { blend 20 % hydrogen + rest argon at 100 sccm\ndwell 5 min }");
    CHECK(none_pure->errors() == "unknown_name");
    CHECK_MESSAGE(none_pure->all().find("name the line itself: `spare`") != std::string::npos,
                  none_pure->all());
    // Parts of a mixture that is named are not named by themselves.
    auto leaner = run("use \"rigs.ath\"\ngas lean_air = 10 % oxygen + rest nitrogen\nrig other from bench {\n" +
                      line("spare", "lean_air") +
                      "line air { gas air ; output 7 ; de_energised closed ; meter controlled ; flow 10 sccm "
                      "to 200 sccm ; supply 150 mbar gauge } }\nrecipe r on other { blend 20 % air + rest "
                      "nitrogen at 100 sccm\ndwell 5 min }");
    CHECK(leaner->errors() == "unknown_name");
}

TEST_CASE("a gas with more of a toxic one than may be breathed is that gas alone") {
    const auto with = [](std::string_view gas, std::string_view name) {
        return run(fmt::format(
            "use \"rigs.ath\"\ngas other = {} + rest argon\n"
            "rig other from bench {{ without line argon\nline spare {{ gas other ; output 1 ; "
            "de_energised closed ; meter hand ; flow 0.1 slm to 2 slm ; supply 150 mbar gauge }} }}\n"
            "recipe r on other {{ purge {} at 1 slm for 10 min }}",
            gas, name));
    };
    auto toxic = with("1 % hydrogen_sulfide", "argon");
    CHECK(toxic->errors() == "unknown_name");
    CHECK_MESSAGE(
        toxic->all().find("`spare` is mostly argon, and is not taken for it: it brings 1 % hydrogen_sulfide") !=
            std::string::npos,
        toxic->all());
    CHECK_MESSAGE(toxic->all().find("name the line itself: `spare`") != std::string::npos, toxic->all());
    CHECK(with("1 % hydrogen_sulfide", "spare")->done.complete);
    CHECK(with("6 ppm hydrogen_sulfide", "argon")->errors() == "unknown_name");
    CHECK(with("4 ppm hydrogen_sulfide", "argon")->done.complete);
    CHECK(with("4 ppm hydrogen_sulfide + 10 ppm carbon_monoxide", "argon")->errors() ==
          "unknown_name"); // together
    // Nor is a mixture with another inert gas a grade of it: carbon dioxide oxidises hot metal.
    auto shielding = with("18 % carbon_dioxide", "argon");
    CHECK(shielding->errors() == "unknown_name");
    CHECK_MESSAGE(shielding->all().find("it brings 18 % carbon_dioxide") != std::string::npos,
                  shielding->all());
    CHECK(with("18 % carbon_dioxide", "spare")->done.complete);
    CHECK(with("1 % nitrogen", "argon")->done.complete);
}

TEST_CASE("the remedy of a hand meter that a blend changes keeps the flow that was set") {
    const auto blended = [](std::string_view blend) {
        return steps(fmt::format("open argon at 1.5 L/min\ndwell 5 min\n{}\ndwell 5 min", blend));
    };
    for (std::string_view blend :
         {"blend 20 % hydrogen + rest argon at 1.5 L/min", "blend 4 % hydrogen + rest argon at 1.5 L/min",
          "blend 7 % hydrogen + rest argon at 1 slm"}) {
        auto c = blended(blend);
        const Diagnostic* d = c->first(Code::hand_meter_changed);
        REQUIRE_MESSAGE(d != nullptr, c->all());
        REQUIRE(d->remedies.size() == 1);
        auto mended = blended(d->remedies.front());
        CHECK_MESSAGE(mended->done.complete, d->remedies.front(), "\n", mended->all());
    }
    // The total of a blend is not what its line was set to.
    auto after = steps(
        "blend 20 % hydrogen + rest argon at 1.5 L/min\ndwell 5 min\nset argon to 1.5 L/min\ndwell 5 min");
    const Diagnostic* d = after->first(Code::hand_meter_changed);
    REQUIRE(d != nullptr);
    CHECK(d->remedies.front() == "set argon to 1.2 L/min");
    REQUIRE(d->edit.has_value());
    CHECK(d->edit->text == "1.2 L/min");
    // No total keeps the first flow: hydrogen would be beyond its meter.
    auto no_total = blended("blend 60 % hydrogen + rest argon at 0.9 L/min");
    d = no_total->first(Code::hand_meter_changed);
    REQUIRE_MESSAGE(d != nullptr, no_total->all());
    CHECK(d->remedies.front() == "0.36 L/min of `argon` also where it is set first in this run");
}

TEST_CASE("a figure that a hand meter cannot be set to is no slip that an edit decides") {
    const auto second = [](const std::string& flow) {
        return steps("open argon at 1.5 slm\ndwell 5 min\nset argon to " + flow + "\ndwell 5 min");
    };
    auto slip = second("15 slm");
    CHECK_MESSAGE(slip->errors() == "flow_out_of_range hand_meter_changed", slip->all());
    for (const Diagnostic& d : slip->out.all()) CHECK_FALSE(d.edit.has_value());
    auto inside = second("1.2 slm");
    const Diagnostic* d = inside->first(Code::hand_meter_changed);
    REQUIRE(d != nullptr);
    REQUIRE(d->edit.has_value());
    CHECK(d->edit->text == "1.5 slm");
    // What stands first and cannot be set is not what the second is measured by.
    auto first = steps("open argon at 15 slm\ndwell 5 min\nset argon to 1.5 slm\ndwell 5 min\nset argon to 1 "
                       "slm\ndwell 5 min");
    CHECK_MESSAGE(first->errors() == "flow_out_of_range hand_meter_changed", first->all());
    d = first->first(Code::hand_meter_changed);
    REQUIRE(d != nullptr);
    CHECK(d->remedies.front() == "set argon to 1.5 slm");
}

TEST_CASE("a default's flow outside the meter is told with a flow at the statement that takes it") {
    const auto told = [](const std::string& text) {
        auto c = steps("defaults { purge argon at 5 L/min }\n" + text + "\ndwell 5 min");
        CHECK_MESSAGE(c->errors() == "flow_out_of_range", c->all());
        CHECK_MESSAGE(c->all().find("this flow is that of `defaults` at ") != std::string::npos, c->all());
        const Diagnostic* d = c->first(Code::flow_out_of_range);
        return d != nullptr && !d->remedies.empty() ? d->remedies.front() : std::string();
    };
    CHECK(told("open argon") == "open argon at 2 L/min");
    CHECK(told("switch to argon") == "switch to argon at 2 L/min");
    CHECK(told("purge argon for 10 min") == "purge argon at 2 L/min for 10 min");
    CHECK(steps("defaults { purge argon at 0 L/min }\nopen argon\ndwell 5 min")->errors() ==
          "flow_out_of_range");
    // Where the meter keeps a flow, it was told where that was set.
    auto kept = steps("open argon at 3 L/min\ndwell 5 min\nclose argon\nopen argon\ndwell 5 min");
    CHECK(std::count_if(kept->out.all().begin(), kept->out.all().end(),
                        [](const Diagnostic& d) { return d.code == Code::flow_out_of_range; }) == 1);
    CHECK_MESSAGE(kept->all().find("of `defaults`") == std::string::npos, kept->all());
    auto fine = steps("defaults { purge argon at 2 L/min }\nopen argon\ndwell 5 min");
    CHECK_MESSAGE(fine->done.complete, fine->all());
}

TEST_CASE("volumes of air are a time, and a condition on `swept` never comes true in it") {
    const std::string air =
        "rig aired from bench { line hydrogen { gas air ; meter controlled ; flow 10 sccm to 2 slm } }\n";
    const auto with = [&](std::string_view text) {
        return run(fmt::format("use \"rigs.ath\"\n{}recipe r on aired {{\n{}\n}}", air, text));
    };
    auto volumes = with("purge hydrogen at 1 slm for 5 volumes");
    REQUIRE_MESSAGE(volumes->done.complete, volumes->all());
    auto argon = with("purge argon at 1 slm for 5 volumes");
    REQUIRE_MESSAGE(argon->done.complete, argon->all());
    CHECK(volumes->timeline().spans[0].duration.hi ==
          doctest::Approx(argon->timeline().spans[0].duration.hi).epsilon(1e-3));
    auto never = with("purge hydrogen at 1 slm until swept > 5 volumes");
    CHECK(never->errors() == "condition_unreachable");
    CHECK_MESSAGE(never->all().find("it counts as air, and no volume of it is swept") != std::string::npos,
                  never->all());
    // What was swept before is no purge any more.
    CHECK(with("purge argon at 1 slm for 20 volumes\nclose argon\nopen hydrogen at 1 slm\ndwell 1 min\n"
               "switch to argon\ndwell until swept > 5 volumes at most 5 min")
              ->errors() == "condition_unreachable");
}

TEST_CASE("what an operation of the library does is told where it is called") {
    auto c = steps("open argon at 1 L/min\ndwell 1 min\ninert_purge(feed = 500 sccm)");
    CHECK_MESSAGE(c->errors() == "hand_meter_changed", c->all());
    const Diagnostic* d = c->first(Code::hand_meter_changed);
    REQUIRE(d != nullptr);
    CHECK(c->files.text(d->span) == "inert_purge(feed = 500 sccm)");
    CHECK(d->message.find("1 L/min") != std::string::npos);
}

TEST_CASE("a line is found by its gas") {
    auto c = run("use \"rigs.ath\"\nrig other from bench { without line argon\n line shroud { gas argon_n50 ; "
                 "output 1 ; de_energised open ; meter hand ; "
                 "flow 0.2 L/min to 2 L/min at 20 degC, 1 bar ; supply 150 mbar gauge } }\n"
                 "recipe r on other { open argon at 1 L/min\ndwell 5 min }");
    CHECK_MESSAGE(c->done.complete, c->all());
    CHECK(steps("open neon at 1 L/min\ndwell 5 min")->errors() == "unknown_name");
    auto two =
        run("use \"rigs.ath\"\nrig other from bench { line shroud { gas argon ; output 6 ; de_energised open ; "
            "meter hand ; "
            "flow 0.2 L/min to 2 L/min at 20 degC, 1 bar ; supply 150 mbar gauge }\n without line argon\n"
            "line curtain { gas argon_n50 ; output 1 ; de_energised open ; meter hand ; flow 0.2 L/min to 2 "
            "L/min at 20 degC, 1 bar ; supply 150 mbar gauge } }\n"
            "recipe r on other { open argon at 1 L/min\ndwell 5 min }");
    CHECK(two->errors() == "unknown_name");
    CHECK(two->all().find("`shroud`, `curtain`") != std::string::npos);
}

TEST_CASE("a gas parameter takes the line of that gas before one that mostly carries it") {
    const std::string rig = R"(use "rigs.ath"
gas grade = 5 ppm oxygen + rest nitrogen
gas forming = 5 % hydrogen + rest nitrogen
rig many from bench {
    line air { gas air ; output 6 ; de_energised closed ; meter hand ; flow 0.1 slm to 2 slm ; supply 150 mbar gauge }
    line forming { gas forming ; output 7 ; de_energised closed ; meter hand ; flow 0.1 slm to 2 slm ; supply 150 mbar gauge }
    line LINE ; output 8 ; de_energised closed ; meter hand ; flow 0.1 slm to 2 slm ; supply 150 mbar gauge }
}
recipe r(cover : gas = nitrogen) on many { purge cover at 1 slm for 10 min }
)";
    const auto with = [&](std::string_view line) {
        std::string text = rig;
        text.replace(text.find("LINE"), 4, line);
        return run(text);
    };
    for (std::string_view line :
         {"cover_gas { gas nitrogen", "nitrogen { gas nitrogen", "nitrogen { gas grade"}) {
        auto c = with(line);
        REQUIRE_MESSAGE(c->done.complete, line, "\n", c->all());
        const timeline::State& state = c->timeline().states[c->timeline().spans[0].state];
        CHECK(state.open.back());
        CHECK(std::count(state.open.begin(), state.open.end(), true) == 1);
    }
    // The only one that is nitrogen: air and forming gas are mostly that, and are something else.
    CHECK(with("cover_gas { gas grade")->done.complete);
    CHECK(with("spare { gas argon")->errors() == "unknown_name");
}

TEST_CASE("a condition may ask for the gas that a parameter names") {
    auto c = run(R"(use "rigs.ath"
operation sweep(cover : gas) {
    purge cover at 1 slm until cover > 99 %
    close cover
    expect cover is closed
}
recipe r on bench { sweep(cover = argon) }
)");
    CHECK_MESSAGE(c->errors().empty(), c->all());
    REQUIRE(c->done.complete);
    CHECK(print(c->timeline().conditions[c->timeline().spans[0].ending.condition], c->timeline()) ==
          "argon > 99 %");
}

TEST_CASE("a line's own default flow goes before that of its gas, whichever stands first") {
    const auto opened = [](std::string_view rig, std::string_view recipe) {
        return run(fmt::format(
            "use \"rigs.ath\"\nrig two from bench {{ line slow {{ gas argon_n50 ; meter hand ; flow 20 sccm to "
            "3 slm ; supply 150 mbar gauge }}\n{} }}\nrecipe r on two {{\n{}\nopen slow\ndwell 1 h\n}}\n",
            rig, recipe));
    };
    const auto flow = [](const Case& c) { // sccm
        REQUIRE_MESSAGE(c.done.complete, c.all());
        return std::round(c.timeline().states[c.timeline().spans[0].state].flows.back() / sccm);
    };
    CHECK(flow(*opened("", "defaults { flow slow 100 sccm ; flow argon 2 slm }")) == 100);
    CHECK(flow(*opened("", "defaults { flow argon 2 slm ; flow slow 100 sccm }")) == 100);
    // What the recipe says, by whichever name, goes before what its rig says.
    CHECK(flow(*opened("defaults { flow slow 100 sccm }", "defaults { flow argon 2 slm }")) == 2000);
    CHECK(flow(*opened("defaults { purge argon_n50 at 1 slm }", "defaults { flow argon 2 slm }")) == 2000);
    CHECK(flow(*opened("defaults { purge argon at 1 slm }", "defaults { flow hydrogen 300 sccm }")) == 1000);
    CHECK(flow(*opened("defaults { flow slow 100 sccm }", "defaults { flow slow 200 sccm }")) == 200);
    CHECK(flow(*opened("", "defaults { flow argon 2 slm ; flow argon_n50 300 sccm }")) == 300);
    CHECK(flow(*opened("defaults { flow argon 1 slm }", "defaults { flow argon 2 slm }")) == 2000);
}

TEST_CASE("a blend does not flow beside a line that follows the temperature") {
    const auto blended = [](std::string_view kept) {
        return run(
            fmt::format("use \"rigs.ath\"\nrig two from shields {{ line nitrogen {{ gas nitrogen ; meter "
                        "hand ; flow 20 sccm to 3 slm ; supply 150 mbar gauge }} }}\nrecipe r on two {{\n"
                        "purge argon at 1 slm for 1 h\nkeep nitrogen open at 500 sccm {}\nramp to 400 "
                        "degC at 5 K/min\nblend 20 % oxygen + rest argon at 1.25 slm\ndwell 1 h\n}}\n",
                        kept));
    };
    auto open = blended("above 300 degC");
    CHECK_MESSAGE(open->errors() == "misplaced", open->all());
    if (const Diagnostic* d = open->first(Code::misplaced))
        CHECK(d->message == "this leaves `nitrogen` open, which follows the temperature here");
    auto shut = blended("above 600 degC");
    CHECK_MESSAGE(shut->done.complete, shut->all());
}

TEST_CASE("a parameter may name a gas that no line carries") {
    const auto with = [](const std::string& gas) {
        return run("use \"rigs.ath\"\noperation free_of(x : gas) { dwell until x < 1 % }\nrecipe r(y : gas = " +
                   gas + ") on bench {\n require y < 5 %\n free_of(" + gas + ")\n for z in [" + gas +
                   "] { dwell until z < 1 % }\n dwell 5 min\n}");
    };
    auto helium = with("helium");
    CHECK_MESSAGE(helium->errors().empty(), helium->all());
    CHECK(std::count(helium->timeline().species.begin(), helium->timeline().species.end(), "helium") == 1);
    auto mixed = with("air");
    CHECK_MESSAGE(mixed->errors() == "unknown_name", mixed->all());
    CHECK(steps("dwell 5 min")->timeline().species.size() < helium->timeline().species.size());
}

TEST_CASE("a blend of one gas is told as one") {
    auto rest = steps("blend rest argon at 1 L/min\ndwell 5 min");
    CHECK_MESSAGE(rest->all().find("this one names `argon` alone") != std::string::npos, rest->all());
    CHECK(rest->first(Code::misplaced)->remedies.front() == "switch to argon at 1 L/min");
    auto half = steps("blend 50 % argon at 1 L/min\ndwell 5 min");
    CHECK_MESSAGE(half->all().find("add up to 50 %") != std::string::npos, half->all());
}
