#include "compiler/legalise/wiring.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::legalise {

using timeline::Index;
using timeline::State;
using timeline::Timeline;

namespace {

athanor::Span first_use(const Timeline& timeline, auto&& uses) {
    for (const timeline::Action& action : timeline.actions)
        if (uses(timeline.states[action.state])) return action.source;
    return timeline.spans.empty() ? athanor::Span{} : timeline.spans.front().source;
}

bool acts(const Timeline& timeline, const State& state, Index line) {
    if (state.open[line]) return true;
    for (std::size_t i = 0; i < timeline.thresholds.size(); ++i)
        if ((state.armed >> i & 1U) != 0 && timeline.thresholds[i].line == line) return true;
    return false;
}

class Numbering {
public:
    Numbering(const Timeline& timeline, const program::Controller& controller, Wiring& wiring, Diagnostics& out)
        : timeline_(timeline), controller_(controller), wiring_(wiring), out_(out) {}

    void add(Index number, const std::string& name, program::OutputUse use, Index line, bool on_without_power,
             athanor::Span source) {
        if (number > controller_.outputs || number > 32) {
            out_.error(Code::too_many_outputs, source,
                       fmt::format("{} is switched by output {}, {} has {}", name, number, controller_.name,
                                   controller_.outputs == 0 ? "none" : std::to_string(controller_.outputs)))
                .remedy(fmt::format("a controller with {} outputs, or a rig that switches {} by a lower one",
                                    number, name));
            return;
        }
        wiring_.outputs.push_back({number, name, use, line, on_without_power});
    }
    void lines() {
        for (Index i = 0; i < timeline_.lines.size(); ++i) {
            const timeline::Line& line = timeline_.lines[i];
            if (!line.ever_open() || line.output == 0) continue;
            add(line.output, line.name, program::OutputUse::line, i, line.open_without_power,
                first_use(timeline_, [&](const State& s) { return acts(timeline_, s, i); }));
        }
    }
    void device(const timeline::Device& device, const std::string& name, program::OutputUse use,
                bool State::*on) {
        if (!device.present || device.output == 0) return;
        const bool used = std::any_of(timeline_.states.begin(), timeline_.states.end(),
                                      [&](const State& state) { return state.*on; });
        // One that is on without power must be energised to stay off, used or not.
        if (!used && !device.on_without_power) return;
        add(device.output, name, use, 0, device.on_without_power,
            first_use(timeline_, [&](const State& state) { return state.*on; }));
    }
    void channels() {
        for (Index i = 0; i < timeline_.lines.size(); ++i) {
            const timeline::Line& line = timeline_.lines[i];
            if (!line.used || !line.channel) continue;
            wiring_.channel_lines.push_back(i);
            if (wiring_.channel_lines.size() != controller_.channels + std::size_t{1}) continue;
            const auto needed = std::count_if(timeline_.lines.begin(), timeline_.lines.end(),
                                              [](const timeline::Line& l) { return l.used && l.channel; });
            out_.error(Code::too_many_outputs,
                       first_use(timeline_, [&](const State& s) { return acts(timeline_, s, i); }),
                       fmt::format("the recipe drives {} controlled {}, {} has {} analogue {}", needed,
                                   needed == 1 ? "meter" : "meters", controller_.name,
                                   controller_.channels == 0 ? "no" : std::to_string(controller_.channels),
                                   controller_.channels == 1 ? "channel" : "channels"))
                .remedy(fmt::format("a controller with {} channels, or a meter that is set by hand for {}",
                                    needed, line.name));
        }
    }

private:
    const Timeline& timeline_;
    const program::Controller& controller_;
    Wiring& wiring_;
    Diagnostics& out_;
};

} // namespace

std::uint32_t Wiring::bits(const State& state) const {
    std::uint32_t energised = 0;
    for (const program::Output& output : outputs) {
        bool on = false;
        switch (output.use) {
        case program::OutputUse::line: on = state.open[output.line]; break;
        case program::OutputUse::burner: on = state.burner; break;
        case program::OutputUse::pump: on = state.pump; break;
        case program::OutputUse::bubbler: on = state.bubbler; break;
        case program::OutputUse::slide: on = state.slide; break;
        case program::OutputUse::other: break;
        }
        if (on != output.on_without_power) energised |= 1U << (output.number - 1);
    }
    return energised;
}

program::Values Wiring::channels(const State& state) const {
    program::Values values;
    static const Unit& sccm = *unit_named("sccm");
    for (const Index line : channel_lines)
        values.push_back(state.open[line] ? std::llround(from_si(state.flows[line], sccm) * 1000.0) : 0);
    return values;
}

std::vector<std::string> Wiring::channel_names(const Timeline& timeline) const {
    std::vector<std::string> names;
    for (const Index line : channel_lines) names.push_back(timeline.lines[line].name);
    return names;
}

Wiring wire(const Timeline& timeline, const program::Controller& controller, Diagnostics& out) {
    Wiring wiring;
    Numbering numbering(timeline, controller, wiring, out);
    numbering.lines();
    numbering.device(timeline.burner, "burner", program::OutputUse::burner, &State::burner);
    numbering.device(timeline.pump, "pump", program::OutputUse::pump, &State::pump);
    numbering.device(timeline.bubbler, "bubbler", program::OutputUse::bubbler, &State::bubbler);
    numbering.device(timeline.slide, "slide", program::OutputUse::slide, &State::slide);
    numbering.channels();
    std::sort(wiring.outputs.begin(), wiring.outputs.end(),
              [](const program::Output& a, const program::Output& b) { return a.number < b.number; });
    return wiring;
}

} // namespace athanor::legalise
