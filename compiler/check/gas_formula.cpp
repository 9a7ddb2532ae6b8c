#include "compiler/check/gas_formula.hpp"

#include "compiler/physics/substance.hpp"

#include <algorithm>
#include <array>
#include <fmt/format.h>
#include <string>
#include <utility>

namespace athanor::check {

namespace {

constexpr std::array dangers = {std::pair{Hazard::flammable, "flammable"},
                                std::pair{Hazard::oxidiser, "oxidiser"}, std::pair{Hazard::toxic, "toxic"}};

/// Why a gas of this formula has the hazard; empty where nothing says that it has.
std::string reason(Hazard hazard, const Gas& gas, const Gas* standard) {
    if (standard != nullptr && standard->hazards.of(hazard))
        return fmt::format("{} is `{}` of the standard library", gas.formula, standard->name);
    const double demand = physics::oxygen_demand(gas.formula).value_or(0);
    if (hazard == Hazard::flammable && demand > 0)
        return fmt::format("one mole of {} takes {:.4g} of oxygen to burn", gas.formula, demand);
    if (hazard == Hazard::oxidiser && demand < 0)
        return fmt::format("one mole of {} gives off {:.4g} of oxygen", gas.formula, -demand);
    return "";
}

} // namespace

void check_formulas(Reading& reading, const std::vector<Declaration*>& of) {
    std::vector<Gas>& gases = reading.model.gases;
    const auto standard = [&](std::size_t i) { return reading.registry.units[of[i]->unit].standard; };
    for (std::size_t i = 0; i < gases.size(); ++i) {
        Gas& gas = gases[i];
        if (!gas.pure || gas.broken || gas.formula.empty() || standard(i)) continue;
        const Gas* twin = nullptr;
        for (std::size_t j = 0; j < gases.size() && twin == nullptr; ++j)
            if (gases[j].pure && standard(j) && gases[j].formula == gas.formula) twin = &gases[j];
        for (const auto& [hazard, word] : dangers) {
            const std::string why = reason(hazard, gas, twin);
            if (why.empty() || gas.hazards.of(hazard)) continue;
            Diagnostic& d = reading.out().error(Code::rig_inconsistent, gas.source,
                                                fmt::format("gas `{}` does not say that it is {}", gas.name,
                                                            hazard == Hazard::oxidiser ? "an oxidiser" : word));
            d.cause(why);
            if (twin != nullptr) d.remedy(fmt::format("use `{}`", twin->name));
            d.remedy(fmt::format("add `{}` to its hazards, or correct the formula", word));
            gas.broken = true;
            break;
        }
        const bool says = gas.hazards.flammable || gas.hazards.oxidiser || gas.hazards.toxic;
        if (twin == nullptr && !says && !physics::oxygen_demand(gas.formula))
            reading.out()
                .warning(
                    Code::implausible_value, gas.source,
                    fmt::format("what {} burns to is not known here: gas `{}` counts as harmless, as it says",
                                gas.formula, gas.name))
                .cause("only formulas of C, H, N, O, S and noble gases are read, each element with a capital "
                       "letter")
                .remedy("look its hazards up, and state them");
    }
}

} // namespace athanor::check
