// Segments to steps. A step that the controller does is written as it is keyed; only natural cooling gets the
// word of the trade, where the caller lets it.
#include "compiler/replay/lift.hpp"

#include "compiler/replay/lift_switches.hpp"
#include "compiler/replay/loop.hpp"
#include "compiler/replay/stretch.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace athanor::replay {
namespace {

using program::Loop;
using program::Part;
using program::Segment;
using program::SegmentKind;

/// "1 h 5 min 52 s", exact.
std::string time_text(const Decimal& seconds) {
    std::int64_t whole = seconds.mantissa;
    if (seconds.exponent < 0) return seconds.text() + " s";
    for (int i = 0; i < seconds.exponent; ++i) whole *= 10;
    std::string text;
    auto add = [&](std::int64_t n, const char* unit) {
        if (n != 0) text += fmt::format("{}{} {}", text.empty() ? "" : " ", n, unit);
    };
    add(whole / 3600, "h");
    add(whole / 60 % 60, "min");
    add(whole % 60, "s");
    return text.empty() ? "0 s" : text;
}

/// A controller that waits inside a band and for no time more.
constexpr const char* instant = "0 s";

class Lifter {
public:
    Lifter(const program::Program& program, const timeline::Timeline& bench, const LiftOptions& options)
        : program_(program), c_(program.controller), options_(options), bench_(bench),
          switches_(program, bench, options, lifted_), zones_(std::max<std::size_t>(1, program.zones.size())) {}

    Lifted lift() {
        setpoint_.assign(zones_, std::nullopt);
        for (std::size_t z = 0; z < bench_.zones.size() && z < zones_ && !bench_.laws.empty(); ++z)
            setpoint_[z] = bench_.laws[z].from - zero_celsius;
        for (std::size_t p = 1; p < program_.parts.size(); ++p) runs_ = runs_ || begins_run(p);
        for (const std::string& keep : switches_.thresholds(program_.parts.front()))
            line(keep, {program_.parts.front().number, 0});
        for (std::size_t p = 0; p < program_.parts.size(); ++p) part(p);
        std::vector<std::string> unnamed;
        for (const std::string& name : switches_.unnamed_lines()) unnamed.push_back("close " + name);
        assemble(unnamed);
        return std::move(lifted_);
    }

private:
    void line(const std::string& text, RowName row) {
        body_.push_back(std::string(4 + 4 * depth_, ' ') + text);
        rows_.push_back(row);
    }
    void blank() {
        bool opened = body_.empty() || body_.back().empty() || body_.back().ends_with('{');
        if (opened) return;
        body_.emplace_back();
        rows_.emplace_back(0, 0);
    }
    void open_block(const std::string& text, RowName row) {
        blank();
        line(text + " {", row);
        ++depth_;
    }
    void close_block(RowName row) {
        --depth_;
        line("}", row);
        after_block_ = true;
    }

    void assemble(const std::vector<std::string>& first) {
        std::string& text = lifted_.text;
        auto add = [&](const std::string& one, RowName row) {
            text += one + "\n";
            lifted_.rows.push_back(row);
        };
        for (std::size_t at = 0; at < options_.head.size();) {
            std::size_t end = options_.head.find('\n', at);
            add(options_.head.substr(at, end - at), {0, 0});
            at = end == std::string::npos ? options_.head.size() : end + 1;
        }
        std::string title = options_.title.empty() ? "" : " \"" + options_.title + "\"";
        add(fmt::format("recipe {}{} on {} for {} {{", options_.name, title, options_.rig, options_.controller),
            {0, 0});
        for (const std::string& one : first) add("    " + one, {program_.parts.front().number, 1});
        for (std::size_t i = 0; i < body_.size(); ++i) add(body_[i], rows_[i]);
        add("}", {0, 0});
    }

    // --- programmes ------------------------------------------------------------------------------

