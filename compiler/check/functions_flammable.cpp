// Functions of flammable gas: limits, mixtures, air to burn, heat released.
#include "compiler/check/function_rows.hpp"
#include "compiler/check/gas_mixture.hpp"
#include "compiler/check/gas_properties.hpp"
#include "compiler/physics/flammability.hpp"

#include <algorithm>
#include <fmt/format.h>

namespace athanor::check {

using namespace rows;

namespace {

constexpr std::string_view subject = "flammable gas";
constexpr std::string_view iso = "ISO 10156:2017; the gas's own figures";
constexpr std::string_view warm = "the gas's own figures; hydrogen Schroeder & Holtappels 2005 (from memory), "
                                  "others US Bureau of Mines Bulletin 627 "
                                  "(from memory) and the line to zero at 880 degC";

double nothing() {
    return std::numeric_limits<double>::quiet_NaN();
}

FunctionParameter warmth() {
    return otherwise(
        quantity("temperature", Kind::temperature, physics::zero_celsius + 20, physics::hottest_limit),
        physics::zero_celsius + 20);
}

bool burns(FunctionCall& c, std::size_t i) {
    const Gas& gas = c.gas(i);
    if (gas.broken) {
        c.silent();
        return false;
    }
    for (const auto& [index, share] : gas.parts)
        if (c.model().gases[index].hazards.flammable) return true;
    c.refuse(i, fmt::format("`{}` holds no flammable gas", gas.name));
    return false;
}

/// The factor of the limit at a temperature that is worst among the fuels of the gas.
double worst_factor(FunctionCall& c, std::size_t i, double temperature, bool lower) {
    double worst = 1;
    for (const auto& [index, share] : c.gas(i).parts) {
        const Gas& gas = c.model().gases[index];
        if (!gas.hazards.flammable) continue;
        const double heat = gas.heat_of_combustion.given ? gas.heat_of_combustion.lo() : 0;
        double factor = 1;
        if (gas.formula == "H2")
            factor = lower ? physics::hydrogen_lower_factor(gas.lower_limit.lo(), temperature)
                           : physics::hydrogen_upper_factor(temperature);
        else
            factor = lower ? physics::lower_limit_factor(gas.lower_limit.lo(), heat, temperature)
                           : physics::upper_limit_factor(gas.upper_limit.hi(), heat, temperature);
        worst = lower ? std::min(worst, factor) : std::max(worst, factor);
    }
    return worst;
}

/// Share of the whole gas in air.
double lower(FunctionCall& c) {
    if (!burns(c, 0)) return nothing();
    const double limit = lower_limit(c.model().gases, c.gas(0).parts);
    // Air takes up no more than the whole: such a mixture never burns at 20 degC, however much of it there is.
    if (!(limit <= 1)) return c.refuse(0, fmt::format("no share of `{}` in air burns", c.gas(0).name));
    return limit * worst_factor(c, 0, c[1], true);
}

double upper(FunctionCall& c) {
    if (!burns(c, 0)) return nothing();
    return std::min(1.0, upper_limit(c.model().gases, c.gas(0).parts) * worst_factor(c, 0, c[1], false));
}

double heat_of(FunctionCall& c, std::size_t i) {
    const Gas& gas = c.gas(i);
    if (gas.heat_of_combustion.given) return gas.heat_of_combustion.value.middle();
    if (gas.broken) return c.silent();
    return c.refuse(i, fmt::format("`{}` has no `heat_of_combustion`", gas.name));
}

} // namespace

void add_flammable_functions(Functions& into) {
    into.push_back({"lower_limit",
                    subject,
                    {gas("fuel"), warmth()},
                    0,
                    type_of(Kind::fraction),
                    lower,
                    "lower flammability limit of a gas or mixture in air, at a temperature; careful, not exact",
                    warm,
                    "lower_limit(hydrogen, 300 degC)",
                    {}});
    into.push_back({"upper_limit",
                    subject,
                    {gas("fuel"), warmth()},
                    0,
                    type_of(Kind::fraction),
                    upper,
                    "upper flammability limit of a gas or mixture in air, at a temperature; careful, not exact",
                    warm,
                    "upper_limit(hydrogen)",
                    {}});
    into.push_back({"le_chatelier",
                    subject,
                    {share("part"), share("limit")},
                    2,
                    type_of(Kind::fraction),
                    [](FunctionCall& c) {
                        std::vector<physics::Component> parts;
                        for (std::size_t i = 0; i + 1 < c.count(); i += 2) {
                            if (c[i + 1] <= 0) return c.refuse(i + 1, "a limit is more than nothing");
                            parts.push_back({c[i], true, c[i + 1], c[i + 1], 0, 1});
                        }
                        double sum = 0;
                        for (const physics::Component& p : parts) sum += p.share;
                        if (sum <= 0) return c.refuse(0, "the parts are nothing");
                        return physics::le_chatelier_lower(parts);
                    },
                    "limit of a mixture of fuels from its parts and their limits: sum x/sum(x/L)",
                    "Crowl & Louvar, Chemical Process Safety, ch. 6",
                    "le_chatelier(0.8 %, 1.2 %, 2.0 %, 5.3 %, 0.5 %, 3.1 %)",
                    {}});
    into.push_back(
        {"iso_10156",
         subject,
         {gas("fuel")},
         0,
         type_of(Kind::fraction),
         [](FunctionCall& c) {
             if (!burns(c, 0)) return nothing();
             return flammability_sum(c.model().gases, c.gas(0).parts);
         },
         "sum of A'/Tc of ISO 10156: above 100 % the mixture burns in air at room temperature; no rule for a "
         "furnace",
         iso,
         "iso_10156(forming_gas_5)",
         {}});
    into.push_back({"greatest_share",
                    subject,
                    {gas("fuel"), gas("inert")},
                    0,
                    type_of(Kind::fraction),
                    [](FunctionCall& c) {
                        const Gas &fuel = c.gas(0), &inert = c.gas(1);
                        if (fuel.broken || inert.broken) return c.silent();
                        if (!fuel.pure || !fuel.hazards.flammable)
                            return c.refuse(0, fmt::format("`{}` is no pure flammable gas", fuel.name));
                        if (!fuel.fuel_threshold.given)
                            return c.refuse(0, fmt::format("`{}` declares no `fuel_threshold`", fuel.name));
                        if (!inert.pure || !inert.inert_equivalence.given || inert.hazards.oxidiser)
                            return c.refuse(1,
                                            fmt::format("`{}` is no pure inert gas with an `inert_equivalence`",
                                                        inert.name));
                        return physics::greatest_fuel(fuel.fuel_threshold.lo(), inert.inert_equivalence.lo());
                    },
                    "greatest share of a fuel in an inert gas that ISO 10156 calls not flammable in air",
                    iso,
                    "greatest_share(hydrogen, argon)",
                    {}});
    into.push_back({"limiting_oxygen",
                    subject,
                    {gas("fuel")},
                    0,
                    type_of(Kind::fraction),
                    [](FunctionCall& c) {
                        if (!burns(c, 0)) return nothing();
                        for (const auto& [index, share] : c.gas(0).parts) {
                            const Gas& part = c.model().gases[index];
                            if (part.hazards.flammable && !part.limiting_oxygen.given)
                                return c.refuse(0,
                                                fmt::format("`{}` declares no `limiting_oxygen`", part.name));
                        }
                        return c.gas(0).limiting_oxygen.lo();
                    },
                    "oxygen below which no mixture with nitrogen burns, at room temperature; lower when hot",
                    "NFPA 69; the gas's own figures",
                    "limiting_oxygen(hydrogen)",
                    {}});
    into.push_back({"stoichiometric_share",
                    subject,
                    {gas("fuel")},
                    0,
                    type_of(Kind::fraction),
                    [](FunctionCall& c) { return physics::stoichiometric_share(oxygen_demand(c, 0)); },
                    "share of a gas in air that burns completely",
                    "its formula; air of 20.95 % oxygen",
                    "stoichiometric_share(methane)",
                    {}});
    into.push_back({"air_demand",
                    subject,
                    {gas("fuel"), not_negative("flow", Kind::flow),
                     otherwise(quantity("excess", Kind::fraction, 0, 10), 0)},
                    0,
                    type_of(Kind::flow),
                    [](FunctionCall& c) { return physics::air_demand(c[1], oxygen_demand(c, 0), c[2]); },
                    "air that burns a flow of gas",
                    "its formula; air of 20.95 % oxygen",
                    "air_demand(hydrogen, 10 slm)",
                    {}});
    into.push_back({"heat_release",
                    subject,
                    {gas("fuel"), not_negative("flow", Kind::flow)},
                    0,
                    type_of(Kind::power),
                    [](FunctionCall& c) { return heat_of(c, 0) * c[1]; },
                    "heat of a burnt flow, water as vapour",
                    "the gas's own `heat_of_combustion`",
                    "heat_release(hydrogen, 10 slm)",
                    {}});
}

} // namespace athanor::check
