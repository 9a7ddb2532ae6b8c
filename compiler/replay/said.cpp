#include "compiler/replay/said.hpp"

#include "compiler/quantity/unit.hpp"
#include "compiler/replay/figures.hpp"
#include "compiler/replay/instruction.hpp"
#include "compiler/replay/stretch.hpp"
#include "compiler/replay/works.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <string_view>

#include <fmt/format.h>

namespace athanor::replay {
namespace {

using program::OutputUse;
using timeline::Timeline;

bool moves_line(Order order) {
    return order == Order::open || order == Order::set || order == Order::close;
}

/// What is said last of a line holds for the row; null: nothing is.
const Word* last_said(const std::vector<Word>& words, const std::string& line) {
    const auto last = std::find_if(words.rbegin(), words.rend(), [&](const Word& word) {
        return moves_line(word.order) && word.line == line;
    });
    return last == words.rend() ? nullptr : &*last;
}

/// Compared with nothing: what a person would set by it is not known.
std::string unreadable(const timeline::Line& line, const std::string& flow) {
    const std::optional<Quantity> value = quantity(flow);
    const bool volume = value && value->kind == Kind::volume_flow;
    return fmt::format("it says that {} flows at {}, {}; say it in sccm or slm", line.name, flow,
                       volume ? "and no reference of its meter says how much gas that is"
                              : "which is no flow that can be read");
}

/// What the words name and the rig lacks, and figures that nobody can set.
class Unknown {
public:
    Unknown(const Timeline& rig, const std::vector<std::string>& channels) : rig_(rig), channels_(channels) {}

    std::vector<std::string> in(const std::string& instruction) const {
        std::vector<std::string> list;
        for (const Word& word : words_of(instruction))
            if (std::string amiss = in(word); !amiss.empty()) list.push_back(std::move(amiss));
        return list;
    }

private:
    static std::string lacks(std::string_view what) {
        return fmt::format("it names {}, which the rig does not have", what);
    }
    static std::string no_figure(const Word& word, Kind kind, const char* of) {
        const std::optional<Quantity> value = quantity(word.value);
        if (value && value->kind == kind) return "";
        return fmt::format("it says {} for {}, which cannot be read", word.value, of);
    }

    std::string in(const Word& word) const {
        switch (word.order) {
        case Order::open:
        case Order::set:
        case Order::close: return flow(word);
        case Order::light:
        case Order::shut: return rig_.burner.present ? "" : lacks("a burner");
        case Order::start_pump:
        case Order::stop_pump: return rig_.pump.present ? "" : lacks("a pump");
        case Order::regulate:
            if (!rig_.pump.present) return lacks("a pump");
            return word.value.empty() ? "" : no_figure(word, Kind::pressure, "the pressure");
        case Order::humidify:
            if (!line_named(rig_, word.line)) return lacks(word.line);
            if (!rig_.bubbler.present || rig_.bubbler_line >= rig_.lines.size()) return lacks("a bath");
            if (rig_.lines[rig_.bubbler_line].name != word.line)
                return fmt::format("it leads {} through the bath, which is in the line of {}", word.line,
                                   rig_.lines[rig_.bubbler_line].name);
            return no_figure(word, Kind::temperature, "the bath");
        case Order::move: {
            const bool known = std::any_of(rig_.places.begin(), rig_.places.end(),
                                           [&](const timeline::Place& p) { return p.name == word.value; });
            return known ? ""
                         : fmt::format("it moves the sample to {}, a place that the rig does not have",
                                       word.value);
        }
        case Order::open_tube:
        case Order::after_end: // asked row by row
        case Order::text: break;
        }
        return "";
    }
    std::string flow(const Word& word) const {
        const timeline::Line* line = line_named(rig_, word.line);
        if (!line) return lacks(word.line);
        // A channel's is asked beside what it sets.
        const bool channel = std::find(channels_.begin(), channels_.end(), word.line) != channels_.end();
        return channel || word.value.empty() || flow_said(*line, word.value) ? ""
                                                                             : unreadable(*line, word.value);
    }

    const Timeline& rig_;
    const std::vector<std::string>& channels_;
};

class Row {
public:
    Row(const std::string& instruction, const Keyed& keyed, const program::Program& program,
        const program::Part& part, const Timeline& rig)
        : words_(words_of(instruction)), keyed_(keyed), program_(program), part_(part), rig_(rig) {}

