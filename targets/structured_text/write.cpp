#include "targets/structured_text/structured_text.hpp"

#include "targets/provenance.hpp"
#include "targets/words.hpp"

#include <algorithm>
#include <numeric>

#include <fmt/format.h>

namespace athanor::targets::structured_text {
namespace {

using program::Part;
using program::Segment;

/// (* … *), plain ASCII, and never an end of its own inside.
std::string comment(std::string_view text) {
    std::string plain = ascii(text);
    for (std::size_t at = 0; (at = plain.find("*)", at)) != std::string::npos;) plain.replace(at, 2, "* )");
    for (std::size_t at = 0; (at = plain.find("(*", at)) != std::string::npos;) plain.replace(at, 2, "( *");
    // A star at the end would close the comment early together with our own.
    return "(* " + plain + " *)";
}

/// A single-byte string: `$` in front of what is special, `$hh` for what is no printable ASCII.
std::string literal(std::string_view text) {
    std::string out = "'";
    for (char c : text) {
        auto byte = static_cast<unsigned char>(c);
        if (c == '$' || c == '\'')
            out += fmt::format("${}", c);
        else if (byte < 0x20 || byte > 0x7E)
            out += fmt::format("${:02X}", byte);
        else
            out += c;
    }
    return out + "'";
}

std::string real(const Decimal& number) {
    std::string text = number.text();
    return text.find('.') == std::string::npos ? text + ".0" : text;
}

/// Wide enough for every count of every grid.
const char* count_type(const program::Controller& controller) {
    auto small = [](const Grid& grid) {
        constexpr std::int64_t limit = 2'147'483'647;
        return std::abs(count_of(grid, 0)) <= limit && std::abs(count_of(grid, grid.count())) <= limit;
    };
    bool all = small(controller.setpoint) && small(controller.dwell) &&
               (!controller.rate || small(*controller.rate)) &&
               (!controller.ramp_time || small(*controller.ramp_time)) &&
               (!controller.soak_band || small(*controller.soak_band));
    return all ? "DINT" : "LINT";
}

/// Figures of several zones or channels have no other names.
std::string in_order(const std::vector<std::string>& names) {
    std::string text;
    for (const std::string& name : names) text += (text.empty() ? "" : ", ") + name;
    return text;
}

std::size_t longest_hand_over(const program::Program& program) {
    std::size_t longest = 0;
    for (const Part& part : program.parts) longest = std::max(longest, part.hand_over.size());
    return longest;
}

class Types {
public:
    explicit Types(const program::Program& program) : program_(program) {}

    std::string text() {
        line("TYPE");
        segment();
        line("    ATHANOR_PROGRAMME : STRUCT");
        line("        Number : DINT;");
        line("        FirstSegment : DINT; (* index into ATHANOR_SEGMENTS *)");
        line("        SegmentCount : DINT;");
        line("        NextNumber : DINT; (* programme that follows by itself; 0: none *)");
        if (const std::size_t length = longest_hand_over(program_); length > 0)
            line(fmt::format("        Before : STRING[{}]; (* what a person does before it *)", length));
        line("    END_STRUCT;");
        loop();
        threshold();
        line("END_TYPE");
        return std::move(out_);
    }

private:
    void line(const std::string& text) { out_ += text + "\n"; }
    bool any(auto Part::*list) const {
        return std::any_of(program_.parts.begin(), program_.parts.end(),
                           [&](const Part& part) { return !(part.*list).empty(); });
    }

