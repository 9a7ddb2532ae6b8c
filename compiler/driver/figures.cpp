#include "compiler/driver/figures.hpp"

#include "compiler/driver/copied.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/quantity/unit.hpp"
#include "compiler/timeline/words.hpp"
#include "targets/json/json.hpp"
#include "targets/json/locate.hpp"
#include "targets/sheet/rows.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

namespace athanor::driver {
namespace {

using program::Segment;
using program::SegmentKind;
using targets::json::Step;

/// Figures for people have three decimals.
bool same(double a, double b) {
    if (std::isinf(a) || std::isinf(b)) return a == b;
    return std::abs(a - b) <= 1.5e-3 + 1e-9 * std::max(std::abs(a), std::abs(b));
}
bool at_most(double a, double b) {
    return a <= b || same(a, b);
}

std::string text(double value) {
    if (std::isinf(value)) return "no limit";
    return Decimal::nearest(value, 3).text();
}
std::string text(double lo, double hi) {
    return fmt::format("{} to {}", text(lo), text(hi));
}

/// How one segment ran.
struct Ran {
    std::size_t times = 0;
    double start = 0;                  // degC, of the first time
    double first = 0;                  // s that are keyed, of the first time
    double least = infinity, most = 0; // s, of all
    bool waits = false;                // in a band: what the furnace needs comes on top
};

using Row = std::pair<std::uint32_t, std::uint32_t>;

std::map<Row, Ran> how_it_ran(const replay::Run& run) {
    using Kind = replay::Stretch::Kind;
    std::map<Row, Ran> rows;
    for (std::size_t i = 0; i < run.stretches.size();) {
        const replay::Stretch& s = run.stretches[i];
        if (s.between) {
            ++i;
            continue;
        }
        double length = s.duration_s;
        bool waits = s.band_K > 0;
        // A hold right behind a line or a jump of the same segment is its second half.
        const bool second = (s.kind == Kind::line || s.kind == Kind::jump) && i + 1 < run.stretches.size() &&
                            run.stretches[i + 1].kind == Kind::hold && run.stretches[i + 1].part == s.part &&
                            run.stretches[i + 1].segment == s.segment;
        if (second) {
            length += run.stretches[i + 1].duration_s;
            waits = waits || run.stretches[i + 1].band_K > 0;
        }
        Ran& ran = rows[{s.part, s.segment}];
        if (ran.times++ == 0) {
            ran.start = s.from_degC[0];
            ran.first = length;
        }
        ran.least = std::min(ran.least, length);
        ran.most = std::max(ran.most, length);
        ran.waits = ran.waits || waits;
        i += second ? 2 : 1;
    }
    return rows;
}

class Check {
public:
    Check(const ReadTable& table, const replay::Run& run, Interval start)
        : json_(table.target.name == "json"), read_(table), table_(table.program),
          rows_(how_it_ran(run)), start_{start.lo - physics::zero_celsius, start.hi - physics::zero_celsius} {}

    void segments() {
        for (part_ = 0; part_ < table_.parts.size(); ++part_)
            for (segment_ = 0; segment_ < table_.parts[part_].segments.size(); ++segment_) {
                const program::Part& part = table_.parts[part_];
                const Segment& s = part.segments[segment_];
                auto ran = rows_.find({part.number, static_cast<std::uint32_t>(segment_ + 1)});
                if (ran != rows_.end())
                    segment(s, ran->second);
                else if (s.kind == SegmentKind::end)
                    end(s);
            }
    }

