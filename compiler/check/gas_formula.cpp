#include "compiler/check/gas_formula.hpp"

#include "compiler/physics/substance.hpp"
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <fmt/format.h>
#include <string>
#include <utility>

namespace athanor::check {

namespace {

constexpr std::array dangers = {std::pair{Hazard::flammable, "flammable"},
                                std::pair{Hazard::oxidiser, "oxidiser"}, std::pair{Hazard::toxic, "toxic"}};

/// A figure of which one side is the careful one.
struct Compared {
    std::string_view name;
    Figure Gas::*figure;
    Kind kind;
    bool higher_is_careful;
    std::string_view why;
};
constexpr std::array compared = {
    Compared{"lower_limit", &Gas::lower_limit, Kind::fraction, false, "it would count as safe while it burns"},
    Compared{"upper_limit", &Gas::upper_limit, Kind::fraction, true, "it would count as safe while it burns"},
    Compared{"safety_temperature", &Gas::safety_temperature, Kind::temperature, true,
             "it would be let in where it is not sure to burn at once"},
    Compared{"autoignition", &Gas::autoignition, Kind::temperature, false,
             "it would count as safe where it may light"},
    Compared{"limiting_oxygen", &Gas::limiting_oxygen, Kind::fraction, false,
             "it would count as safe beside oxygen that lets it burn"},
    Compared{"inert_equivalence", &Gas::inert_equivalence, Kind::count, false,
             "mixtures that burn would count as harmless"},
    Compared{"fuel_threshold", &Gas::fuel_threshold, Kind::fraction, false,
             "mixtures that burn would count as harmless"},
    Compared{"exposure_limit", &Gas::exposure_limit, Kind::fraction, false,
             "it would count as harmless to breathe"},
    Compared{"toxic_above", &Gas::toxic_above, Kind::temperature, false,
             "what it breaks up to would count as harmless to breathe"},
};
/// Figures are compared as they are written, to within the rounding of their units.
constexpr double rounding = 1e-9;
/// No gas of the table of ISO 10156:2017 makes a fuel more harmless than sulfur hexafluoride, Kk = 4.
constexpr double greatest_equivalence = 4;

std::string lower(std::string text) {
    for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return text;
}

/// What is known of the same formula, however it is written: "SiH4", "H4Si", "sih4".
class Known {
public:
    Known(const Reading& reading, const std::vector<Declaration*>& of) {
        const std::vector<Gas>& gases = reading.model.gases;
        for (std::size_t i = 0; i < gases.size(); ++i)
            if (gases[i].pure && !gases[i].formula.empty() && reading.registry.units[of[i]->unit].standard)
                add(gases[i]);
        for (const Gas& substance : reading.model.substances) add(substance);
    }

    /// Null where nothing is known. A gas of the library comes before a substance.
    const Gas* of(const std::string& formula) const {
        const physics::Composition parts = physics::composition(formula);
        for (const Entry& entry : entries_)
            if (!parts.empty() && entry.parts == parts) return entry.gas;
        for (const Entry& entry : entries_)
            if (lower(entry.gas->formula) == lower(formula)) return entry.gas;
        return nullptr;
    }

private:
    struct Entry {
        const Gas* gas;
        physics::Composition parts;
    };
    void add(const Gas& gas) { entries_.push_back({&gas, physics::composition(gas.formula)}); }

