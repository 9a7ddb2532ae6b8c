#include "recipes_support.hpp"

using namespace athanor;
using check::EventKind;
using check::Op;
using check::RuleForm;

namespace {

const check::Rule& rule(const Checked& c, std::string_view name) {
    for (const check::Rule& r : c.model.rules)
        if (r.name == name) return r;
    FAIL("no rule is called " << std::string(name));
    return c.model.rules.front();
}

std::string policy(const std::string& body) {
    return "policy site {\n" + body + "\n}\n";
}

} // namespace

TEST_CASE("the standard policy is read, each of its rules named like a diagnostic") {
    const Checked c("recipe r { dwell 1 h }\n");
    REQUIRE(c.model.rules.size() >= 3);
    for (const check::Rule& r : c.model.rules) {
        INFO(r.name);
        CHECK(r.standard);
        CHECK(code_named(r.name).has_value());
        CHECK_FALSE(r.sources.empty());
    }
    const check::Rule& ignition = rule(c, "flammable_below_ignition");
    REQUIRE(ignition.requires_.size() == 1);
    const check::RuleRequire& r = ignition.requires_[0];
    CHECK(r.form == RuleForm::from_until);
    CHECK(r.event.kind == EventKind::opening_hazard);
    CHECK(r.event.hazard == check::Hazard::flammable);
    CHECK(c.model.exprs[c.model.exprs[r.require].b].op == Op::hazard_safety_temperature);
    CHECK(c.model.exprs[c.model.exprs[r.until].a].op == Op::hazard_closed);
}

TEST_CASE("every form of a rule and every event") {
    Checked c(
        policy(R"(rule one "First" { require pressure < 1 bar while inert is open ; because "b" ; source "s" }
rule two { require burner before opening toxic }
rule three { require pump from closing hydrogen until hydrogen < 1 % }
rule four { require flammability < 25 % after abort until elapsed > 1 h }
rule five { require oxygen < 1 % before heating above 300 degC }
rule six { require oxygen < 1 % before opening tube }
rule seven { require temperature < 60 degC before end }
rule eight { require temperature < 60 degC before start }
rule nine { require argon is closed before evacuating })") +
        "recipe r { dwell 1 h }\n");
    REQUIRE(c.findings() == "");
    const auto event = [&](std::string_view name) { return rule(c, name).requires_.at(0).event; };
    CHECK(rule(c, "one").title == "First");
    CHECK(rule(c, "one").because == "b");
    CHECK_FALSE(rule(c, "one").standard);
    CHECK(rule(c, "one").requires_[0].form == RuleForm::always);
    CHECK(rule(c, "one").requires_[0].guard != 0);
    CHECK(event("two").kind == EventKind::opening_hazard);
    CHECK(event("two").hazard == check::Hazard::toxic);
    CHECK(rule(c, "two").requires_[0].form == RuleForm::before);
    CHECK(event("three").kind == EventKind::closing);
    CHECK(c.model.names[event("three").line.name] == "hydrogen");
    CHECK(rule(c, "four").requires_[0].form == RuleForm::after_abort);
    CHECK(event("four").kind == EventKind::abort);
    CHECK(event("five").kind == EventKind::heating_above);
    CHECK(c.number(event("five").temperature) == doctest::Approx(573.15).scale(0));
    CHECK(event("six").kind == EventKind::opening_tube);
    CHECK(event("seven").kind == EventKind::end);
    CHECK(event("eight").kind == EventKind::start);
    CHECK(event("nine").kind == EventKind::evacuating);
}

TEST_CASE("rules that are wrong are told at their place") {
    CHECK(Checked(policy("rule a { require oxygen }\nrule a { require burner }\nrule burner_off { require "
                         "burner }\nrule tube_shock { require burner }\nrule b { because \"x\" }") +
                  "recipe r { dwell 1 h }\n")
              .findings() ==
          "t.ath:2:18: error: `require` takes a condition; `oxygen` is a fraction [unit_mismatch]\n"
          "t.ath:4:6: error: rule `burner_off` is declared already in the standard policy [duplicate_name]\n"
          "t.ath:5:6: error: `tube_shock` is a check of the compiler [duplicate_name]\n"
          "t.ath:6:6: error: rule `b` requires nothing [value_missing]\n");
}

