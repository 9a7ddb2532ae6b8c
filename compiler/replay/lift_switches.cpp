#include "compiler/replay/lift_switches.hpp"

#include "compiler/replay/said.hpp"
#include "compiler/replay/works.hpp"
#include "compiler/source/invisible.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace athanor::replay {
namespace {

using program::OutputUse;

std::string sccm(std::int64_t thousandths) {
    return Decimal{thousandths, -3}.text() + " sccm";
}

/// A text of the language holds neither quotes nor line ends, nor what shows nothing.
std::string plain(std::string_view text) {
    std::string out;
    for (std::size_t at = 0; at < text.size();) {
        const Invisible hidden = invisible_at(text, at);
        if (hidden.size != 0 || static_cast<unsigned char>(text[at]) < 0x20)
            out += ' ';
        else
            out += text[at] == '"' ? '\'' : text[at];
        at += std::max(hidden.size, 1U);
    }
    return out;
}

} // namespace

Switches::Switches(const program::Program& program, const timeline::Timeline& bench, const LiftOptions& options,
                   Lifted& lifted)
    : program_(program), bench_(bench), options_(options), lifted_(lifted) {
    valves_.resize(bench.lines.size());
    ordered_.resize(bench.lines.size());
}

void Switches::missing(RowName row, std::string message, std::string remedy) {
    if (told_.insert(message).second) lifted_.missing.push_back({row, std::move(message), std::move(remedy)});
}
void Switches::disagree(RowName row, std::string message) {
    if (told_.insert(message).second) lifted_.disagree.push_back({row, std::move(message), ""});
}

std::optional<std::size_t> Switches::line_named(const std::string& name) const {
    for (std::size_t i = 0; i < bench_.lines.size(); ++i)
        if (bench_.lines[i].name == name) return i;
    return std::nullopt;
}

bool Switches::by_threshold(std::uint32_t number) const {
    for (const program::Part& part : program_.parts)
        for (const program::ThresholdOutput& threshold : part.thresholds)
            if (threshold.output == number) return true;
    return false;
}

std::string Switches::flow_for(std::size_t line, const std::string& said, RowName row) {
    const timeline::Line& l = bench_.lines[line];
    for (std::size_t c = 0; c < program_.channels.size() && c < channels_.size(); ++c)
        if (program_.channels[c] == l.name) {
            // One that opens and closes again in this row has no flow any more where it ends.
            if (channels_[c] == 0 && !said.empty()) return said;
            if (channels_[c] == 0)
                disagree(row, fmt::format("{} is open and its channel sets no flow", l.name));
            return sccm(channels_[c]);
        }
    auto given = options_.flows.find(l.name);
    if (given != options_.flows.end()) return given->second;
    if (!said.empty()) return said;
    if (!valves_[line].flow.empty()) return valves_[line].flow; // a hand meter keeps what was set before
    missing(
        row,
        fmt::format("{} opens, and no row says at which flow: its meter is not set by the controller", l.name),
        fmt::format("--flow '{}=1 L/min', with the flow that is set", l.name));
    return "1 sccm";
}

void Switches::open(std::size_t line, std::string flow, RowName row) {
    flow = flow_for(line, flow, row);
    out_.push_back(fmt::format("open {} at {}", bench_.lines[line].name, flow));
    valves_[line].open = true;
    valves_[line].flow = std::move(flow);
    valves_[line].named = true;
}

void Switches::device(Device& device, bool on, const char* start, const char* stop) {
    if (device.on == on) return;
    out_.emplace_back(on ? start : stop);
    device.on = on;
}

void Switches::line_order(const Word& word, RowName row) {
    std::optional<std::size_t> found = line_named(word.line);
    if (!found) return disagree(row, fmt::format("it names {}, which the rig does not have", word.line));
    Valve& valve = valves_[*found];
    ordered_[*found] = word.order != Order::close;
    if (word.order == Order::close) {
        out_.push_back("close " + word.line);
        valve.open = false;
        valve.named = true;
        return;
    }
    // `set` of a line that is shut opens it, and the language says so.
    if (word.order == Order::open || !valve.open) return open(*found, word.value, row);
    std::string flow = flow_for(*found, word.value, row);
    out_.push_back(fmt::format("set {} to {}", word.line, flow));
    valve.open = true;
    valve.flow = std::move(flow);
    valve.named = true;
}

