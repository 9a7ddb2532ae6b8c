// Names and figures of everyday speech, which read well and mean nothing: one finding each, and a way on.
#include "recipes_support.hpp"

namespace {

struct Slip {
    std::string line, finding, remedy;
};

void check(const Slip& slip, const std::string& before = "") {
    CAPTURE(slip.line);
    Checked c(before + recipe_with(slip.line));
    CHECK(c.out.errors() == 1);
    REQUIRE(!c.out.empty());
    CHECK(c.out.all().front().message == slip.finding);
    CHECK(c.remedies() == slip.remedy + "\n");
}

const std::string room =
    "the room's temperature is no target: a furnace that cools by itself comes near it and never there";
const std::string room_way = "write the temperature at which the run may end, such as `cool to 50 degC`";

} // namespace

TEST_CASE("figures in the units of another habit") {
    for (const Slip& slip :
         {Slip{"dwell 90m", "`dwell` takes a time; `90m` is a length", "write `90 min`"},
          {"ramp to 700 degC at 3 K/m", "`at` takes a rate (temperature per time); `3 K/m` is m^-1 K",
           "write `3 K/min`"},
          {"dwell 1/2 h", "`dwell` takes a time; `1/2 h` is a frequency (number per time)", "perhaps `0.5 h`"},
          {"ramp to 700 degC at 5 K",
           "`at` takes a rate (temperature per time); `5 K` is a difference of temperature",
           "perhaps `5 K/min`"},
          {"dwell 5 min and 30 s", "`and` joins conditions; `5 min` and `30 s` are figures",
           "one time is written `5 min 30 s`"},
          {"dwell until 700 degC", "`until` takes a condition; `700 degC` is a temperature",
           "say what is compared with it: `temperature > 700 degC`"},
          {"ramp to 700 degC within 2 h", "`within` takes a difference of temperature; `2 h` is a time",
           "the time of a ramp stands behind `over`: `over 2 h`"},
          {"cool to ambient", room, room_way},
          {"cool to rt", room, room_way},
          {"cool to room_temperature", room, room_way}})
        check(slip);
    CHECK(Checked(recipe_with("dwell 5 min and 30 s")).mended() == recipe_with("dwell 5 min 30 s"));
    // Where a time or a rate is due no metre can be meant.
    CHECK(Checked(recipe_with("dwell 90m")).mended() == recipe_with("dwell 90 min"));
    CHECK(Checked(recipe_with("ramp to 700 degC at 3 K/m")).mended() ==
          recipe_with("ramp to 700 degC at 3 K/min"));
    CHECK(Checked(recipe_with("dwell 90mm")).mended() == "nothing was offered");
}

TEST_CASE("names that are cut short, and what no line is") {
    check({"require temp < 900 degC", "nothing is called `temp`", "`temperature` is declared"});
    check(
        {"let x : temp = 5 degC\nramp to x at 1 K/min", "no type is called `temp`", "`temperature` is a type"});
    check({"set temperature to 700 degC",
           "`set` changes the flow of a line; the set-point is moved with `ramp`, `heat` or `step`",
           "write `ramp to 700 degC at RATE`, or `step to 700 degC` at once"});
    // The grammar has told the capital letter.
    check({"Foo(3 h)", "the name `Foo` has a capital letter; names are lower case", "write `foo`"},
          "operation foo(t : time) {\ndwell t\n}\n");
}

TEST_CASE("an import that cannot be read hides what it would have declared") {
    const std::string bench = "rig bench { }\n";
    const std::string rest = "\nrecipe r on bench { dwell 5 min }\n";
    for (const std::string line : {"import \"b.ath\"", "use b.ath", "include \"b.ath\""}) {
        CAPTURE(line);
        Checked c(Checked::Texts{{"t.ath", line + rest}, {"b.ath", bench}}, ".");
        CHECK(c.out.errors() == 1);
        CHECK(c.findings().find("[syntax]") != std::string::npos);
    }
    Checked inside("recipe r on bench {\n    use \"b.ath\"\n    dwell 5 min\n}\n");
    CHECK(inside.out.errors() == 1);
    Checked none(rest);
    CHECK(none.remedies() == "declare it, or import the file that does with `use \"FILE\"`\n");
}

TEST_CASE("a flow without its unit is offered in that of its line's meter") {
    const std::string rig = Checked::read(std::string(ATHANOR_ROOT) + "/recipes/rigs/quartz_bench.ath");
    const auto remedy = [&](const std::string& line) {
        Checked c(Checked::Texts{{"t.ath", "use \"rig.ath\"\n" + recipe_with(line)}, {"rig.ath", rig}}, ".");
        return c.remedies();
    };
    CHECK(remedy("open argon at 2.5").starts_with("perhaps `2.5 L/min`\n"));
    CHECK(remedy("open hydrogen at 400").starts_with("perhaps `400 sccm`\n"));
    CHECK(remedy("set argon to 2.5").starts_with("perhaps `2.5 L/min`\n"));
    CHECK(remedy("open argon at 250").starts_with("perhaps `250 sccm`\n")); // no figure of its meter
}

TEST_CASE("what was not understood at the head of a recipe is told once, and nothing that follows from it") {
    const auto count = [](const std::string& text) {
        const Checked c(text);
        CAPTURE(c.findings());
        return c.out.errors();
    };
    const std::string body =
        " {\n    dwell soak\n    ramp to peak at 5 K/min\n}\ntest \"x\" {\n    bright_anneal(peak = "
        "900 degC) is proven\n}\n";
    const std::string parameters = "(\n    peak : temperature = 880 degC,\n    soak : time = 1 h\n)";
    REQUIRE(count("recipe bright_anneal \"title\"" + parameters + body) == 0);
    CHECK(count("recipe bright-anneal \"title\"" + parameters + body) == 1);
    CHECK(count("recipe bright_anneal \"title" + parameters + body) == 1);
    CHECK(count("recipe bright_anneal(temperature peak = 880 degC, soak : time = 1 h)" + body) == 1);
    CHECK(count("recipe bright_anneal(peak : temperature = 880 degC\n    soak : time = 1 h)" + body) == 1);
}
