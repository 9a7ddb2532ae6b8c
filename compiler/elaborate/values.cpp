// Values, and names resolved against the rig.
#include "compiler/elaborate/values.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <cmath>

namespace athanor::elaborate {

check::Value Values::value(ExprId expr) {
    if (expr == 0) return {};
    const check::Expr& e = model.exprs[expr];
    if (e.op == check::Op::constant) return {e.type, e.value, none, {}};
    return check::evaluate(model, expr, *frame, survey ? scratch : out);
}

bool Values::number(ExprId expr, double& si) {
    const check::Expr& e = model.exprs[expr];
    if (expr != 0 && e.op == check::Op::constant && !e.type.poison() && e.value.is_point() &&
        std::isfinite(e.value.lo)) {
        si = e.value.lo;
        return true;
    }
    const check::Value v = value(expr);
    if (!v.poison()) return number(expr, v.number, v.type, si);
    blind = true;
    return false;
}

/// The same of an expression that has this value.
bool Values::number(ExprId expr, Interval value, Type type, double& si) {
    // Outward rounding leaves a few units in the last place; anything wider was written as an uncertainty.
    if (!value.is_point() && value.width() > 1e-9 * std::fmax(std::fabs(value.lo), std::fabs(value.hi))) {
        error(Code::misplaced, span_of(expr),
              fmt::format("an uncertain value, {}, cannot be set: the controller needs one number",
                          to_text(value, type)));
        blind = true;
        return false;
    }
    si = value.middle();
    if (std::isfinite(si)) return true;
    blind = true;
    return false;
}

bool Values::flow(ExprId expr, Index line, double& si) {
    const check::Line& l = rig->lines[line];
    check::Value v = value(expr);
    if (v.poison() || !number(expr, v.number, v.type, si)) return false;
    if (v.type.kind == Kind::flow) return true;
    if (l.meter.has_reference) {
        si = l.meter.molar(si);
        return true;
    }
    if (Diagnostic* d =
            error(Code::ambiguous_volume_flow, span_of(expr),
                  fmt::format("{} is a volume, and the meter of `{}` does not say at which temperature "
                              "and pressure",
                              to_text(v.number, v.type.kind), l.name)))
        d->cause(
             fmt::format("the meter of `{}` is declared without `at …` ({})", l.name, place(l.meter.source)))
            .remedy(fmt::format("state an amount of gas, such as {} slm", shortest(std::round(si * 6e7) / 1e3)))
            .remedy(fmt::format("or give the meter its reference in the rig: `flow … at 20 degC, 1 bar`"));
    return false;
}

std::string Values::flow_text(Index line, double si, int digits) const {
    const check::Meter& meter = rig->lines[line].meter;
    return meter.has_reference ? to_text(si / meter.molar(1), Kind::volume_flow, digits)
                               : to_text(si, Kind::flow, digits);
}

std::string Values::flow_text(Index line, Interval si) const {
    const check::Meter& meter = rig->lines[line].meter;
    return meter.has_reference ? to_text({si.lo / meter.molar(1), si.hi / meter.molar(1)}, Kind::volume_flow)
                               : to_text(si, Kind::flow);
}

namespace {

/// Four digits, rounded up or down.
std::string in_unit(double value, const Unit& unit, bool up) {
    const double last = std::pow(10, std::floor(std::log10(std::fabs(value))) - 3);
    constexpr double noise = 1e-6;
    const double steps = up ? std::ceil(value / last - noise) : std::floor(value / last + noise);
    return fmt::format("{:.10g} {}", steps * last, unit.spelling);
}

const Unit* unit_of(std::string_view literal) {
    const std::size_t blank = literal.find(' ');
    return blank == std::string_view::npos ? nullptr : unit_named(literal.substr(blank + 1));
}

} // namespace

std::string Values::flow_as_written(athanor::Span written, Index line, double si) const {
    const check::Meter& meter = rig->lines[line].meter;
    const Unit* unit = unit_of(files.text(written));
    const bool volume = unit != nullptr && unit->kind == Kind::volume_flow && meter.has_reference;
    if (unit == nullptr || !(volume || unit->kind == Kind::flow) || !(si > 0)) return flow_text(line, si);
    return in_unit(from_si(volume ? si / meter.molar(1) : si, *unit), *unit, si <= meter.range.lo());
}

std::string Values::limit_as_written(athanor::Span written, double si, Kind kind, bool least) const {
    const Unit* unit = unit_of(files.text(written));
    std::string usual = to_text(si, kind);
    const Unit* shown = unit_of(usual);
    const bool other = unit != nullptr && shown != nullptr && unit->kind == kind &&
                       (unit->factor != shown->factor || unit->offset != shown->offset);
    return other && from_si(si, *unit) != 0 ? in_unit(from_si(si, *unit), *unit, least) : usual;
}

Index Values::gas_of(NameRef name) {
    if (name.slot != none) {
        if (name.slot >= frame->slots.size() || frame->slots[name.slot].poison()) return none;
        return frame->slots[name.slot].index;
    }
    return model.gas_named(text_of(name));
}

Index Values::line_of(NameRef name) {
    if (name.slot == none)
        for (Index i = 0; i < rig->lines.size(); ++i)
            if (rig->lines[i].name == text_of(name)) return i;
    if (name.slot != none && (name.slot >= frame->slots.size() || frame->slots[name.slot].poison()))
        return none;
    Index gas = gas_of(name);
    std::string asked(gas == none ? text_of(name) : std::string_view(model.gases[gas].name));
    // What a gas parameter holds is a gas and no line's name: the gas itself goes before a mixture of it, then
    // the line that has its name, since air is mostly nitrogen too.
    bool parameter = name.slot != none;
    std::vector<Index> found;
    for (Index i = 0; parameter && gas != none && i < rig->lines.size(); ++i)
        if (rig->lines[i].gas == gas) found.push_back(i);
    for (Index i = 0; parameter && found.empty() && i < rig->lines.size(); ++i)
        if (rig->lines[i].name == asked && model.delivers(rig->lines[i].gas, gas)) found.push_back(i);
    bool exact = !found.empty();
    for (Index i = 0; gas != none && !exact && i < rig->lines.size(); ++i)
        if (model.delivers(rig->lines[i].gas, gas)) found.push_back(i);
    model.own_gas_first(*rig, gas, found);
    for (Index i : found)
        if (found.size() == 1 || rig->lines[i].name == asked) return i;
    if (!found.empty()) {
        std::string several;
        for (Index i : found) several += (several.empty() ? "`" : ", `") + rig->lines[i].name + "`";
        error(Code::unknown_name, name.span,
              fmt::format("`{}` could be any of the lines {} of rig `{}`: name the line", asked, several,
                          rig->name));
        return none;
    }
    std::string known;
    for (const check::Line& line : rig->lines) known += (known.empty() ? "`" : ", `") + line.name + "`";
    if (Diagnostic* d =
            error(Code::unknown_name, name.span,
                  fmt::format("rig `{}` has no line `{}` and none that carries it", rig->name, asked))) {
        d->cause(known.empty() ? fmt::format("the rig has no gas line ({})", place(rig->source))
                               : fmt::format("its lines are {} ({})", known, place(rig->source)));
        for (const check::Line& line : rig->lines) passed_over(*d, line, gas);
    }
    return none;
}

/// A line that is mostly the gas, and is not taken for it for what it brings.
void Values::passed_over(Diagnostic& d, const check::Line& line, Index gas) const {
    if (line.gas == none || gas == none) return;
    std::string brings;
    bool mostly = false;
    for (auto [part, share] : model.gases[line.gas].parts) {
        const check::Gas& other = model.gases[part];
        if (part == model.substance_of(gas))
            mostly = share.lo > 0.5;
        else if (other.hazards.flammable || other.hazards.toxic || other.oxidises() || share.hi > 0.001)
            brings += fmt::format("{}{} {}", brings.empty() ? "" : ", ",
                                  to_text(share.middle(), Kind::fraction, 3), other.name);
    }
    if (!mostly || brings.empty()) return;
    d.cause(fmt::format("`{}` is mostly {}, and is not taken for it: it brings {} ({})", line.name,
                        model.gases[gas].name, brings, place(line.source)))
        .remedy(fmt::format("where that gas is meant, name the line itself: `{}`", line.name));
}

Index Values::zone_of(NameRef name) {
    for (Index i = 0; i < t->zones.size(); ++i)
        if (t->zones[i] == text_of(name)) return i;
    if (Diagnostic* d = error(Code::unknown_name, name.span,
                              fmt::format("rig `{}` has no zone `{}`", rig->name, text_of(name))))
        d->cause(fmt::format("its zones are {} ({})", fmt::join(t->zones, ", "), place(rig->furnace.source)));
    blind = true;
    return none;
}

Index Values::species_named(std::string_view name) const {
    if (const Index gas = model.gas_named(name); gas != none) name = model.gases[model.substance_of(gas)].name;
    for (Index i = 0; i < t->species.size(); ++i)
        if (t->species[i] == name) return i;
    return none;
}

} // namespace athanor::elaborate
