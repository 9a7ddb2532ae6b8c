#include "tests/simulator/recipes.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>

namespace athanor::simulator {

namespace {

class Dice {
public:
    explicit Dice(std::mt19937& random) : random_(random) {}
    double operator()(double lo, double hi) { return std::uniform_real_distribution<>(lo, hi)(random_); }
    int whole(int lo, int hi) { return std::uniform_int_distribution<>(lo, hi)(random_); }
    bool chance(double p) { return std::uniform_real_distribution<>(0, 1)(random_) < p; }
    template<class T>
    const T& of(const std::vector<T>& list) {
        return list[static_cast<std::size_t>(whole(0, static_cast<int>(list.size()) - 1))];
    }

private:
    std::mt19937& random_;
};

} // namespace

RigText random_rig(std::mt19937& random) {
    Dice dice(random);
    RigText rig;
    const int kind = dice.whole(0, 9);
    rig.pump = kind < 3;
    rig.shut = kind == 3;
    rig.tight = kind != 4;
    rig.plugs = !rig.pump && dice.chance(0.6);
    const int zones = dice.chance(0.3) ? dice.whole(2, 3) : 1;
    rig.zones = zones == 1   ? std::vector<std::string>{"centre"}
                : zones == 2 ? std::vector<std::string>{"left", "right"}
                             : std::vector<std::string>{"left", "centre", "right"};
    std::string names;
    for (const std::string& z : rig.zones) names += (names.empty() ? "" : ", ") + z;

    const int cold = dice.whole(10, 22), low = dice.whole(930, 990);
    std::string t = "gas argon_grade = 2 ppm oxygen + 3 ppm water + rest argon\n";
    t += "gas burnt_grade = 3 % oxygen + rest carbon_dioxide\n"; // feeds no fire of hydrogen
    t += "gas hydrogen_grade = 1 ppm oxygen + 5 ppm water + rest hydrogen\n";
    t += "rig bench {\n";
    t += fmt::format("    ambient {} degC to {} degC, {} mbar to {} mbar\n", cold, cold + dice.whole(1, 12),
                     low, low + dice.whole(5, 70));
    // Three furnaces whose rows agree with each other: tube furnace, retort, and a slow heavy one.
    struct Rows {
        const char* text;
        int heated;
    };
    const std::vector<Rows> furnaces{
        {"range 30 degC to 1200 degC ; power 3.0 kW ; heat_up 50 min to 1100 degC\n"
         "        holding_power 1.2 kW ± {} % at 1100 degC ; cool_down 1100 degC to 200 degC in 5 h ± {} %",
         600},
        {"range 30 degC to 1000 degC ; power 7.5 kW ; heat_up 75 min to 900 degC\n"
         "        holding_power 2.2 kW ± {} % at 900 degC ; cool_down 900 degC to 150 degC in 9 h ± {} %",
         800},
        {"range 30 degC to 1100 degC ; power 4.5 kW ; heat_up 60 min to 1000 degC\n"
         "        holding_power 1.6 kW ± {} % at 1000 degC ; cool_down 1000 degC to 200 degC in 6 h ± {} %",
         900}};
    const Rows& rows = dice.of(furnaces);
    t += "    furnace {\n        " + fmt::format(fmt::runtime(rows.text), dice.whole(2, 12), dice.whole(3, 20));
    t += fmt::format("\n        heated_length {} mm ; zones {} ; mains ± {} %\n", rows.heated, names,
                     dice.whole(2, 10));
    t += fmt::format(
        "        overshoot 0 K to {} K ; tracking {} s to {} s ; control_error 0 K to {} K\n    }}\n",
        dice.whole(0, 12), dice.whole(0, 20), dice.whole(25, 120), dice.whole(1, 4));
    const std::vector<int> bores{22, 40, 60, 100};
    const int bore = dice.of(bores), end = dice.whole(150, 450);
    t += fmt::format("    tube {{ material fused_quartz ; inner_diameter {} mm ; wall 3 mm ; length {} mm }}\n",
                     bore, rows.heated + 2 * end);
    if (rig.plugs) {
        const int porosity = dice.whole(60, 90), release = dice.whole(20, 120);
        t += fmt::format(
            "    ends insulation_plugs {{ length {} mm ; porosity {} % to {} % ; air_release {} s to {} s "
            "}}\n",
            dice.whole(50, std::min(end, 250)), porosity, porosity + dice.whole(0, 8), release,
            release + dice.whole(0, 400));
    } else if (rig.pump) {
        t += "    ends radiation_shields { count 4 }\n";
    }
    t += rig.tight ? "    seals gas_tight { rated 250 mbar gauge ; cooled no }\n" : "    seals none\n";
    t += fmt::format("    seal_rise {} K to {} K\n", dice.whole(5, 20), dice.whole(25, 120));
    const int mixing = dice.whole(30, 95);
    t += fmt::format("    mixing {} % to {} %\n", mixing, dice.whole(mixing, 100));
    t += fmt::format("    leak_rate 1e-{} mbar*L/s\n", dice.whole(3, 6));
    if (dice.chance(0.5))
        t += fmt::format("    outgassing 1e-6 mbar*L/s to {}e-4 mbar*L/s\n", dice.whole(1, 9));
    const int lag = dice.whole(0, 4);
    t += fmt::format("    load_lag {} min to {} min ; load_offset -{} K to {} K\n", lag, lag + dice.whole(0, 8),
                     dice.whole(0, 25), dice.whole(0, 10));
    t += fmt::format("    sensor type_k class {}\n", dice.whole(1, 2));
    t += fmt::format("    outlet {} mm by {} m\n", dice.whole(3, 10), dice.whole(1, 3));
    const auto line = [&](const char* name, const char* gas, int output, const char* position) {
        t += fmt::format(
            "    line {} {{ gas {} ; output {} ; de_energised {}\n        meter controlled, channel {} ; flow "
            "10 "
            "sccm to 2 slm ; accuracy {} % of reading, {} % of full_scale ; supply 180 mbar gauge }}\n",
            name, gas, output, position, output, dice.whole(0, 5),
            dice.of(std::vector<const char*>{"0", "0.5"}));
    };
    line("argon", "argon_grade", 1, "open, 0.5 slm to 1 slm");
    line("hydrogen", "hydrogen_grade", 2, "closed");
    line("carbon_dioxide", "carbon_dioxide", 3, "closed");
    if (rig.pump)
        t += fmt::format("    pump {{ output 4 ; speed {} m3/h ; ultimate 1e-{} mbar ; pipe {} mm by {} m }}\n",
                         dice.whole(2, 16), dice.whole(1, 3), dice.of(std::vector<int>{16, 25, 40}),
                         dice.whole(1, 2));
    t += rig.shut ? "    exhaust shut\n" : "    exhaust open\n";
    if (rig.shut || dice.chance(0.5))
        t += fmt::format("    relief {} mbar gauge\n",
                         dice.whole(100, 155)); // below the supplies: a line can always give its flow
    t += "}\n";
    rig.text = t;
    return rig;
}

std::string RecipeText::text() const {
    std::string t = rig.text + "recipe r on bench {\n";
    for (const std::string& s : steps) t += "    " + s + "\n";
    return t + "}\n";
}

RecipeText random_recipe(std::mt19937& random) {
    Dice dice(random);
    RecipeText recipe;
    recipe.rig = random_rig(random);
    const RigText& rig = recipe.rig;
    std::vector<std::string>& steps = recipe.steps;
    const std::vector<std::string> gases{"argon", "argon", "argon", "hydrogen", "carbon_dioxide"};
    int at = 30;
    bool evacuated = false;
    std::string watched; // a line that a threshold works is not named otherwise
    if (rig.tight && !rig.pump && dice.chance(0.15)) {
        watched = "carbon_dioxide";
        steps.push_back(fmt::format("keep carbon_dioxide open at {} sccm {} {} degC", dice.whole(20, 800),
                                    dice.chance(0.7) ? "above" : "below", dice.whole(80, 700)));
    }
    const auto gas = [&] {
        std::string g = dice.of(gases);
        return g == watched ? std::string("argon") : g;
    };
    const auto flow = [&] { return dice.chance(0.5) ? dice.whole(30, 300) : dice.whole(300, 1900); };
    const auto target = [&](int lo, int hi) { return std::clamp(dice.whole(lo, hi), 60, 880); };
    const auto zoned = [&](int to) { // some zones apart from the others
        if (rig.zones.size() == 1 || dice.chance(0.4)) return fmt::format("{} degC", to);
        std::string s;
        for (const std::string& z : rig.zones)
            s += fmt::format("{}{} to {} degC", s.empty() ? "" : ", ", z,
                             std::clamp(to + dice.whole(-60, 0), 50, 880));
        return "\x01" + s;
    };
    const auto moved = [&](const char* verb, int to, const std::string& tail) {
        const std::string where = zoned(to);
        if (where[0] == '\x01') return fmt::format("{} {}{}", verb, where.substr(1), tail);
        return fmt::format("{} to {}{}", verb, where, tail);
    };
    const int count = dice.whole(3, 9);
    for (int i = 0; i < count; ++i) {
        const int what = dice.whole(0, 13);
        if (what <= 2) {
            const int to = target(at + 30, at + 500);
            if (to > at) {
                std::string placed;
                if (rig.tight && !evacuated && dice.chance(0.25) && rig.zones.size() == 1)
                    placed =
                        fmt::format(" {{ at {} degC switch to {} at {} sccm }}", (at + to) / 2, gas(), flow());
                const bool over = rig.zones.size() > 1;
                steps.push_back(
                    moved("ramp", to,
                          (over ? fmt::format(" over {} min", std::max(5, (to - at) / dice.whole(2, 8)))
                                : fmt::format(" at {} K/min", dice.whole(1, 9))) +
                              (dice.chance(0.15) ? " within 10 K" : "") + placed));
                at = to;
            }
        } else if (what == 3) {
            const std::string band =
                at > 30 && dice.chance(0.5) ? fmt::format(" within {} K", dice.whole(5, 15)) : "";
            std::string placed;
            const int minutes = dice.whole(5, 90);
            if (rig.tight && !evacuated && band.empty() && dice.chance(0.4))
                placed = fmt::format(" {{ after {} min switch to {} at {} sccm }}", dice.whole(1, minutes - 1),
                                     gas(), flow());
            steps.push_back(fmt::format("dwell {} min{}{}", minutes, band, placed));
        } else if (what == 4 || what == 5) {
            if (at < 150) continue;
            const int to = target(80, at - 20);
            steps.push_back(fmt::format("cool to {} degC", to));
            at = to;
        } else if (what == 6) {
            if (at < 400) continue;
            const int to = target(300, at - 20);
            if (to >= at) continue;
            steps.push_back(fmt::format("cool to {} degC at 0.{} K/min", to, dice.whole(2, 9)));
            at = to;
        } else if (what == 7) {
            const int to = target(60, 700);
            steps.push_back(fmt::format("step to {} degC", to));
            // A ramp from there may follow at once, while the furnace is still elsewhere.
            if (const int minutes = dice.whole(2, 120); minutes % 4 != 1)
                steps.push_back(fmt::format("dwell {} min", minutes));
            at = to;
        } else if (what == 8) {
            if (!rig.tight || rig.shut || evacuated) continue;
            steps.push_back(
                fmt::format("purge argon at {} sccm {}", flow(),
                            dice.of(std::vector<std::string>{"for 5 volumes", "until oxygen < 0.5 %",
                                                             "until oxygen < 500 ppm", "for 20 min"})));
        } else if (what == 9 || what == 10) {
            if (!rig.tight || evacuated) continue;
            const int choice = dice.whole(0, 4);
            if (choice == 0)
                steps.push_back("close all");
            else if (choice == 1)
                steps.push_back(fmt::format("open {} at {} sccm", gas(), flow()));
            else if (choice == 2)
                steps.push_back(fmt::format("blend {} % hydrogen + rest argon at {} sccm", dice.whole(3, 60),
                                            dice.whole(400, 1500)));
            else
                steps.push_back(fmt::format("switch to {} at {} sccm", gas(), flow()));
            steps.push_back(fmt::format("dwell {} min", dice.whole(1, 40)));
            if (rig.shut) steps.push_back("close all"); // a closed tube is filled for a while only
        } else if (what == 11) {
            steps.push_back(std::string("wait for operator \"look\"") +
                            (at < 80 && dice.chance(0.5) && !evacuated ? " with tube open" : ""));
        } else if (rig.pump) {
            if (!evacuated) {
                steps.push_back("close all");
                steps.push_back(fmt::format(
                    "evacuate to {}", dice.of(std::vector<const char*>{"1 mbar", "10 mbar", "0.5 mbar"})));
                evacuated = true;
            } else {
                steps.push_back(fmt::format("backfill {} at {} sccm to ambient + {} mbar", gas(),
                                            dice.whole(200, 1900), dice.whole(0, 30)));
                evacuated = false;
            }
        }
    }
    if (steps.empty()) steps.push_back("dwell 10 min");
    return recipe;
}

RecipeText random_oxygen(std::mt19937& random) {
    RecipeText recipe = random_recipe(random);
    std::string& rig = recipe.rig.text;
    const std::string pure = "gas carbon_dioxide ;";
    rig.replace(rig.find(pure), pure.size(), "gas burnt_grade ;");
    return recipe;
}

RecipeText random_cooling(std::mt19937& random) {
    Dice dice(random);
    RecipeText recipe;
    do recipe.rig = random_rig(random);
    while (recipe.rig.pump || recipe.rig.shut || !recipe.rig.tight);
    std::vector<std::string>& steps = recipe.steps;
    const auto flow = [&] { return dice.chance(0.8) ? dice.whole(10, 60) : dice.whole(60, 200); };
    int at = dice.whole(300, 880);
    steps.push_back(fmt::format("ramp to {} degC at {} K/min", at, dice.whole(2, 9)));
    steps.push_back(fmt::format("switch to argon at {} sccm", flow()));
    for (int i = dice.whole(1, 4); i > 0 && at > 120; --i) {
        if (dice.chance(0.3)) steps.push_back(fmt::format("dwell {} min", dice.whole(5, 300)));
        if (dice.chance(0.3))
            steps.push_back(fmt::format("switch to {} at {} sccm",
                                        dice.of(std::vector<const char*>{"argon", "hydrogen"}), flow()));
        at = dice.whole(80, at - 20);
        steps.push_back(fmt::format("cool to {} degC{}", at,
                                    dice.chance(0.3) ? fmt::format(" at 0.{} K/min", dice.whole(2, 9)) : ""));
        if (dice.chance(0.2)) {
            at += dice.whole(20, 200);
            steps.push_back(fmt::format("ramp to {} degC at {} K/min", at, dice.whole(2, 9)));
        }
    }
    steps.push_back(fmt::format("dwell {} min", dice.whole(5, 300)));
    return recipe;
}

RecipeText random_leaky(std::mt19937& random) {
    Dice dice(random);
    RecipeText recipe;
    do recipe.rig = random_rig(random);
    while (!recipe.rig.shut);
    std::string& rig = recipe.rig.text;
    const auto replace = [&](const std::string& from, const std::string& until, const std::string& by) {
        for (std::size_t at = 0; (at = rig.find(from, at)) != std::string::npos; at += by.size())
            rig.replace(at, rig.find(until, at) + until.size() - at, by);
    };
    const double leak = std::pow(10, dice(-2, 0)); // mbar L/s
    const double sccm = 55.2 * leak;               // of air at 20 degC, 0 degC and 101.325 kPa
    replace("leak_rate", "mbar*L/s", fmt::format("leak_rate {:.4f} mbar*L/s", leak));
    replace("flow 10", "slm", "flow 0.01 sccm to 2 slm");
    replace("0.5 % of full_scale", "full_scale", "0.002 % of full_scale");
    replace("supply", "gauge", "supply 200 mbar gauge");
    replace("rated", "gauge", "rated 400 mbar gauge");
    // Mostly below the supply, so that a line can give its flow.
    replace("relief", "gauge",
            fmt::format("relief {} mbar gauge", dice.whole(0, 2) > 0 ? dice.whole(50, 190) : 300));
    std::vector<std::string>& steps = recipe.steps;
    int at = 30;
    steps.push_back(fmt::format("open argon at {:.3f} sccm", sccm * dice(3, 20)));
    for (int i = dice.whole(2, 6); i > 0; --i) {
        const int what = dice.whole(0, 5);
        if (what == 0) {
            at = dice.whole(100, 800);
            steps.push_back(fmt::format("ramp to {} degC at {} K/min", at, dice.whole(2, 9)));
        } else if (what == 1 && at > 150) {
            at = dice.whole(80, at - 20);
            steps.push_back(
                fmt::format("cool to {} degC{}", at,
                            dice.chance(0.3) ? fmt::format(" at 0.{} K/min", dice.whole(2, 9)) : ""));
        }
        steps.push_back(
            fmt::format("dwell {} min", dice.chance(0.6) ? dice.whole(2, 60) : dice.whole(60, 1200)));
        steps.push_back(fmt::format("switch to {} at {:.3f} sccm", dice.chance(0.85) ? "argon" : "hydrogen",
                                    sccm * std::pow(10, dice(-1, 0.5))));
    }
    steps.push_back(fmt::format("dwell {} min", dice.whole(60, 1200)));
    steps.push_back("close all");
    steps.push_back(fmt::format("dwell {} min", dice.whole(5, 1200)));
    return recipe;
}

} // namespace athanor::simulator
