#pragma once
#include "compiler/program/program.hpp"
#include "compiler/timeline/timeline.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <map>
#include <set>
#include <tuple>
#include <vector>

/// The fewest segments by brute force: every settable set-point, rate, time and dwell is tried. For one zone,
/// small grids and controllers without loops. It shares nothing with the legaliser but the two hinges.
///
/// What a segment may stand for: a stretch of the recipe whose outputs, set-point law, band and notes are the
/// same throughout. A stretch ends within 1 K (at its end nearest or beyond) and within the larger of 1 s and
/// half a step of the dwells; on the way a line stays within its band, else 1 K.
namespace athanor::bench {

class FewestSegments {
public:
    static constexpr int never = 1000;

    FewestSegments(const timeline::Timeline& recipe, const program::Controller& c, int deepest)
        : t_(recipe), c_(c), deepest_(deepest), late_(std::max(1.0, c.dwell.step.value() / 2)) {
        if (c.rate)
            for (std::int64_t k = 0; k <= c.rate->count(); ++k)
                if (c.rate->value(k) > 0) rates_.push_back(c.rate->value(k) / 60);
        if (c.ramp_time)
            for (std::int64_t k = 0; k <= c.ramp_time->count(); ++k)
                if (c.ramp_time->value(k) > 0) times_.push_back(c.ramp_time->value(k));
        for (std::int64_t k = 0; k <= c.dwell.count(); ++k)
            if (c.dwell.value(k) > 0) dwells_.push_back(c.dwell.value(k));
        for (std::int64_t k = 0; k <= c.setpoint.count(); ++k) setpoints_.push_back(c.setpoint.value(k));
    }

    /// Segments with the end; `never` where no program of at most `deepest` segments a line exists.
    int count() {
        std::map<double, int> ways{{degC(t_.laws_of(0)->from), 0}}; // set-point -> segments
        std::size_t i = 0;
        bool open = false; // the last segment is a ramp or a step that may take a dwell
        while (i < t_.spans.size()) {
            std::size_t end = i + 1;
            while (end < t_.spans.size() && same_stretch(end - 1, end)) ++end;
            const timeline::LawKind kind = t_.laws_of(i)->kind;
            const bool banded = t_.spans[i].ending.kind == timeline::EndingKind::band;
            double length = 0;
            for (std::size_t s = i; s < end; ++s) length += t_.spans[s].ending.duration;
            if (kind == timeline::LawKind::line) {
                std::map<double, int> next;
                for (const auto& [from, rows] : ways)
                    for (const auto& [to, more] : line(i, end - 1, from, length, end))
                        keep(next, to, rows + more);
                ways = std::move(next);
                const bool waits = banded && !c_.band_on_ramps && !bands_behind(i, end);
                if (waits)
                    for (auto& way : ways)
                        way.second += c_.ramp_and_dwell ? 0 : 1; // shortest dwell with the band
                open = !waits && c_.ramp_and_dwell;
            } else if (kind == timeline::LawKind::jump) {
                std::map<double, int> next;
                const int least = fewest(ways);
                const double to = degC(t_.laws_of(i)->to);
                for (const double at : setpoints_)
                    if (std::abs(at - to) <= 1 + 1e-9 && nearest(at, to)) keep(next, at, least + 1);
                ways = std::move(next);
                open = true;
            } else {
                const int rows = dwells_for(length);
                const bool shares = open && i > 0 && quiet(i) && t_.spans[i].state == t_.spans[i - 1].state &&
                                    may_share_band(i);
                for (auto& way : ways) way.second += rows - (shares && rows < never ? 1 : 0);
                open = false;
            }
            if (ways.empty()) return never;
            i = end;
        }
        return std::min(never, fewest(ways) + 1);
    }

private:
    static double degC(double kelvin) { return kelvin - 273.15; }
    static void keep(std::map<double, int>& ways, double to, int rows) {
        if (rows >= never) return;
        const auto [at, added] = ways.try_emplace(to, rows);
        if (!added) at->second = std::min(at->second, rows);
    }
    static int fewest(const std::map<double, int>& ways) {
        int least = never;
        for (const auto& way : ways) least = std::min(least, way.second);
        return least;
    }
    bool quiet(std::size_t i) const {
        for (timeline::Index a = 0; a < t_.spans[i].actions; ++a)
            if (t_.actions[t_.spans[i].first_action + a].kind == timeline::ActionKind::note) return false;
        return true;
    }
    bool same_stretch(std::size_t a, std::size_t b) const {
        const timeline::Law& x = *t_.laws_of(a);
        const timeline::Law& y = *t_.laws_of(b);
        const timeline::Ending& e = t_.spans[a].ending;
        const timeline::Ending& f = t_.spans[b].ending;
        if (t_.spans[a].state != t_.spans[b].state || !quiet(b) || x.kind != y.kind || e.kind != f.kind)
            return false;
        if (x.kind == timeline::LawKind::jump) return false;
        if (x.kind == timeline::LawKind::line)
            return e.kind == timeline::EndingKind::fixed &&
                   std::abs(x.rate - y.rate) <= 1e-9 * std::abs(x.rate);
        return e.kind == timeline::EndingKind::fixed || e.band == f.band;
    }
    bool bands_behind(std::size_t i, std::size_t end) const {
        if (end >= t_.spans.size() || t_.spans[end].state != t_.spans[i].state || !quiet(end)) return false;
        if (t_.laws_of(end)->kind != timeline::LawKind::hold) return false;
        const timeline::Ending& e = t_.spans[end].ending;
        return e.kind == timeline::EndingKind::band &&
               c_.soak_band->below(e.band) <= c_.soak_band->below(t_.spans[i].ending.band);
    }
    bool may_share_band(std::size_t i) const {
        if (t_.laws_of(i - 1)->kind == timeline::LawKind::jump) return true;
        return !c_.band_on_ramps || keyed_band(i) == keyed_band(i - 1);
    }
    std::int64_t keyed_band(std::size_t i) const {
        const timeline::Ending& e = t_.spans[i].ending;
        return e.kind == timeline::EndingKind::band ? c_.soak_band->below(e.band) : -1;
    }
    int dwells_for(double length) const {
        // One dwell: no grid of these tests is shorter than a dwell of them.
        for (const double d : dwells_)
            if (std::abs(d - length) <= late_ + 1e-9) return 1;
        return never;
    }
    bool nearest(double at, double to) const {
        for (const double other : setpoints_)
            if (std::abs(other - to) < std::abs(at - to) - 1e-9) return false;
        return true;
    }

