// Tables in which the words say one thing and what is keyed does another, beside their recipe and without it.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

namespace {

struct Bench : Workshop {
    std::string name, whole;

    /// The table of one of our recipes.
    explicit Bench(const std::string& recipe) : name(recipe) {
        write(name + ".ath", read_text(project + "/recipes/" + name + ".ath"));
        const Result built = athanor({"build", name + ".ath", "-o", "."}, path());
        REQUIRE_MESSAGE(built.status == 0, built.err);
        whole = read(name + ".csv");
    }
    std::string with(const std::string& text, const std::string& from, const std::string& to) const {
        const std::size_t at = text.find(from);
        REQUIRE_MESSAGE(at != std::string::npos, from, text);
        return std::string(text).replace(at, from.size(), to);
    }
    /// The long dwell in two: one row more than the recipe's own table.
    std::string longer(const std::string& row, const std::string& halves) const {
        std::string text = with(whole, row, halves), out;
        int segment = 0;
        for (std::size_t at = 0; at < text.size();) {
            const std::size_t end = text.find('\n', at) + 1;
            std::string line = text.substr(at, end - at);
            at = end;
            if (line.starts_with("1,") && line[2] != ',') {
                const std::size_t comma = line.find(',', 2);
                line = "1," + std::to_string(++segment) + line.substr(comma);
            }
            out += line;
        }
        return out;
    }
    Result beside_recipe(const std::string& table) const {
        write(name + ".csv", table);
        return athanor({"replay", name + ".csv", name + ".ath"}, path());
    }
    Result alone(const std::string& table) const {
        write("table.csv", table);
        return athanor({"replay", "table.csv", "--rig", "rigs/quartz_bench.ath:quartz_bench", "--controller",
                        "controllers/bench_twenty_five.ath", "--root", "."},
                       path());
    }
};

void refused(const Result& result, const std::string& why) {
    CHECK(result.status == 1);
    CHECK_MESSAGE(result.err.find(why) != std::string::npos, result.out, result.err);
}

} // namespace

TEST_CASE("words of a table with a row more are those of the recipe") {
    const Bench bench("nickel_reduction");
    const std::string dwell = "1,6,dwell,920,920,,3600,4,1,1,1,400,,nickel_reduction.ath:19",
                      half = "1,6,dwell,920,920,,1800,4,1,1,1,400,", source = ",nickel_reduction.ath:19";
    const auto split = [&](const std::string& words) {
        return bench.longer(dwell, half + source + "\r\n" + half + words + source);
    };
    const std::string plain = split("");
    const Result same = bench.beside_recipe(plain);
    CHECK_MESSAGE(same.status == 0, same.err);
    refused(bench.beside_recipe(split("shut burner")), "by the instructions the burner is not lit");
    refused(bench.beside_recipe(split("close hydrogen; open argon at 2.576 L/min")),
            "it says that hydrogen is closed, its output has it open");
    refused(bench.beside_recipe(bench.with(plain, ",open argon at", ",open hydrogen; open argon at")),
            "it says that hydrogen is open, its output has it closed");
    refused(bench.beside_recipe(bench.with(plain, ",light burner,", ",,")),
            "by the instructions the burner is not lit");
    refused(bench.beside_recipe(bench.with(plain, ",light burner,", ",shut burner,")),
            "by the instructions the burner is not lit");
    const std::string falls = "; at the end argon falls open and flows until it is shut by hand";
    refused(bench.beside_recipe(bench.with(plain, falls, "")),
            "falls open and flows until it is shut by hand`");
    refused(bench.beside_recipe(bench.with(plain, falls, "; at the end argon falls closed")),
            "the table has `at the end argon falls closed`");
    // Outputs close argon and open hydrogen whether it is said or not.
    const Result fewer = bench.beside_recipe(bench.with(
        bench.with(plain, "close argon; at the end", "at the end"), ",open hydrogen at 400 sccm; ", ","));
    CHECK_MESSAGE(fewer.status == 0, fewer.err);

    // Without the recipe words may be fewer, never others.
    CHECK(bench.alone(plain).status == 0);
    refused(bench.alone(split("shut burner")), "it says that the burner is off, its output has it on");
    const Result closed = bench.alone(bench.with(plain, falls, "; at the end argon falls closed"));
    refused(closed, "it says `at the end argon falls closed`; it falls open on this rig");
    CHECK_MESSAGE(closed.err.find("table.csv:13:") != std::string::npos, closed.err);
    CHECK(bench.alone(bench.with(plain, falls, "")).status == 0);
}

