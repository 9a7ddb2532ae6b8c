#include "compiler/timeline/timeline.hpp"

#include <doctest/doctest.h>

using namespace athanor;
using namespace athanor::timeline;

namespace {

Timeline names() {
    Timeline t;
    t.zones = {"front", "back"};
    t.species = {"nitrogen", "oxygen"};
    t.lines = {{"argon", 1, true, true, false}, {"hydrogen", 0, false, false, true}};
    return t;
}

Term compare(SignalKind kind, Index index, Comparison comparison, Interval value) {
    Term term;
    term.kind = Term::Kind::compare;
    term.left = {kind, index};
    term.comparison = comparison;
    term.value = value;
    return term;
}

Term truth(SignalKind kind, Index index = none) {
    Term term;
    term.left = {kind, index};
    return term;
}

Term join(Term::Kind kind) {
    Term term;
    term.kind = kind;
    return term;
}

std::string text(std::vector<Term> terms) {
    return print(Condition{std::move(terms), {}}, names());
}

} // namespace

TEST_CASE("a condition prints as a person writes it") {
    CHECK(text({}) == "yes");
    CHECK(text({compare(SignalKind::fraction, 1, Comparison::less, 10e-6)}) == "oxygen < 10 ppm");
    CHECK(text({compare(SignalKind::swept, none, Comparison::greater_equal, 5.0)}) == "swept >= 5 volumes");
    CHECK(text({compare(SignalKind::zone_temperature, 1, Comparison::greater, 873.15)}) ==
          "temperature of back > 600 °C");
    CHECK(text({truth(SignalKind::line_open, 0), join(Term::Kind::not_)}) == "argon is closed");
    CHECK(text({truth(SignalKind::burner), join(Term::Kind::not_)}) == "not burner");
}

TEST_CASE("`and` and `or` never stand together without parentheses") {
    std::vector<Term> terms{truth(SignalKind::burner), truth(SignalKind::pump), join(Term::Kind::and_),
                            truth(SignalKind::line_open, 1), join(Term::Kind::or_)};
    CHECK(text(terms) == "(burner and pump) or hydrogen is open");
    terms[2].kind = Term::Kind::or_;
    CHECK(text(terms) == "burner or pump or hydrogen is open");
}

TEST_CASE("a signal beside a signal, with what is added to it") {
    Term term = compare(SignalKind::load_temperature, none, Comparison::less, 5.0);
    term.right_is_signal = true;
    term.right = {SignalKind::setpoint, none};
    CHECK(text({term}) == "temperature of load < setpoint + 5 K");
    term.value = 0.0;
    CHECK(text({term}) == "temperature of load < setpoint");
}

TEST_CASE("a broken condition prints and does not fall over") {
    CHECK(text({join(Term::Kind::and_)}) == "?");
    CHECK(text({compare(SignalKind::fraction, 9, Comparison::less, 0.01)}) == "? < 1 %");
}

TEST_CASE("every field of a timeline is printed, one span a line") {
    Timeline t = names();
    t.recipe = "two", t.title = "Two zones", t.rig = "bench", t.controller = "box";
    t.parameters = {{"peak", "950 °C", true}};
    t.burner = {4, true, false};
    State shut;
    shut.flows = {0, 0};
    shut.open = {false, false};
    State flowing = shut;
    flowing.open[0] = true, flowing.flows[0] = 7.43584e-7 * 100; // 100 sccm
    flowing.burner = flowing.pump = flowing.tube_open = true, flowing.regulated = 500, flowing.armed = 1;
    t.states = {shut, flowing};
    t.thresholds = {{1, 7.43584e-7 * 50, 923.15, true, true, {}}};
    t.conditions = {{{compare(SignalKind::fraction, 1, Comparison::less, 1e-5)}, {}}};
    t.texts = {"load it"};
    t.paths = {"ramp", "purge argon", "cool", "wait", "dwell"};
    t.actions = {{ActionKind::open, 0, 7.43584e-7 * 100, none, 1, {}},
                 {ActionKind::close_all, none, 0, none, 0, {}}};
    auto add = [&](Index path, EndingKind kind, Law first, Law second) {
        timeline::Span span;
        span.path = path, span.state = 1;
        span.ending.kind = kind, span.ending.duration = 3600, span.ending.band = 5,
        span.ending.temperature = 353.15;
        span.ending.condition = 0, span.ending.text = 0,
        span.ending.at_most = kind == EndingKind::certain ? 7200 : 0;
        span.duration = kind == EndingKind::person ? Interval{0, infinity} : Interval{3600, 4000};
        span.actions = path == 0 ? 1 : 0;
        span.defaulted = path == 4;
        t.spans.push_back(span);
        t.laws.push_back(first), t.laws.push_back(second);
    };
    Law hold{LawKind::hold, 873.15, 873.15, 0}, line{LawKind::line, 293.15, 873.15, 1.0 / 12};
    Law off{LawKind::off, 873.15, 353.15, 0}, jump{LawKind::jump, 353.15, 473.15, 0};
    add(0, EndingKind::fixed, line, hold);
    add(1, EndingKind::certain, hold, jump);
    add(2, EndingKind::passes, off, off);
    add(3, EndingKind::person, hold, hold);
    add(4, EndingKind::band, hold, hold);
    t.end_first = 1, t.end_actions = 1;
    t.requirements = {{0, 0, 0, 5, {}}};
    t.expectations = {{0, 2, 0, {}}};
    t.repeats = {{1, 2, 2, {}}};
    t.runs = {{"first", 0, 5}};
    std::string printed = print(t);
    for (const char* expected : {
             "timeline two \"Two zones\" on bench for box\n",
             "parameter peak = 950 °C (given)\n",
             "zones front, back\nspecies nitrogen, oxygen\n",
             "line argon: output 1, open without power\n",
             "line hydrogen: by hand, closed without power, channel, unused\n",
             "burner output 4\npump none\n",
             "threshold 0: hydrogen open at 50 sccm above 650 °C",
             "state s0: all shut\n",
             "state s1: argon open 100 sccm, burner lit, pump on, tube open, held at 5 mbar, threshold 0 "
             "armed\n",
             "0 [ramp] s1 {open argon at 100 sccm => s1} line 20 °C -> 600 °C at 5 K/min | hold 600 °C, for 1 "
             "h, takes 1 h to 1 h 6 min 40 s",
             "1 [purge argon] s1 {} hold 600 °C | jump 80 °C -> 200 °C, until certain(oxygen < 10 ppm) at most "
             "2 h",
             "2 [cool] s1 {} off 600 °C -> 80 °C | off 600 °C -> 80 °C, until measured passes 80 °C",
             "until operator \"load it\", takes any length",
             "for 1 h within 5 K, takes 1 h to 1 h 6 min 40 s, default",
             "end {close all => s0} s0\n",
             "require oxygen < 10 ppm while oxygen < 10 ppm, spans 0 to 5",
             "expect oxygen < 10 ppm, before span 2 after 0 actions",
             "repeat 2 spans from 1, 2 passes",
             "run \"first\", spans 0 to 5\n",
         })
        CHECK_MESSAGE(printed.find(expected) != std::string::npos, expected, "\n", printed);
}