    /// Segments from a set-point to each end that the line may take.
    std::map<double, int> line(std::size_t first, std::size_t last, double from, double length,
                               std::size_t end) {
        const double begin = degC(t_.laws_of(first)->from);
        const double finish = degC(t_.laws_of(last)->to);
        const double sign = finish > begin ? 1 : -1;
        const timeline::Ending& ending = t_.spans[first].ending;
        const bool banded = ending.kind == timeline::EndingKind::band;
        const double budget = banded ? ending.band : 1;
        double room = std::min(1.0, budget);
        for (std::size_t s = end; s < t_.spans.size() && t_.laws_of(s)->kind == timeline::LawKind::hold; ++s)
            if (t_.spans[s].ending.kind == timeline::EndingKind::band)
                room = std::min(room, t_.spans[s].ending.band);
        const bool fused = c_.ramp_and_dwell && !(banded && c_.band_on_ramps);
        const double half = c_.setpoint.step.value() / 2 + 1e-6;
        const auto ideal = [&](double t) { return begin + (finish - begin) * std::min(1.0, t / length); };
        const auto inside = [&](double at, double t) { return std::abs(at - ideal(t)) <= budget + 1e-9; };
        const auto path = [&](double a, double t0, double b, double t1) {
            if (!inside(b, t1)) return false;
            return !(t0 < length && length < t1) || inside(a + (b - a) * (length - t0) / (t1 - t0), length);
        };
        std::map<double, int> found;
        if (!inside(from, 0)) return found;
        struct At {
            double setpoint, time;
            bool ramped;
        };
        std::vector<At> layer{{from, 0, false}};
        std::set<std::tuple<std::int64_t, std::int64_t, bool>> seen;
        for (int rows = 0; rows < deepest_ && !layer.empty(); ++rows) {
            std::vector<At> next;
            const auto reach = [&](std::vector<At>& into, double to, double time, bool ramped) {
                if (time > length + late_ + 1e-9) return;
                const auto key = std::tuple(std::llround(to * 1000), std::llround(time * 1000), ramped);
                if (seen.insert(key).second) into.push_back({to, time, ramped});
            };
            // Dwells behind a ramp: free where one segment holds both.
            for (std::size_t n = 0; n < layer.size(); ++n) {
                const At at = layer[n];
                if (!at.ramped) continue;
                for (const double d : dwells_)
                    if (path(at.setpoint, at.time, at.setpoint, at.time + d))
                        reach(fused ? layer : next, at.setpoint, at.time + d, false);
            }
            for (const At& at : layer)
                for (const double to : setpoints_) {
                    const double way = sign * (to - at.setpoint);
                    if (way <= 1e-9 || sign * (to - finish) > room + 1e-9) continue;
                    const bool over = sign * (finish - to) <= half;
                    const auto go = [&](double time) {
                        if (!path(at.setpoint, at.time, to, at.time + time)) return;
                        if (!over) return reach(next, to, at.time + time, true);
                        if (std::abs(to - finish) > room + 1e-9) return;
                        if (std::abs(at.time + time - length) <= late_ + 1e-9) keep(found, to, rows + 1);
                    };
                    for (const double rate : rates_) go(way / rate);
                    for (const double time : times_) go(time);
                }
            layer = std::move(next);
        }
        return found;
    }

    const timeline::Timeline& t_;
    const program::Controller& c_;
    int deepest_;
    double late_;
    std::vector<double> rates_, times_, dwells_, setpoints_;
};

} // namespace athanor::bench
