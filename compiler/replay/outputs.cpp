#include "compiler/replay/outputs.hpp"

#include "compiler/quantity/unit.hpp"
#include "compiler/replay/stretch.hpp"
#include "compiler/replay/works.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace athanor::replay {
namespace {

using program::OutputUse;

/// cm3/min at 0 degC and 101.325 kPa of 1 mol/s; R in J/(mol K), exact in the SI of 2019. A figure of
/// its own: what checks the table shares no constant of the trade with what wrote it.
constexpr double sccm_per_mol_s = 8.31446261815324 * zero_celsius / 101325.0 * 1e6 * 60.0;

std::string_view word(const program::Output& output, bool active) {
    bool valve = output.use == OutputUse::line;
    return active ? valve ? "open" : "on" : valve ? "closed" : "off";
}

/// What the recipe has the output's device do.
bool acts(const program::Output& output, const timeline::State& state) {
    switch (output.use) {
    case OutputUse::line: return state.open[output.line];
    case OutputUse::burner: return state.burner;
    case OutputUse::pump: return state.pump;
    case OutputUse::bubbler: return state.bubbler;
    case OutputUse::slide: return state.slide;
    case OutputUse::other: break;
    }
    return false;
}

std::string difference(const program::Output& output, bool active) {
    return fmt::format("{} is {}, the recipe has it {}", output.name, word(output, active),
                       word(output, !active));
}

} // namespace

Outputs::Outputs(const timeline::Timeline& timeline, const program::Program& program)
    : timeline_(timeline), program_(program),
      half_step_(0.5 * program.controller.setpoint.step.value() + 1e-6) {}

std::vector<std::string> Outputs::declared() const {
    std::vector<std::string> list;
    auto find = [&](OutputUse use, std::size_t line) -> const program::Output* {
        for (const program::Output& output : program_.outputs)
            if (output.use == use && (use != OutputUse::line || output.line == line)) return &output;
        return nullptr;
    };
    auto check = [&](OutputUse use, std::size_t line, std::uint32_t number, bool without_power,
                     const std::string& name) {
        const program::Output* output = find(use, line);
        if (!output)
            list.push_back(fmt::format("no output switches {}, the rig has it on output {}", name, number));
        else if (output->number != number)
            list.push_back(fmt::format("output {} switches {}, the rig has it on output {}", output->number,
                                       name, number));
        else if (output->on_without_power != without_power)
            list.push_back(fmt::format("{} is {} when output {} is not energised, the rig has it {}", name,
                                       word(*output, output->on_without_power), number,
                                       word(*output, without_power)));
    };
    for (std::size_t i = 0; i < timeline_.lines.size(); ++i) {
        const timeline::Line& line = timeline_.lines[i];
        if (line.ever_open() && line.output != 0)
            check(OutputUse::line, i, line.output, line.open_without_power, line.name);
    }
    auto ever = [&](bool timeline::State::*device) {
        return std::any_of(timeline_.states.begin(), timeline_.states.end(),
                           [&](const timeline::State& s) { return s.*device; });
    };
    if (timeline_.burner.present && timeline_.burner.output != 0 && ever(&timeline::State::burner))
        check(OutputUse::burner, 0, timeline_.burner.output, timeline_.burner.on_without_power, "burner");
    if (timeline_.pump.present && timeline_.pump.output != 0 && ever(&timeline::State::pump))
        check(OutputUse::pump, 0, timeline_.pump.output, timeline_.pump.on_without_power, "pump");
    if (timeline_.bubbler.output != 0 && ever(&timeline::State::bubbler))
        check(OutputUse::bubbler, 0, timeline_.bubbler.output, false, "bubbler");
    if (timeline_.slide.output != 0 && ever(&timeline::State::slide))
        check(OutputUse::slide, 0, timeline_.slide.output, false, "slide");
    for (const program::Output& output : program_.outputs)
        if (output.use == OutputUse::line && output.line >= timeline_.lines.size())
            list.push_back(
                fmt::format("output {} switches {}, which the rig does not have", output.number, output.name));
    return list;
}

const timeline::Threshold* Outputs::armed(const timeline::State& state, std::size_t line) const {
    for (std::size_t t = 0; t < timeline_.thresholds.size() && t < 32; ++t)
        if ((state.armed >> t & 1U) != 0 && timeline_.thresholds[t].line == line)
            return &timeline_.thresholds[t];
    return nullptr;
}

const program::ThresholdOutput* Outputs::threshold_output(std::uint32_t number, std::uint32_t output) const {
    for (const program::Part& part : program_.parts)
        if (part.number == number)
            for (const program::ThresholdOutput& threshold : part.thresholds)
                if (threshold.output == output) return &threshold;
    return nullptr;
}

std::string Outputs::threshold_difference(const program::Output& output, const program::ThresholdOutput& keyed,
                                          const timeline::State& state, double low, double high) const {
    double temperature = program_.controller.setpoint.value(keyed.temperature) + zero_celsius;
    bool active_above = keyed.energised_above != output.on_without_power;
    const timeline::Threshold* wanted = output.use == OutputUse::line ? armed(state, output.line) : nullptr;
    if (!wanted) {
        // It acts although nothing is armed: harmless only where the tube stays on the side the recipe has
        // anyway.
        bool open = acts(output, state);
        bool safe =
            (low >= temperature && active_above == open) || (high <= temperature && active_above != open);
        return safe ? ""
                    : fmt::format("a threshold at {} moves {}, the recipe has it {}",
                                  to_text(temperature, Kind::temperature), output.name, word(output, open));
    }
    if (std::abs(temperature - wanted->temperature) > half_step_)
        return fmt::format("{} follows {}, the recipe says {}", output.name,
                           to_text(temperature, Kind::temperature),
                           to_text(wanted->temperature, Kind::temperature));
    if (active_above != (wanted->opens == wanted->above))
        return fmt::format("{} is {} above {}, the recipe has it {}", output.name, word(output, active_above),
                           to_text(temperature, Kind::temperature), word(output, !active_above));
    return "";
}

