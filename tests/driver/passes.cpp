// Words of single passes, and lines that follow the temperature, from the recipe to the bytes of the table.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

#include <random>

namespace {

std::string on_muffle(const std::string& steps) {
    return "use \"rigs/muffle_tube.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
           "recipe r on muffle_tube for bench_twenty_five {\n    ramp to 300 degC at 2 K/min\n" +
           steps + "\n    cool to 60 degC\n}\n";
}

/// One word of a list, by dice that are the same on every machine.
class Dice {
public:
    explicit Dice(unsigned seed) : engine_(seed) {}
    unsigned below(unsigned n) { return static_cast<unsigned>(engine_() % n); }
    std::string of(const std::vector<std::string>& list) {
        return list[below(static_cast<unsigned>(list.size()))];
    }

private:
    std::mt19937 engine_;
};

/// Steps with lines that are kept open or closed above or below a temperature, armed and not.
std::string random_keep(Dice& dice) {
    const std::string controller = dice.of({"bench_twenty_five", "timed_sixty_four", "single_twelve"});
    std::string text = "use \"rigs/quartz_bench.ath\"\nuse \"controllers/" + controller +
                       ".ath\"\nrecipe r on quartz_bench for " + controller + " {\n";
    if (dice.below(5) > 0) text += "    purge argon at 2.4 slm until oxygen < 50 ppm\n";
    const bool own_block = dice.below(4) > 0;
    if (own_block) text += "    repeat 1 times {\n";
    const std::string line = dice.of({"forming", "forming", "argon"});
    text += "    keep " + line + dice.of({" open", " closed"}) + " at " + (line == "argon" ? "2.4" : "0.5") +
            " slm " + dice.of({"above ", "below "}) + dice.of({"150", "300", "350"}) + " degC\n";
    text += dice.of({"    ramp to 400 degC at 5 K/min\n    dwell 20 min within 5 K\n",
                     "    ramp to 400 degC at 5 K/min\n    cool to 320 degC at 0.5 K/min\n",
                     "    ramp to 400 degC at 5 K/min\n    cool to 200 degC\n",
                     "    ramp to 300 degC at 5 K/min\n    note \"look\"\n    dwell 10 min\n"});
    if (own_block) text += "    }\n";
    if (dice.below(3) == 0) text += dice.of({"    open argon at 2.4 slm\n", "    dwell 5 min\n"});
    return text + "    cool to 80 degC\n" + (dice.below(2) == 0 ? "    close all\n" : "") + "}\n";
}

} // namespace

TEST_CASE("a note is read as often as its recipe says it, wherever a repeat begins and ends") {
    const std::string pass = "dwell 1 h within 5 K\ndwell 30 min\n", note = "note \"add 5 g of flux\"\n";
    struct Pair {
        std::string folded, by_hand;
    };
    const std::string thrice = "repeat 3 times {\n";
    const std::vector<Pair> same{
        {note + thrice + pass + "}", note + pass + pass + pass},
        {thrice + note + pass + "}", note + pass + note + pass + note + pass},
        {thrice + pass + note + "}", pass + note + pass + note + pass + note},
        {thrice + pass + "}\n" + note + pass, pass + pass + pass + note + pass},
        {"repeat 2 times {\n" + note + thrice + pass + "}\n}",
         note + pass + pass + pass + note + pass + pass + pass},
        {thrice + pass + "wait for operator \"take a sample\"\n}",
         pass + "wait for operator \"take a sample\"\n" + pass + "wait for operator \"take a sample\"\n" +
             pass + "wait for operator \"take a sample\"\n"},
    };
    Workshop scratch;
    for (std::size_t i = 0; i < same.size(); ++i) {
        CAPTURE(same[i].folded);
        scratch.write("folded.ath", on_muffle(same[i].folded));
        scratch.write("by_hand.ath", on_muffle(same[i].by_hand));
        const Result built = athanor({"build", "folded.ath", "-o", "f"}, scratch.path());
        REQUIRE_MESSAGE(built.status == 0, built.err);
        REQUIRE(athanor({"build", "by_hand.ath", "-o", "h"}, scratch.path()).status == 0);
        CHECK(athanor({"replay", "f/r.csv", "by_hand.ath"}, scratch.path()).status == 0);
        CHECK(athanor({"replay", "h/r.csv", "folded.ath"}, scratch.path()).status == 0);
        // Nobody takes one of these recipes for another.
        scratch.write("other.ath", on_muffle(same[(i + 1) % 3].folded));
        if (i < 3) {
            const Result other = athanor({"replay", "f/r.csv", "other.ath"}, scratch.path());
            CHECK(other.status == 1);
            CHECK_MESSAGE(other.err.find("add 5 g of flux") != std::string::npos, other.err);
        }
        const Result lifted = athanor({"lift", "f/r.csv", "--rig", "rigs/muffle_tube.ath", "--controller",
                                       "controllers/bench_twenty_five.ath", "-o", "lifted.ath"},
                                      scratch.path());
        CHECK_MESSAGE(lifted.status == 0, lifted.err);
        const Result replayed = athanor({"replay", "h/r.csv", "lifted.ath"}, scratch.path());
        CHECK_MESSAGE(replayed.status == 0, replayed.err);
    }
}