    std::vector<std::string> against() {
        for (std::size_t i = 0; i < rig_.lines.size(); ++i) line(i);
        device(OutputUse::burner, Order::light, Order::shut, "burner");
        device(OutputUse::pump, Order::start_pump, Order::stop_pump, "pump");
        bath();
        place();
        for (const Word& word : words_)
            if (word.order == Order::after_end) behind_end(word.value);
        return std::move(list_);
    }

private:
    bool on(const program::Output& output) const { return works(output, keyed_.outputs); }
    bool by_threshold(const program::Output& output) const {
        return std::any_of(part_.thresholds.begin(), part_.thresholds.end(),
                           [&](const program::ThresholdOutput& t) { return t.output == output.number; });
    }
    /// Outputs that fall at the end may be keyed so at once: what the words shut may then stand open.
    bool fallen() const { return keyed_.end && !program_.controller.holds_at_end && keyed_.outputs == 0; }

    void line(std::size_t i) {
        const std::string& name = rig_.lines[i].name;
        const Word* said = last_said(words_, name);
        if (!said) return;
        const bool open = said->order != Order::close;
        const program::Output* output = output_of(program_, OutputUse::line, i);
        const auto say = [&](const char* what) {
            list_.push_back(fmt::format("it says that {} is {}, {}", name, open ? "open" : "closed", what));
        };
        if (output && by_threshold(*output)) return say("a threshold moves it");
        if (output && on(*output) != open && (open || !fallen()))
            say(open ? "its output has it closed" : "its output has it open");
        const auto channel = std::find(program_.channels.begin(), program_.channels.end(), name);
        const auto c = static_cast<std::size_t>(channel - program_.channels.begin());
        if (!output && c < program_.channels.size() && c < keyed_.channels.size() &&
            (keyed_.channels[c] > 0) != open)
            say(open ? "its channel sets no flow" : "its channel sets a flow");
    }

    void device(OutputUse use, Order start, Order stop, const char* name) {
        const program::Output* output = output_of(program_, use);
        const auto last = std::find_if(words_.rbegin(), words_.rend(), [&](const Word& word) {
            return word.order == start || word.order == stop;
        });
        if (!output || last == words_.rend()) return;
        const bool starts = last->order == start;
        if (on(*output) == starts || (!starts && fallen())) return;
        list_.push_back(fmt::format("it says that the {} is {}, its output has it {}", name,
                                    starts ? "on" : "off", starts ? "off" : "on"));
    }

    void bath() {
        const program::Output* output = output_of(program_, OutputUse::bubbler);
        const auto last = std::find_if(words_.rbegin(), words_.rend(),
                                       [](const Word& word) { return word.order == Order::humidify; });
        if (!output || last == words_.rend() || on(*output)) return;
        // A line that is opened or closed behind it is led past the bath.
        const bool past = std::any_of(words_.rbegin(), last, [&](const Word& word) {
            return (word.order == Order::open || word.order == Order::close) && word.line == last->line;
        });
        if (!past)
            list_.push_back(fmt::format("it leads {} through the bath, its output leads it past", last->line));
    }

    void place() {
        const program::Output* output = output_of(program_, OutputUse::slide);
        const auto last = std::find_if(words_.rbegin(), words_.rend(),
                                       [](const Word& word) { return word.order == Order::move; });
        if (!output || last == words_.rend() || rig_.places.empty()) return;
        const bool moved = last->value != rig_.places.front().name;
        if (on(*output) != moved)
            list_.push_back(fmt::format("it moves the sample to {}, its output has it elsewhere", last->value));
    }

    void behind_end(const std::string& value) {
        using Goes = AfterEnd::Goes;
        const std::optional<AfterEnd> said = after_end(value);
        if (!said) return;
        const bool burner = said->subject == "the burner's feed", pump = said->subject == "the pump's valve";
        const timeline::Line* line = line_named(rig_, said->subject);
        const timeline::Device& device = burner ? rig_.burner : rig_.pump;
        if (burner || pump ? !device.present : !line)
            return list_.push_back(fmt::format("it names {}, which the rig does not have", said->subject));
        const timeline::Index number = line ? line->output : device.output;
        const bool without_power = line ? line->open_without_power : device.on_without_power;
        const bool released = number != 0 && !program_.controller.holds_at_end;
        const auto say = [&](const char* what) {
            list_.push_back(fmt::format("it says `{}`; {}", value, what));
        };
        if (released) {
            if ((said->goes == Goes::closed) == without_power)
                say(without_power ? "it falls open on this rig" : "it falls closed on this rig");
            return;
        }
        if (said->goes != Goes::on)
            return say(number == 0 ? "it is worked by hand and stays as it is"
                                   : "the controller holds its output at the end");
        const OutputUse use = line ? OutputUse::line : burner ? OutputUse::burner : OutputUse::pump;
        const program::Output* output =
            output_of(program_, use, line ? static_cast<std::size_t>(line - rig_.lines.data()) : 0);
        if (output && keyed_.end && !by_threshold(*output) && !on(*output)) say("its output holds it closed");
    }