    std::vector<Entry> entries_;
};

/// A gas of the library, not a substance.
bool usable(const Reading& reading, const Gas& known) {
    return std::any_of(reading.model.gases.begin(), reading.model.gases.end(),
                       [&](const Gas& gas) { return &gas == &known; });
}

/// "`hydrogen` of the standard library", "silane of the standard library": nothing can name a substance.
std::string named(const Reading& reading, const Gas& known) {
    return (usable(reading, known) ? "`" + known.name + "`" : lower(known.title)) + " of the standard library";
}

/// Carbon, hydrogen or sulfur that no halogen and no oxygen of its own has taken already.
bool burns_by_elements(const std::string& formula) {
    double demand = 0;
    for (const auto& [element, count] : physics::composition(formula)) {
        if (element == "F" || element == "Cl" || element == "Br" || element == "I") return false;
        if (element == "C" || element == "S") demand += count;
        if (element == "H" || element == "D") demand += count / 4.0;
        if (element == "O") demand -= count / 2.0;
    }
    return demand > 0;
}

/// Why a gas of this formula has the hazard; empty where nothing says that it has.
std::string reason(const Reading& reading, Hazard hazard, const Gas& gas, const Gas* known) {
    if (known != nullptr && known->hazards.of(hazard)) {
        std::string text = fmt::format("{} is {}", gas.formula, named(reading, *known));
        if (!known->hazard_source.empty()) text += fmt::format(" ({})", known->hazard_source);
        return text;
    }
    const std::optional<double> demand = physics::oxygen_demand(gas.formula);
    if (hazard == Hazard::flammable && demand && *demand > 0)
        return fmt::format("one mole of {} takes {:.4g} of oxygen to burn", gas.formula, *demand);
    if (hazard == Hazard::oxidiser && demand && *demand < 0)
        return fmt::format("one mole of {} gives off {:.4g} of oxygen", gas.formula, -*demand);
    if (hazard == Hazard::flammable && !demand && burns_by_elements(gas.formula))
        return fmt::format("{} holds hydrogen, carbon or sulfur that burns", gas.formula);
    return "";
}

/// True where the gas says all that its formula does.
bool check_hazards(const Reading& reading, const Gas& gas, const Gas* known) {
    std::string missing, why, words;
    for (const auto& [hazard, word] : dangers) {
        const std::string reasons = reason(reading, hazard, gas, known);
        if (reasons.empty() || gas.hazards.of(hazard)) continue;
        missing +=
            (missing.empty() ? "" : " and ") + std::string(hazard == Hazard::oxidiser ? "an oxidiser" : word);
        words += fmt::format("{}`{}`", words.empty() ? "" : ", ", word);
        if (why.find(reasons) == std::string::npos) why += (why.empty() ? "" : "; ") + reasons;
    }
    const bool not_inert = gas.hazards.inert && known != nullptr && !known->hazards.inert;
    const auto wrong = [&](std::string message) -> Diagnostic& {
        Diagnostic& d = reading.out().error(Code::rig_inconsistent, gas.source, std::move(message));
        d.cause(why);
        if (known != nullptr && usable(reading, *known)) d.remedy(fmt::format("use `{}`", known->name));
        return d;
    };
    if (!missing.empty()) {
        wrong(fmt::format("gas `{}` does not say that it is {}", gas.name, missing))
            .remedy(fmt::format("add {} to its hazards{}, or correct the formula", words,
                                not_inert ? " and leave `inert` out" : ""));
        return false;
    }
    if (not_inert) {
        why = fmt::format("{} is {}", gas.formula, named(reading, *known));
        wrong(fmt::format("gas `{}` is said to be inert, and it is not", gas.name))
            .remedy("leave `inert` out of its hazards, or correct the formula");
        return false;
    }
    return true;
}

/// True where no figure is less careful than the known one of the same formula.
bool check_figures(const Reading& reading, const Gas& gas, const Gas& known) {
    bool holds = true;
    for (const Compared& c : compared) {
        const Figure& own = gas.*c.figure;
        const Figure& other = known.*c.figure;
        if (!own.given || !other.given) continue;
        // Of an interval the end counts that the rules look at, the careful one.
        const double here = c.higher_is_careful ? own.hi() : own.lo();
        const double there = c.higher_is_careful ? other.hi() : other.lo();
        if (c.higher_is_careful ? here >= there * (1 - rounding) : here <= there * (1 + rounding)) continue;
        const std::string least = to_text(there, c.kind);
        Diagnostic& d = reading.out().error(
            Code::rig_inconsistent, own.source,
            fmt::format("gas `{}` has a less careful `{}` than its formula allows: {}; {} has {}", gas.name,
                        c.name, to_text(here, c.kind), named(reading, known), least));
        if (!other.reference.empty()) d.cause(fmt::format("{}: {}", least, other.reference));
        d.cause(fmt::format("with a {} one {}", c.higher_is_careful ? "lower" : "higher", c.why));
        d.remedy(fmt::format("state {} or {}", least, c.higher_is_careful ? "more" : "less"));
        if (usable(reading, known)) d.remedy(fmt::format("use `{}`", known.name));
        holds = false;
    }
    return holds;
}

/// Nitrogen and oxygen: what a site says of its own grade is not true of the room's air.
bool of_air(const Gas& gas) {
    return gas.formula == "N2" || gas.formula == "O2";
}

/// The figures of one substance under two names: each takes what only the other has, and `kept`, by which the
/// rules know it, the careful one of both.
void join_figures(Gas& kept, Gas& own) {
    for (const Compared& c : compared) {
        Figure &there = kept.*c.figure, &here = own.*c.figure;
        const bool careful = c.higher_is_careful ? here.hi() > there.hi() : here.lo() < there.lo();
        if (here.given && (!there.given || careful) && !of_air(kept)) there = here;
        if (!here.given) here = there;
    }
    for (Figure Gas::*figure : {&Gas::molar_mass, &Gas::heat_of_combustion, &Gas::meter_factor})
        if (!(own.*figure).given) own.*figure = kept.*figure;
}

void join_hazards(Gas& kept, Gas& own) {
    for (bool Hazards::*danger : {&Hazards::flammable, &Hazards::oxidiser, &Hazards::enriched, &Hazards::toxic,
                                  &Hazards::asphyxiant, &Hazards::pyrophoric}) {
        own.hazards.*danger = own.hazards.*danger || kept.hazards.*danger;
        if (!of_air(kept)) kept.hazards.*danger = own.hazards.*danger;
    }
    own.hazards.inert = own.hazards.inert && !own.hazards.flammable && !own.hazards.oxidiser;
    kept.hazards.inert = kept.hazards.inert && !kept.hazards.flammable && !kept.hazards.oxidiser;
}

/// A gas of a site with the formula of another gas, of the library or of the site, is that gas: whatever its
/// name it has the other's parts, as a mixture of nothing else would.
void join_substances(std::vector<Gas>& gases, const std::vector<bool>& standard) {
    for (Index i = 0; i < gases.size(); ++i) {
        Gas& own = gases[i];
        if (!own.pure || own.broken || standard[i]) continue;
        Index twin = none;
        for (Index j = 0; j < gases.size() && (twin == none || !standard[twin]); ++j) {
            const bool counts = gases[j].pure && !gases[j].broken && (standard[j] || j < i);
            if (counts && same_formula(own.formula, gases[j].formula)) twin = j;
        }
        if (twin == none) continue;
        Gas& kept = gases[gases[twin].parts.front().first];
        own.parts = kept.parts;
        own.formula = kept.formula;
        join_figures(kept, own);
        join_hazards(kept, own);
    }
}

/// "Fe(CO)5" of "Fe (CO)₅", and without the state "(g)" behind it.
std::string plain(const std::string& formula) {
    std::string text;
    for (std::size_t i = 0; i < formula.size(); ++i) {
        const auto byte = [&](std::size_t k) {
            return k < formula.size() ? static_cast<unsigned char>(formula[k]) : 0U;
        };
        if (byte(i) == ' ' || byte(i) == '\t') continue;
        if (byte(i) == 0xE2 && byte(i + 1) == 0x82 && byte(i + 2) >= 0x80 && byte(i + 2) <= 0x89) {
            text += static_cast<char>('0' + (byte(i + 2) - 0x80)); // subscripts of Unicode
            i += 2;
            continue;
        }
        text += formula[i];
    }
    constexpr std::string_view gaseous = "(g)";
    if (text.size() > gaseous.size() && text.ends_with(gaseous)) text.resize(text.size() - gaseous.size());
    return text;
}

} // namespace

bool same_formula(const std::string& a, const std::string& b) {
    if (a.empty() || b.empty()) return false;
    const physics::Composition parts = physics::composition(a);
    return lower(a) == lower(b) || (!parts.empty() && parts == physics::composition(b));
}

void check_formulas(const Reading& reading, const std::vector<Declaration*>& of) {
    std::vector<Gas>& gases = reading.model.gases;
    const auto standard = [&](std::size_t i) { return reading.registry.units[of[i]->unit].standard; };
    for (Gas& gas : gases) gas.formula = plain(gas.formula);
    const Known known(reading, of);
    for (std::size_t i = 0; i < gases.size(); ++i) {
        Gas& gas = gases[i];
        if (!gas.pure || gas.broken || standard(i)) continue;
        const Gas* twin = gas.formula.empty() ? nullptr : known.of(gas.formula);
        gas.broken =
            !check_hazards(reading, gas, twin) || (twin != nullptr && !check_figures(reading, gas, *twin));
        if (gas.broken) continue;
        if (twin != nullptr) {
            gas.hazards.pyrophoric = gas.hazards.pyrophoric || twin->hazards.pyrophoric;
            if (!gas.toxic_above.given) gas.toxic_above = twin->toxic_above;
        }
        if (gas.inert_equivalence.given && gas.inert_equivalence.lo() > greatest_equivalence * (1 + rounding)) {
            reading.out()
                .error(Code::rig_inconsistent, gas.inert_equivalence.source,
                       fmt::format("gas `{}` has an `inert_equivalence` of {}; the greatest known is {}",
                                   gas.name, shortest(gas.inert_equivalence.lo()),
                                   shortest(greatest_equivalence)))
                .cause(fmt::format("{}: ISO 10156:2017, table of Kk, sulfur hexafluoride",
                                   shortest(greatest_equivalence)))
                .remedy("look it up, or leave it out: a careful one is taken");
            gas.broken = true;
            continue;
        }
        const bool says = gas.hazards.flammable || gas.hazards.oxidiser || gas.hazards.toxic;
        if (!says && gas.formula.empty())
            reading.out()
                .warning(Code::implausible_value, gas.source,
                         fmt::format("gas `{}` has no formula, and counts as harmless, as it says", gas.name))
                .remedy("give its formula, which is compared with what is known of it");
        if (gas.hazards.oxidiser && gas.formula.empty())
            reading.out()
                .warning(Code::implausible_value, gas.source,
                         fmt::format("gas `{}` is an oxidiser without a formula: no rule about oxygen knows it",
                                     gas.name))
                .remedy("give its formula: one with \"O2\" is oxygen, whatever its name");
        if (twin == nullptr && !says && !gas.formula.empty() && !physics::oxygen_demand(gas.formula))
            reading.out()
                .warning(
                    Code::implausible_value, gas.source,
                    fmt::format("what {} burns to is not known here: gas `{}` counts as harmless, as it says",
                                gas.formula, gas.name))
                .cause("only formulas of C, H, N, O, S and noble gases are read, each element with a capital "
                       "letter, and those of recipes/standard/substances.ath")
                .remedy("look its hazards up, and state them");
    }
    std::vector<bool> of_library;
    for (std::size_t i = 0; i < gases.size(); ++i) of_library.push_back(standard(i));
    join_substances(gases, of_library);
}

} // namespace athanor::check
