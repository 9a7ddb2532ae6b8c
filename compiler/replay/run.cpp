// Runs a program as the controller's declaration says it would, without knowing what the program is for.
#include "compiler/replay/replay.hpp"

#include "compiler/replay/loop.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace athanor::replay {
namespace {

using program::Loop;
using program::Part;
using program::Segment;
using program::SegmentKind;

/// More than any controller can be told to do in a lifetime; stops runaway loops.
constexpr std::size_t most_stretches = 500000;

class Machine {
public:
    Machine(const program::Program& program, double start_degC)
        : program_(program), controller_(program.controller),
          zones_(std::max<std::size_t>(1, program.zones.size())) {
        setpoint_.assign(zones_, controller_.starts_from_measured ? start_degC : controller_.start_setpoint);
    }

    Run run() {
        declared();
        for (const Part& part : program_.parts) stored(part);
        if (!run_.problems.empty()) return std::move(run_);
        follow();
        if (run_.problems.empty()) links();
        return std::move(run_);
    }

private:
    template<typename... T>
    void problem(fmt::format_string<T...> format, T&&... arguments) {
        run_.problems.push_back({{0, 0}, fmt::format(format, std::forward<T>(arguments)...)});
    }
    template<typename... T>
    void problem(RowName row, fmt::format_string<T...> format, T&&... arguments) {
        run_.problems.push_back({row, fmt::format(format, std::forward<T>(arguments)...)});
    }
    static RowName at(const Part& part, std::size_t segment) {
        return {part.number, static_cast<std::uint32_t>(segment + 1)};
    }

    // --- what the controller can hold ------------------------------------------------------------

    void declared() {
        const auto& parts = program_.parts;
        if (parts.empty()) problem("the table holds no programme");
        if (parts.size() > controller_.programs)
            problem("{} programmes, the controller holds {}", parts.size(), controller_.programs);
        if (zones_ > controller_.zones) problem("{} zones, the controller has {}", zones_, controller_.zones);
        if (program_.channels.size() > controller_.channels)
            problem("{} channels, the controller has {}", program_.channels.size(), controller_.channels);
        for (std::size_t i = 0; i < program_.outputs.size(); ++i) {
            const program::Output& output = program_.outputs[i];
            if (output.number < 1 || output.number > controller_.outputs || output.number > 32)
                problem("output {} ({}), the controller has {}", output.number, output.name,
                        controller_.outputs);
            for (std::size_t j = 0; j < i; ++j)
                if (program_.outputs[j].number == output.number)
                    problem("output {} is named twice", output.number);
        }
        for (std::size_t i = 0; i < parts.size(); ++i)
            for (std::size_t j = 0; j < i; ++j)
                if (parts[j].number == parts[i].number) problem("programme {} is there twice", parts[i].number);
    }

    void stored(const Part& part) {
        if (part.number < 1 || part.number > controller_.programs)
            problem("programme {}, the controller numbers 1 to {}", part.number, controller_.programs);
        std::size_t ends = 0;
        for (std::size_t i = 0; i < part.segments.size(); ++i) {
            const Segment& segment = part.segments[i];
            if (segment.kind == SegmentKind::end) ++ends;
            settable(part, i);
        }
        if (ends != 1 || part.segments.back().kind != SegmentKind::end)
            problem("programme {} does not end in one end segment", part.number);
        // The end takes a segment's place: it is keyed like one.
        if (part.segments.size() > controller_.segments)
            problem("programme {} has {} segments, the controller holds {}", part.number, part.segments.size(),
                    controller_.segments);
        if (part.next != 0 && !controller_.linking)
            problem("programme {} goes on in {}, the controller links none", part.number, part.next);
        loops(part);
        if (part.thresholds.size() > controller_.thresholds)
            problem("programme {} has {} thresholds, the controller {}", part.number, part.thresholds.size(),
                    controller_.thresholds);
        for (std::size_t i = 0; i < part.thresholds.size(); ++i)
            for (std::size_t j = 0; j < i; ++j)
                if (part.thresholds[j].output == part.thresholds[i].output)
                    problem("programme {}: two thresholds move output {}", part.number,
                            part.thresholds[i].output);
        for (const program::ThresholdOutput& threshold : part.thresholds) {
            if (threshold.output < 1 || threshold.output > controller_.outputs)
                problem("programme {}: a threshold moves output {}, the controller has {}", part.number,
                        threshold.output, controller_.outputs);
            if (!controller_.setpoint.holds(threshold.temperature))
                problem("programme {}: a threshold outside the settable temperatures", part.number);
        }
    }