    std::vector<Word> words_;
    const Keyed& keyed_;
    const program::Program& program_;
    const program::Part& part_;
    const Timeline& rig_;
    std::vector<std::string> list_;
};

} // namespace

std::vector<std::string> said_flows(const std::string& instruction, const std::vector<std::string>& names,
                                    const std::vector<std::int64_t>& channels, const Timeline& rig) {
    std::vector<std::string> list;
    if (instruction.empty()) return list;
    static const Unit& sccm = *unit_named("sccm");
    const std::vector<Word> words = words_of(instruction);
    for (std::size_t c = 0; c < names.size() && c < channels.size(); ++c) {
        const timeline::Line* line = line_named(rig, names[c]);
        const Word* last = last_said(words, names[c]);
        if (!line || !last || last->order == Order::close) continue;
        const std::optional<Quantity> said = flow_said(*line, last->value);
        const double keyed = to_si(static_cast<double>(channels[c]) / 1000.0, sccm);
        if (!said && !last->value.empty())
            list.push_back(unreadable(*line, last->value));
        else if (said && !near({said->si, Kind::flow}, {keyed, Kind::flow, exact}))
            list.push_back(fmt::format("it says that {} flows at {}, its channel sets {}", line->name,
                                       last->value, timeline::flow_text(*line, keyed)));
    }
    return list;
}

std::vector<std::string> said_switches(const std::string& instruction, const Keyed& row,
                                       const program::Program& program, const program::Part& part,
                                       const Timeline& rig) {
    if (instruction.empty()) return {};
    return Row(instruction, row, program, part, rig).against();
}

std::vector<std::string> said_threshold(const program::ThresholdOutput& threshold,
                                        const program::Program& program, const Timeline& rig) {
    std::vector<std::string> list;
    const std::optional<ThresholdWords> words = threshold_words(threshold.instruction);
    const auto output =
        std::find_if(program.outputs.begin(), program.outputs.end(), [&](const program::Output& o) {
            return o.number == threshold.output && o.use == OutputUse::line && o.line < rig.lines.size();
        });
    if (!words || output == program.outputs.end()) return list;
    const std::string& line = rig.lines[output->line].name;
    if (words->line != line) list.push_back(fmt::format("the threshold of {} names {}", line, words->line));
    const double keyed = program.controller.setpoint.value(threshold.temperature) + zero_celsius;
    const std::optional<Quantity> said = quantity(words->temperature);
    constexpr double tenth = 0.05; // K, half of the last digit of "125.3 °C"
    if (!said || said->kind != Kind::temperature ||
        std::abs(said->si - keyed) > std::max(tenth, said->shown * std::abs(said->si - zero_celsius)) + 1e-9)
        list.push_back(fmt::format("the threshold of {} says {}, {} is keyed", line, words->temperature,
                                   to_text(keyed, Kind::temperature, 6)));
    const bool open_above = threshold.energised_above != output->on_without_power;
    if ((words->opens == words->above) != open_above)
        list.push_back(fmt::format("the threshold of {} says that it is {} {} {}, its output has it {} there",
                                   line, words->opens ? "open" : "closed", words->above ? "above" : "below",
                                   words->temperature, words->opens ? "closed" : "open"));
    return list;
}

std::vector<Finding> compare_said(const program::Program& table, const Timeline& rig) {
    std::vector<Finding> list;
    const Unknown unknown(rig, table.channels);
    for (const program::Part& part : table.parts) {
        for (std::string& text : unknown.in(part.hand_over))
            list.push_back({{part.number, 0}, std::move(text), "", true});
        for (std::size_t t = 0; t < part.thresholds.size(); ++t)
            for (std::string& text : said_threshold(part.thresholds[t], table, rig))
                list.push_back({{part.number, 0}, std::move(text), "", true, t});
        for (std::size_t i = 0; i < part.segments.size(); ++i) {
            const program::Segment& s = part.segments[i];
            const RowName row{part.number, static_cast<std::uint32_t>(i + 1)};
            const std::vector<std::int64_t> channels(s.channels.begin(), s.channels.end());
            for (std::string& text : unknown.in(s.instruction))
                list.push_back({row, std::move(text), "", true});
            const Keyed keyed{s.outputs, channels, s.kind == program::SegmentKind::end};
            for (std::string& text : said_flows(s.instruction, table.channels, channels, rig))
                list.push_back({row, std::move(text), "", true});
            for (std::string& text : said_switches(s.instruction, keyed, table, part, rig))
                list.push_back({row, std::move(text), "", true});
        }
    }
    return list;
}

} // namespace athanor::replay