    void part(std::size_t p) {
        const Part& now = program_.parts[p];
        bool waits = !now.hand_over.empty() || (p > 0 && !linked(p));
        if (runs_ && (p == 0 || begins_run(p))) {
            if (p > 0) close_block({now.number, 0});
            open_block(fmt::format("run \"programme {}\"", now.number), {now.number, 0});
        }
        if (waits) {
            std::uint32_t outputs = 0;
            std::vector<std::int64_t> channels(program_.channels.size(), 0);
            if (p > 0 && c_.holds_at_end) {
                outputs = program_.parts[p - 1].segments.back().outputs;
                channels = program_.parts[p - 1].segments.back().channels;
            } else if (p == 0) {
                // Before the first programme the rig stands as people left it; the recipe begins with all shut.
                for (const program::Output& output : program_.outputs)
                    if (output.on_without_power) outputs |= 1U << (output.number - 1);
            }
            wait({now.number, 0}, outputs, channels, now.hand_over);
        }
        segments(now, 0, static_cast<std::uint32_t>(now.segments.size() - 1), nullptr);
        bool last = p + 1 == program_.parts.size();
        const Segment& end = now.segments.back();
        // Between programmes the next one's wait says what changes; a link changes nothing.
        if (last || !end.instruction.empty()) {
            RowName row{now.number, static_cast<std::uint32_t>(now.segments.size())};
            for (const std::string& action : entered(row, end, nullptr, nullptr)) line(action, row);
        }
        if (last && runs_) close_block({now.number, 0});
    }

    /// A programme that is started by hand though the controller could wait inside one, or that is linked
    /// though the one before it had room, is a run of its own.
    bool begins_run(std::size_t p) const {
        if (!linked(p)) return c_.operator_wait;
        std::size_t length = 1;
        for (const Loop& loop : program_.parts[p].loops)
            if (loop.first == 0) length = std::max<std::size_t>(length, loop.last + 1);
        return program_.parts[p - 1].segments.size() + length <= c_.segments;
    }

    bool linked(std::size_t p) const {
        return std::any_of(program_.parts.begin(), program_.parts.end(),
                           [&](const Part& other) { return other.next == program_.parts[p].number; });
    }

    void segments(const Part& part, std::uint32_t from, std::uint32_t to, const Loop* running) {
        for (std::uint32_t i = from; i < to;) {
            const Loop* loop = widest_loop(part, i, to, running);
            if (!loop) {
                if (const std::uint32_t last = end_of_line(part, i, to); last > i) {
                    whole_line(part, i, last);
                    i = last + 1;
                    continue;
                }
                const bool waits = waits_behind(part, i, to);
                segment(part, i, waits ? &part.segments[i + 1] : nullptr);
                i += waits ? 2 : 1;
                continue;
            }
            const Segment &first = part.segments[loop->first], &last = part.segments[loop->last];
            open_block(fmt::format("repeat {} times", loop->passes), {part.number, loop->first + 1});
            switches_.loop_back(first.outputs, last.outputs, first.channels, last.channels);
            // The first pass comes from before the loop, the others from its last row.
            if (!last.targets.empty())
                for (std::size_t z = 0; z < zones_ && z < last.targets.size(); ++z)
                    if (setpoint_[z] && std::abs(*setpoint_[z] - c_.setpoint.value(last.targets[z])) > 1e-9)
                        setpoint_[z].reset();
            segments(part, loop->first, loop->last + 1, loop);
            close_block({part.number, loop->last + 1});
            i = loop->last + 1;
        }
    }

    // --- rows ------------------------------------------------------------------------------------

    const std::string& instruction(RowName row, const std::string& own) const {
        auto given = options_.instructions.find(row);
        return given == options_.instructions.end() ? own : given->second;
    }

    std::vector<std::string> entered(RowName row, const Segment& segment, std::string* person,
                                     bool* tube_open) {
        return switches_.enter(row, segment.outputs, segment.channels, instruction(row, segment.instruction),
                               person, tube_open);
    }

    void wait(RowName row, std::uint32_t outputs, const std::vector<std::int64_t>& channels,
              const std::string& own) {
        std::string person;
        bool tube_open = false;
        const std::string& text = instruction(row, own);
        std::vector<std::string> actions = switches_.enter(row, outputs, channels, text, &person, &tube_open);
        if (text.empty())
            lifted_.missing.push_back(
                {row, "a person is waited for, and no row says what for, nor whether the tube may be opened",
                 fmt::format("--instruction '{}.{}=tube may be opened; load the boat', or without its first "
                             "words where the tube stays shut",
                             row.first, row.second)});
        else if (!tube_open)
            lifted_.notes.push_back(row_text(row) + ": the tube stays shut while a person is waited for; the "
                                                    "instruction does not say `tube may be opened`");
        if (person.empty()) person = "go on";
        put(actions, fmt::format("wait for operator \"{}\"{}", person, tube_open ? " with tube open" : ""),
            row);
    }