    /// The first and the last row at which a person may end a repeat.
    std::pair<std::optional<replay::RowName>, std::optional<replay::RowName>> accepted() const {
        std::pair<std::optional<replay::RowName>, std::optional<replay::RowName>> found;
        const auto look = [&](replay::RowName row, const std::string& instruction) {
            if (instruction.find(timeline::accepting) == std::string::npos) return;
            if (!found.first) found.first = row;
            found.second = row;
        };
        for (const program::Part& part : table_.parts) {
            look({part.number, 0}, part.hand_over);
            for (std::size_t i = 0; i < part.segments.size(); ++i)
                look({part.number, static_cast<std::uint32_t>(i + 1)}, part.segments[i].instruction);
        }
        return found;
    }
    void totals(const targets::json::Figures& figures) {
        double least = 0, most = 0;
        const auto [accepted_first, accepted_last] = accepted();
        for (const program::Part& part : table_.parts)
            for (std::size_t i = 0; i < part.segments.size(); ++i) {
                const replay::RowName name{part.number, static_cast<std::uint32_t>(i + 1)};
                auto found = rows_.find(name);
                if (found == rows_.end()) continue;
                const auto times = static_cast<double>(found->second.times);
                const Segment& s = part.segments[i];
                // A person may end a repeat behind its first pass.
                const bool surely = !accepted_first || name <= *accepted_first || name > *accepted_last;
                const double passes = accepted_first ? 1 : times;
                // The first time is the only one of a start that nobody knows exactly.
                if (surely)
                    least +=
                        (passes - 1) * found->second.least + std::min(s.duration_lo_s, found->second.first);
                // A loop's row may stand for one pass only, and a band takes each pass another time.
                most += times > 1 && found->second.waits ? infinity : times * s.duration_hi_s;
            }
        const auto [lo, hi] = figures.duration_s;
        if (!at_most(lo, hi) || !at_most(least - slack(least), lo) || !at_most(hi, most + slack(most)))
            say({{"totals", 0}, {"duration_s", 0}},
                fmt::format("the totals say {} s, the segments take {} s", text(lo, hi), text(least, most)));
        for (std::size_t i = 0; i < figures.assurance.size(); ++i)
            if (const auto& row = figures.assurance[i];
                row.verdict == "violated" || row.verdict == "not_provable")
                say({{"assurance", 0}, {"", i}},
                    fmt::format("the table itself says that the rule `{}` does not hold: {}", row.rule,
                                row.verdict));
        for (const auto& [line, litres] : figures.gas_NL)
            if (!at_most(0, litres.first) || !at_most(litres.first, litres.second))
                say({{"totals", 0}, {"gas_NL", 0}, {line, 0}},
                    fmt::format("the totals say {} NL of {}: the least comes first, the greatest behind it",
                                text(litres.first, litres.second), line));
        if (!at_most(0, figures.energy_kWh.first) ||
            !at_most(figures.energy_kWh.first, figures.energy_kWh.second))
            say({{"totals", 0}, {"energy_kWh", 0}},
                fmt::format("the totals say {} kWh: the least comes first, the greatest behind it",
                            text(figures.energy_kWh.first, figures.energy_kWh.second)));
    }

    /// The table keys what the recipe's own does: each figure must be that of the recipe.
    void as_compiled(const program::Program& wanted) {
        for (part_ = 0; part_ < table_.parts.size() && part_ < wanted.parts.size(); ++part_)
            for (segment_ = 0; segment_ < table_.parts[part_].segments.size(); ++segment_) {
                const Segment& a = table_.parts[part_].segments[segment_];
                const Segment& b = wanted.parts[part_].segments[segment_];
                if (!same(a.duration_lo_s, b.duration_lo_s) || !same(a.duration_hi_s, b.duration_hi_s))
                    say_of("duration_s_range",
                           fmt::format("the table says that it takes {} s, on the recipe's rig it takes {} s",
                                       text(a.duration_lo_s, a.duration_hi_s),
                                       text(b.duration_lo_s, b.duration_hi_s)));
                else if (!same(a.duration_s, b.duration_s))
                    length(a.duration_s, b.duration_s);
            }
    }
    void as_compiled(const targets::json::Figures& have, const targets::json::Figures& want) {
        const auto range = [&](std::vector<Step> path, const char* what, const char* unit,
                               const std::pair<double, double>& a, const std::pair<double, double>& b) {
            if (!same(a.first, b.first) || !same(a.second, b.second))
                say(std::move(path),
                    fmt::format("the totals say {} {}{}, the recipe's are {} {}", text(a.first, a.second), unit,
                                what, text(b.first, b.second), unit));
        };
        range({{"totals", 0}, {"duration_s", 0}}, "", "s", have.duration_s, want.duration_s);
        range({{"totals", 0}, {"energy_kWh", 0}}, "", "kWh", have.energy_kWh, want.energy_kWh);
        const std::vector<Step> gas{{"totals", 0}, {"gas_NL", 0}};
        for (const auto& [line, litres] : want.gas_NL) {
            auto found = have.gas_NL.find(line);
            std::vector<Step> path = gas;
            path.push_back({line, 0});
            if (found == have.gas_NL.end())
                say(gas, fmt::format("the totals leave out {}, of which the recipe uses {} NL", line,
                                     text(litres.first, litres.second)));
            else
                range(path, (" of " + line).c_str(), "NL", found->second, litres);
        }
        for (const auto& [line, litres] : have.gas_NL)
            if (!want.gas_NL.contains(line))
                say(gas, fmt::format("the totals name {}, which the recipe does not use", line));
        for (std::size_t i = 0; i < std::max(have.assurance.size(), want.assurance.size()); ++i) {
            if (i < have.assurance.size() && i < want.assurance.size() &&
                have.assurance[i].rule == want.assurance[i].rule &&
                have.assurance[i].verdict == want.assurance[i].verdict &&
                without_folders(have.assurance[i].rest) == without_folders(want.assurance[i].rest))
                continue;
            const bool alike = i < have.assurance.size() && i < want.assurance.size() &&
                               have.assurance[i].rule == want.assurance[i].rule &&
                               have.assurance[i].verdict == want.assurance[i].verdict;
            const auto row = [&](const std::vector<targets::json::Figures::Row>& list) {
                if (i >= list.size()) return std::string("nothing");
                return alike ? list[i].rest : fmt::format("`{}` {}", list[i].rule, list[i].verdict);
            };
            say({{"assurance", 0}, {"", std::min(i, have.assurance.empty() ? 0 : have.assurance.size() - 1)}},
                fmt::format("the assurance has {} where the recipe's has {}", row(have.assurance),
                            row(want.assurance)));
            break; // what follows may only be moved
        }
    }