TEST_CASE("whatever is kept above or below a temperature: what is proven is built") {
    Dice dice(2);
    Workshop scratch;
    int proven = 0;
    for (int i = 0; i < 60; ++i) {
        const std::string text = random_keep(dice);
        CAPTURE(text);
        scratch.write("r.ath", text);
        const Result built = athanor({"build", "r.ath", "-o", "out"}, scratch.path());
        CHECK_MESSAGE(built.status <= 1, built.err);
        if (built.status == 0) ++proven;
        if (built.status == 1) CHECK(athanor({"check", "r.ath"}, scratch.path()).status == 1);
    }
    CHECK(proven > 10);
    // Shut above is open below: in the cold purge nothing would hold it shut.
    scratch.write("r.ath", "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                           "recipe r on quartz_bench for bench_twenty_five {\n"
                           "    purge argon at 2.4 slm until oxygen < 50 ppm\n    repeat 1 times {\n"
                           "        keep forming closed at 0.5 slm above 300 degC\n"
                           "        ramp to 400 degC at 5 K/min\n        cool to 200 degC\n    }\n"
                           "    cool to 80 degC\n}\n");
    const Result refused = athanor({"check", "r.ath"}, scratch.path());
    CHECK(refused.status == 1);
    CHECK_MESSAGE(refused.err.find("[too_many_outputs]") != std::string::npos, refused.err);
}

TEST_CASE("a repeat that a person ends lasts from one pass to all of them") {
    Workshop scratch;
    scratch.write("r.ath", "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                           "recipe r on quartz_bench_inert for bench_twenty_five {\n"
                           "    open argon at 2.4 slm\n    ramp to 500 degC at 2 K/min\n"
                           "    repeat until operator accepts \"single phase\" at most 3 times {\n"
                           "        dwell 10 h\n    }\n    cool to 60 degC\n    close all\n}\n"
                           "test \"all passes\" { r() is proven and duration > 34 h }\n"
                           "test \"one pass\" { r() is proven and duration > 14 h and duration < 48 h }\n");
    const Result test = athanor({"test", "r.ath"}, scratch.path());
    CHECK_MESSAGE(test.out.find("1 passed, 1 failed") != std::string::npos, test.out);
    const Result built = athanor({"build", "r.ath", "--to", "json,markdown", "-o", "."}, scratch.path());
    REQUIRE_MESSAGE(built.status == 0, built.err);
    CHECK(athanor({"replay", "r.json", "r.ath"}, scratch.path()).status == 0);
    CHECK(athanor({"replay", "r.json"}, scratch.path()).status == 0);
    const auto range = [&](const std::string& key) {
        const std::string json = scratch.read("r.json");
        std::size_t at = json.find("\"" + key + "\": [", json.find("\"totals\""));
        REQUIRE(at != std::string::npos);
        at = json.find('[', at) + 1;
        std::size_t used = 0;
        const double least = std::stod(json.substr(at), &used);
        return std::pair{least, std::stod(json.substr(json.find(',', at + used) + 1))};
    };
    const auto [least, most] = range("duration_s");
    CHECK(most - least > 20 * 3600);
    CHECK(most - least < 26 * 3600);
    const auto [gas_least, gas_most] = range("argon");
    CHECK(gas_most > 1.8 * gas_least);
    const auto [energy_least, energy_most] = range("energy_kWh");
    CHECK(energy_most > energy_least);
}