    void segment() {
        const std::size_t zones = std::max<std::size_t>(1, program_.zones.size());
        const std::string each = zones > 1 ? "for the zones " + in_order(program_.zones) : "for each zone";
        line("    ATHANOR_SEGMENT : STRUCT");
        line("        Kind : INT; (* 0 ramp, 1 dwell, 2 step, 3 ramp_dwell, 4 operator, 5 end *)");
        line("        HasTarget : BOOL;");
        line(fmt::format("        Target : ARRAY [1..{}] OF {}; (* {}, in ATHANOR_SETPOINT_UNIT *)", zones,
                         count_, each));
        line(fmt::format("        Rate : ARRAY [1..{}] OF {}; (* in ATHANOR_RATE_UNIT; -1: none *)", zones,
                         count_));
        line(fmt::format("        RampTime : {}; (* in ATHANOR_RAMP_TIME_UNIT; -1: none *)", count_));
        line(fmt::format("        Dwell : {}; (* in ATHANOR_DWELL_UNIT; -1: none *)", count_));
        line(fmt::format("        Band : {}; (* in ATHANOR_BAND_UNIT; -1: none *)", count_));
        line("        Outputs : DWORD; (* bit n-1: output n energised *)");
        if (!program_.channels.empty()) {
            std::vector<std::string> names;
            for (const std::string& channel : program_.channels) names.push_back(channel + "_sccm");
            line(fmt::format(
                "        Flow : ARRAY [1..{}] OF DINT; (* {}, each in 0.001 sccm: mL/min at 0 degC, "
                "101.325 kPa *)",
                names.size(), in_order(names)));
        }
        line("    END_STRUCT;");
    }
    void loop() {
        if (!any(&Part::loops)) return;
        line("    ATHANOR_LOOP : STRUCT");
        line("        Programme : DINT;");
        line("        FirstSegment : DINT; (* in its programme, from 1 *)");
        line("        LastSegment : DINT;");
        line("        Passes : DINT; (* in all *)");
        line("    END_STRUCT;");
    }
    void threshold() {
        if (!any(&Part::thresholds)) return;
        line("    ATHANOR_THRESHOLD : STRUCT");
        line("        Programme : DINT;");
        line("        Output : DINT;");
        line(fmt::format("        Temperature : {}; (* in ATHANOR_SETPOINT_UNIT *)", count_));
        line("        Above : BOOL; (* TRUE: energised above it; FALSE: below it *)");
        line("    END_STRUCT;");
    }

    const program::Program& program_;
    const char* count_ = count_type(program_.controller);
    std::string out_;
};

class Writer {
public:
    Writer(const program::Program& program, const Context& context)
        : program_(program), controller_(program.controller), context_(context),
          zones_(std::max<std::size_t>(1, program.zones.size())) {
        text_ = longest_hand_over(program);
    }

    std::string text() {
        line(comment(program_.title.empty() ? program_.recipe : program_.title));
        for (const std::string& text : cautions(context_)) line(comment(text));
        for (const std::string& text : provenance_lines(program_, context_)) line(comment(text));
        for (const program::Output& output : program_.outputs) line(comment(output_comment(output)));
        line("");
        out_ += type_declarations(program_);
        constants();
        return std::move(out_);
    }

private:
    void line(const std::string& text) { out_ += text + "\n"; }

    void constants() {
        line("");
        line("VAR_GLOBAL CONSTANT");
        auto unit = [&](const char* name, const std::optional<Grid>& grid, const char* what) {
            if (grid)
                line(fmt::format("    ATHANOR_{}_UNIT : LREAL := {}; (* {} *)", name, real(unit_of(*grid)),
                                 what));
        };
        unit("SETPOINT", controller_.setpoint, "degC");
        unit("RATE", controller_.rate, "K/min");
        unit("RAMP_TIME", controller_.ramp_time, "s");
        unit("DWELL", controller_.dwell, "s");
        unit("BAND", controller_.soak_band, "K");
        std::vector<std::string> rows, notes;
        std::size_t first = 1;
        for (const Part& part : program_.parts) {
            rows.push_back(
                fmt::format("(Number := {}, FirstSegment := {}, SegmentCount := {}, NextNumber := {}{})",
                            part.number, first, part.segments.size(), part.next,
                            text_ > 0 ? ", Before := " + literal(part.hand_over) : ""));
            first += part.segments.size();
        }
        array("PROGRAMMES", "ATHANOR_PROGRAMME", rows, {});
        rows.clear();
        for (const Part& part : program_.parts)
            for (std::size_t i = 0; i < part.segments.size(); ++i) {
                rows.push_back(segment(part.segments[i]));
                std::string at = place(part.segments[i].source, context_);
                std::string note = fmt::format("{}.{}", part.number, i + 1);
                if (!at.empty()) note += " " + at;
                if (!part.segments[i].instruction.empty()) note += ": " + part.segments[i].instruction;
                notes.push_back(std::move(note));
            }
        array("SEGMENTS", "ATHANOR_SEGMENT", rows, notes);
        rows.clear();
        for (const Part& part : program_.parts)
            for (const program::Loop& loop : part.loops)
                rows.push_back(
                    fmt::format("(Programme := {}, FirstSegment := {}, LastSegment := {}, Passes := {})",
                                part.number, loop.first + 1, loop.last + 1, loop.passes));
        array("LOOPS", "ATHANOR_LOOP", rows, {});
        rows.clear();
        notes.clear();
        for (const Part& part : program_.parts)
            for (const program::ThresholdOutput& t : part.thresholds) {
                rows.push_back(fmt::format("(Programme := {}, Output := {}, Temperature := {}, Above := {})",
                                           part.number, t.output, count_of(controller_.setpoint, t.temperature),
                                           t.energised_above ? "TRUE" : "FALSE"));
                notes.push_back(t.instruction);
            }
        array("THRESHOLDS", "ATHANOR_THRESHOLD", rows, notes);
        line("END_VAR");
    }

