// How much wider the envelope is than what drawn rigs spread over: bounds for one recipe, and with
// ATHANOR_TIGHTNESS=N a table of all, N draws for each.
#include "tests/elaborate/support.hpp"
#include "tests/simulator/compare.hpp"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <doctest/doctest.h>
#include <filesystem>
#include <fmt/format.h>
#include <iostream>
#include <map>
#include <numeric>

using namespace athanor;
using namespace athanor::simulator;

namespace {

struct Spread {
    Interval bound{infinity, -infinity};
    double lo = infinity, hi = -infinity;
};

constexpr std::array columns{"control", "load", "pressure", "oxygen", "hydrogen", "swept", "elapsed"};

/// (Width of the bound) / (spread of the draws) at the ends of all spans, in rising order: one list for each
/// column, empty where nothing spreads.
using Ratios = std::array<std::vector<double>, columns.size()>;

Ratios ratios_of(const std::string& path, std::size_t draws) {
    Ratios ratios;
    const auto c = elaborate::test::file(path);
    REQUIRE(c);
    REQUIRE(c->done.complete);
    const timeline::Timeline& t = c->timeline();
    const check::Rig& rig = c->model.rigs[c->model.rig_named(t.rig)];
    const Chain plan = chain(t, *c->done.plant);
    std::map<std::pair<std::size_t, std::string>, Spread> all;
    std::size_t drawn = 0;
    for (unsigned seed = 1; drawn < draws && seed < 20 * draws; ++seed) {
        Draw d;
        if (!draw(c->model, rig, t, seed, seed % 2 == 0, d)) continue;
        d.waits.assign(1, 600);
        ++drawn;
        Options options;
        options.samples = 0;
        const Trajectory run = simulate(c->model, rig, t, d, {}, options);
        for (std::size_t i = 0; i < run.spans.size() && i < t.spans.size(); ++i) {
            if (t.spans[i].ending.kind == timeline::EndingKind::person || t.spans[i].state == 0) continue;
            const Sample& s = run.samples[run.spans[i].last - 1];
            const auto note = [&](const std::string& name, timeline::Signal signal, double value) {
                Spread& spread = all[{i, name}];
                spread.bound = c->done.plant->signal(signal, plan.passages[i].exit, t.states[t.spans[i].state]);
                spread.lo = std::min(spread.lo, value);
                spread.hi = std::max(spread.hi, value);
            };
            const double flow = std::accumulate(s.lines.begin(), s.lines.end(), 0.0);
            for (const Reading& r : readings(c->model, t, s, false)) {
                const bool load = r.signal.kind == timeline::SignalKind::load_temperature;
                // One signal stands for the load in any zone, and for free gas and pores.
                std::string name = load ? "load" : r.name.substr(0, r.name.find(" in pores"));
                note(name, r.signal, r.value);
                // In plug flow the gas at the inlet is what flows in.
                if (r.signal.kind != timeline::SignalKind::fraction || !(flow > 0)) continue;
                double share = 0;
                for (std::size_t l = 0; l < s.lines.size(); ++l)
                    share += s.lines[l] / flow * d.lines[l].parts[r.signal.index];
                note(name, r.signal, share);
            }
        }
    }
    CHECK(drawn == draws);
    if (std::getenv("ATHANOR_SPANS") != nullptr) // each span's own
        for (const auto& [key, s] : all)
            std::cout << fmt::format("  span {} {}: bound [{:.6g}, {:.6g}], draws [{:.6g}, {:.6g}], {:.3g}\n",
                                     key.first, key.second, s.bound.lo, s.bound.hi, s.lo, s.hi,
                                     s.bound.width() / (s.hi - s.lo));
    for (const auto& [key, s] : all) {
        if (!(s.hi - s.lo > 1e-9 * std::max(1e-6, std::abs(s.hi)))) continue;
        for (std::size_t i = 0; i < columns.size(); ++i)
            if (key.second == columns[i] || key.second.starts_with(std::string(columns[i]) + " of "))
                ratios[i].push_back(s.bound.width() / (s.hi - s.lo));
    }
    for (std::vector<double>& list : ratios) std::sort(list.begin(), list.end());
    return ratios;
}

double median(const std::vector<double>& sorted) {
    return sorted[sorted.size() / 2];
}

} // namespace

TEST_CASE("the bounds are not much wider than what ten rigs spread over") {
    // About one and a half times what they were on 2026-11-30; the draws are always the same.
    constexpr std::array most{2.0, 3.0, 1.5, 1.7, 4.5, 4.3, 2.0};
    static_assert(most.size() == columns.size());
    const Ratios ratios =
        ratios_of(std::string(ATHANOR_ROOT) + "/tests/examples/accepted/copper_sinter.ath", 10);
    for (std::size_t i = 0; i < columns.size(); ++i) {
        CAPTURE(std::string(columns[i]));
        REQUIRE(!ratios[i].empty());
        CHECK(median(ratios[i]) < most[i]);
    }
}

TEST_CASE("tightness of the example recipes") {
    const char* asked = std::getenv("ATHANOR_TIGHTNESS");
    if (asked == nullptr) {
        MESSAGE("a table for people, not a check: ATHANOR_TIGHTNESS=N prints it");
        return;
    }
    const auto draws = static_cast<std::size_t>(std::atoll(asked));
    std::cout << fmt::format("| recipe | {} |\n", fmt::join(columns, " | "));
    for (std::size_t i = 0; i <= columns.size(); ++i) std::cout << "|---";
    std::cout << "|\n";
    for (const char* folder : {"/tests/examples/accepted", "/recipes"}) {
        std::vector<std::string> paths;
        for (const auto& entry : std::filesystem::directory_iterator(std::string(ATHANOR_ROOT) + folder))
            if (entry.path().extension() == ".ath") paths.push_back(entry.path().string());
        std::sort(paths.begin(), paths.end());
        for (const std::string& path : paths) {
            std::cout << "| " << std::filesystem::path(path).stem().string() << " | ";
            for (const std::vector<double>& list : ratios_of(path, draws))
                std::cout << (list.empty() ? "– | "
                                           : fmt::format("{:.3g} ({:.3g}) | ", median(list), list.back()));
            std::cout << "\n";
        }
    }
}