std::vector<std::string> Outputs::differences(const Stretch& stretch, const timeline::State& state, double low,
                                              double high) const {
    std::vector<std::string> list;
    for (const program::Output& output : program_.outputs) {
        if (output.use == OutputUse::other) continue;
        if (output.use == OutputUse::line && output.line >= state.open.size()) continue;
        if (output.number < 1 || output.number > stretch.outputs.size()) continue;
        if (const program::ThresholdOutput* keyed = threshold_output(stretch.part, output.number)) {
            std::string text = threshold_difference(output, *keyed, state, low, high);
            if (!text.empty()) list.push_back(std::move(text));
            continue;
        }
        bool active = works(output, stretch.outputs);
        bool expected = acts(output, state);
        if (output.use == OutputUse::line)
            if (const timeline::Threshold* threshold = armed(state, output.line)) {
                // Keyed as segments: each must stay on one side.
                bool may_below = low < threshold->temperature - half_step_;
                bool may_above = high > threshold->temperature + half_step_;
                bool open_above = threshold->opens == threshold->above;
                if ((may_above && active != open_above) || (may_below && active == open_above))
                    list.push_back(fmt::format("{} is {} while the set-point is on the other side of {}",
                                               output.name, word(output, active),
                                               to_text(threshold->temperature, Kind::temperature)));
                continue;
            }
        if (active != expected) list.push_back(difference(output, active));
    }
    if (!stretch.between) channels(stretch.channels_sccm, stretch.outputs, state, Reach{low, high}, list);
    return list;
}

std::optional<bool> Outputs::shown_open(const std::vector<bool>& energised, std::size_t line) const {
    for (const program::Output& output : program_.outputs)
        if (output.use == OutputUse::line && output.line == line && output.number >= 1 &&
            output.number <= energised.size())
            return works(output, energised);
    return std::nullopt;
}

/// Whether some programme has an output that follows the temperature for the line.
bool Outputs::by_itself(std::size_t line) const {
    for (const program::Output& output : program_.outputs)
        if (output.use == OutputUse::line && output.line == line)
            for (const program::Part& part : program_.parts)
                if (threshold_output(part.number, output.number)) return true;
    return false;
}

void Outputs::channels(const std::vector<double>& sccm, const std::vector<bool>& energised,
                       const timeline::State& state, const std::optional<Reach>& reach,
                       std::vector<std::string>& list) const {
    for (std::size_t c = 0; c < program_.channels.size() && c < sccm.size(); ++c) {
        auto found =
            std::find_if(timeline_.lines.begin(), timeline_.lines.end(),
                         [&](const timeline::Line& line) { return line.name == program_.channels[c]; });
        if (found == timeline_.lines.end()) {
            list.push_back(
                fmt::format("channel {} sets {}, which the rig does not have", c + 1, program_.channels[c]));
            continue;
        }
        auto line = static_cast<std::size_t>(found - timeline_.lines.begin());
        bool open = state.open[line] != 0;
        double flow = open ? state.flows[line] : 0;
        if (const timeline::Threshold* threshold = armed(state, line)) {
            flow = threshold->flow;
            const std::optional<bool> shown = shown_open(energised, line);
            const bool open_above = threshold->opens == threshold->above;
            if (by_itself(line)) {
                open = true; // the meter stands ready on both sides
            } else if (shown) {
                open = *shown; // on the right side: that is told of the output
            } else if (!reach || (reach->low <= threshold->temperature + half_step_ &&
                                  reach->high >= threshold->temperature - half_step_)) {
                open = sccm[c] > 0;
            } else {
                open = (reach->low > threshold->temperature) == open_above;
            }
        }
        // A meter that is told to let gas through while its valve is shut stands wide open when that opens.
        double wanted = open ? flow * sccm_per_mol_s : 0;
        constexpr double resolution = 0.001; // channels are keyed in thousandths
        if (std::abs(sccm[c] - wanted) <= resolution + 1e-9 * wanted) continue;
        if (open || found->output == 0)
            list.push_back(fmt::format("{} flows at {:.6g} sccm, the recipe has {:.6g} sccm", found->name,
                                       sccm[c], wanted));
        else
            list.push_back(fmt::format("{} is closed and its meter is set to {:.6g} sccm, the recipe has it at "
                                       "0 sccm",
                                       found->name, sccm[c]));
    }
}

std::vector<std::string> Outputs::end_differences(const Run& run, const timeline::State& state) const {
    std::vector<std::string> list;
    const std::vector<bool>& energised = run.end_outputs;
    for (const program::Output& output : program_.outputs) {
        if (output.use == OutputUse::other || output.number < 1 || output.number > energised.size()) continue;
        if (output.use == OutputUse::line && output.line >= state.open.size()) continue;
        if (output.use == OutputUse::line && armed(state, output.line)) continue;
        bool active = works(output, energised);
        bool expected = acts(output, state);
        if (active != expected) list.push_back(difference(output, active));
    }
    channels(run.end_channels_sccm, energised, state, std::nullopt, list);
    return list;
}

} // namespace athanor::replay
