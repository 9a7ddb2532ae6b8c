#include "compiler/physics/constants.hpp"
#include "targets/markdown/markdown.hpp"

#include "compiler/quantity/unit.hpp"
#include "targets/markdown/text.hpp"
#include "targets/provenance.hpp"
#include "targets/sheet/rows.hpp"
#include "targets/words.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace athanor::targets::markdown {

std::vector<std::string> output_words(const program::Output& output) {
    const bool valve = output.use == program::OutputUse::line;
    const std::string on = valve ? "open" : "on", off = valve ? "closed" : "off";
    return {std::to_string(output.number), "`" + output.name + "`", output.on_without_power ? off : on,
            output.on_without_power ? on : off};
}

std::vector<std::string> output_titles() {
    return {"Output", "Drives", "1, energised", "0, not energised"};
}

std::string target_title(const program::Program& program) {
    std::string title = "To degC";
    if (program.zones.size() < 2) return title;
    for (std::size_t z = 0; z < program.zones.size(); ++z) title += (z == 0 ? " " : "/") + program.zones[z];
    return title;
}

std::vector<std::string> legend() {
    return {"`ramp`: in a line to the temperature; `dwell`: hold it; `step`: jump to it, then wait for the "
            "band or the time; `ramp_dwell`: a ramp and the dwell behind it; `operator`: until a person "
            "acknowledges; `end`",
            "~ before a time: the controller works it out from the rate; it is not keyed",
            "`Band K`: time counts only while the measured temperature is this near to the set-point",
            "`Loop`: after this segment back to the one named, so often in all",
            "`/` between figures: one for each zone, in the order of the title `To degC`",
            "`Threshold`: while the programme runs this output follows the measured temperature by itself, "
            "whatever stands for it in the column `Out`"};
}

namespace {

using program::Part;
using program::Segment;
using program::SegmentKind;

class Page {
public:
    Page(const program::Program& program, const Context& context) : program_(program), context_(context) {}

    std::string text() {
        out_ += wrapped("# ", escaped(program_.title.empty() ? program_.recipe : program_.title), "  ");
        line("");
        item(fmt::format("recipe `{}`", program_.recipe));
        item(fmt::format("rig `{}`", program_.rig));
        item(fmt::format("controller `{}`", program_.controller.name));
        for (const auto& [name, value] : context_.parameters)
            item(fmt::format("`{}` = {}", name, escaped(value)));
        totals();
        heading("Cautions");
        for (const std::string& text : cautions(context_)) item(escaped(text));
        outputs();
        by_hand();
        for (const Part& part : program_.parts) programme(part);
        legend();
        granted();
        sources();
        return std::move(out_);
    }

private:
    void line(const std::string& text) { out_ += text + "\n"; }
    void heading(const std::string& text) { out_ += "\n## " + text + "\n\n"; }
    void item(const std::string& text) { out_ += wrapped("- ", text, "  "); }

    void totals() {
        item("takes " + to_text(Interval{context_.duration_lo, context_.duration_hi}, Kind::time) +
             ", waits for people not counted");
        constexpr double litres = physics::normal_litres;
        for (const auto& [name, mol] : context_.gas_mol)
            item(fmt::format("`{}`: {} to {} L at 0 °C and 101.325 kPa", name, nominal(mol.first * litres),
                             nominal(mol.second * litres)));
    }

    void outputs() {
        if (program_.outputs.empty()) return;
        heading("Outputs");
        std::vector<std::vector<std::string>> rows{output_titles()};
        for (const program::Output& output : program_.outputs) rows.push_back(output_words(output));
        out_ += table(rows, {true, false, false, false});
    }

    void by_hand() {
        std::string list;
        for (const std::string& deed : context_.assurance.beforehand)
            list += wrapped("- beforehand: ", escaped(deed), "  ");
        for (const Part& part : program_.parts) {
            if (!part.hand_over.empty())
                list += wrapped(fmt::format("- before programme {} is started: ", part.number),
                                escaped(part.hand_over), "  ");
            for (std::size_t i = 0; i < part.segments.size(); ++i) {
                const Segment& s = part.segments[i];
                if (s.kind == SegmentKind::operator_wait)
                    list += wrapped(fmt::format("- programme {}, segment {} waits: ", part.number, i + 1),
                                    escaped(s.instruction), "  ");
                else if (s.kind == SegmentKind::end && s.instruction.find("by hand") != std::string::npos)
                    list += wrapped(fmt::format("- when programme {} ends: ", part.number),
                                    escaped(s.instruction), "  ");
            }
        }
        if (list.empty()) return;
        heading("What a person does");
        out_ += list;
        line("");
        out_ += wrapped("",
                        "A line, burner or pump without an output is worked by hand as well: the instruction "
                        "of its segment says when.",
                        "");
    }