TEST_CASE("a table with a row more turns no meter of a shut line and names nothing that the rig lacks") {
    const Bench bench("nickel_reduction");
    const std::string half = "1,6,dwell,920,920,,1800,4,1,1,1,400,,nickel_reduction.ath:19";
    const std::string plain =
        bench.longer("1,6,dwell,920,920,,3600,4,1,1,1,400,,nickel_reduction.ath:19", half + "\r\n" + half);
    const std::string opens = ",open hydrogen at 400 sccm; ", end = ",close argon; at the end";
    const auto with = [&](const std::string& from, const std::string& to) {
        return bench.beside_recipe(bench.with(plain, from, to));
    };
    const std::string turned = ", the recipe needs 2.576 L/min: its meter stays so while it is shut";
    refused(with(opens, ",set argon to 0.4 L/min; open hydrogen at 400 sccm; "),
            "argon is set to 0.4 L/min" + turned);
    refused(with(end, ",open argon at 0.3 L/min" + std::string("; ") + end.substr(1)),
            "argon is set to 0.3 L/min" + turned);
    const Result same = with(opens, ",set argon to 2.576 L/min; open hydrogen at 400 sccm; ");
    CHECK_MESSAGE(same.status == 0, same.err);

    const std::string litres = ",open hydrogen at 1 L/min; ",
                      unread = "it says that hydrogen flows at 1 L/min, and";
    refused(with(opens, litres), unread);
    refused(bench.alone(bench.with(plain, opens, litres)), unread);
    refused(with(opens, opens + "open oxygen at 1 slm; "), "it names oxygen, which the rig does not have");
    refused(with(opens, opens + "start pump; "), "it names a pump, which the rig does not have");
    refused(with(opens, opens + "move the sample to cold; "), "a place that the rig does not have");
}

TEST_CASE("a threshold's words are what it keys, and its flow is the recipe's") {
    const Bench bench("carbonate_hold");
    const std::string dwell = "1,3,dwell,780,780,,2700,5,0,0,,carbonate_hold.ath:11",
                      half = "1,3,dwell,780,780,,1350,5,0,0,,carbonate_hold.ath:11";
    const std::string plain = bench.longer(dwell, half + "\r\n" + half),
                      own = "\"open forming above 600 °C, at 500 sccm\"";
    CHECK_MESSAGE(bench.beside_recipe(plain).status == 0, bench.beside_recipe(plain).err);
    CHECK(bench.alone(plain).status == 0);
    const auto told = [&](const std::string& words) { return bench.with(plain, own, words); };
    for (const char* words :
         {"\"open forming above 600 °C, at 900 sccm\"", "", "\"open forming above 500 °C, at 500 sccm\"",
          "\"close forming above 600 °C, at 500 sccm\""}) {
        CAPTURE(words);
        const Result result = bench.beside_recipe(told(words));
        refused(result, "the recipe needs `open forming above 600 °C, at 500 sccm`");
        CHECK_MESSAGE(result.err.find("carbonate_hold.csv:2:") != std::string::npos, result.err);
    }
    const Result other = bench.alone(told("\"open forming above 500 °C, at 500 sccm\""));
    refused(other, "the threshold of forming says 500 °C, 600 °C is keyed");
    CHECK_MESSAGE(other.err.find("table.csv:2:") != std::string::npos, other.err);
    refused(bench.alone(told("\"close forming above 600 °C, at 500 sccm\"")),
            "the threshold of forming says that it is closed above 600 °C, its output has it open there");
    CHECK(bench.alone(told("\"close forming below 600 °C, at 500 sccm\"")).status == 0);
}