std::vector<std::string> Switches::enter(RowName row, std::uint32_t outputs,
                                         const std::vector<std::int64_t>& channels,
                                         const std::string& instruction, std::string* person, bool* tube_open) {
    out_.clear();
    channels_ = channels;
    std::fill(ordered_.begin(), ordered_.end(), std::nullopt);
    std::vector<Word> words = words_of(instruction);
    if (person && !words.empty() && words.back().order == Order::text) {
        *person = plain(words.back().value);
        words.pop_back();
    }
    for (std::string& text : said_flows(instruction, program_.channels, channels, bench_))
        disagree(row, std::move(text));
    for (const program::Part& part : program_.parts) {
        if (part.number != row.first || row.second == 0) continue; // before a programme nothing is keyed
        const bool end = row.second == part.segments.size();
        for (std::string& text : said_switches(instruction, {outputs, channels, end}, program_, part, bench_))
            disagree(row, std::move(text));
    }
    for (const Word& word : words) {
        switch (word.order) {
        case Order::open:
        case Order::close:
        case Order::set: line_order(word, row); break;
        case Order::light: device(burner_, true, "light burner", ""); break;
        case Order::shut: device(burner_, false, "", "shut burner"); break;
        case Order::start_pump: device(pump_, true, "start pump", ""); break;
        case Order::stop_pump: device(pump_, false, "", "stop pump"); break;
        case Order::regulate: // it ends with the pump
            if (!word.value.empty()) out_.push_back("regulate pressure to " + word.value);
            break;
        case Order::humidify:
            out_.push_back(fmt::format("humidify {} at {}", word.line, word.value));
            bubbler_.on = true;
            break;
        case Order::move:
            out_.push_back("move sample to " + word.value);
            if (!bench_.places.empty()) slide_.on = word.value != bench_.places.front().name;
            break;
        case Order::open_tube:
            if (tube_open)
                *tube_open = true;
            else
                disagree(row, "the tube may be opened, and no person is waited for");
            break;
        case Order::after_end: break; // the rig and the controller do it, not the recipe
        case Order::text: out_.push_back(fmt::format("note \"{}\"", plain(word.value))); break;
        }
    }
    settle(row, outputs, channels);
    return std::move(out_);
}

/// What the outputs do beyond the instruction's words. All of it happens at one instant; written down, lines
/// open before others close, so that two gases never look further apart than they are.
void Switches::settle(RowName row, std::uint32_t outputs, const std::vector<std::int64_t>& channels) {
    std::vector<std::string> said = std::move(out_);
    out_.clear();
    devices_before(outputs);
    std::vector<std::string> closing;
    for (std::size_t line = 0; line < valves_.size(); ++line)
        if (settle_line(line, row, outputs, channels)) closing.push_back("close " + bench_.lines[line].name);
    out_.insert(out_.end(), closing.begin(), closing.end());
    devices_behind(row, outputs);
    out_.insert(out_.end(), said.begin(), said.end());
    exchange();
}

/// The pump is stopped and the burner lit before any line opens.
void Switches::devices_before(std::uint32_t outputs) {
    for (const program::Output& output : program_.outputs) {
        const bool on = works(output, outputs);
        if (output.use == OutputUse::pump && !on) device(pump_, false, "", "stop pump");
        if (output.use == OutputUse::burner && on) device(burner_, true, "light burner", "");
    }
}

/// Opens a line or sets its flow; true: it closes, which is written behind what opens.
bool Switches::settle_line(std::size_t line, RowName row, std::uint32_t outputs,
                           const std::vector<std::int64_t>& channels) {
    const std::string& name = bench_.lines[line].name;
    Valve& valve = valves_[line];
    std::optional<std::int64_t> channel;
    for (std::size_t c = 0; c < program_.channels.size() && c < channels.size(); ++c)
        if (program_.channels[c] == name) channel = channels[c];
    const program::Output* output = output_of(program_, OutputUse::line, line);
    if (!output && !channel) return false; // worked by hand: the words are all there is
    if (output && by_threshold(output->number)) return false;
    const bool on = output ? works(*output, outputs) : *channel > 0;
    if (ordered_[line] && *ordered_[line] != on) {
        disagree(row, fmt::format("it says that {} is {}, its output has it {}", name,
                                  *ordered_[line] ? "open" : "closed", on ? "open" : "closed"));
        return false;
    }
    if (on && channel && *channel == 0)
        disagree(row, fmt::format("{} is open and its channel sets no flow", name));
    if (!on && channel && *channel > 0)
        disagree(row, fmt::format("{} is closed and its meter is set to {}: it stands wide open when the valve "
                                  "opens; a closed line's channel is 0",
                                  name, sccm(*channel)));
    const bool closes = !on && valve.open != false;
    if (on && valve.open != true) {
        open(line, "", row);
    } else if (on && channel && *channel != valve.channel && !ordered_[line]) {
        out_.push_back(fmt::format("set {} to {}", name, flow_for(line, "", row)));
        valve.flow = sccm(*channel);
    } else if (closes) {
        valve.open = false;
        valve.named = true;
    }
    valve.channel = on && channel ? *channel : 0;
    return closes;
}

/// The pump is started and the burner shut when every line is as it should be.
void Switches::devices_behind(RowName row, std::uint32_t outputs) {
    for (const program::Output& output : program_.outputs) {
        const bool on = works(output, outputs);
        if (output.use == OutputUse::pump && on) device(pump_, true, "start pump", "");
        if (output.use == OutputUse::burner && !on) device(burner_, false, "", "shut burner");
        if (output.use == OutputUse::bubbler && bubbler_.on != on) {
            if (on)
                missing(row, "the bubbler is switched on, and no row says how warm its bath is",
                        fmt::format("--instruction '{}.{}=lead LINE through the bath at 40 °C'", row.first,
                                    row.second));
            bubbler_.on = on; // closing or opening its line anew leads it past the bath
        }
        if (output.use == OutputUse::slide && slide_.on != on) {
            const std::size_t place = on ? 1 : 0;
            if (place < bench_.places.size()) out_.push_back("move sample to " + bench_.places[place].name);
            slide_.on = on;
        }
    }
}

