#include "targets/sheet/rows.hpp"
#include "targets/words.hpp"

#include <algorithm>
#include <tuple>

#include <fmt/format.h>

namespace athanor::targets::sheet {
namespace {

using program::Part;
using program::Segment;

std::string figures(const std::optional<Grid>& grid, const std::vector<std::int64_t>& list, const char* unit) {
    std::string text;
    for (std::int64_t k : list) text += (text.empty() ? "" : ", ") + (grid ? grid->text(k) : std::to_string(k));
    return text.empty() ? "nothing" : text + " " + unit;
}
std::string figure(const std::optional<Grid>& grid, std::int64_t k, const char* unit) {
    return k < 0 ? "nothing" : figures(grid, {k}, unit);
}

class Comparison {
public:
    explicit Comparison(const program::Controller& controller) : controller_(controller) {}

    void part(const Part& a, const Part& b) {
        where_ = fmt::format("programme {}", a.number);
        same("its number", std::to_string(a.number), std::to_string(b.number));
        same("the programme that follows by itself", a.next == 0 ? "none" : std::to_string(a.next),
             b.next == 0 ? "none" : std::to_string(b.next));
        same("what a person does before it", quoted(a.hand_over), quoted(b.hand_over));
        same("its thresholds", thresholds(a), thresholds(b));
        same("its loops", loops(a), loops(b));
        same("the number of its segments", std::to_string(a.segments.size()),
             std::to_string(b.segments.size()));
        for (std::size_t i = 0; i < std::min(a.segments.size(), b.segments.size()); ++i) {
            where_ = fmt::format("programme {}, segment {}", a.number, i + 1);
            segment(a.segments[i], b.segments[i]);
        }
    }

    void same(std::string_view field, const std::string& written, const std::string& back) {
        if (written != back)
            list_.push_back(fmt::format("{}: {}: {} is read back as {}", where_, field, written, back));
    }

    std::vector<std::string> take() { return std::move(list_); }

private:
    static std::string quoted(const std::string& text) { return text.empty() ? "nothing" : "`" + text + "`"; }
    std::string thresholds(const Part& part) const {
        std::string text;
        for (const program::ThresholdOutput& t : part.thresholds)
            text +=
                fmt::format("{}output {} energised {} {} degC", text.empty() ? "" : ", ", t.output,
                            t.energised_above ? "above" : "below", controller_.setpoint.text(t.temperature));
        return text.empty() ? "none" : text;
    }
    static std::string loops(const Part& part) {
        std::string text;
        std::vector<program::Loop> list = part.loops; // their order means nothing
        std::sort(list.begin(), list.end(), [](const program::Loop& a, const program::Loop& b) {
            return std::tie(a.first, a.last, a.passes) < std::tie(b.first, b.last, b.passes);
        });
        for (const program::Loop& l : list)
            text +=
                fmt::format("{}{} to {} {} times", text.empty() ? "" : ", ", l.first + 1, l.last + 1, l.passes);
        return text.empty() ? "none" : text;
    }

    void segment(const Segment& a, const Segment& b) {
        same("kind", std::string(word(a.kind)), std::string(word(b.kind)));
        // An end holds what the controller's declaration says: its set-point is keyed nowhere.
        bool end = a.kind == program::SegmentKind::end;
        if (!end || !b.targets.empty())
            same("target", figures(controller_.setpoint, a.targets, "degC"),
                 figures(controller_.setpoint, b.targets, "degC"));
        same("rate", figures(controller_.rate, a.rates, "K/min"), figures(controller_.rate, b.rates, "K/min"));
        same("time of the ramp", figure(controller_.ramp_time, a.ramp_time, "s"),
             figure(controller_.ramp_time, b.ramp_time, "s"));
        same("dwell", figure(controller_.dwell, a.dwell, "s"), figure(controller_.dwell, b.dwell, "s"));
        same("soak band", figure(controller_.soak_band, a.band, "K"),
             figure(controller_.soak_band, b.band, "K"));
        for (std::uint32_t n = 0; n < 32; ++n)
            same(fmt::format("output {}", n + 1), (a.outputs >> n & 1U) != 0 ? "1" : "0",
                 (b.outputs >> n & 1U) != 0 ? "1" : "0");
        if (!end || !b.channels.empty()) {
            auto flows = [](const std::vector<std::int64_t>& list) {
                std::string text;
                for (std::int64_t k : list) text += (text.empty() ? "" : ", ") + Decimal{k, -3}.text();
                return text.empty() ? "nothing" : text + " sccm";
            };
            same("flows", flows(a.channels), flows(b.channels));
        }
    }

    const program::Controller& controller_;
    std::string where_ = "the table";
    std::vector<std::string> list_;
};

} // namespace

std::vector<std::string> differences(const program::Program& written, const program::Program& back) {
    Comparison comparison(written.controller);
    comparison.same("the number of programmes", std::to_string(written.parts.size()),
                    std::to_string(back.parts.size()));
    for (std::size_t i = 0; i < std::min(written.parts.size(), back.parts.size()); ++i)
        comparison.part(written.parts[i], back.parts[i]);
    return comparison.take();
}

} // namespace athanor::targets::sheet
