#include "compiler/driver/pipeline.hpp"

#include "compiler/check/evaluate.hpp"
#include "compiler/driver/words.hpp"
#include "compiler/plant/allowance.hpp"
#include "compiler/quantity/unit.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace athanor::driver {
namespace {

/// Values of --set and of calls in tests, evaluated; a wrong one was reported and is left out.
std::vector<std::pair<std::string, check::Value>>
evaluated(const check::Model& model, const std::vector<std::pair<std::string, check::ExprId>>& values,
          Diagnostics& out) {
    std::vector<std::pair<std::string, check::Value>> list;
    for (const auto& [name, expr] : values) {
        check::Value value = check::evaluate(model, expr, check::Frame{}, out);
        if (!value.poison()) list.emplace_back(name, std::move(value));
    }
    return list;
}

/// Not judged yet: what is asked for.
Compiled named(Session& session, check::Index recipe, const Options& options) {
    const check::Recipe& asked = session.model.recipes[recipe];
    Compiled result;
    result.recipe = recipe;
    result.name = std::string(session.model.names[asked.name]);
    result.files_wrong = session.files_wrong;
    if (asked.broken) return result;
    const check::Index rig = session.rig(options);
    result.rig = rig == check::none ? asked.rig_index : rig;
    result.controller = session.controller(options, recipe);
    // With other equipment or values than those that were asked for nothing is claimed.
    result.judged = !session.asked_wrong;
    return result;
}

/// Does it ask what gas is in the tube?
bool about_mixture(const timeline::Condition& condition) {
    return std::any_of(condition.terms.begin(), condition.terms.end(), [](const timeline::Term& term) {
        switch (term.left.kind) {
        case timeline::SignalKind::fraction:
        case timeline::SignalKind::dew_point:
        case timeline::SignalKind::flammability:
        case timeline::SignalKind::ignitability:
        case timeline::SignalKind::outflow_margin:
        case timeline::SignalKind::swept: return term.kind == timeline::Term::Kind::compare;
        default: return false;
        }
    });
}

/// Is it of the gas in the tube, which air that came in, or fuel and oxygen let in together, made another?
bool about_mixture(const Diagnostic& d, const timeline::Timeline& timeline) {
    switch (d.code) {
    case Code::flammable_mixture:
    case Code::cold_ends_open_to_air:
    case Code::no_inert_purge_first: return true;
    case Code::requirement_violated:
    case Code::requirement_not_provable:
    case Code::expectation_violated:
        return std::any_of(timeline.conditions.begin(), timeline.conditions.end(),
                           [&](const timeline::Condition& condition) {
                               const Span at = condition.source;
                               return at.file == d.span.file && at.begin >= d.span.begin &&
                                      at.end <= d.span.end && about_mixture(condition);
                           });
    default: return false;
    }
}

/// Does it follow from what was told already, so that it would be no second fault?
bool follows(const Diagnostic& later, const Diagnostic& first, const timeline::Timeline& timeline) {
    const bool behind = later.span.file != first.span.file || later.span.begin >= first.span.begin;
    const bool asked = group(later.code) == Group::requirement; // stands above the step that breaks it
    const bool again = later.code == first.code && later.span.file == first.span.file &&
                       later.span.begin < first.span.end && first.span.begin < later.span.end;
    if (again) return true;
    switch (first.code) {
    case Code::air_drawn_in: return (behind || asked) && about_mixture(later, timeline);
    case Code::opposing_valves:
        return behind && (about_mixture(later, timeline) || group(later.code) == Group::flammable_gas ||
                          group(later.code) == Group::any_fault);
    case Code::beyond_tube:
    case Code::beyond_sensor:
    case Code::tube_vacuum_limit: return later.code == Code::interlock_acts; // one against what is too hot
    default: return false;
    }
}

/// A recipe that the rig cannot run, though all is known of what would happen: its rules are judged as it
/// stands, so that who reads it learns of them now. Nothing is keyed.
void judge_as_written(Session& session, Compiled& compiled, std::size_t errors_before, Diagnostics& out) {
    const check::Model& model = session.model;
    const program::Controller* controller =
        compiled.controller == check::none || model.controllers[compiled.controller].broken
            ? nullptr
            : &model.controllers[compiled.controller];
    std::vector<const Diagnostic*> told;
    std::size_t errors = 0;
    for (const Diagnostic& d : out.all())
        if (d.severity == Severity::error && ++errors > errors_before) told.push_back(&d);
    Diagnostics said;
    compiled.assurance = prove::prove(model, model.rigs[compiled.rig], *compiled.elaborated.timeline,
                                      *compiled.elaborated.plant, session.files, said, controller);
    for (const Diagnostic& d : said.all())
        if (std::none_of(told.begin(), told.end(), [&](const Diagnostic* first) {
                return follows(d, *first, *compiled.elaborated.timeline);
            }))
            out.add(d);
}

} // namespace