    void on_grid(const Part& part, std::size_t i, const std::optional<Grid>& grid, std::int64_t k,
                 std::string_view what) {
        if (!grid)
            problem(at(part, i), "a {}, the controller takes none", what);
        else if (!grid->holds(k))
            problem(at(part, i), "a {} of {}, the controller takes {} to {}", what, grid->text(k),
                    grid->lo.text(), grid->hi.text());
    }

    void settable(const Part& part, std::size_t i) {
        const Segment& segment = part.segments[i];
        bool ramp = segment.kind == SegmentKind::ramp || segment.kind == SegmentKind::ramp_dwell;
        bool still = segment.kind == SegmentKind::end || segment.kind == SegmentKind::operator_wait;
        for (std::int64_t k : segment.targets) on_grid(part, i, controller_.setpoint, k, "set-point in degC");
        if (!(still && segment.targets.empty()) && segment.targets.size() != zones_)
            problem(at(part, i), "{} set-points for {} zones", segment.targets.size(), zones_);
        for (std::int64_t k : segment.rates) on_grid(part, i, controller_.rate, k, "rate in K/min");
        if (ramp && segment.rates.empty() == (segment.ramp_time < 0))
            problem(at(part, i), "a ramp has either a rate or a time");
        if (ramp && !segment.rates.empty() && segment.rates.size() != zones_)
            problem(at(part, i), "{} rates for {} zones", segment.rates.size(), zones_);
        if (ramp)
            for (std::int64_t k : segment.rates)
                if (controller_.rate && controller_.rate->value(k) <= 0)
                    problem(at(part, i), "a ramp that never ends");
        if (ramp && segment.ramp_time >= 0)
            on_grid(part, i, controller_.ramp_time, segment.ramp_time, "ramp time in s");
        if (segment.dwell >= 0) on_grid(part, i, controller_.dwell, segment.dwell, "dwell in s");
        if (segment.dwell < 0 &&
            (segment.kind == SegmentKind::dwell || segment.kind == SegmentKind::ramp_dwell))
            problem(at(part, i), "a dwell without a time");
        if (segment.band >= 0) {
            on_grid(part, i, controller_.soak_band, segment.band, "soak band in K");
            if (segment.kind == SegmentKind::ramp && !controller_.band_on_ramps)
                problem(at(part, i), "a soak band on a ramp, the controller has it on dwells");
        }
        if (segment.kind == SegmentKind::ramp_dwell && !controller_.ramp_and_dwell)
            problem(at(part, i), "a ramp and a dwell in one segment, the controller takes one of them");
        if (segment.kind == SegmentKind::operator_wait && !controller_.operator_wait)
            problem(at(part, i), "a wait for a person, the controller has none");
        std::uint32_t named = 0;
        for (const program::Output& output : program_.outputs)
            if (output.number >= 1 && output.number <= 32) named |= 1U << (output.number - 1);
        if ((segment.outputs & ~named) != 0)
            problem(at(part, i), "it energises an output that nothing is named for");
        if (segment.channels.size() != program_.channels.size() &&
            !(segment.kind == SegmentKind::end && segment.channels.empty()))
            problem(at(part, i), "{} set-points for {} channels", segment.channels.size(),
                    program_.channels.size());
        for (std::int64_t k : segment.channels)
            if (k < 0) problem(at(part, i), "a flow below zero");
    }

    void loops(const Part& part) {
        for (std::size_t i = 0; i < part.loops.size(); ++i) {
            const Loop& loop = part.loops[i];
            if (loop.first > loop.last || loop.last + 1 >= part.segments.size()) {
                problem("programme {}: a loop over segments {} to {} of {}", part.number, loop.first + 1,
                        loop.last + 1, part.segments.size());
                continue;
            }
            if (loop.passes < controller_.passes_lo || loop.passes > controller_.passes_hi)
                problem("programme {}: a loop of {} passes, the controller takes {} to {}", part.number,
                        loop.passes, controller_.passes_lo, controller_.passes_hi);
            std::uint32_t depth = 1;
            for (std::size_t j = 0; j < part.loops.size(); ++j) {
                if (i == j) continue;
                const Loop& other = part.loops[j];
                bool inside = other.first <= loop.first && loop.last <= other.last;
                bool around = loop.first <= other.first && other.last <= loop.last;
                bool apart = other.last < loop.first || loop.last < other.first;
                if (!inside && !around && !apart) problem("programme {}: two loops cross", part.number);
                if (inside && around && i < j)
                    problem("programme {}: two loops over the same segments", part.number);
                if (inside && !around) ++depth;
            }
            if (depth > controller_.loop_levels)
                problem("programme {}: loops {} deep, the controller takes {}", part.number, depth,
                        controller_.loop_levels);
        }
    }

