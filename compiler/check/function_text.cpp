// Functions as a person reads them: signature, range, values of derived quantities.
#include "compiler/check/functions.hpp"
#include "compiler/quantity/unit.hpp"

#include <cmath>
#include <fmt/format.h>

namespace athanor::check {

namespace {

/// Of the units of a dimension the largest in which the value is 1 or more, else the smallest.
const athanor::Unit* unit_for(double si, Dimension dimension) {
    const athanor::Unit* best = nullptr;
    for (const athanor::Unit& unit : units()) {
        if (unit.kind != Kind::derived || unit.dimension != dimension || unit.alternative) continue;
        const double size = std::fabs(si) / unit.factor;
        const bool fits = size >= 1 - 1e-9;
        if (best == nullptr ||
            (fits && (unit.factor > best->factor || std::fabs(si) / best->factor < 1 - 1e-9)) ||
            (!fits && std::fabs(si) / best->factor < 1 - 1e-9 && unit.factor < best->factor))
            best = &unit;
    }
    return best;
}

std::string type_word(const FunctionParameter& p) {
    switch (p.takes) {
    case Takes::quantity: break;
    case Takes::gas: return "gas";
    case Takes::text: return "text";
    case Takes::thermocouple: return "thermocouple";
    case Takes::material: return "material";
    }
    if (p.type.kind != Kind::derived) return std::string(name(p.type.kind));
    const athanor::Unit* unit = unit_for(1, p.type.dimension);
    return unit != nullptr ? std::string(unit->spelling) : to_text(p.type.dimension);
}

std::string limit(double si, const FunctionParameter& p) {
    return readable(si, p.type, 6);
}

} // namespace

std::string readable(Interval si, Type type, int digits) {
    if (type.kind != Kind::derived) return to_text(si, type, digits);
    const athanor::Unit* unit = unit_for(std::fmax(std::fabs(si.lo), std::fabs(si.hi)), type.dimension);
    if (unit == nullptr) return to_text(si, type, digits);
    return to_text(si, *unit, digits);
}

std::string signature(const Function& f) {
    std::string text = fmt::format("{}(", f.name);
    if (f.type != nullptr) text += f.most == 1 ? "value" : "value, …";
    for (std::size_t i = 0; i < f.parameters.size(); ++i) {
        const FunctionParameter& p = f.parameters[i];
        text += fmt::format("{}{} : {}", i == 0 ? "" : ", ", p.name, type_word(p));
        if (p.optional()) text += " = " + readable(p.otherwise, p.type, 6);
    }
    if (f.repeats != 0) text += ", …";
    text += ")";
    if (f.type != nullptr) return text;
    FunctionParameter result;
    result.type = f.result;
    text += " : " + (f.choices.empty() ? type_word(result) : std::string("list of text"));
    return text;
}

std::string validity(const Function& f) {
    std::string text;
    for (const FunctionParameter& p : f.parameters) {
        const bool low = p.least > -infinity, high = p.most < infinity;
        if (p.takes != Takes::quantity || (!low && !high)) continue;
        text += fmt::format("{}{} ", text.empty() ? "" : "; ", p.name);
        if (!high)
            text += fmt::format("{} {}", p.above ? "above" : "from", limit(p.least, p));
        else if (!low)
            text += fmt::format("to {}", limit(p.most, p));
        else
            text += fmt::format("{}{} to {}", p.above ? "above " : "", limit(p.least, p), limit(p.most, p));
    }
    return text;
}

} // namespace athanor::check