    void put(const std::vector<std::string>& actions, const std::string& step, RowName row) {
        if (!actions.empty() || after_block_) blank();
        after_block_ = false;
        for (const std::string& action : actions) line(action, row);
        if (!step.empty()) line(step, row);
    }

    /// The last of the rows that go on along the line of row `i`.
    std::uint32_t end_of_line(const Part& part, std::uint32_t i, std::uint32_t to) const {
        const Segment& first = part.segments[i];
        if (options_.joined == 0 || first.kind != SegmentKind::ramp || first.rates.size() < 2) return i;
        const auto goes_on = [&](std::uint32_t next) {
            const Segment &s = part.segments[next], &before = part.segments[next - 1];
            if (s.kind != SegmentKind::ramp || s.rates.size() != first.rates.size() || s.band != first.band ||
                !s.instruction.empty() || s.outputs != first.outputs || s.channels != first.channels)
                return false;
            for (const Loop& loop : part.loops)
                if (loop.last == next - 1 || loop.first == next) return false;
            for (std::size_t z = 0; z < zones_; ++z) {
                if (!setpoint_[z]) return false;
                const double way = c_.setpoint.value(first.targets[z]) - *setpoint_[z];
                const std::int64_t on = s.targets[z] - before.targets[z];
                if ((way > 0) != (on > 0) || (way < 0) != (on < 0)) return false;
                if (on != 0 && std::abs(s.rates[z] - first.rates[z]) > options_.joined) return false;
            }
            return true;
        };
        std::uint32_t last = i;
        while (last + 1 < to && goes_on(last + 1)) ++last;
        return last;
    }

    void whole_line(const Part& part, std::uint32_t i, std::uint32_t last) {
        const Segment &first = part.segments[i], &end = part.segments[last];
        const RowName row{part.number, i + 1};
        double total = 0;
        for (std::uint32_t k = i; k <= last; ++k) {
            double longest = 0;
            for (std::size_t z = 0; z < zones_; ++z) {
                const double from =
                    k == i ? setpoint_[z].value_or(0) : c_.setpoint.value(part.segments[k - 1].targets[z]);
                const double way = std::abs(c_.setpoint.value(part.segments[k].targets[z]) - from);
                if (way > 0) longest = std::max(longest, way * 60 / c_.rate->value(part.segments[k].rates[z]));
            }
            total += longest;
        }
        std::int64_t seconds = std::llround(total);
        for (const std::int64_t unit : {3600, 1800, 600, 300, 60}) {
            const std::int64_t whole = std::llround(total / static_cast<double>(unit)) * unit;
            constexpr double share = 0.01; // what rounding the pieces may have added up to
            if (std::abs(static_cast<double>(whole) - total) > share * total) continue;
            seconds = whole;
            break;
        }
        put(entered(row, first, nullptr, nullptr),
            fmt::format("ramp {} over {}{}", targets(end), time_text({seconds, 0}), within(first)), row);
        for (std::size_t z = 0; z < zones_; ++z) setpoint_[z] = c_.setpoint.value(end.targets[z]);
    }

    /// Whether the row behind a ramp is what the ramp's own soak band becomes where only dwells wait in one.
    bool waits_behind(const Part& part, std::uint32_t i, std::uint32_t to) const {
        if (options_.literal || c_.band_on_ramps || i + 1 >= to) return false;
        const Segment &s = part.segments[i], &next = part.segments[i + 1];
        const bool parted = std::any_of(part.loops.begin(), part.loops.end(),
                                        [&](const Loop& l) { return l.last == i || l.first == i + 1; });
        return !parted && s.kind == SegmentKind::ramp && next.kind == SegmentKind::dwell && next.dwell == 0 &&
               next.band >= 0 && next.instruction.empty() && next.outputs == s.outputs &&
               next.channels == s.channels && next.targets == s.targets;
    }

    /// `wait`: the dwell behind a ramp that its own soak band becomes.
    void segment(const Part& part, std::uint32_t i, const Segment* wait_behind) {
        const Segment& s = part.segments[i];
        RowName row{part.number, i + 1};
        if (s.kind == SegmentKind::operator_wait) return wait(row, s.outputs, s.channels, s.instruction);
        std::vector<std::string> actions = entered(row, s, nullptr, nullptr);
        switch (s.kind) {
        case SegmentKind::ramp:
            if (wait_behind)
                put(actions, ramp(s, within(*wait_behind)), row);
            else
                ramps(actions, s, within(s), row);
            start_off_ = false;
            break;
        case SegmentKind::ramp_dwell:
            ramps(actions, s, c_.band_on_ramps ? within(s) : "", row);
            line(dwell(s), row);
            break;
        case SegmentKind::dwell: put(actions, dwell(s), row); break;
        case SegmentKind::step: step(s, actions, row); break;
        case SegmentKind::operator_wait:
        case SegmentKind::end: break;
        }
        for (std::size_t z = 0; z < zones_ && z < s.targets.size(); ++z)
            setpoint_[z] = c_.setpoint.value(s.targets[z]);
    }