TEST_CASE("a concession relaxes a rule of the standard policy only, and none about flammable gas") {
    const auto conceded = [](const std::string& text) {
        return Checked(policy(text) + "recipe r { dwell 1 h }\n").findings();
    };
    CHECK(conceded("concession burner_off because \"a\" approved \"b\"") ==
          "t.ath:2:12: error: rule `burner_off` cannot be conceded: it belongs to the group flammable gas "
          "[misplaced]\n");
    CHECK(conceded("concession burner_of because \"a\" approved \"b\"") ==
          "t.ath:2:12: error: no rule is called `burner_of` [unknown_name]\n");
    CHECK(conceded("concession tube_shock because \"a\" approved \"b\"") ==
          "t.ath:2:12: error: `tube_shock` is a check of the compiler, not a rule: it cannot be conceded "
          "[misplaced]\n");
    CHECK(conceded("rule own { require burner }\nconcession own because \"a\" approved \"b\"") ==
          "t.ath:3:12: error: rule `own` is a site's own, not of the standard policy [misplaced]\n");
    const std::string one = "concession condensation because \"a trap\" approved \"b\"\n";
    CHECK(conceded(one) == "");
    CHECK(conceded(one + "concession condensation because \"no harm\" approved \"c\"") ==
          "t.ath:3:12: error: `condensation` is conceded twice [duplicate_name]\n");
    CHECK(conceded(one + "concession material_attacked because \"a spare\" approved \"b\"") == "");
    CHECK(conceded("concession burner_off because \"a\"")
              .find("a concession needs who approved it: `approved \"…\"` [value_missing]") !=
          std::string::npos);
    CHECK(conceded("concession burner_off approved \"a\"")
              .find("a concession needs its reason: `because \"…\"` [value_missing]") != std::string::npos);
}

TEST_CASE("no rule about flammable gas or a failure can be conceded, one by one") {
    const std::vector<Code> codes{
#define CODE(name, group, severity, meaning) Code::name,
#include "compiler/source/codes.def"
#undef CODE
    };
    std::size_t guarded = 0;
    for (const Code code : codes) {
        const std::string name(athanor::name(code));
        CAPTURE(name);
        const std::string said =
            Checked(policy("concession " + name + " because \"a\" approved \"b\"") + "recipe r { dwell 1 h }\n")
                .findings();
        // What harms rig and load alone.
        const bool may = name == "condensation" || name == "material_attacked";
        CHECK((said.find("[misplaced]") == std::string::npos) == may);
        if (group(code) != Group::flammable_gas && group(code) != Group::any_fault) continue;
        ++guarded;
        CHECK(said.find("cannot be conceded: it belongs to the group") != std::string::npos);
    }
    CHECK(guarded >= 17);
    // Whatever the standard policy asks stands in one of these two groups, under the name of its code.
    Checked c("recipe r { dwell 1 h }\n");
    std::size_t standard = 0;
    for (const check::Rule& rule : c.model.rules) {
        if (!rule.standard) continue;
        ++standard;
        CAPTURE(rule.name);
        const auto code = code_named(rule.name);
        REQUIRE(code);
        CHECK((group(*code) == Group::flammable_gas || group(*code) == Group::any_fault));
    }
    CHECK(standard >= 12);
}

TEST_CASE("policies of imported files apply, also through another import") {
    Checked c(Checked::Texts{{"t.ath", "use \"b.ath\"\nrecipe r { dwell 1 h }\n"},
                             {"b.ath", "use \"c.ath\"\n"},
                             {"c.ath", policy("rule far { require burner before start }")}},
              ".");
    CHECK(c.findings() == "");
    CHECK(rule(c, "far").requires_.size() == 1);
}

