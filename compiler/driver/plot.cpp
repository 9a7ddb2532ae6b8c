// `athanor plot`: the bounds along a recipe as SVG.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/drawing.hpp"
#include "compiler/driver/output.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/prove/cautions.hpp"
#include "targets/sha256.hpp"

#include <fmt/format.h>

#include <filesystem>

namespace athanor::driver {
namespace {

DrawingText texts(const Session& session, const Compiled& compiled, const timeline::Timeline& timeline) {
    const check::Model& model = session.model;
    DrawingText text;
    text.title = timeline.title.empty() ? compiled.name : timeline.title;
    text.subtitle = fmt::format("{} on {}", compiled.name, timeline.rig);
    if (const std::string& title = model.rigs[compiled.rig].title; !title.empty())
        text.subtitle += ", " + title;
    if (compiled.legalised.complete)
        text.subtitle += fmt::format("; rounded to {}", model.controllers[compiled.controller].name);
    text.refused = !compiled.proven;
    text.verdict = compiled.proven ? summary(compiled, session)
                                   : "REFUSED: not a plan to run. athanor check says which rules do not hold";
    std::string source = version_text;
    source += ", " + std::filesystem::path(session.files[0].path()).filename().string() + " sha256 " +
              targets::sha256_hex(session.files[0].text()).substr(0, 16);
    for (const timeline::Parameter& p : timeline.parameters)
        source += fmt::format(", {} = {}{}", p.name, p.value, p.given ? "" : " (default)");
    text.provenance = {"A band holds every rig inside the declared intervals at that time after its step "
                       "began. It is computed "
                       "from a model, not measured; a step may begin earlier or later.",
                       source};
    text.cautions = prove::cautions(model, model.rigs[compiled.rig], timeline);
    text.concessions = compiled.assurance.concessions;
    for (const timeline::Line& line : timeline.lines) {
        std::string word;
        for (const check::Line& known : model.rigs[compiled.rig].lines) {
            if (known.name != line.name || known.gas == check::none) continue;
            const check::Hazards& h = model.gases[known.gas].hazards;
            word = h.flammable  ? "flammable"
                   : h.toxic    ? "toxic"
                   : h.oxidiser ? "oxidiser"
                   : h.inert    ? "inert"
                                : "";
        }
        text.hazards.push_back(word);
    }
    return text;
}

} // namespace

int run_plot(const PlotOptions& options) {
    Session session;
    if (!session.open(options.file, options)) return exit_usage;
    std::vector<check::Index> list = session.recipes(options);
    const Destination to = destination(options.output);
    if (list.size() > 1 && (to.standard_output || !to.stem.empty())) {
        fmt::print(stderr, "athanor plot: {} has {} recipes: name one with --recipe, or give -o a folder\n",
                   options.file, list.size());
        return exit_usage;
    }
    if (list.empty() && !session.out.any_error())
        session.out.error(Code::value_missing, Span{}, "the file holds no recipe to plot");

    std::vector<targets::OutputFile> output;
    std::vector<std::string> lines;
    for (check::Index recipe : list) {
        Compiled compiled = compile(session, recipe, options, session.sets, session.out);
        lines.push_back(summary(compiled, session) + conceded(compiled));
        // A recipe that a rule refuses is drawn, and says so; one that the rig cannot run has no curves.
        if (!compiled.elaborated.complete) continue;
        const timeline::Timeline& timeline =
            compiled.legalised.complete ? compiled.legalised.timeline : *compiled.elaborated.timeline;
        if (timeline.spans.size() > most_drawn_spans) {
            fmt::print(stderr, "athanor plot: {} has {} steps, and no more than {} are drawn\n", compiled.name,
                       timeline.spans.size(), most_drawn_spans);
            return exit_usage;
        }
        output.push_back({(to.stem.empty() ? compiled.name : to.stem) + ".svg",
                          draw(timeline, *compiled.elaborated.plant, texts(session, compiled, timeline))});
    }
    print_messages(session.out, session.files, options);
    for (const std::string& line : lines) fmt::print(stderr, "{}\n", line);
    const int written = put(to, output, "plot");
    if (written != exit_proven) return written;
    return session.status();
}

} // namespace athanor::driver
