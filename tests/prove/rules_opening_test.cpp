// The tube that a person opens: pressure and heat.
#include "tests/prove/rules.hpp"

using namespace athanor;
using namespace athanor::prove::test;

namespace {

std::unique_ptr<Case> opened_after(const std::string& before) {
    return on("", before + "wait for operator \"Unload\" with tube open\n");
}

} // namespace

/// The row of the tube's pressure: the policy's row about flammable gas stands before it.
const prove::Row& pressure_row(const Case& c) {
    return c.row("opening_tube", 1);
}

TEST_CASE("opening_tube: evacuated, or filled again") {
    auto empty = opened_after("evacuate to 1 mbar\n");
    CHECK_MESSAGE(empty->errors() == "opening_tube:4", empty->all());
    CHECK(empty->only().message.find("is evacuated, to ") != std::string::npos);
    CHECK(pressure_row(*empty).verdict != plant::Verdict::proven);
    // The room has 980 mbar at least: 100 mbar below it are allowed, and a fill ends no lower than was asked.
    auto filled = [](const std::string& mbar) {
        return opened_after("evacuate to 1 mbar\nbackfill argon at 1 slm to " + mbar + " mbar\n");
    };
    CHECK_MESSAGE(filled("875")->errors() == "opening_tube:5", filled("875")->all());
    CHECK_MESSAGE(filled("885")->errors() == "", filled("885")->all());
    CHECK(pressure_row(*filled("885")).verdict == plant::Verdict::proven);
    auto none = opened_after("");
    CHECK(pressure_row(*none).verdict == plant::Verdict::proven);
}

TEST_CASE("opening_tube: under pressure") {
    // Behind a shut exhaust the tube may come up to its supply, 150 mbar.
    auto shut = [](const std::string& minutes) {
        return on("exhaust shut ; relief 160 mbar gauge",
                  "open argon at 0.1 slm\ndwell " + minutes +
                      " min\nclose all\nwait for operator \"Unload\" with tube open\n");
    };
    CHECK_MESSAGE(shut("30")->errors().find("opening_tube:6") != std::string::npos, shut("30")->all());
    CHECK_MESSAGE(shut("0.1")->errors().find("opening_tube") == std::string::npos, shut("0.1")->all());
}

// The person may come at any time, and until then the tube is shut.
TEST_CASE("opening_tube: what the wait begins with goes on until the tube is opened") {
    const std::string wait = "wait for operator \"Unload\" with tube open\n";
    auto pumped = on("", "start pump\n" + wait);
    CHECK_MESSAGE(pumped->errors() == "opening_tube:4", pumped->all());
    CHECK(on("", "evacuate to 1 mbar\nbackfill argon at 1 slm to ambient\nstart pump\n" + wait)->errors() ==
          "opening_tube:6");
    CHECK(on("", "evacuate to 1 mbar\nbackfill argon at 1 slm to ambient\n" + wait)->errors() == "");
    auto filling = on("", "evacuate to 1 mbar\nstop pump\nopen argon at 1 slm\n" + wait);
    CHECK_MESSAGE(filling->errors() == "opening_tube:6", filling->all());
    CHECK(filling->only().message.find("may be evacuated, to ") != std::string::npos);
    auto filled = on("exhaust shut ; relief 160 mbar gauge", "open argon at 1 slm\n" + wait);
    CHECK_MESSAGE(filled->errors().find("opening_tube:4") != std::string::npos, filled->all());
    CHECK(on("", "open argon at 1 slm\n" + wait)->errors() == "");
    auto heated =
        on("tube { material bare ; inner_diameter 60 mm ; wall 3 mm ; length 1200 mm }",
           "step to 300 degC\n" + wait,
           "material bare { limit 1200 degC source \"test\" ; limit_vacuum 1200 degC source \"test\" }");
    CHECK_MESSAGE(found(*heated, Code::opened_hot, Severity::warning) == "4", heated->all());
}

TEST_CASE("opened_hot: 60 degC, load and sensor's error included") {
    auto cooled = [](const std::string& to) {
        return opened_after("open argon at 1 slm\nramp to 300 degC at 5 K/min\ncool to " + to + " degC\n");
    };
    auto hot = cooled("70");
    CHECK_MESSAGE(hot->errors() == "", hot->all());
    CHECK(found(*hot, Code::opened_hot, Severity::warning) == "6");
    CHECK(hot->row("opened_hot").verdict != plant::Verdict::proven);
    // The boundary stands in the row: what is left above the set-point of a cooling is what the limit must
    // hold.
    const double at_70 = number_behind(hot->row("opened_hot").margin, "at most ");
    CHECK(at_70 > 70);
    CHECK(at_70 < 90);
    auto cold = cooled("40");
    CHECK(found(*cold, Code::opened_hot, Severity::warning) == "");
    CHECK(cold->row("opened_hot").verdict == plant::Verdict::proven);
    // A set-point just as far below and above 60 degC as the bound asks.
    const double gap = number_behind(cold->row("opened_hot").margin, "at most ") - 40;
    CHECK(found(*cooled(std::to_string(60 - gap - 2)), Code::opened_hot, Severity::warning) == "");
    CHECK(found(*cooled("59"), Code::opened_hot, Severity::warning) == "6");
    CHECK(found(*opened_after(""), Code::opened_hot, Severity::warning) == "");
}

