// A power failure at any instant: what breaks each rule, the nearest rig or recipe that passes, and the two
// values of one number between which its limit lies. The limits are the policy's: 760 degC for hydrogen (NFPA
// 86: 1400 degF), a quarter of the lower limit, five times contraction and leak (common practice, no source).
#include "compiler/prove/fault.hpp"
#include "tests/prove/support.hpp"

#include <doctest/doctest.h>

#include <algorithm>

using namespace athanor;
using namespace athanor::prove::test;

namespace {

const std::string safe = "purge argon at 2 slm until oxygen < 0.5 % and swept > 6 volumes\n" // line 3
                         "ramp to 850 degC at 5 K/min\ndwell 20 min within 3 K\n"
                         "light burner\ndwell 2 min\n"
                         "switch to hydrogen at 0.5 slm\ndwell 30 min within 3 K\n" // lines 8 and 9
                         "switch to argon at 2 slm\ndwell until flammability < 20 %\n"
                         "shut burner\ncool to 100 degC\nclose all\n";

std::unique_ptr<Case> on(const std::string& changes, const std::string& text = safe) {
    return run("use \"rigs.ath\" ; rig special from small { " + changes + " }\nrecipe r on special {\n" + text +
               "}\n");
}

/// mol/s of 1 slm: 1 L of an ideal gas at 0 degC and 101.325 kPa a minute (CODATA 2018 molar gas constant).
constexpr double flow_of_slm = 101325.0 * 1e-3 / 60 / (8.314462618 * 273.15);

/// The number in the text of a declaration, on both sides of a limit.
void between(const std::string& before, const std::string& bad, const std::string& good,
             const std::string& after, const std::string& error) {
    auto refused = on(before + bad + after), passed = on(before + good + after);
    CHECK_MESSAGE(refused->errors() == error, refused->all());
    CHECK_MESSAGE(passed->errors().empty(), passed->all());
}

} // namespace

TEST_CASE("the safe recipe stands a failure at any instant, and each rule says by how much") {
    auto c = on("");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK_MESSAGE(c->errors().empty(), c->all());
    for (const char* rule :
         {"no_inert_on_abort", "abort_cools_into_flammable", "abort_outflow_unburnt", "abort_seals_hot_tube"}) {
        CAPTURE(rule);
        CHECK(c->row(rule).applied);
        CHECK(c->row(rule).verdict == plant::Verdict::proven);
    }
}

TEST_CASE("no_inert_on_abort: the inert line falls closed, or may fall open at no flow") {
    auto c = on("line argon { de_energised closed }");
    CHECK_MESSAGE(c->errors() == "no_inert_on_abort:9 abort_cools_into_flammable:9", c->all());
    const Diagnostic& d = c->first(Code::no_inert_on_abort);
    CHECK(d.message.find("after a power failure at") != std::string::npos);
    CHECK(d.message.find("flow of inert is 0 sccm") != std::string::npos);
    CHECK_FALSE(d.remedies.empty());
    // A controlled meter without a stated figure may stand at zero.
    c = on("line argon { de_energised open }");
    CHECK_MESSAGE(c->errors().starts_with("no_inert_on_abort:9"), c->all());
    // A hand meter keeps its flow.
    c = on("line argon { meter hand ; flow 0.1 slm to 4 slm ; de_energised open }");
    CHECK_MESSAGE(c->errors().empty(), c->all());
}

TEST_CASE("no failure counts while nothing flammable is in the tube") {
    auto c = on("line argon { de_energised closed }",
                "purge argon at 2 slm for 30 min\nramp to 850 degC at 5 K/min\ncool to 100 degC\nclose all\n");
    CHECK_MESSAGE(c->errors().empty(), c->all());
    CHECK_FALSE(c->row("abort_cools_into_flammable").applied);
}

TEST_CASE("abort_cools_into_flammable: too little inert gas while the tube cools") {
    // The tube takes in up to a few dozen sccm while it cools from 850 degC: five times that must flow.
    between("line argon { de_energised open, ", "0.02 slm", "1 slm", " to 4 slm }",
            "abort_cools_into_flammable:9");
}

TEST_CASE("abort_cools_into_flammable: a flammable line that falls open") {
    auto c = on("line hydrogen { de_energised open, 0.4 slm to 0.6 slm }");
    CHECK_FALSE_MESSAGE(c->errors().empty(), c->all());
    CHECK(c->first(Code::abort_cools_into_flammable).remedies.size() > 0);
}