    // --- what it does ----------------------------------------------------------------------------

    void follow() {
        std::vector<bool> ran(program_.parts.size(), false);
        std::size_t now = 0;
        if (!program_.parts[0].hand_over.empty()) person_between(program_.parts[0]);
        while (true) {
            const Part& part = program_.parts[now];
            ran[now] = true;
            play(part, 0, static_cast<std::uint32_t>(part.segments.size() - 1));
            if (!run_.problems.empty()) return;
            const Segment& end = part.segments.back();
            run_.end_outputs = bits(end.outputs);
            run_.end_channels_sccm.clear();
            for (const std::int64_t k : end.channels) run_.end_channels_sccm.push_back(sccm(k));
            if (part.next != 0) {
                auto next = std::find_if(program_.parts.begin(), program_.parts.end(),
                                         [&](const Part& p) { return p.number == part.next; });
                if (next == program_.parts.end())
                    return problem("programme {} goes on in {}, which is not there", part.number, part.next);
                now = static_cast<std::size_t>(next - program_.parts.begin());
                if (ran[now])
                    return problem("programme {} goes back to {}: it never ends", part.number, part.next);
                continue;
            }
            auto open = std::find(ran.begin(), ran.end(), false);
            if (open == ran.end()) return;
            now = static_cast<std::size_t>(open - ran.begin());
            person_between(program_.parts[now]);
        }
    }

    /// Where a programme goes on in another its end lasts no time; what it keys is that of a neighbour.
    void links() {
        for (std::size_t i = 1; i < run_.stretches.size(); ++i) {
            const Stretch &before = run_.stretches[i - 1], &behind = run_.stretches[i];
            if (before.part == behind.part || before.between || behind.between) continue;
            const auto part = std::find_if(program_.parts.begin(), program_.parts.end(),
                                           [&](const Part& p) { return p.number == before.part; });
            const RowName row = at(*part, part->segments.size() - 1);
            const Segment& end = part->segments.back();
            const std::vector<bool> keyed = bits(end.outputs);
            for (const program::Output& output : program_.outputs) {
                const std::size_t n = output.number - 1;
                if (keyed[n] != before.outputs[n] && keyed[n] != behind.outputs[n])
                    problem(row,
                            "output {} ({}) is {} at the end of programme {}, which goes on in {}, and neither "
                            "before nor behind",
                            output.number, output.name, keyed[n] ? "energised" : "not energised", part->number,
                            part->next);
            }
            for (std::size_t c = 0;
                 c < std::min({end.channels.size(), before.channels_sccm.size(), behind.channels_sccm.size()});
                 ++c) {
                const double flow = sccm(end.channels[c]);
                const auto like = [&](const Stretch& s) { return std::abs(flow - s.channels_sccm[c]) < 1e-6; };
                if (!like(before) && !like(behind))
                    problem(
                        row,
                        "channel {} is set to {:g} sccm at the end of programme {}, which goes on in {}, and "
                        "neither before nor behind",
                        c + 1, flow, part->number, part->next);
            }
        }
    }

    /// Segments [from, to), with every loop that lies inside unrolled; `running` is the loop that runs
    /// already.
    void play(const Part& part, std::uint32_t from, std::uint32_t to, const Loop* running = nullptr) {
        for (std::uint32_t i = from; i < to;) {
            const Loop* loop = widest_loop(part, i, to, running);
            if (!loop) {
                execute(part, i++);
                if (!run_.problems.empty()) return;
                continue;
            }
            for (std::uint32_t pass = 0; pass < loop->passes; ++pass) {
                play(part, loop->first, loop->last + 1, loop);
                if (!run_.problems.empty()) return;
            }
            i = loop->last + 1;
        }
    }

    static double sccm(std::int64_t thousandths) { return static_cast<double>(thousandths) / 1000.0; }
    std::vector<bool> bits(std::uint32_t outputs) const {
        std::vector<bool> list(controller_.outputs, false);
        for (std::size_t n = 0; n < list.size() && n < 32; ++n) list[n] = (outputs >> n & 1U) != 0;
        return list;
    }

    Stretch& add(Stretch::Kind kind, const Part& part, std::uint32_t i) {
        const Segment& segment = part.segments[i];
        if (run_.stretches.size() >= most_stretches)
            problem(at(part, i), "more than {} steps when every loop is counted", most_stretches);
        Stretch& stretch = run_.stretches.emplace_back();
        stretch.kind = kind;
        stretch.from_degC = stretch.to_degC = setpoint_;
        stretch.outputs = bits(segment.outputs);
        for (std::int64_t k : segment.channels) stretch.channels_sccm.push_back(sccm(k));
        stretch.part = part.number;
        stretch.segment = i + 1;
        return stretch;
    }