TEST_CASE("opened_hot: what is offered leaves the tube cold, and is not in the recipe already") {
    const std::string wait = "wait for operator \"Unload\" with tube open\n";
    for (const std::string& before :
         {std::string("open argon at 1 slm\nramp to 300 degC at 5 K/min\n"),
          std::string("open argon at 1 slm\nramp to 300 degC at 5 K/min\ncool to 59 degC\n"),
          std::string(
              "evacuate to 1 mbar\nramp to 300 degC at 5 K/min\ncool to 50 degC\nbackfill argon at 1 slm "
              "to ambient\n"),
          std::string("open argon at 1 slm\nramp to 300 degC at 5 K/min\ncool to 55 degC\n") + wait}) {
        const std::string slow = "load_lag 1 min to 12 min";
        auto c = on(slow, before + wait);
        REQUIRE_MESSAGE(!found(*c, Code::opened_hot, Severity::warning).empty(), c->all());
        const std::string remedy = c->first(Code::opened_hot).remedies.at(0);
        const std::string step = remedy.substr(remedy.find(":  ") + 3);
        CAPTURE(step);
        CHECK(before.find(step) == std::string::npos);
        const std::size_t first = before.find(wait); // the first opening that may be hot
        auto mended =
            on(slow, first == std::string::npos ? before + step + "\n" + wait
                                                : before.substr(0, first) + step + "\n" + wait + wait);
        CHECK_MESSAGE(found(*mended, Code::opened_hot, Severity::warning).empty(), mended->all());
    }
}

TEST_CASE("opened_hot: a quench is not told to cool first") {
    auto c = on("", "open argon at 1 slm\nramp to 300 degC at 5 K/min\nquench in water\n");
    REQUIRE_MESSAGE(found(*c, Code::opened_hot, Severity::warning) == "5", c->all());
    CHECK(c->first(Code::opened_hot).remedies.empty());
    CHECK(c->first(Code::opened_hot).causes.back().find("a quench is done hot on purpose") == 0);
}

TEST_CASE("opening_tube: a shut tube throws its cap") {
    // A relief at 130 mbar lets go of what is beyond 143 mbar (1.1 times, common practice), and holds back the
    // rest. 50 N on 55 mm are 210 mbar and on 210 mm 14 mbar; 50 mbar is the most (common practice, no source).
    const auto filled = [](const std::string& tube, const std::string& relief) {
        return on("exhaust shut ; relief " + relief + " mbar gauge" + tube,
                  "open argon at 2 slm\ndwell 2 h\nclose argon\nwait for operator \"Load\" with tube open\n");
    };
    const std::string wide =
        " ; tube { material fused_quartz ; inner_diameter 200 mm ; wall 5 mm ; length 1500 mm }";
    const auto thrown = filled("", "130");
    CHECK_MESSAGE(thrown->errors() == "opening_tube:6", thrown->all());
    CHECK(thrown->only().message.find("143 mbar gauge") != std::string::npos);
    CHECK_MESSAGE(filled("", "46")->errors() == "opening_tube:6", filled("", "46")->all());
    CHECK_MESSAGE(filled("", "45")->errors() == "", filled("", "45")->all());
    CHECK(filled(wide, "45")->errors() == "opening_tube:6");
    CHECK(filled(wide, "13")->errors() == "");
    CHECK(filled(wide, "45")->only().remedies.at(1).find("13 mbar gauge") != std::string::npos);
    // A tube that was never filled stands at the room's pressure, whatever the day's.
    CHECK(on("exhaust shut ; relief 130 mbar gauge", "wait for operator \"Load\" with tube open\n")->errors() ==
          "");
}

TEST_CASE("opening_tube: a rig without inert gas is advised no line") {
    const auto c =
        run("use \"rigs.ath\" ; rig special from small { without line argon }\nrecipe r on special {\n"
            "evacuate to 1 mbar\nwait for operator \"Unload\" with tube open\n}\n");
    CHECK_MESSAGE(c->errors() == "opening_tube:4", c->all());
    for (const std::string& remedy : c->only().remedies)
        CHECK_MESSAGE(remedy.find("backfill") == std::string::npos, remedy);
}
