// From a compiled recipe to checked bytes: what stands beside the program, and the proof that a table says it.
#include "compiler/driver/pipeline.hpp"

#include "compiler/driver/figures.hpp"
#include "compiler/driver/other_waits.hpp"
#include "compiler/legalise/rounding.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/prove/walk.hpp"
#include "compiler/replay/person.hpp"
#include "compiler/replay/replay.hpp"
#include "compiler/replay/said.hpp"
#include "grammar/format.hpp"
#include "grammar/parse.hpp"
#include "targets/sha256.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <set>

namespace athanor::driver {
namespace {

/// A declaration of a node kind by name, in any unit.
bool append_declaration(const Session& session, Node kind, std::string_view name, std::string& text,
                        std::set<std::string>& done) {
    if (!done.insert(fmt::format("{} {}", athanor::name(kind), name)).second) return true;
    for (const check::Unit& unit : session.units) {
        const Tree& tree = unit.tree;
        for (NodeId at : tree.children(tree.root)) {
            bool wanted = tree.kind(at) == kind || (kind == Node::gas && tree.kind(at) == Node::gas_mix);
            if (!wanted) continue;
            NodeId id = tree.child(at, Node::name);
            if (id == no_node || tree.text(id, session.files) != name) continue;
            if (unit.standard) return true; // every program has the standard library
            // What a variant is made from comes first.
            if (NodeId from = tree.child(at, Node::from); from != no_node)
                append_declaration(session, kind, tree.text(tree.child(from, 0U), session.files), text, done);
            text += std::string(tree.text(at, session.files)) + "\n\n";
            return true;
        }
    }
    return false;
}

/// Names of equipment that stand anywhere in the text of a rig: its gases, tube material and sensor.
std::string equipment_source(const Session& session, Node kind, const std::string& name) {
    std::string text;
    std::set<std::string> done;
    append_declaration(session, kind, name, text, done);
    std::string needed;
    if (kind == Node::rig) {
        const check::Model& model = session.model;
        // A variant brings what it is made from, with the gases of lines that it goes without.
        for (const check::Rig& rig : model.rigs) {
            if (!done.contains(fmt::format("{} {}", athanor::name(kind), rig.name))) continue;
            for (const check::Line& line : rig.lines)
                if (line.gas != check::none) {
                    // A mixture brings the site's own gases that it is made of.
                    for (const auto& [part, share] : model.gases[line.gas].parts)
                        append_declaration(session, Node::gas, model.gases[part].name, needed, done);
                    append_declaration(session, Node::gas, model.gases[line.gas].name, needed, done);
                }
            if (rig.tube.material != check::none)
                append_declaration(session, Node::material, model.materials[rig.tube.material].name, needed,
                                   done);
            if (rig.sensor.type != check::none)
                append_declaration(session, Node::thermocouple, model.thermocouples[rig.sensor.type].name,
                                   needed, done);
        }
    }
    text = needed + text;
    Files files;
    Diagnostics out;
    FileId id = files.add("equipment", text);
    return format(parse(id, files, out), files);
}

} // namespace

targets::Context context(const Session& session, const Compiled& compiled) {
    const check::Model& model = session.model;
    const timeline::Timeline& timeline = compiled.legalised.timeline;
    const plant::Plant& plant = *compiled.elaborated.plant;
    targets::Context context;
    context.files = &session.files;
    context.assurance = compiled.assurance;
    context.compiler = version_text;
    for (FileId id = 0; id < session.files.size(); ++id)
        if (std::filesystem::path(session.files[id].path()).filename() != values_file) // shown as command line
            context.sources.push_back(
                {session.files[id].path(), targets::sha256_hex(session.files[id].text())});
    context.rig_source = equipment_source(session, Node::rig, model.rigs[compiled.rig].name);
    context.controller_source =
        equipment_source(session, Node::controller, model.controllers[compiled.controller].name);
    for (const timeline::Parameter& p : timeline.parameters) context.parameters.emplace_back(p.name, p.value);
    Interval total = duration(timeline);
    context.duration_lo = total.lo;
    context.duration_hi = total.hi;

    const prove::Walk walk = prove::walk(timeline, plant);
    const auto by_a_person = [&](std::size_t i) {
        return timeline.spans[i].ending.kind == timeline::EndingKind::person;
    };
    for (std::size_t line = 0; line < timeline.lines.size(); ++line) {
        const auto index = static_cast<timeline::Index>(line);
        const Interval gas = total_of(timeline, [&](std::size_t i) {
            const timeline::Span& span = timeline.spans[i];
            const timeline::State& state = timeline.states[span.state];
            Interval used;
            if (by_a_person(i)) return used;
            if (state.open[line]) used = plant.true_flow(index, state.flows[line]) * span.duration;
            for (std::size_t t = 0; t < timeline.thresholds.size(); ++t)
                if ((state.armed >> t & 1U) != 0 && timeline.thresholds[t].line == index)
                    used =
                        used + hull(0.0, plant.true_flow(index, timeline.thresholds[t].flow)) * span.duration;
            return used;
        });
        if (gas.hi > 0) context.gas_mol.emplace_back(timeline.lines[line].name, std::pair{gas.lo, gas.hi});
    }
    const Interval energy = total_of(timeline, [&](std::size_t i) {
        return by_a_person(i)
                   ? Interval{}
                   : plant.energy(walk.entry(i), plant::drive(timeline, i), timeline.spans[i].duration);
    });
    context.energy_lo = energy.lo;
    context.energy_hi = energy.hi;
    return context;
}

Compared compare_with_recipe(const ReadTable& table, const Session& session, const Compiled& compiled) {
    const timeline::Timeline& recipe = *compiled.elaborated.timeline;
    Compared result;
    result.instructions = table.target.instructions;
    double start =
        recipe.laws.empty() ? compiled.elaborated.plant->start().zones[0].setpoint : recipe.laws_of(0)[0].from;
    result.run = replay::run(table.program, start - physics::zero_celsius);
    const auto say = [&](const std::vector<replay::Finding>& list) {
        for (const replay::Finding& finding : list) result.differences.push_back(misfit(table, finding));
    };
    say(result.run.problems);
    replay::Instructions instructions;
    if (result.instructions)
        instructions = replay::compare_instructions(table.program, compiled.legalised.program, recipe);
    say(instructions.otherwise);
    // Where rows stand beside their own, each was compared; the same fault is not told a second time along the
    // run.
    const bool hands = result.instructions && instructions.otherwise.empty();
    const program::Program& own = compiled.legalised.program;
    const replay::Run own_run = replay::run(own, start - physics::zero_celsius);
    const replay::Own wanted{own_run, own};
    std::vector<replay::OtherWait> waits;
    say(replay::compare(result.run, recipe, table.program, legalise::setpoint_budget, hands,
                        hands && !instructions.alike, &wanted, &waits));
    if (!result.differences.empty()) return result;
    result.differences = broken_by_waits(table, waits, session, compiled);
    if (!result.differences.empty()) return result;
    // What is keyed is right: then it is the words that are wrong.
    if (result.instructions) say(replay::compare_said(table.program, recipe));
    if (!result.differences.empty()) return result;
    const Interval tube = compiled.elaborated.plant->start().zones[0].control;
    result.differences = figure_misfits(table, result.run, tube, &session, &compiled);
    return result;
}

std::vector<std::string> validate(const targets::Target& target, const std::vector<targets::OutputFile>& output,
                                  const Session& session, const Compiled& compiled) {
    const program::Program& program = compiled.legalised.program;
    if (!target.read) return {};
    const std::string& bytes = output.front().bytes;
    targets::ReadError error;
    std::optional<program::Program> back = target.read(bytes, program, error);
    if (!back)
        return {fmt::format("{}:{}:{}: {}", output.front().name, error.line, error.column, error.message)};
    Compared compared = compare_with_recipe({target, bytes, *back}, session, compiled);
    std::vector<std::string> problems;
    for (Misfit& difference : compared.differences) problems.push_back(std::move(difference.message));
    if (!problems.empty()) return problems;
    // What was proven is the legalised timeline: the table may not differ from it by anything at all.
    for (const replay::Finding& finding :
         replay::compare_exactly(compared.run, compiled.legalised.timeline, *back, target.instructions))
        problems.push_back(replay::text_of(finding));
    return problems;
}

} // namespace athanor::driver