TEST_CASE("abort_outflow_unburnt: neither a pilot flame nor an extraction with backup power") {
    const std::string error = "abort_outflow_unburnt:9";
    auto c = on("exhaust afterburner { output 4 ; into extraction_hood }");
    CHECK_MESSAGE(c->errors() == error, c->all());
    for (const char* fitted :
         {"exhaust afterburner { output 4 ; pilot yes ; into extraction_hood }",
          "exhaust afterburner { output 4 ; into extraction_hood { backup_power yes } }"}) {
        CAPTURE(fitted);
        auto passed = on(fitted);
        CHECK_MESSAGE(passed->errors().empty(), passed->all());
    }
}

TEST_CASE("abort_seals_hot_tube: a line that falls open into a tube without a way out") {
    // It fills the tube until the relief opens, which passes 1.1 times its setting (common practice, no
    // source).
    auto shut = [&](const std::string& relief) {
        return on("exhaust shut ; relief " + relief +
                      " mbar gauge ; seals gas_tight { rated 100 mbar gauge ; cooled no }"
                      " ; line argon { supply 95 mbar gauge }",
                  "dwell 10 min\n");
    };
    CHECK(shut("91")->errors().find("abort_seals_hot_tube") != std::string::npos);
    CHECK_MESSAGE(shut("90")->errors().find("abort_seals_hot_tube") == std::string::npos, shut("90")->all());
}

TEST_CASE("of the steps that fall into the same state, the one nearest to the limit is named") {
    // Heating a shut tube raises its pressure; nothing is switched in between, so all steps fall alike.
    auto c = on("exhaust shut", "dwell 10 min\nramp to 70 degC at 1 K/min\n");
    REQUIRE_MESSAGE(c->errors().empty(), c->all());
    const prove::Row& row = c->row("abort_seals_hot_tube");
    CHECK(row.applied);
    CHECK(c->files.place_line(row.source).ends_with(":4"));
    CHECK(row.at_s == doctest::Approx(600));
}

TEST_CASE("a run that breaks a rule by itself is not judged for failures as well") {
    auto c = on("line argon { de_energised closed }",
                "ramp to 850 degC at 5 K/min\n" + safe.substr(safe.find("light")));
    CHECK(c->errors().find("no_inert_purge_first") != std::string::npos);
    CHECK(c->errors().find("abort") == std::string::npos);
}

