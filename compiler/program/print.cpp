#include "compiler/program/program.hpp"

#include <fmt/format.h>

#include <iterator>

namespace athanor::program {

namespace {

using Out = std::back_insert_iterator<std::string>;

std::string text(const Grid& grid, const char* unit) {
    return fmt::format("{} {} to {} {} by {} {}", grid.lo.text(), unit, grid.hi.text(), unit, grid.step.text(),
                       unit);
}

std::string text(const std::optional<Grid>& grid, const char* unit) {
    return grid ? text(*grid, unit) : "none";
}

const char* yes_no(bool value) {
    return value ? "yes" : "no";
}

const char* text(Controller::Power power) {
    switch (power) {
    case Controller::Power::stop: return "stop";
    case Controller::Power::resume: return "resume";
    case Controller::Power::undeclared: break;
    }
    return "undeclared";
}

const char* text(OutputUse use) {
    switch (use) {
    case OutputUse::line: return "line";
    case OutputUse::burner: return "burner";
    case OutputUse::pump: return "pump";
    case OutputUse::bubbler: return "bubbler";
    case OutputUse::slide: return "slide";
    case OutputUse::other: break;
    }
    return "other";
}

void print_controller(Out out, const Controller& c) {
    fmt::format_to(out, "controller {} \"{}\"\n", c.name, c.title);
    fmt::format_to(out, "  programs {}, segments {}, linking {}\n", c.programs, c.segments, yes_no(c.linking));
    fmt::format_to(out, "  loops {} levels, {} to {} passes\n", c.loop_levels, c.passes_lo, c.passes_hi);
    fmt::format_to(out, "  zones {}\n  setpoint {}\n  rate {}\n  ramp time {}\n  dwell {}\n", c.zones,
                   text(c.setpoint, "degC"), text(c.rate, "K/min"), text(c.ramp_time, "s"), text(c.dwell, "s"));
    fmt::format_to(out, "  outputs {}, thresholds {}, channels {}\n", c.outputs, c.thresholds, c.channels);
    fmt::format_to(out, "  soak band {}{}\n", text(c.soak_band, "K"), c.band_on_ramps ? ", on ramps too" : "");
    fmt::format_to(out, "  longest wait {}\n", c.longest_wait ? fmt::format("{} s", *c.longest_wait) : "none");
    fmt::format_to(out, "  operator wait {}\n", yes_no(c.operator_wait));
    fmt::format_to(out, "  starts from {}\n",
                   c.starts_from_measured ? std::string{"measured"} : fmt::format("{} degC", c.start_setpoint));
    fmt::format_to(out, "  segment form {}\n", c.ramp_and_dwell ? "ramp_and_dwell" : "ramp_or_dwell");
    fmt::format_to(out, "  at end {}, after power failure {}\n", c.holds_at_end ? "hold" : "off",
                   text(c.after_power_failure));
}

/// "300" for one zone, "300/310" for several.
std::string per_zone(const Values& indices, const Grid& grid) {
    std::string joined;
    for (std::size_t zone = 0; zone < indices.size(); ++zone)
        joined += (zone == 0 ? "" : "/") + grid.text(indices[zone]);
    return joined;
}

void print_segment(Out out, const Program& program, const Files& files, const Segment& s, std::size_t number) {
    const Controller& c = program.controller;
    fmt::format_to(out, "  {} {}", number, name(s.kind));
    if (!s.targets.empty()) fmt::format_to(out, " to {} degC", per_zone(s.targets, c.setpoint));
    if (!s.rates.empty() && c.rate) fmt::format_to(out, " at {} K/min", per_zone(s.rates, *c.rate));
    if (s.ramp_time >= 0 && c.ramp_time) fmt::format_to(out, " over {} s", c.ramp_time->text(s.ramp_time));
    if (s.dwell >= 0) fmt::format_to(out, " dwell {} s", c.dwell.text(s.dwell));
    if (s.band >= 0 && c.soak_band) fmt::format_to(out, " within {} K", c.soak_band->text(s.band));
    std::string on;
    for (const Output& output : program.outputs)
        if ((s.outputs >> (output.number - 1) & 1U) != 0) on += fmt::format(" {}", output.number);
    fmt::format_to(out, " energised{}", on.empty() ? " none" : on);
    for (std::size_t i = 0; i < s.channels.size(); ++i)
        fmt::format_to(out, " {} {} sccm", i < program.channels.size() ? program.channels[i] : "channel",
                       Decimal{s.channels[i], -3}.text());
    fmt::format_to(out, "\n    from {} degC, {} s [{}, {}], source {}:{}-{}{}\n", s.start_degC, s.duration_s,
                   s.duration_lo_s, s.duration_hi_s, s.source.file, s.source.begin, s.source.end,
                   s.defaulted != 0 ? ", default" : "");
    if (!s.instruction.empty()) fmt::format_to(out, "    do: {}\n", s.instruction);
    if (const std::string why = program::text(s.why, files); !why.empty())
        fmt::format_to(out, "    why: {}\n", why);
}

void print_part(Out out, const Program& program, const Files& files, const Part& part) {
    fmt::format_to(out, "program {}", part.number);
    if (part.next != 0) fmt::format_to(out, ", goes on in {}", part.next);
    fmt::format_to(out, "\n");
    if (!part.hand_over.empty()) fmt::format_to(out, "  hand-over: {}\n", part.hand_over);
    for (const ThresholdOutput& t : part.thresholds) {
        fmt::format_to(out, "  threshold output {} energised {} {} degC, source {}:{}-{}\n", t.output,
                       t.energised_above ? "above" : "below", program.controller.setpoint.text(t.temperature),
                       t.source.file, t.source.begin, t.source.end);
        if (!t.instruction.empty()) fmt::format_to(out, "    do: {}\n", t.instruction);
    }
    for (std::size_t i = 0; i < part.segments.size(); ++i)
        print_segment(out, program, files, part.segments[i], i + 1);
    for (const Loop& loop : part.loops)
        fmt::format_to(out, "  loop {} to {}, {} passes\n", loop.first + 1, loop.last + 1, loop.passes);
}

} // namespace

std::string_view name(SegmentKind kind) {
    switch (kind) {
    case SegmentKind::ramp: return "ramp";
    case SegmentKind::dwell: return "dwell";
    case SegmentKind::step: return "step";
    case SegmentKind::ramp_dwell: return "ramp_dwell";
    case SegmentKind::operator_wait: return "operator";
    case SegmentKind::end: break;
    }
    return "end";
}

std::string text(const Why& why, const Files& files) {
    const auto place = [&](athanor::Span span) {
        return span.file < files.size() ? files.place_line(span) : std::string{"the recipe"};
    };
    std::string sentence{why.what};
    if (why.placed) sentence += " at " + place(why.at);
    sentence += why.behind_place;
    if (why.several) sentence += ", with those up to " + place(why.up_to);
    sentence += why.more;
    if (*why.apart != 0) sentence.append("; apart from the one before it: ").append(why.apart);
    return sentence;
}

std::string print(const Program& program, const Files& files) {
    std::string printed;
    const auto out = std::back_inserter(printed);
    fmt::format_to(out, "recipe {} \"{}\" on {}\n", program.recipe, program.title, program.rig);
    print_controller(out, program.controller);
    fmt::format_to(out, "zones");
    for (const std::string& zone : program.zones) fmt::format_to(out, " {}", zone);
    fmt::format_to(out, "\n");
    for (const Output& o : program.outputs)
        fmt::format_to(out, "output {} {} ({}{}){}\n", o.number, o.name, text(o.use),
                       o.use == OutputUse::line ? fmt::format(" {}", o.line) : std::string{},
                       o.on_without_power ? ", on without power" : "");
    for (std::size_t i = 0; i < program.channels.size(); ++i)
        fmt::format_to(out, "channel {} {}\n", i + 1, program.channels[i]);
    for (const Part& part : program.parts) print_part(out, program, files, part);
    return printed;
}

std::uint32_t segment_count(const Program& program) {
    std::size_t count = 0;
    for (const Part& part : program.parts) count += part.segments.size();
    return static_cast<std::uint32_t>(count);
}

} // namespace athanor::program