    // --- steps -----------------------------------------------------------------------------------

    std::string within(const Segment& s) const {
        return s.band < 0 || !c_.soak_band ? "" : fmt::format(" within {} K", c_.soak_band->text(s.band));
    }
    std::string dwell(const Segment& s) const {
        return fmt::format("dwell {}{}", time_text(c_.dwell.decimal(s.dwell)), within(s));
    }
    bool moves(const Segment& s, std::size_t z) const {
        return !setpoint_[z] || std::abs(*setpoint_[z] - c_.setpoint.value(s.targets[z])) > 1e-9;
    }

    /// "to 950 degC", or zone by zone those that move; all of them, where none does.
    std::string targets(const Segment& s) const {
        bool equal = std::all_of(s.targets.begin(), s.targets.end(),
                                 [&](std::int64_t k) { return k == s.targets.front(); });
        if (equal || zones_ == 1) return fmt::format("to {} degC", c_.setpoint.text(s.targets.front()));
        bool any = false;
        for (std::size_t z = 0; z < zones_; ++z) any = any || moves(s, z);
        std::string text;
        for (std::size_t z = 0; z < zones_; ++z)
            if (moves(s, z) || !any)
                text += fmt::format("{}{} to {} degC", text.empty() ? "" : ", ", program_.zones[z],
                                    c_.setpoint.text(s.targets[z]));
        return text;
    }

    /// Zones that arrive at other instants each, one piece up to each of these: as the controller does it.
    std::vector<std::string> pieces(const Segment& s, const std::string& end) const {
        std::vector<double> lengths(zones_, 0), ends; // s
        for (std::size_t z = 0; z < zones_; ++z) {
            if (!moves(s, z)) continue;
            if (!setpoint_[z] || s.rates.empty()) return {};
            lengths[z] =
                std::abs(c_.setpoint.value(s.targets[z]) - *setpoint_[z]) * 60 / c_.rate->value(s.rates[z]);
            ends.push_back(lengths[z]);
        }
        std::sort(ends.begin(), ends.end());
        constexpr double one = 1e-6;
        ends.erase(std::unique(ends.begin(), ends.end(), [](double a, double b) { return b - a < one; }),
                   ends.end());
        if (ends.size() < 2) return {};
        std::vector<std::string> list;
        double passed = 0;
        for (std::size_t k = 0; k < ends.size(); ++k) {
            // A zone that waits for the others goes on by next to nothing: it is still on its way.
            constexpr double nothing = 1e-6; // K
            const double behind = nothing * static_cast<double>(ends.size() - 1 - k);
            std::string to;
            for (std::size_t z = 0; z < zones_; ++z) {
                if (!moves(s, z)) continue;
                const double end_degC = c_.setpoint.value(s.targets[z]);
                const double way = end_degC - setpoint_[z].value_or(0);
                const double there = lengths[z] < ends[k] + one
                                         ? end_degC - std::copysign(behind, way)
                                         : setpoint_[z].value_or(0) + way * ends[k] / lengths[z];
                to += fmt::format("{}{} to {:.9f} degC", to.empty() ? "" : ", ", program_.zones[z], there);
            }
            list.push_back(fmt::format("ramp {} over {:.9f} s{}", to, ends[k] - passed, end));
            passed = ends[k];
        }
        return list;
    }

    void ramps(const std::vector<std::string>& actions, const Segment& s, const std::string& end, RowName row) {
        std::vector<std::string> list;
        if (options_.exact) list = pieces(s, end);
        if (list.empty()) list.push_back(ramp(s, end));
        put(actions, list.front(), row);
        for (std::size_t i = 1; i < list.size(); ++i) line(list[i], row);
    }