TEST_CASE("faults that no valve answers need an interlock, and one that is declared is found") {
    auto rows = [](const Case& c) {
        std::string open;
        for (const prove::Row& row : c.assurance.rows)
            if (row.rule == "fault" && row.verdict != plant::Verdict::proven) open += row.title + "; ";
        return open;
    };
    CHECK(rows(*on("")) ==
          "heater lost while hydrogen flows; supply of argon lost; supply of hydrogen lost; burner out "
          "while hydrogen flows; programme held while hydrogen flows; ");
    // Inert gas that the run does not use cannot fail it.
    CHECK(rows(*on("line spare { gas nitrogen ; output 8 ; de_energised closed ; meter controlled, channel 5 ; "
                   "flow 1 sccm to 4 slm ; accuracy 2 % of reading ; supply 150 mbar gauge }")) ==
          rows(*on("")));
    CHECK(rows(*on("interlock hydrogen is open and temperature < 770 degC closes hydrogen, opens argon"))
              .find("heater lost") == std::string::npos);
    // Below the safety temperature and the sensor's error, 763.04 degC, it comes too late.
    CHECK(rows(*on("interlock hydrogen is open and temperature < 763 degC closes hydrogen, opens argon"))
              .find("heater lost") != std::string::npos);
    CHECK(rows(*on("interlock hydrogen is open and temperature < 764 degC closes hydrogen, opens argon"))
              .find("heater lost") == std::string::npos);
    // Inert is a gas that clears the tube of fuel: not one that brings half of a lower limit itself.
    for (const bool lean : {false, true}) {
        const auto c =
            run("use \"rigs.ath\" ; gas argon_left = " + std::string(lean ? "0.9 %" : "20 ppm") +
                " propane + rest argon ; rig special from small { line spare { gas argon_left ; output 6 ; "
                "de_energised open, 1 slm to 2 slm ; meter controlled ; flow 0.1 slm to 4 slm ; supply 150 "
                "mbar gauge } ; interlock hydrogen is open and temperature < 770 degC closes hydrogen, "
                "opens spare }\n"
                "recipe r on special {\n" +
                safe + "}\n");
        REQUIRE_MESSAGE(c->done.complete, c->all());
        CHECK((rows(*c).find("heater lost") != std::string::npos) == lean);
    }
    // It must act on that fault alone, shut the fuel and open inert gas.
    CHECK(rows(*on("interlock pump and temperature < 770 degC closes hydrogen, opens argon"))
              .find("heater lost") != std::string::npos);
    CHECK(rows(*on("interlock temperature < 770 degC opens argon")).find("heater lost") != std::string::npos);
    CHECK(rows(*on("interlock temperature < 770 degC closes hydrogen")).find("heater lost") !=
          std::string::npos);
    CHECK(rows(*on("interlock not burner and hydrogen is open closes hydrogen, opens argon"))
              .find("burner out") == std::string::npos);
    // The gas that is lost clears nothing: another one must be opened.
    const auto spare = [](const std::string& falls) {
        return "line spare { gas nitrogen ; output 8 ; de_energised " + falls +
               " ; meter controlled, channel 5 ; flow 1 sccm to 4 slm ; accuracy 2 % of reading ; supply 150 "
               "mbar "
               "gauge } ; ";
    };
    const auto of_flow = [&](const std::string& opens, const std::string& falls = "open, 1 slm to 2 slm") {
        return rows(
            *on(spare(falls) +
                "interlock hydrogen is open and (flow of argon < 0.1 slm or flow of hydrogen < 0.1 slm) "
                "closes hydrogen, opens " +
                opens));
    };
    CHECK(of_flow("spare").find("supply") == std::string::npos);
    // Its meter is set to nothing then.
    CHECK(of_flow("spare", "closed").find("supply of argon") != std::string::npos);
    CHECK(of_flow("spare", "open").find("supply of argon") != std::string::npos);
    CHECK(of_flow("argon").find("supply of argon") != std::string::npos);
    CHECK(of_flow("argon").find("supply of hydrogen") == std::string::npos);
    CHECK(rows(*on("line hydrogen { low_pressure trips }")).find("supply of hydrogen") == std::string::npos);
    // What flows without power must keep the tube safe without that gas.
    auto lost = [&](const std::string& guard) {
        return rows(*on("line argon { low_pressure trips } ; line nitrogen { gas nitrogen ; output 8 ; "
                        "de_energised "
                        "open, " +
                        guard +
                        " ; meter controlled, channel 5 ; flow 1 sccm to 4 slm ; accuracy 2 % of reading ; "
                        "supply 150 "
                        "mbar gauge }"))
            .find("supply of argon");
    };
    CHECK(lost("2 slm to 3 slm") == std::string::npos);
    CHECK(lost("1 sccm to 2 sccm") != std::string::npos);
    // A limit that is never met answers nothing.
    CHECK(rows(*on("interlock hydrogen is open and flow of hydrogen < 0 sccm closes hydrogen, opens argon"))
              .find("supply of hydrogen") != std::string::npos);
    // Nor does one under what its meter, 0.1 slm at least, can tell from nothing.
    const auto watched = [&](const std::string& limit, const std::string& meter = "") {
        return rows(*on("interlock hydrogen is open and flow of hydrogen < " + limit +
                        " closes hydrogen, opens argon" + meter))
                   .find("supply of hydrogen") == std::string::npos;
    };
    CHECK(watched("100 sccm"));
    CHECK_FALSE(watched("99 sccm"));
    CHECK_FALSE(watched("0.000001 sccm"));
    const std::string coarse = " ; line hydrogen { flow 1 sccm to 1 slm ; accuracy 2 % of full_scale }";
    CHECK_FALSE(watched("19 sccm", coarse));
    CHECK(watched("20 sccm", coarse));
    auto held = [&](const std::string& limit) {
        return rows(*on("interlock hydrogen is open and elapsed > " + limit + " closes hydrogen, opens argon"))
                   .find("programme held") == std::string::npos;
    };
    CHECK(held("24 h"));
    CHECK_FALSE(held("100000 h"));
    auto c = on("");
    CHECK(c->row("fault").margin == "needs an interlock");
    CHECK(c->first(Code::needs_interlock).severity == Severity::warning);
    // What a cold tube needs is told by a rule of its own, once for a line.
    CHECK(c->out.has(Code::no_low_temperature_cutoff));
    CHECK(c->first(Code::needs_interlock).message.find("heater lost") == std::string::npos);
    // One that shuts the fuel and opens nothing inert is a cut-off, but no answer to a heater that is lost.
    c = on("interlock hydrogen is open and temperature < 775 degC closes hydrogen");
    CHECK_FALSE(c->out.has(Code::no_low_temperature_cutoff));
    CHECK(c->first(Code::needs_interlock).message.find("heater lost") != std::string::npos);
    // The line that it proposes answers both.
    c = on("");
    const std::string& remedy = c->first(Code::no_low_temperature_cutoff).remedies.at(0);
    c = on(remedy.substr(remedy.find("interlock hydrogen")));
    CHECK_FALSE(c->out.has(Code::no_low_temperature_cutoff));
    CHECK(c->first(Code::needs_interlock).message.find("heater lost") == std::string::npos);
}