    void array(const char* name, const char* type, const std::vector<std::string>& rows,
               const std::vector<std::string>& notes) {
        if (rows.empty()) return;
        line(fmt::format("    ATHANOR_{} : ARRAY [1..{}] OF {} := [", name, rows.size(), type));
        for (std::size_t i = 0; i < rows.size(); ++i) {
            if (i < notes.size() && !notes[i].empty()) line("        " + comment(notes[i]));
            line("        " + rows[i] + (i + 1 < rows.size() ? "," : ""));
        }
        line("    ];");
    }

    std::string segment(const Segment& s) const {
        auto number = [](const std::optional<Grid>& grid, std::int64_t k) {
            return k < 0 || !grid ? std::string("-1") : std::to_string(count_of(*grid, k));
        };
        std::string targets, rates, flows;
        for (std::size_t z = 0; z < zones_; ++z) {
            targets +=
                (z == 0 ? "" : ", ") +
                (z < s.targets.size() ? std::to_string(count_of(controller_.setpoint, s.targets[z])) : "0");
            rates += (z == 0 ? "" : ", ") + (z < s.rates.size() ? number(controller_.rate, s.rates[z]) : "-1");
        }
        for (std::size_t i = 0; i < program_.channels.size(); ++i)
            flows += (i == 0 ? "" : ", ") + std::to_string(i < s.channels.size() ? s.channels[i] : -1);
        return fmt::format(
            "(Kind := {}, HasTarget := {}, Target := [{}], Rate := [{}], RampTime := {}, Dwell := {}, "
            "Band := {}, Outputs := 16#{:08X}{})",
            static_cast<int>(s.kind), s.targets.empty() ? "FALSE" : "TRUE", targets, rates,
            number(controller_.ramp_time, s.ramp_time), number(controller_.dwell, s.dwell),
            number(controller_.soak_band, s.band), s.outputs, flows.empty() ? "" : ", Flow := [" + flows + "]");
    }

    const program::Program& program_;
    const program::Controller& controller_;
    const Context& context_;
    std::size_t zones_, text_ = 0;
    std::string out_;
};

std::int64_t scaled(const Decimal& number, int exponent) {
    std::int64_t value = number.mantissa;
    for (int i = number.exponent; i > exponent; --i) value *= 10;
    return value;
}

} // namespace

Decimal unit_of(const Grid& grid) {
    int exponent = std::min({grid.lo.exponent, grid.step.exponent, std::int8_t{0}});
    std::int64_t common = std::gcd(scaled(grid.lo, exponent), scaled(grid.step, exponent));
    return {common == 0 ? 1 : common, static_cast<std::int8_t>(exponent)};
}

std::int64_t count_of(const Grid& grid, std::int64_t k) {
    int exponent = std::min({grid.lo.exponent, grid.step.exponent, std::int8_t{0}});
    return scaled(grid.decimal(k), exponent) / unit_of(grid).mantissa;
}

std::string type_declarations(const program::Program& program) {
    return Types(program).text();
}

std::string output_comment(const program::Output& output) {
    const bool valve = output.use == program::OutputUse::line;
    const char* rest = output.on_without_power ? valve ? "open" : "on" : valve ? "closed" : "off";
    return fmt::format("bit {} of Outputs: output {}, {}; without power {}", output.number - 1, output.number,
                       output.name, rest);
}

std::string single_blanks(std::string_view text) {
    std::string out;
    for (const char c : text) {
        const bool blank = c == ' ' || c == '\t' || c == '\r' || c == '\n';
        if (!blank)
            out += c;
        else if (!out.empty() && out.back() != ' ')
            out += ' ';
    }
    if (out.ends_with(' ')) out.pop_back();
    return out;
}

std::vector<OutputFile> write(const program::Program& program, const Context& context, std::string_view stem) {
    return {{std::string(stem) + ".st", Writer(program, context).text()}};
}

} // namespace athanor::targets::structured_text