    std::string ramp(const Segment& s, const std::string& end) const {
        bool any = false, one_rate = true;
        std::optional<std::int64_t> rate;
        for (std::size_t z = 0; z < zones_; ++z) {
            if (!moves(s, z)) continue;
            any = true;
            if (s.rates.empty()) continue;
            one_rate = one_rate && (!rate || *rate == s.rates[z]);
            rate = s.rates[z];
        }
        if (!any) return ""; // it takes no time
        if (s.rates.empty())
            return fmt::format("ramp {} over {}{}", targets(s), time_text(c_.ramp_time->decimal(s.ramp_time)),
                               end);
        // From a start beside the recipe's the rate would give another time.
        if (start_off_ && zones_ == 1 && rate) {
            const double way = std::abs(c_.setpoint.value(s.targets[0]) - *setpoint_[0]);
            return fmt::format("ramp {} over {:.9f} s{}", targets(s), way * 60 / c_.rate->value(*rate), end);
        }
        if (one_rate) return fmt::format("ramp {} at {} K/min{}", targets(s), c_.rate->text(*rate), end);
        return fmt::format("ramp {} over {}{}", targets(s), common_time(s), end);
    }

    /// Zones with rates of their own in one row: the roundest time that gives each of them its rate, near that
    /// of the slowest where that does; where none does, that of the slowest.
    std::string common_time(const Segment& s) const {
        double least = 0, most = 1e12, slowest = 0;
        double half = 0.5 * c_.rate->step.value();
        for (std::size_t z = 0; z < zones_; ++z) {
            if (!moves(s, z) || !setpoint_[z]) continue;
            double way = std::abs(c_.setpoint.value(s.targets[z]) - *setpoint_[z]) * 60;
            double rate = c_.rate->value(s.rates[z]);
            slowest = std::max(slowest, way / rate);
            least = std::max(least, way / (rate + half));
            if (rate > half) most = std::min(most, way / (rate - half));
        }
        const bool fits = slowest > least && slowest < most;
        const double about = !fits && least < most ? 0.5 * (least + most) : slowest;
        for (std::int64_t unit : {3600, 1800, 600, 300, 60, 10, 1}) {
            std::int64_t n = std::llround(about / static_cast<double>(unit)) * unit;
            auto seconds = static_cast<double>(n);
            if (n > 0 && seconds > least + 1e-6 && seconds < most - 1e-6) return time_text({n, 0});
        }
        return time_text(Decimal::nearest(about, 3));
    }

    void step(const Segment& s, const std::vector<std::string>& actions, RowName row) {
        bool down = true;
        for (std::size_t z = 0; z < zones_; ++z)
            if (setpoint_[z] && moves(s, z)) down = down && c_.setpoint.value(s.targets[z]) < *setpoint_[z];
        bool any = false;
        for (std::size_t z = 0; z < zones_; ++z) any = any || moves(s, z);
        bool natural = down && any && (s.dwell < 0 ? s.band >= 0 : s.band < 0) && !options_.literal &&
                       !options_.literal_rows.contains(row);
        if (natural) return put(actions, "cool " + targets(s), row);
        // What only brings a controller to where the recipe begins is no step of the recipe, rounded as it may
        // be.
        bool begins = row.second == 1 && !c_.starts_from_measured;
        for (std::size_t z = 0; z < zones_; ++z)
            begins = begins && setpoint_[z] && c_.setpoint.nearest(*setpoint_[z]) == s.targets[z];
        put(actions, begins ? "" : "step " + targets(s), row);
        constexpr double rounding = 1; // K
        if (begins) start_off_ = std::abs(*setpoint_[0] - c_.setpoint.value(s.targets[0])) > rounding;
        if (s.dwell >= 0)
            line(dwell(s), row);
        else if (s.band >= 0)
            line(fmt::format("dwell {}{}", instant, within(s)), row);
    }

    const program::Program& program_;
    const program::Controller& c_;
    const LiftOptions& options_;
    const timeline::Timeline& bench_;
    Lifted lifted_;
    Switches switches_;
    std::size_t zones_;
    std::vector<std::optional<double>> setpoint_; // degC; nothing: depends on the pass of a loop
    std::vector<std::string> body_;
    std::vector<RowName> rows_;
    std::size_t depth_ = 0;
    bool runs_ = false, after_block_ = false;
    bool start_off_ = false; // the set-point still stands beside the recipe's start, by more than rounding
};

} // namespace

Lifted lift(const program::Program& program, const timeline::Timeline& bench, const LiftOptions& options) {
    if (program.parts.empty()) return {};
    return Lifter(program, bench, options).lift();
}

} // namespace athanor::replay
