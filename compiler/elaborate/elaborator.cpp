// Set-up and the two walks.
#include "compiler/elaborate/elaborator.hpp"

#include "compiler/elaborate/furnace_fault.hpp"
#include "compiler/elaborate/signals_asked.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::elaborate {

Elaborated elaborate(const check::Model& model, const Request& request, const Files& files, Diagnostics& out) {
    return Elaborator(model, request, files, out).run();
}

Elaborator::Elaborator(const check::Model& model_, const Request& request_, const Files& files_,
                       Diagnostics& out_)
    : Values(model_, files_, out_), request(request_) {}

Elaborated Elaborator::run() {
    errors_before = out.errors();
    result.timeline = std::make_unique<timeline::Timeline>();
    t = result.timeline.get();
    recipe = &model.recipes[request.recipe];
    t->recipe = model.names[recipe->name];
    t->title = recipe->title;
    // What is broken was reported by an earlier stage.
    if (recipe->broken) return std::move(result);
    Index rig_index = request.rig != none ? request.rig : recipe->rig_index;
    if (rig_index == none) {
        if (recipe->rig.name == 0)
            out.error(Code::value_missing, recipe->span,
                      fmt::format("`{}` does not say on which rig it runs", t->recipe))
                .remedy("name it behind the parameters: `on RIG`, or on the command line: `--rig RIG`");
        return std::move(result);
    }
    rig = &model.rigs[rig_index];
    if (rig->broken) return std::move(result);
    if (rig_index < model.rig_defaults.size()) rig_defaults = &model.rig_defaults[rig_index];
    if (recipe->controller.name != 0) t->controller = model.names[recipe->controller.name];

    survey = false; // messages about equipment and parameters are given at once
    recipe_frame.slots.resize(std::max<std::size_t>(recipe->slots, recipe->parameters.size()));
    recipe_frame.ambient_pressure = rig->ambient_pressure.value;
    recipe_frame.has_ambient = rig->ambient_pressure.given;
    frame = &recipe_frame;
    equipment();
    if (!parameters() || out.errors() != errors_before) return std::move(result);

    survey = true;
    walk_recipe();
    if (asks_by_parameter) limit_species();
    if (stopped || out.errors() != errors_before) return std::move(result);
    survey = false;
    blind = false;
    worked = 0;
    result.plant = std::make_unique<plant::Plant>(model, *rig, *t);
    plant = result.plant.get();
    if (const std::string& fault = plant->furnace_fault(); !fault.empty()) {
        report_fault(*rig, fault, out);
        return std::move(result);
    }
    t->spans.reserve(counted.spans);
    t->laws.reserve(counted.spans * t->zones.size());
    t->paths.reserve(counted.spans);
    // Gas steps and the ends of blocks switch something, too.
    const std::size_t actions = counted.actions + counted.actions / 8 + 8;
    t->actions.reserve(actions);
    t->states.reserve(actions);
    here = plant->start();
    for (std::size_t z = 0; z < setpoints.size(); ++z) setpoints[z] = rig->ambient_temperature.value.middle();
    walk_recipe();
    finish();
    result.complete = out.errors() == errors_before && !stopped;
    result.whole = result.complete || (!stopped && !blind && out.errors() - errors_before == timeline_kept);
    return std::move(result);
}

void Elaborator::walk_recipe() {
    now = timeline::State{};
    now.flows.assign(rig->lines.size(), 0);
    now.open.assign(rig->lines.size(), false);
    now.tube_open = true;
    if (!survey) states.intern(now, t->states);
    now.tube_open = false;
    if (moves && rig->slide.output != 0) now.place = 0; // where it stands before its output is first energised
    lines_in_run.assign(rig->lines.size(), {});
    first_light = {};
    passing.assign(setpoints.size(), {});
    ahead.assign(setpoints.size(), {});
    frame = &recipe_frame;
    block(recipe->body, "");
}

void Elaborator::equipment() {
    t->rig = rig->name;
    t->zones = rig->furnace.zones;
    if (t->zones.empty()) t->zones.emplace_back("centre");
    if (t->zones.size() > plant::max_zones)
        out.error(
            Code::too_large, rig->furnace.source,
            fmt::format("{} zones; the model of a furnace has at most {}", t->zones.size(), plant::max_zones));
    if (rig->lines.size() > plant::max_lines)
        out.error(Code::too_large, rig->lines[plant::max_lines].source,
                  fmt::format("{} gas lines; the model of a rig has at most {}", rig->lines.size(),
                              plant::max_lines));
    setpoints.assign(t->zones.size(), 0);
    for (const check::Line& line : rig->lines)
        t->lines.push_back({line.name, line.output, line.open_without_power, false,
                            line.meter.controlled && line.meter.channel != none,
                            line.meter.has_reference ? line.meter.molar(1) : 0});
    t->burner = {rig->exhaust.output, rig->exhaust.has_burner(), rig->exhaust.feed_open_without_power};
    t->pump = {rig->pump.output, rig->pump.present, rig->pump.open_without_power};
    species();
    for (const check::Recipe::Evolves& e : recipe->evolves) gas_from_load(e);
    bubbler_and_slide();
}

