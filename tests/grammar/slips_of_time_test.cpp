// Slips of times: behind a target, in words, and minutes that are written as metres.
#include "tests/grammar/slips.hpp"

namespace athanor::grammar_test {

TEST_CASE("a time behind a target is the ramp's or that of a hold, and no edit decides it") {
    const auto two = [](const std::string& time, const std::string& what = "ramp") {
        return std::pair{"`" + time +
                             "` behind a target is unclear: the time of a ramp follows `over`, and a set-point "
                             "is held with `dwell`",
                         "write `over " + time + "` where the " + what + " is to take that long, or `dwell " +
                             time + "` on a line of its own behind it"};
    };
    const auto row = [](const char* line, const std::pair<std::string, std::string>& said) {
        return Row{line, said.first, said.second, ""};
    };
    const std::pair<std::string, std::string> has_rate{
        "`ramp` has its rate already, and a set-point is held with `dwell`",
        "write `dwell 2 h` on a line of its own behind it"};
    const auto fast = [](const std::string& head) {
        return std::pair{
            "`" + head +
                " to` takes no time: a set-point is held with `dwell`, and the time of a ramp follows "
                "`over`",
            std::string("write `dwell 2 h` on a line of its own behind it, or `ramp to 500 degC over "
                        "2 h` where it is to take that long")};
    };
    for (const Row& r :
         {row("ramp to 500 degC, 2 h", two("2 h")), row("ramp to 500 degC 2 h", two("2 h")),
          row("ramp to 500 degC for 2 h", two("2 h")), row("ramp to 500 degC for about 2 h", two("2 h")),
          row("ramp front to 500 degC, 2 h", two("2 h")), row("ramp to 500 degC 2 h 30 min", two("2 h 30 min")),
          row("cool to 100 degC, 2 h", two("2 h", "cooling")),
          row("ramp to 500 degC at 3 K/min, 2 h", has_rate), row("ramp to 500 degC at 3 K/min 2 h", has_rate),
          row("ramp to 500 degC at 3 K/min for 2 h", has_rate),
          row("ramp to 500 degC at 3 K/min in 2 h", has_rate), row("heat to 500 degC 2 h", fast("heat")),
          row("heat to 500 degC, 2 h", fast("heat")), row("heat to 500 degC for 2 h", fast("heat")),
          row("step to 500 degC 2 h", fast("step"))})
        check(r);
    check(
        {"ramp(500 degC, 2 h)", "`ramp` is a word of the language, and takes no parentheses",
         "write `ramp to 500 degC over 2 h` where it is to take that long, or `dwell 2 h` on a line of its own "
         "behind it",
         ""});
    check({"ramp(500 degC, 3 K/min, 2 h)", "`ramp` is a word of the language, and takes no parentheses",
           "write `ramp to 500 degC at 3 K/min`, and `dwell 2 h` on a line of its own behind it", ""});
    // The nearest that are sure: the word says which time it is, or the figure is a rate.
    for (const auto& [line, mended] :
         {std::pair{"heat to 500 degC, hold 2 h", "heat to 500 degC ; dwell 2 h"},
          std::pair{"step to 500 degC and hold 2 h", "step to 500 degC ; dwell 2 h"},
          std::pair{"cool to 500 degC, soak for 2 h", "cool to 500 degC ; dwell 2 h"},
          std::pair{"ramp to 500 degC at 3 K/min, then hold 2 h", "ramp to 500 degC at 3 K/min ; dwell 2 h"}})
        check({line, "a set-point is held with `dwell`, a step of its own",
               "write `dwell 2 h` on a line of its own behind it", mended});
    check({"ramp to 500 degC in 2 h", "the time of a ramp follows `over`", "write `over`",
           "ramp to 500 degC over 2 h"});
    check({"ramp to 500 degC, 3 K/min", "`at` stands before `3 K/min`, no comma", "write `at 3 K/min`",
           "ramp to 500 degC at 3 K/min"});
    check({"heat to 500 degC 3 K/min", "`heat to` goes as fast as the furnace can and takes no rate or time",
           "a rate or a time belongs to `ramp`", "ramp to 500 degC at 3 K/min"});
}

TEST_CASE("minutes that are written as metres") {
    const auto told = [](const std::string& line) { return Read(recipe(line)); };
    for (const Row& row : {Row{"dwell 30 M", "unknown unit `M`", "write `30 min`", "dwell 30 min"},
                           Row{"dwell 30M", "unknown unit `M`", "write `30 min`", "dwell 30 min"},
                           Row{"ramp to 500 degC over 30 M", "unknown unit `M`", "write `30 min`",
                               "ramp to 500 degC over 30 min"},
                           Row{"ramp to 500 degC at 3 K/M", "unknown unit `K/M`", "write `3 K/min`",
                               "ramp to 500 degC at 3 K/min"},
                           Row{"ramp to 500 degC at 3 C/m", "unknown unit `C/m`", "write `3 degC/min`",
                               "ramp to 500 degC at 3 degC/min"},
                           Row{"ramp to 500 degC at 3 °C/m", "unknown unit `°C/m`", "write `3 °C/min`",
                               "ramp to 500 degC at 3 °C/min"},
                           // Where another thing than a time may be due nothing is sure.
                           Row{"let x = 30 M", "unknown unit `M`", "perhaps `30 min`", ""},
                           Row{"let x = 3 K/M", "unknown unit `K/M`", "perhaps `3 K/min`", ""}}) {
        check(row);
        CHECK(told(row.line).diagnostics.all().front().causes ==
              std::vector<std::string>{"`m` is the metre; a minute is `min`"});
    }
    CHECK(told("let x = 30 m").messages() == "");
}

TEST_CASE("times as people speak them, and figures that are meant roughly") {
    constexpr const char* figure = "a time is written with a figure and its unit";
    for (const Row& row :
         {Row{"dwell half an hour", figure, "write `30 min`", "dwell 30 min"},
          Row{"dwell an hour and a half", figure, "write `1 h 30 min`", "dwell 1 h 30 min"},
          Row{"dwell an hour", figure, "write `1 h`", "dwell 1 h"},
          Row{"dwell one and a half hours", figure, "write `1 h 30 min`", "dwell 1 h 30 min"},
          Row{"dwell one and a half hour", figure, "write `1 h 30 min`", "dwell 1 h 30 min"},
          Row{"dwell two and a half hours", figure, "write `2 h 30 min`", "dwell 2 h 30 min"},
          Row{"dwell 2 hours and a half", "unknown unit `hours`", "write `2 h 30 min`", "dwell 2 h 30 min"},
          Row{"dwell a half hour", figure, "write `30 min`", "dwell 30 min"},
          Row{"dwell 2 h and half an hour", figure, "write `30 min`", "dwell 2 h and 30 min"},
          Row{"ramp to 700 degC over half an hour", figure, "write `30 min`", "ramp to 700 degC over 30 min"},
          Row{"dwell ~30 min", "`~` has no place before a figure: the controller is given one value",
              "leave `~` out", "dwell 30 min"},
          Row{"dwell approx. 30 min",
              "`approx.` has no place before a figure: the controller is given one value",
              "leave `approx.` out", "dwell 30 min"},
          Row{"dwell about 30 min", "`about` has no place before a figure: the controller is given one value",
              "leave `about` out", "dwell 30 min"}})
        check(row);
    // A part of a number that goes on is no time: nothing is written in its place.
    for (const char* line : {"dwell seven and a half hour", "dwell 1 and a half hours",
                             "dwell twenty two hours", "dwell one hour and ten minutes"}) {
        CAPTURE(line);
        const Read read(recipe(line));
        CHECK(read.diagnostics.errors() >= 1);
        CHECK(settled(recipe(line)) == recipe(line));
        CHECK(read.messages().find("a figure and its unit") == std::string::npos);
    }
}

} // namespace athanor::grammar_test