Compiled compile(Session& session, check::Index recipe, const Options& options,
                 const std::vector<std::pair<std::string, check::ExprId>>& values, Diagnostics& out,
                 legalise::Texts texts) {
    const std::size_t before = out.errors();
    auto all = evaluated(session.model, values, out);
    if (out.errors() != before) return named(session, recipe, options);
    std::vector<Span> places;
    for (const auto& [name, expr] : values) places.push_back(session.model.exprs[expr].span);
    Compiled result = compile_at(session, recipe, options, std::move(all), out, std::move(places), texts);
    // A value of the command line that cannot be is no verdict on the recipe.
    for (const Diagnostic& d : out.all())
        if (d.severity == Severity::error && is_command_line(session.files[d.span.file]))
            session.asked_wrong = true;
    result.judged = result.judged && !session.asked_wrong;
    return result;
}

Compiled compile_at(Session& session, check::Index recipe, const Options& options,
                    std::vector<std::pair<std::string, check::Value>> values, Diagnostics& out,
                    std::vector<Span> places, legalise::Texts texts) {
    const check::Model& model = session.model;
    Compiled result = named(session, recipe, options);
    if (model.recipes[recipe].broken || !result.judged) return result;
    const std::size_t before = out.errors();
    const elaborate::Request request{recipe, result.rig, std::move(values), result.controller,
                                     std::move(places)};
    result.elaborated = elaborate::elaborate(model, request, session.files, out);
    result.timeline_ready = result.elaborated.timeline != nullptr;
    // A process that the rig cannot run has no state to judge rules on.
    if (!result.elaborated.whole) return result;
    if (!result.elaborated.complete) {
        judge_as_written(session, result, before, out);
        return result;
    }
    if (result.controller != check::none) check_words(*result.elaborated.timeline, out);
    const check::Rig& machine = model.rigs[result.rig];
    const program::Controller* controller =
        result.controller == check::none ? nullptr : &model.controllers[result.controller];
    // What is wrong with it was told; the process is judged, and nothing is keyed.
    const bool unusable = controller != nullptr && controller->broken;
    if (unusable) controller = nullptr;
    // What runs is the rounded program, so that is what is proven; without one, the recipe as it is written.
    struct Attempt {
        legalise::Legalised legalised;
        prove::Assurance assurance;
        Diagnostics said;
    };
    const prove::Hazards hazards{model, machine, *result.elaborated.timeline, *result.elaborated.plant};
    const legalise::Limits limits = keying_limits(hazards);
    auto attempt = [&](bool nearest) {
        Attempt a;
        const elaborate::Elaborated& asked = result.elaborated;
        if (controller)
            a.legalised = legalise::legalise_within(limits, *asked.timeline, *asked.plant, *controller,
                                                    session.files, a.said, nearest, texts);
        a.assurance =
            prove::prove(model, machine, a.legalised.complete ? a.legalised.timeline : *asked.timeline,
                         *asked.plant, session.files, a.said, controller);
        return a;
    };
    Attempt made = attempt(false);
    // Set-points that were moved to save segments go back where that alone is not proven safe, or no longer
    // certain to come into a band. The second attempt is proven from its beginning like the first, and taken
    // whole or not at all.
    if (made.said.any_error() && made.legalised.displaced)
        if (Attempt other = attempt(true); !other.said.any_error()) made = std::move(other);
    for (const Diagnostic& diagnostic : made.said.all()) out.add(diagnostic);
    result.legalised = std::move(made.legalised);
    result.assurance = std::move(made.assurance);
    if (result.legalised.complete)
        for (std::string& ability : abilities(result.legalised.program))
            result.assurance.assumptions.push_back(std::move(ability));
    // Whatever else is wrong in the files, nothing in them is proven: it may be a rule that nobody could read.
    result.proven = out.errors() == before && !unusable && !session.files_wrong;
    return result;
}