void Elaborator::add_species(Index gas) {
    if (gas == none || !model.gases[gas].pure) return;
    const std::string& name = model.gases[model.substance_of(gas)].name;
    if (species_named(name) == none) t->species.push_back(name);
}

/// Every gas that can be in the tube, or that a condition asks for; those that a parameter names the survey
/// adds.
void Elaborator::species() {
    auto add_parts = [&](Index gas) {
        if (gas == none) return;
        if (model.gases[gas].pure) add_species(gas);
        for (auto [part, share] : model.gases[gas].parts) add_species(part);
    };
    add_species(model.gas_named("nitrogen"));
    add_species(model.gas_named("oxygen"));
    add_parts(model.gas_named("air"));
    for (const check::Line& line : rig->lines) add_parts(line.gas);
    for (const check::Recipe::Evolves& e : recipe->evolves) add_parts(e.gas);
    if (rig->bubbler.present) add_species(model.gas_named("water"));
    for (const ExprId id : signals_asked(model, *recipe, *rig)) {
        const check::Expr& e = model.exprs[id];
        if (e.signal == timeline::SignalKind::dew_point) add_species(model.gas_named("water"));
        if (e.signal != timeline::SignalKind::fraction) continue;
        if (e.index == none)
            add_species(model.gas_named(model.names[e.name]));
        else
            asks_by_parameter = true;
    }
    limit_species();
}

/// The gas that a parameter, an argument or a local name stands for where a condition asks for its fraction.
void Elaborator::species_asked(ExprId id) {
    if (id == 0 || id == none) return;
    const check::Expr& e = model.exprs[id];
    if (e.op == check::Op::signal && e.signal == timeline::SignalKind::fraction && e.index != none)
        add_species(gas_of({e.name, e.index, e.span}));
    species_asked(e.a);
    species_asked(e.b);
}

void Elaborator::species_asked(const Statement& s) {
    species_asked(s.value);
    for (Index c = 0; c < s.clauses; ++c) species_asked(model.clauses[s.first_clause + c].expr);
}

void Elaborator::limit_species() {
    if (t->species.size() > plant::max_species)
        out.error(Code::too_large, rig->source,
                  fmt::format("{} gases can be in this tube; the model follows at most {}", t->species.size(),
                              plant::max_species));
}

bool Elaborator::parameters() {
    bool good = true;
    for (const auto& [name, given] : request.values) {
        bool known = std::any_of(
            recipe->parameters.begin(), recipe->parameters.end(),
            [&, n = std::string_view(name)](const check::Parameter& p) { return model.names[p.name] == n; });
        if (known) continue;
        out.error(Code::unknown_name, recipe->span, fmt::format("`{}` has no parameter `{}`", t->recipe, name))
            .remedy("leave the value out, or name the recipe that it is meant for:  --recipe NAME");
        good = false;
    }
    for (std::size_t i = 0; i < recipe->parameters.size(); ++i) {
        const check::Parameter& p = recipe->parameters[i];
        std::string_view name = model.names[p.name];
        check::Value& slot = frame->slots[i];
        bool given = false;
        athanor::Span place = p.span;
        for (std::size_t k = 0; k < request.values.size(); ++k) {
            if (name != request.values[k].first) continue;
            slot = request.values[k].second;
            given = true;
            if (k < request.places.size()) place = request.places[k];
        }
        if (!given && p.default_value != 0) slot = value(p.default_value);
        if (!given && p.default_value == 0) {
            out.error(Code::value_missing, p.span, fmt::format("`{}` has no default and must be given", name))
                .remedy(fmt::format("--set {}=…, or a default behind it: `{} : {} = …`", name, name,
                                    athanor::name(p.type.kind)));
            good = false;
            continue;
        }
        if (slot.poison()) {
            good = false;
            continue;
        }
        good = in_range(p, slot, given ? place : span_of(p.default_value)) && good;
        timeline::Parameter shown{std::string(name), "", given};
        if (slot.type.kind == Kind::gas && slot.index != none)
            shown.value = model.gases[slot.index].name;
        else if (slot.type.kind == Kind::text && slot.index != none)
            shown.value = model.texts[slot.index];
        else if (slot.type.kind == Kind::boolean)
            shown.value = slot.number.lo > 0 ? "yes" : "no";
        else
            shown.value = to_text(slot.number, slot.type, 6);
        t->parameters.push_back(std::move(shown));
    }
    return good;
}

void Elaborator::finish() {
    t->end_first = pending_first;
    t->end_actions = static_cast<Index>(t->actions.size()) - pending_first;
    t->end_state = states.intern(now, t->states);
    goes_on_up(nullptr);
    auto end = static_cast<Index>(t->spans.size());
    if (recipe->body == 0)
        out.warning(Code::misplaced, recipe->span, fmt::format("`{}` does nothing: it has no step", t->recipe))
            .remedy("write its steps between the braces, for example `ramp to 500 degC at 5 K/min`");
    if (t->runs.empty()) {
        t->runs.push_back({"", 0, end});
        end_of_run();
    }
    t->runs.back().last = end;
}

} // namespace athanor::elaborate