TEST_CASE("the condition of an interlock is read as in the file of its rig") {
    const std::string rig =
        Checked::read(std::filesystem::path(ATHANOR_ROOT) / "tests/examples/rigs/bench_two.ath");
    Checked c(
        Checked::Texts{{"t.ath", "use \"rig.ath\"\nrecipe r on bench_two { dwell 1 h }\n"}, {"rig.ath", rig}},
        ".");
    REQUIRE(c.findings() == "");
    const check::Rig& bench = c.model.rigs[c.recipe().rig_index];
    REQUIRE(bench.interlocks.size() == 1);
    const check::Expr& root = c.model.exprs[bench.interlocks[0].condition];
    CHECK(root.op == Op::and_);
    CHECK(c.model.exprs[root.a].signal == timeline::SignalKind::line_open);
    CHECK(c.model.exprs[root.b].op == Op::less);

    std::string wrong = rig;
    wrong.replace(wrong.find("hydrogen is open and"), 20, "hydrogem is open and");
    Checked bad(
        Checked::Texts{{"t.ath", "use \"rig.ath\"\nrecipe r on bench_two { dwell 1 h }\n"}, {"rig.ath", wrong}},
        ".");
    CHECK(bad.findings().find("error: no line and no gas is called `hydrogem` [unknown_name]") !=
          std::string::npos);
}

TEST_CASE("tests of the language: verdicts, values, and operations by themselves") {
    const std::string rig =
        Checked::read(std::filesystem::path(ATHANOR_ROOT) / "tests/examples/rigs/bench_two.ath");
    Checked c(Checked::Texts{{"t.ath", R"(use "rig.ath"
recipe r(peak : temperature in 900 degC to 980 degC = 950 degC, soak : time = 45 min) { ramp to peak at 1 K/min ; dwell soak }
test "limits" {
    r(peak = 980 degC) is proven
    r(1020 degC) is refused by parameter_out_of_range
    r on bench_two is proven and duration < 30 h and segments <= 17 and programs > 0
    inert_purge(limit = 5 ppm) on bench_two is proven
    r is refused
}
)"},
                             {"rig.ath", rig}},
              ".");
    REQUIRE(c.findings() == "");
    REQUIRE(c.model.tests.size() == 1);
    const auto& lines = c.model.tests[0].lines;
    REQUIRE(lines.size() == 5);
    CHECK(c.model.own_recipes == 1);
    CHECK(lines[0].recipe == 0);
    REQUIRE(lines[0].arguments.size() == 1);
    CHECK(c.model.names[lines[0].arguments[0].first] == "peak");
    CHECK(lines[1].verdicts[0].rule == "parameter_out_of_range");
    REQUIRE(lines[2].verdicts.size() == 4);
    CHECK(lines[2].verdicts[1].value == doctest::Approx(108000).scale(0));
    CHECK(lines[2].verdicts[2].measure == check::TestVerdict::Measure::segments);
    CHECK(lines[2].verdicts[2].comparison == timeline::Comparison::less_equal);
    CHECK(c.model.names[lines[2].rig.name] == "bench_two");
    const check::Recipe& wrapped = c.model.recipes.at(lines[3].recipe);
    CHECK(lines[3].recipe >= c.model.own_recipes);
    CHECK(wrapped.rig_index != check::none);
    CHECK(c.model.statements[wrapped.body].kind == check::StatementKind::call);
    CHECK_FALSE(wrapped.broken);
    CHECK(lines[4].verdicts[0].rule == "");
}

TEST_CASE("tests that are wrong are told at their place") {
    const auto tested = [](const std::string& line) {
        return Checked("recipe r(p : time = 1 h) { dwell p }\ntest \"x\" {\n" + line + "\n}\n").findings();
    };
    CHECK(tested("s is proven") == "t.ath:3:1: error: no recipe is called `s` [unknown_name]\n");
    CHECK(tested("r(q = 1 h) is proven") == "t.ath:3:3: error: `r` has no parameter `q` [unknown_name]\n");
    CHECK(tested("r(p = 5 K) is proven") ==
          "t.ath:3:7: error: `p` takes a time; `5 K` is a difference of temperature [unit_mismatch]\n");
    CHECK(tested("r is refused by nothing_known") ==
          "t.ath:3:17: error: no rule and no check is called `nothing_known` [unknown_name]\n");
    CHECK(tested("r is proven and duration < 5 K") ==
          "t.ath:3:28: error: `duration` takes a time; `5 K` is a difference of temperature [unit_mismatch]\n");
    CHECK(tested("r is proven and length < 5 m") ==
          "t.ath:3:17: error: a test does not measure `length` [unknown_name]\n");
    CHECK(tested("r on nowhere is proven") == "t.ath:3:6: error: no rig is called `nowhere` [unknown_name]\n");
    CHECK(tested("inert_purge() is proven") ==
          "t.ath:3:1: error: operation `inert_purge` runs on no rig here [value_missing]\n");
}