std::vector<std::string> abilities(const program::Program& program) {
    const auto any = [&](auto&& has) { return std::any_of(program.parts.begin(), program.parts.end(), has); };
    std::vector<std::string> list;
    if (any([](const program::Part& part) { return part.next != 0; }))
        list.emplace_back("a programme that goes on in another by itself passes on its set-point, outputs and "
                          "flows as they stand, whatever else the controller starts a programme from");
    if (program.controller.holds_at_end && any([](const program::Part& p) { return !p.thresholds.empty(); }))
        list.emplace_back("an output that follows the temperature goes on doing so between two programmes and "
                          "behind the last one, as long as the controller holds");
    return list;
}

legalise::Limits keying_limits(const prove::Hazards& hazards) {
    return {[&](double from, double to) { return plant::tube_allowance(hazards.model, hazards.rig, from, to); },
            [&](const plant::State& state, const timeline::State& discrete) {
                return !hazards.unattended(state, discrete).empty();
            }};
}

Interval total_of(const timeline::Timeline& timeline, const std::function<Interval(std::size_t span)>& share) {
    if (timeline.exits.empty()) {
        Interval total;
        for (std::size_t i = 0; i < timeline.spans.size(); ++i) total = total + share(i);
        return total;
    }
    // Where a person may end a repeat, the run may have gone on from any of its passes.
    std::vector<Interval> until;
    until.reserve(timeline.spans.size() + 1);
    until.emplace_back();
    for (std::size_t i = 0; i <= timeline.spans.size(); ++i) {
        for (const timeline::Exit& exit : timeline.exits)
            if (exit.to == i && exit.from < i) until[i] = hull(until[i], until[exit.from]);
        if (i < timeline.spans.size()) until.push_back(until[i] + share(i));
    }
    return until.back();
}

Interval duration(const timeline::Timeline& timeline) {
    return total_of(timeline, [&](std::size_t i) {
        // How long a person takes is not part of the recipe's length.
        const timeline::Span& span = timeline.spans[i];
        return span.ending.kind == timeline::EndingKind::person ? Interval{} : span.duration;
    });
}

std::string conceded(const Compiled& compiled) {
    std::string text;
    if (!compiled.proven) return text;
    for (const std::string& one : compiled.assurance.concessions) text += "\n  conceded: " + one;
    return text;
}

std::string summary(const Compiled& compiled, const Session& session) {
    if (!compiled.judged) return compiled.name + ": not judged, the command line has an error";
    if (!compiled.proven)
        return compiled.name + (compiled.files_wrong ? ": refused, the file has errors" : ": refused");
    std::string text = compiled.name + ": proven";
    bool legal = compiled.legalised.complete;
    const timeline::Timeline& timeline = legal ? compiled.legalised.timeline : *compiled.elaborated.timeline;
    text += ", " + to_text(duration(timeline), Kind::time, 3);
    if (!legal) return text + ", no controller named";
    const program::Controller& controller = session.model.controllers[compiled.controller];
    std::uint32_t used = program::segment_count(compiled.legalised.program);
    text += fmt::format(", {} segment{}", used, used == 1 ? "" : "s");
    if (compiled.legalised.program.parts.size() > 1)
        text += fmt::format(" in {} programmes", compiled.legalised.program.parts.size());
    return text + fmt::format(" (of {} each on {})", controller.segments, controller.name);
}

} // namespace athanor::driver