    std::vector<Misfit> take() { return std::move(list_); }

private:
    /// Sums of figures that were rounded one by one.
    static double slack(double value) { return 0.1 + 1e-6 * std::abs(std::isinf(value) ? 0 : value); }

    /// A ramp by rate from what was measured at the start, which no segment before it has moved: s, from the
    /// coolest and the warmest start, and as it is replayed. Its last zone ends it.
    struct FromMeasured {
        double nominal = 0;
        Interval time = 0;
    };
    std::optional<FromMeasured> from_measured(const Segment& s) const {
        const std::vector<Segment>& before = table_.parts[part_].segments;
        const program::Controller& c = table_.controller;
        if (!c.starts_from_measured || s.rates.empty() || !c.rate) return std::nullopt;
        for (std::size_t i = 0; i < segment_; ++i)
            if (before[i].kind != SegmentKind::operator_wait) return std::nullopt;
        FromMeasured found;
        for (std::size_t z = 0; z < s.rates.size() && z < s.targets.size(); ++z) {
            const double to = c.setpoint.value(s.targets[z]), rate = c.rate->value(s.rates[z]) / 60;
            const double low = std::abs(to - start_.lo) / rate, high = std::abs(to - start_.hi) / rate;
            found.nominal = std::max(found.nominal, std::abs(to - start_.middle()) / rate);
            found.time = {std::max(found.time.lo, start_.contains(to) ? 0 : std::min(low, high)),
                          std::max({found.time.hi, low, high})};
        }
        return found;
    }

