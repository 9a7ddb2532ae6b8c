#include "compiler/check/equipment_readers.hpp"
#include "compiler/check/gas_formula.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

namespace athanor::check {

namespace {

/// Whether the name is that of a formula of substances.ath, and of no gas that the declaration may mean.
bool names_substance(const Reading& reading, const Declared& d, std::string_view name) {
    const bool standard = reading.registry.units[d.unit].standard;
    for (const Declaration* gas : reading.registry.named(Node::gas, name))
        if (!standard || reading.registry.units[gas->unit].standard) return false;
    return !reading.registry.named(Node::substance, name).empty();
}

/// The gas of a site that has the formula of a substance; none where no gas has.
Index of_formula(const Model& model, std::string_view substance) {
    for (const Gas& known : model.substances)
        if (known.name == substance)
            for (Index g = 0; g < model.gases.size(); ++g)
                if (model.gases[g].pure && same_formula(model.gases[g].formula, known.formula))
                    return model.substance_of(g);
    return none;
}

/// `attacked_by`, `worn_by` and `needs` of a material or a thermocouple.
std::vector<Exposure> exposures(const Reading& reading, const Declared& d, bool& broken) {
    std::vector<Exposure> list;
    for (const Property& row : d.root.properties) {
        const bool needs = row.name == "needs", refused = row.name == "attacked_by";
        if (row.poison || (!needs && !refused && row.name != "worn_by")) continue;
        Exposure e;
        e.name = row.match.named()->text;
        const bool by_formula = names_substance(reading, d, e.name);
        e.gas = by_formula ? of_formula(reading.model, e.name)
                           : reading.model.substance_of(reading.resolve(Node::gas, &row, row.match.named()));
        if (e.gas == none && !by_formula) continue;
        if (e.gas != none && !reading.model.gases[e.gas].pure) {
            const Gas& gas = reading.model.gases[e.gas];
            reading.out()
                .error(Code::rig_inconsistent, row.match.named()->span,
                       fmt::format("`{}` is a mixture; what harms `{}` is one of its parts", gas.name, d.name))
                .remedy("name the pure gas");
            broken = true;
            continue;
        }
        const Capture* at = row.match.value(Kind::temperature);
        e.temperature = at == nullptr                      ? Interval(0, infinity)
                        : at->form == Pattern::Kind::range ? at->value
                                                           : Interval(at->value.lo, infinity);
        e.scarce = needs;
        if (const Capture* share = row.match.value(Kind::fraction)) e.share = share->value.lo;
        e.refused = refused;
        e.source = row.span;
        e.reference = row.reference;
        list.push_back(std::move(e));
    }
    return list;
}

} // namespace

Material read_material(const Reading& reading, const Declared& d) {
    Material m;
    m.name = d.name;
    m.title = d.title;
    m.source = d.span;
    m.broken = d.broken;
    const Property& p = d.root;
    m.limit = figure(p, "limit", Kind::temperature);
    m.limit_vacuum = figure(p, "limit_vacuum", Kind::temperature);
    m.exposures = exposures(reading, d, m.broken);
    for (const Property& row : p.properties) {
        if (row.name != "rate" || row.poison) continue;
        RateRow rate;
        rate.rate = figure(&row, Kind::rate);
        const Capture* diameter = row.match.value(Kind::length);
        const Capture* temperature = row.match.value(Kind::temperature);
        rate.diameter = diameter != nullptr ? diameter->value : Interval(0, infinity);
        rate.temperature = temperature != nullptr ? temperature->value : Interval(0, infinity);
        m.rates.push_back(std::move(rate));
    }
    m.elastic_modulus = figure(p, "elastic_modulus", Kind::stress);
    m.poisson = figure(p, "poisson", Kind::count);
    m.expansion = figure(p, "expansion", Kind::expansivity);
    m.conductivity = figure(p, "conductivity", Kind::conductivity);
    m.density = figure(p, "density", Kind::density);
    m.heat_capacity = figure(p, "heat_capacity", Kind::heat_capacity);
    m.strength = figure(p, "strength", Kind::stress);
    return m;
}

Thermocouple read_thermocouple(const Reading& reading, const Declared& d) {
    Diagnostics& out = reading.out();
    Thermocouple t;
    t.name = d.name;
    t.title = d.title;
    t.source = d.span;
    t.broken = d.broken;
    t.range = figure(d.root, "range", Kind::temperature);
    t.exposures = exposures(reading, d, t.broken);
    for (const Property& row : d.root.properties) {
        if (row.name != "class" || row.poison) continue;
        const Property* range = row.find("range");
        const Property* tolerance = row.find("tolerance");
        if (range == nullptr || tolerance == nullptr || range->poison || tolerance->poison) continue;
        Tolerance c;
        const double number = row.match.value(Kind::count)->value.lo;
        if (number != 1 && number != 2 && number != 3) {
            out.error(Code::rig_inconsistent, row.span,
                      fmt::format("a tolerance class is 1, 2 or 3, not {}", shortest(number)));
            t.broken = true;
            continue;
        }
        c.number = static_cast<int>(number);
        for (const Tolerance& earlier : t.classes)
            if (earlier.number == c.number) {
                out.error(Code::duplicate_name, row.span,
                          fmt::format("class {} of `{}` is given twice", c.number, d.name))
                    .also(earlier.source, "first given here");
                t.broken = true;
            }
        c.range = range->match.value(Kind::temperature)->value;
        c.absolute = tolerance->match.value(Kind::difference)->value.lo;
        if (const Capture* relative = tolerance->match.value(Kind::fraction)) c.relative = relative->value.lo;
        if (const Capture* from = tolerance->match.value(Kind::temperature)) {
            c.from = from_si(from->value.lo, *unit_named("degC"));
            c.added = true;
        }
        c.source = row.span;
        c.reference = tolerance->reference.empty() ? row.reference : tolerance->reference;
        t.classes.push_back(std::move(c));
    }
    return t;
}

} // namespace athanor::check