/// A line that opens at the instant at which every other one closes: `switch to`.
void Switches::exchange() {
    std::size_t opens = 0, closes = 0, still_open = 0, at = 0;
    for (std::size_t i = 0; i < out_.size(); ++i)
        if (out_[i].starts_with("open "))
            ++opens, at = i;
        else if (out_[i].starts_with("close "))
            ++closes;
    for (const Valve& valve : valves_) still_open += valve.open == false ? 0 : 1;
    bool neighbours = opens == 1 && closes > 0 && still_open == 1 && at + closes < out_.size();
    if (neighbours) {
        // One that opens and closes again leaves another one open.
        const std::string name = out_[at].substr(5, out_[at].find(' ', 5) - 5);
        const std::optional<std::size_t> opened = line_named(name);
        neighbours = opened && valves_[*opened].open == true;
    }
    for (std::size_t i = at + 1; neighbours && i <= at + closes; ++i)
        neighbours = out_[i].starts_with("close ");
    if (!neighbours) return;
    out_[at] = "switch to " + out_[at].substr(5);
    out_.erase(out_.begin() + static_cast<std::ptrdiff_t>(at) + 1,
               out_.begin() + static_cast<std::ptrdiff_t>(at + closes) + 1);
}

void Switches::loop_back(std::uint32_t first, std::uint32_t last,
                         const std::vector<std::int64_t>& channels_first,
                         const std::vector<std::int64_t>& channels_last) {
    for (const program::Output& output : program_.outputs) {
        if (energised(first, output.number) == energised(last, output.number)) continue;
        switch (output.use) {
        case OutputUse::line:
            if (output.line < valves_.size()) valves_[output.line].open.reset();
            break;
        case OutputUse::burner: burner_.on.reset(); break;
        case OutputUse::pump: pump_.on.reset(); break;
        case OutputUse::bubbler: bubbler_.on.reset(); break;
        case OutputUse::slide: slide_.on.reset(); break;
        case OutputUse::other: break;
        }
    }
    for (std::size_t c = 0; c < program_.channels.size(); ++c)
        if (c < channels_first.size() && c < channels_last.size() && channels_first[c] != channels_last[c])
            if (std::optional<std::size_t> line = line_named(program_.channels[c])) {
                valves_[*line].open.reset();
                valves_[*line].channel = -1;
            }
}

std::vector<std::string> Switches::unnamed_lines() const {
    std::vector<std::string> list;
    for (std::size_t i = 0; i < valves_.size(); ++i) {
        const program::Output* output = output_of(program_, OutputUse::line, i);
        // The output of a line that falls open has its column in any case.
        bool column = output && !by_threshold(output->number) && !bench_.lines[i].falls_open();
        for (const std::string& channel : program_.channels) column = column || channel == bench_.lines[i].name;
        if (column && !valves_[i].named) list.push_back(bench_.lines[i].name);
    }
    return list;
}

std::vector<std::string> Switches::thresholds(const program::Part& part) {
    std::vector<std::string> list;
    for (const program::Part& one : program_.parts)
        for (std::size_t t = 0; t < one.thresholds.size(); ++t)
            for (std::string& text : said_threshold(one.thresholds[t], program_, bench_))
                if (told_.insert(text).second)
                    lifted_.disagree.push_back({{one.number, 0}, std::move(text), "", true, t});
    for (const program::ThresholdOutput& threshold : part.thresholds) {
        const program::Output* output = nullptr;
        for (const program::Output& o : program_.outputs)
            if (o.number == threshold.output && o.use == OutputUse::line && o.line < valves_.size())
                output = &o;
        RowName row{part.number, 0};
        if (!output) {
            disagree(row, fmt::format("a threshold moves output {}, which switches no line", threshold.output));
            continue;
        }
        const std::string& name = bench_.lines[output->line].name;
        std::string flow = threshold_flow(threshold.instruction);
        if (auto given = options_.flows.find(name); given != options_.flows.end()) flow = given->second;
        if (flow.empty()) {
            missing(row, fmt::format("a threshold opens {}, and no row says at which flow", name),
                    fmt::format("--flow '{}=1 L/min', with the flow that is set", name));
            flow = "1 sccm";
        }
        bool open_above = threshold.energised_above != output->on_without_power;
        bool closes = threshold_closes(threshold.instruction);
        list.push_back(fmt::format("keep {} {} at {} {} {} degC", name, closes ? "closed" : "open", flow,
                                   open_above != closes ? "above" : "below",
                                   program_.controller.setpoint.text(threshold.temperature)));
    }
    return list;
}

} // namespace athanor::replay