TEST_CASE("over a range a hand meter stands where the range may have it, not at its greatest flow") {
    const auto c =
        on("line argon { meter hand ; flow 0.1 slm to 4 slm ; accuracy 2 % of reading ; de_energised open }");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const prove::PowerFailure failure(c->rig(), *c->done.timeline);
    timeline::State state = c->done.timeline->states[c->done.timeline->spans.back().state];
    REQUIRE(state.open[0] != 0);
    const double flow = state.flows[0]; // mol/s
    Interval left = failure(state).discrete.between[0];
    CHECK(left.lo == doctest::Approx(0.98 * flow));
    CHECK(left.hi == doctest::Approx(1.02 * flow));
    // One state for the values from a fifth of it; the meter's error is in the interval.
    state.between = {{0.2 * 0.98 * flow, 1.02 * flow}, 0, 0};
    left = failure(state).discrete.between[0];
    CHECK(left.lo == doctest::Approx(0.196 * flow));
    CHECK(left.hi == doctest::Approx(1.02 * flow));
    // A meter that the recipe does not set may stand anywhere, its error of full scale included.
    const auto unset =
        on("line oxygen { gas argon ; meter hand ; flow 0.1 slm to 1 slm ; accuracy 0 % of reading, "
           "5 % of full_scale ; de_energised open }");
    REQUIRE_MESSAGE(unset->done.complete, unset->all());
    const prove::PowerFailure other(unset->rig(), *unset->done.timeline);
    const Interval any =
        other(unset->done.timeline->states[unset->done.timeline->spans.back().state]).discrete.between[2];
    CHECK(any.lo == 0);
    CHECK(any.hi == doctest::Approx(1.05 * flow_of_slm));
}

TEST_CASE("a line that people work as the temperature goes may stand either way when the power fails") {
    const std::string by_hand = "gas argon ; meter hand ; flow 0.1 slm to 2 slm ; accuracy 2 % of reading ; "
                                "supply 100 mbar gauge }";
    const auto c = on("line extra { " + by_hand + " ; line other { " + by_hand,
                      "keep extra open at 1 slm above 300 degC\nramp to 500 degC at 5 K/min\ndwell 1 h\n");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = *c->done.timeline;
    const auto left = [&](std::string_view name) {
        const auto line =
            std::find_if(t.lines.begin(), t.lines.end(), [&](const auto& l) { return l.name == name; });
        REQUIRE(line != t.lines.end());
        return prove::PowerFailure(c->rig(), t)(t.states[t.spans.back().state])
            .discrete.between[static_cast<std::size_t>(line - t.lines.begin())];
    };
    CHECK(left("extra").lo == 0);
    CHECK(left("extra").hi == doctest::Approx(1.02 * flow_of_slm));
    CHECK(left("other") == Interval{0}); // nobody works that one
}

TEST_CASE("a failure of power counts on no hand meter that the run sets only later") {
    const std::string rig =
        "without line argon ; line argon { gas argon ; output 1 ; de_energised open ; meter hand ; flow 0.1 "
        "slm to 4 "
        "slm ; accuracy 2 % of reading ; supply 150 mbar gauge } ; line nitrogen { gas nitrogen ; output 8 ; "
        "de_energised closed ; meter controlled, channel 5 ; flow 0.1 slm to 4 slm ; accuracy 2 % of reading ; "
        "supply "
        "150 mbar gauge }";
    const auto reduced = [&](const std::string& first, const std::string& last) {
        return on(
            rig,
            first +
                "purge nitrogen at 2 slm until oxygen < 0.5 % and swept > 6 volumes\nramp to 850 degC at 5 "
                "K/min\nlight burner\ndwell 20 min within 3 K\nswitch to hydrogen at 0.5 slm\ndwell 30 "
                "min within 3 K\nswitch to nitrogen at 2 slm\ndwell until flammability < 20 %\nshut "
                "burner\ncool to 300 degC\n" +
                last + "cool to 100 degC\nclose all\n");
    };
    const std::string argon = "switch to argon at 2 slm\n";
    const auto late = reduced("", argon), never = reduced("", ""), early = reduced(argon + "dwell 1 min\n", "");
    for (const Case* c : {late.get(), never.get()}) {
        const Diagnostic& d = c->first(Code::no_inert_on_abort);
        CHECK_MESSAGE(d.severity == Severity::error, c->all());
        CHECK_MESSAGE(d.remedies.at(0).find("let the recipe set it once before:  open argon at 2 slm") !=
                          std::string::npos,
                      d.remedies.at(0));
    }
    CHECK_MESSAGE(early->errors() == "", early->all());
}

TEST_CASE("an oxidiser that falls open beside fuel is told to fall closed, and no more inert gas") {
    const auto c = on("line oxygen { de_energised open, 0.1 slm to 0.2 slm }", safe);
    const Diagnostic& d = c->first(Code::flammable_mixture);
    REQUIRE_MESSAGE(d.remedies.size() == 1, c->all());
    CHECK(d.remedies[0] == "let oxygen fall closed:  de_energised closed");
}
