// Functions of gas cylinders: what they hold and how long it lasts.
#include "compiler/check/function_rows.hpp"
#include "compiler/check/gas_properties.hpp"
#include "compiler/physics/cylinder.hpp"

namespace athanor::check {

using namespace rows;

namespace {

constexpr std::string_view cylinders = "cylinders";
constexpr std::string_view contents = "Lee & Kesler 1975, hydrogen Lemmon, Huber & Leachman 2008, helium by "
                                      "its second virial coefficient (constants from "
                                      "memory)";

double content(FunctionCall& c, std::size_t pressure, std::size_t temperature) {
    const double z = compressibility(c, 0, c[temperature], temperature, c[pressure], pressure);
    return physics::content(c[1], c[pressure], c[temperature], z);
}

FunctionParameter store() {
    return otherwise(celsius("temperature", -50, 100), physics::zero_celsius + 15);
}

} // namespace

void add_cylinder_functions(Functions& into) {
    FunctionParameter pressure = positive("pressure", Kind::pressure);
    into.push_back({"compressibility",
                    cylinders,
                    {gas("content"), certain(pressure), certain(store())},
                    0,
                    type_of(Kind::count),
                    [](FunctionCall& c) { return compressibility(c, 0, c[2], 2, c[1], 1); },
                    "Z of a real gas; mixtures by Amagat's rule",
                    contents,
                    "compressibility(nitrogen, 200 bar)",
                    {}});
    into.push_back({"cylinder_content",
                    cylinders,
                    {gas("content"), positive("volume", Kind::volume), pressure, store()},
                    0,
                    derived(mole),
                    [](FunctionCall& c) { return content(c, 2, 3); },
                    "amount of gas in a cylinder at an absolute pressure: p V/(Z R T)",
                    contents,
                    "cylinder_content(nitrogen, 50 L, 200 bar)",
                    {}});
    into.push_back({"cylinder_time",
                    cylinders,
                    {gas("content"), positive("volume", Kind::volume), positive("full", Kind::pressure),
                     positive("empty", Kind::pressure), positive("flow", Kind::flow), store()},
                    0,
                    type_of(Kind::time),
                    [](FunctionCall& c) {
                        if (c[3] >= c[2])
                            return c.refuse(3, "it is not below the pressure of the full cylinder");
                        return (content(c, 2, 5) - content(c, 3, 5)) / c[4];
                    },
                    "how long a cylinder gives a flow until it is down to a pressure",
                    contents,
                    "cylinder_time(argon, 50 L, 200 bar, 10 bar, 2 slm)",
                    {}});
    into.push_back({"gas_volume",
                    cylinders,
                    {quantity("amount", derived(mole), 0, infinity),
                     otherwise(celsius("temperature", -200, 3000), physics::zero_celsius),
                     otherwise(positive("pressure", Kind::pressure, 10 * physics::bar), physics::atmosphere)},
                    0,
                    type_of(Kind::volume),
                    [](FunctionCall& c) { return c[0] * physics::gas_constant * c[1] / c[2]; },
                    "volume of an amount of gas, n R T/p; normal volume unless said otherwise",
                    "ideal gas law",
                    "gas_volume(cylinder_content(nitrogen, 50 L, 200 bar))",
                    {}});
}

} // namespace athanor::check