    void segment(const Segment& s, const Ran& ran) {
        if (!std::isnan(s.start_degC) && !same(s.start_degC, ran.start))
            say_of("start_degC", fmt::format("the table says that it starts from {} °C, it starts from {} °C",
                                             text(s.start_degC), text(ran.start)));
        const bool person = s.kind == SegmentKind::operator_wait;
        // A wait that nothing but the band ends takes what the furnace needs.
        const bool open = ran.waits && ran.first == 0;
        if (!std::isnan(s.duration_s) && !open && !same(s.duration_s, person ? 0 : ran.first))
            return length(s.duration_s, person ? 0 : ran.first);
        if (!json_) return;
        double shortest = ran.least, longest = ran.most;
        if (const auto from_start = from_measured(s)) {
            const double dwells = std::max(0.0, ran.first - from_start->nominal);
            shortest = std::min(shortest, from_start->time.lo + dwells);
            longest = std::max(longest, from_start->time.hi + dwells);
        }
        if (ran.waits) longest = infinity;
        // Where only the band ends it, the replay knows no length: the figures must agree among themselves.
        const double shown = open ? s.duration_s : ran.first;
        const bool inside =
            at_most(shortest, s.duration_lo_s) && at_most(s.duration_hi_s, longest) &&
            at_most(s.duration_lo_s, s.duration_hi_s) &&
            (std::isnan(shown) || (at_most(s.duration_lo_s, shown) && at_most(shown, s.duration_hi_s)));
        if (!inside)
            say_of("duration_s_range",
                   fmt::format("the table says that it takes {} s, it takes {}",
                               text(s.duration_lo_s, s.duration_hi_s),
                               std::isinf(longest)         ? text(std::max(0.0, ran.least)) + " s or more"
                               : same(ran.least, ran.most) ? text(ran.first) + " s"
                                                           : text(ran.least, ran.most) + " s"));
    }
    void end(const Segment& s) {
        if (!std::isnan(s.start_degC))
            return say_of("start_degC", fmt::format("the table says that it starts from {} °C, an end has none",
                                                    text(s.start_degC)));
        if (json_ && (!std::isnan(s.duration_s) && s.duration_s != 0))
            length(s.duration_s, 0);
        else if (json_ && (s.duration_lo_s != 0 || s.duration_hi_s != 0))
            say_of("duration_s_range", fmt::format("the table says that it takes {} s, an end takes no time",
                                                   text(s.duration_lo_s, s.duration_hi_s)));
    }
    void length(double said, double is) {
        say_of("duration_s",
               fmt::format("the table says that it takes {} s, it takes {} s", text(said), text(is)));
    }

    void say_of(const char* key, const std::string& message) {
        const program::Part& part = table_.parts[part_];
        std::string words =
            fmt::format("programme {}, segment {}: {}: {}", part.number, segment_ + 1, key, message);
        if (json_)
            return say({{"programs", 0}, {"", part_}, {"segments", 0}, {"", segment_}, {key, 0}},
                       std::move(words));
        const auto number = static_cast<std::uint32_t>(segment_ + 1);
        list_.push_back({row_span(read_, {part.number, number}), std::move(words)});
    }
    void say(std::vector<Step> path, std::string message) {
        const auto at = static_cast<std::uint32_t>(targets::json::locate(read_.bytes, path));
        list_.push_back({Span{0, at, at + 1}, std::move(message)});
    }

    bool json_;
    const ReadTable& read_;
    const program::Program& table_;
    std::map<Row, Ran> rows_;
    Interval start_; // degC
    std::size_t part_ = 0, segment_ = 0;
    std::vector<Misfit> list_;
};

} // namespace

std::vector<Misfit> figure_misfits(const ReadTable& table, const replay::Run& run, Interval start,
                                   const Session* session, const Compiled* compiled) {
    const targets::Target& target = table.target;
    // Other formats round what is not keyed to their own steps, and only people read it there.
    const bool exact = target.name == "json" || target.name == "csv" || target.name == "markdown";
    if (!run.problems.empty() || !exact) return {};
    Check check(table, run, start);
    check.segments();
    std::optional<targets::json::Figures> figures;
    if (target.name == "json") figures = targets::json::figures(table.bytes);
    if (!figures) return check.take();
    const bool very_same =
        session && compiled && targets::sheet::differences(compiled->legalised.program, table.program).empty();
    std::vector<Misfit> list = check.take();
    if (list.empty() && very_same) {
        check.as_compiled(compiled->legalised.program);
        list = check.take();
    }
    if (!list.empty()) return list; // the totals would only say the same again
    check.totals(*figures);
    list = check.take();
    if (!list.empty() || !session || !compiled) return list;
    // What the recipe's own table says, in the same digits.
    const std::vector<targets::OutputFile> own =
        target.write(compiled->legalised.program, context(*session, *compiled), "own");
    const std::string& bytes = own.front().bytes;
    if (very_same)
        if (std::optional<targets::json::Figures> want = targets::json::figures(bytes))
            check.as_compiled(*figures, *want);
    list = check.take();
    return list.empty() ? copied_misfits(table, bytes, very_same) : list;
}

} // namespace athanor::driver