    void programme(const Part& part) {
        heading(fmt::format("Programme {}", part.number));
        if (!part.hand_over.empty()) out_ += wrapped("- Before it is started: ", escaped(part.hand_over), "  ");
        for (const program::ThresholdOutput& t : part.thresholds)
            out_ += wrapped(fmt::format("- Threshold: output {} is energised {} {} degC. ", t.output,
                                        t.energised_above ? "above" : "below",
                                        program_.controller.setpoint.text(t.temperature)),
                            escaped(t.instruction), "  ");
        if (part.next != 0) line(fmt::format("- Goes on by itself in programme {}.", part.next));
        if (!part.hand_over.empty() || !part.thresholds.empty() || part.next != 0) line("");
        segments(part);
        bool first = true;
        for (std::size_t i = 0; i < part.segments.size(); ++i) {
            const Segment& s = part.segments[i];
            if (s.instruction.empty()) continue;
            if (first) line("");
            first = false;
            std::string at = place(s.source, context_);
            out_ += wrapped(fmt::format("- {}{}: ", i + 1, at.empty() ? "" : " at `" + at + "`"),
                            escaped(s.instruction), "  ");
        }
    }

    void segments(const Part& part) {
        bool dwells = false, bands = false, rates = false;
        for (const Part& each : program_.parts)
            for (const Segment& s : each.segments) {
                dwells = dwells || s.kind == SegmentKind::ramp_dwell;
                bands = bands || s.band >= 0;
                rates = rates || !s.rates.empty();
            }
        std::vector<std::string> head{"Seg", "Kind", target_title(program_)};
        std::vector<bool> right{true, false, true};
        auto column = [&](const char* title, bool needed, bool to_right = true) {
            if (!needed) return;
            head.emplace_back(title);
            right.push_back(to_right);
        };
        column("K/min", rates);
        column("h:min:s", true);
        column("Dwell", dwells);
        column("Band K", bands);
        std::string bits;
        for (const program::Output& output : program_.outputs)
            bits += (bits.empty() ? "Out " : " ") + std::to_string(output.number);
        column(bits.c_str(), !program_.outputs.empty());
        for (const std::string& channel : program_.channels) column((channel + " sccm").c_str(), true);
        column("Loop", !part.loops.empty(), false);

        std::vector<std::vector<std::string>> rows{head};
        const program::Controller& c = program_.controller;
        for (std::size_t i = 0; i < part.segments.size(); ++i) {
            const Segment& s = part.segments[i];
            Length time = length(s, c);
            bool ramp = s.kind == SegmentKind::ramp || s.kind == SegmentKind::ramp_dwell;
            std::string targets, speeds;
            for (std::int64_t k : s.targets) targets += (targets.empty() ? "" : "/") + c.setpoint.text(k);
            if (c.rate && ramp)
                for (std::int64_t k : s.rates) speeds += (speeds.empty() ? "" : "/") + c.rate->text(k);
            std::vector<std::string> row{std::to_string(i + 1), std::string(word(s.kind)), targets};
            if (rates) row.push_back(speeds);
            row.push_back((ramp && !speeds.empty() && !time.duration.empty() ? "~" : "") +
                          clock(time.duration));
            if (dwells) row.push_back(clock(time.dwell));
            if (bands) row.push_back(s.band >= 0 && c.soak_band ? c.soak_band->text(s.band) : "");
            if (!program_.outputs.empty()) {
                std::string on;
                for (const program::Output& output : program_.outputs)
                    on += (on.empty() ? "" : " ") + std::to_string(s.outputs >> (output.number - 1) & 1U);
                row.push_back(on);
            }
            for (std::size_t n = 0; n < program_.channels.size(); ++n)
                row.push_back(n < s.channels.size() ? Decimal{s.channels[n], -3}.text() : "");
            if (!part.loops.empty()) {
                std::string loops;
                for (const program::Loop& loop : part.loops)
                    if (loop.last == i)
                        loops += fmt::format("{}from {} x {}", loops.empty() ? "" : ", ", loop.first + 1,
                                             loop.passes);
                row.push_back(loops);
            }
            rows.push_back(std::move(row));
        }
        out_ += table(rows, right);
    }

    void legend() {
        heading("How to read it");
        const bool thresholds = std::any_of(program_.parts.begin(), program_.parts.end(),
                                            [](const Part& part) { return !part.thresholds.empty(); });
        std::vector<std::string> lines = markdown::legend();
        for (const std::string& text : lines) {
            if (text.starts_with("`/`") && program_.zones.size() < 2) continue;
            if (text.starts_with("`Threshold`") && !thresholds) continue;
            item(text);
        }
    }

    void granted() {
        std::vector<std::string> list = defaults_used(program_, context_);
        for (const std::string& text : context_.assurance.assumptions)
            list.push_back("taken for granted: " + text);
        for (const std::string& text : context_.assurance.concessions) list.push_back("concession: " + text);
        if (list.empty()) return;
        heading("Defaults, assumptions and concessions");
        for (const std::string& text : list) item(escaped(text));
    }

    void sources() {
        heading("Where it comes from");
        item("written by " + escaped(context_.compiler) + " from these files, by SHA-256:");
        for (const SourceHash& source : context_.sources) {
            line("- `" + source.sha256 + "`");
            out_ += wrapped("  ", escaped(source.path), "  ");
        }
    }

    const program::Program& program_;
    const Context& context_;
    std::string out_;
};

} // namespace

std::vector<OutputFile> write(const program::Program& program, const Context& context, std::string_view stem) {
    return {{std::string(stem) + ".md", Page(program, context).text()}};
}

} // namespace athanor::targets::markdown