    void banded(Stretch& stretch, const Segment& segment) const {
        if (segment.band < 0) return;
        stretch.band_K = controller_.soak_band->value(segment.band);
        stretch.longest_wait_s = controller_.longest_wait.value_or(0);
    }

    std::vector<double> targets(const Segment& segment) const {
        std::vector<double> list;
        for (std::int64_t k : segment.targets) list.push_back(controller_.setpoint.value(k));
        return list;
    }

    void execute(const Part& part, std::uint32_t i) {
        const Segment& segment = part.segments[i];
        switch (segment.kind) {
        case SegmentKind::ramp: line(part, i, true); break;
        case SegmentKind::ramp_dwell:
            // Where a band counts for dwells only, the ramp in front runs without one.
            line(part, i, controller_.band_on_ramps);
            hold(part, i);
            break;
        case SegmentKind::dwell:
            if (!keeps(part, i, "a dwell")) return;
            setpoint_ = targets(segment);
            hold(part, i);
            break;
        case SegmentKind::step: {
            Stretch& jump = add(Stretch::Kind::jump, part, i);
            jump.to_degC = targets(segment);
            setpoint_ = jump.to_degC;
            banded(jump, segment);
            if (segment.dwell >= 0) hold(part, i);
            break;
        }
        case SegmentKind::operator_wait:
            if (!keeps(part, i, "a wait")) return;
            add(Stretch::Kind::person, part, i);
            break;
        case SegmentKind::end: break;
        }
    }

    /// Nothing moves the set-point here; where a value is keyed it must say the same, to half a step of the
    /// display.
    bool keeps(const Part& part, std::uint32_t i, std::string_view what) {
        const double half = 0.5 * controller_.setpoint.step.value() + 1e-6;
        const std::vector<double> keyed = targets(part.segments[i]);
        for (std::size_t z = 0; z < std::min(keyed.size(), zones_); ++z)
            if (std::abs(keyed[z] - setpoint_[z]) > half) {
                problem(at(part, i), "{} at {} degC, the set-point is {} degC there", what,
                        controller_.setpoint.text(part.segments[i].targets[z]), setpoint_[z]);
                return false;
            }
        return true;
    }

    void hold(const Part& part, std::uint32_t i) {
        Stretch& stretch = add(Stretch::Kind::hold, part, i);
        stretch.duration_s = controller_.dwell.value(part.segments[i].dwell);
        banded(stretch, part.segments[i]);
    }

    void line(const Part& part, std::uint32_t i, bool band) {
        const Segment& segment = part.segments[i];
        Stretch& stretch = add(Stretch::Kind::line, part, i);
        stretch.to_degC = targets(segment);
        for (std::size_t z = 0; z < zones_; ++z) {
            double way = std::abs(stretch.to_degC[z] - stretch.from_degC[z]);
            double rate = segment.rates.empty() ? 0 : controller_.rate->value(segment.rates[z]);
            double time =
                segment.rates.empty() ? controller_.ramp_time->value(segment.ramp_time) : way / rate * 60.0;
            stretch.zone_s.push_back(time);
            if (time >= stretch.duration_s) {
                stretch.duration_s = time;
                stretch.rate_K_per_min = segment.rates.empty() ? (time > 0 ? way / time * 60.0 : 0) : rate;
            }
        }
        setpoint_ = stretch.to_degC;
        if (band) banded(stretch, segment);
    }

    void person_between(const Part& next) {
        Stretch& stretch = run_.stretches.emplace_back();
        stretch.kind = Stretch::Kind::person;
        stretch.between = true;
        stretch.from_degC = stretch.to_degC = setpoint_;
        // Nothing runs: outputs stay only where the controller holds at the end.
        stretch.outputs = controller_.holds_at_end && !run_.end_outputs.empty()
                              ? run_.end_outputs
                              : std::vector<bool>(controller_.outputs, false);
        stretch.part = next.number;
        stretch.segment = 0;
        if (!controller_.starts_from_measured) setpoint_.assign(zones_, controller_.start_setpoint);
    }

    const program::Program& program_;
    const program::Controller& controller_;
    std::size_t zones_;
    std::vector<double> setpoint_; // degC
    Run run_;
};

} // namespace

Run run(const program::Program& program, double start_degC) {
    return Machine(program, start_degC).run();
}

} // namespace athanor::replay
