// Repairs for units that are not in the table.
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <array>
#include <utility>
#include <vector>

namespace athanor {

namespace {

using Slip = std::pair<std::string_view, std::string_view>;

/// Slips that stand for a whole unit. Only spellings of the same unit: a repair must never change a value, so
/// cubic feet per minute, say, have none.
constexpr Slip whole_slips[] = {
    {"lpm", "L/min"},        {"LPM", "L/min"},        {"Lpm", "L/min"},
    {"L/m", "L/min"},        {"l/m", "L/min"},        {"lph", "L/h"},
    {"LPH", "L/h"},          {"mlpm", "mL/min"},      {"ml/m", "mL/min"},
    {"mL/m", "mL/min"},      {"cc/m", "cm3/min"},     {"ccm", "cm3/min"},
    {"ccpm", "cm3/min"},     {"slpm", "slm"},         {"SLPM", "slm"},
    {"sL/min", "slm"},       {"SL/min", "slm"},       {"sl/min", "slm"},
    {"NLPM", "NL/min"},      {"nlpm", "NL/min"},      {"ln/min", "NL/min"},
    {"Ln/min", "NL/min"},    {"ln/h", "NL/h"},        {"Ln/h", "NL/h"},
    {"mln/min", "NmL/min"},  {"mLn/min", "NmL/min"},  {"Ncc/min", "Ncm3/min"},
    {"Nccm", "Ncm3/min"},    {"m3n/h", "Nm3/h"},      {"mn3/h", "Nm3/h"},
    {"mT", "mTorr"},         {"mt", "mTorr"},         {"T", "Torr"},
    {"micron", "um"},        {"microns", "um"},       {"barg", "bar gauge"},
    {"mbarg", "mbar gauge"}, {"kPag", "kPa gauge"},   {"psig", "psi gauge"},
    {"bara", "bar"},         {"mbara", "mbar"},       {"psia", "psi"},
    {"PSI", "psi"},          {"percent", "%"},        {"pct", "%"},
    {"vol%", "%"},           {"mol%", "%"},           {"ppmv", "ppm"},
    {"ppmV", "ppm"},         {"vppm", "ppm"},         {"ppbv", "ppb"},
    {"C", "degC"},           {"F", "degF"},           {"ACH", "1/h"},
    {"/h", "1/h"},           {"/min", "1/min"},       {"/s", "1/s"},
    {"/K", "1/K"},           {"volume", "volumes"},   {"vol", "volumes"},
    {"kwh", "kWh"},          {"kW*h", "kWh"},         {"mbar*l/s", "mbar*L/s"},
    {"mbarL/s", "mbar*L/s"}, {"mbarl/s", "mbar*L/s"}, {"scc/s", "sccs"},
    {"scc/min", "sccm"},

    {"Nl/h", "NL/h"},        {"W/mK", "W/m/K"},       {"W/(m*K)", "W/m/K"},
    {"J/(kg*K)", "J/kg/K"},  {"J/kgK", "J/kg/K"},
};

/// Slips that may also be a part of a compound: "C/min", "K/hr", "cc/min", "mbar*l/sec".
constexpr Slip part_slips[] = {
    {"C", "degC"},
    {"°", "degC"},
    {"º", "degC"},
    {"ºC", "degC"},
    {"℃", "degC"},
    {"deg", "degC"},
    {"degree", "degC"},
    {"degrees", "degC"},
    {"deg_C", "degC"},
    {"celsius", "degC"},
    {"Celsius", "degC"},
    {"centigrade", "degC"},
    {"Cel", "degC"},
    {"F", "degF"},
    {"deg_F", "degF"},
    {"fahrenheit", "degF"},
    {"Fahrenheit", "degF"},
    {"℉", "degF"},
    {"k", "K"},
    {"degK", "K"},
    {"degCelsius", "degC"},
    {"degcelsius", "degC"},
    {"degFahrenheit", "degF"},
    {"degfahrenheit", "degF"},
    {"degKelvin", "K"},
    {"degkelvin", "K"},
    {"°K", "K"},
    {"kelvin", "K"},
    {"Kelvin", "K"},
    {"kelvins", "K"},
    {"hr", "h"},
    {"hrs", "h"},
    {"Hr", "h"},
    {"hour", "h"},
    {"hours", "h"},
    {"H", "h"},
    {"sec", "s"},
    {"secs", "s"},
    {"second", "s"},
    {"seconds", "s"},
    {"S", "s"},
    {"mn", "min"},
    {"mins", "min"},
    {"minute", "min"},
    {"minutes", "min"},
    {"day", "d"},
    {"days", "d"},
    {"week", "wk"},
    {"weeks", "wk"},
    {"torr", "Torr"},
    {"mtorr", "mTorr"},
    {"cc", "cm3"},
    {"ccs", "cm3"},
    {"ccm", "cm3"},
    {"cm^3", "cm3"},
    {"m^3", "m3"},
    {"cm^2", "cm2"},
    {"m^2", "m2"},
    {"cbm", "m3"},
    {"l", "L"},
    {"ltr", "L"},
    {"litre", "L"},
    {"litres", "L"},
    {"liter", "L"},
    {"liters", "L"},
    {"ml", "mL"},
    {"Nl", "NL"},
    {"Nml", "NmL"},
    {"Nm^3", "Nm3"},
    {"Ncm^3", "Ncm3"},
    {"inch", "in"},
    {"inches", "in"},
    {"bars", "bar"},
    {"watt", "W"},
    {"watts", "W"},
    {"gram", "g"},
    {"grams", "g"},

    {"kgs", "kg"},
};

template<std::size_t N>
std::string_view lookup(const Slip (&slips)[N], std::string_view wrong) {
    for (const Slip& slip : slips)
        if (slip.first == wrong) return slip.second;
    return {};
}

/// "K/min" for "K·min⁻¹".
std::string without_powers(std::string_view wrong) {
    constexpr std::string_view dot = "\u00B7", operator_ = "\u22C5", inverse = "\u207B\u00B9";
    std::string result;
    std::size_t sign = 0; // of the part that is read
    while (!wrong.empty()) {
        if (wrong.starts_with(dot) || wrong.starts_with(operator_) || wrong.front() == '*') {
            sign = result.size();
            result += '*';
            wrong.remove_prefix(wrong.front() == '*'     ? 1
                                : wrong.starts_with(dot) ? dot.size()
                                                         : operator_.size());
        } else if (wrong.starts_with(inverse) && sign != 0) {
            result[sign] = '/';
            wrong.remove_prefix(inverse.size());
        } else {
            result += wrong.front();
            wrong.remove_prefix(1);
        }
    }
    return result;
}

/// Replaces the parts between '*' and '/' that are known slips.
std::string repair_parts(std::string_view written) {
    const std::string plain = without_powers(written);
    std::string_view wrong = plain;
    std::string result;
    while (true) {
        const std::size_t end = std::min(wrong.find_first_of("*/"), wrong.size());
        const std::string_view part = wrong.substr(0, end), repaired = lookup(part_slips, part);
        result += repaired.empty() ? part : repaired;
        if (end == wrong.size()) return result;
        result += wrong[end];
        wrong.remove_prefix(end + 1);
    }
}

char lower(char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
}

bool equal_but_case(std::string_view a, std::string_view b) {
    return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                      [](char x, char y) { return lower(x) == lower(y); });
}

/// One letter too many, too few, another, or two neighbours exchanged, capitals aside.
bool one_slip_apart(std::string_view a, std::string_view b) {
    if (a.size() > b.size()) std::swap(a, b);
    if (b.size() - a.size() > 1) return false;
    const auto same = [](char x, char y) { return lower(x) == lower(y); };
    std::size_t i = 0;
    while (i < a.size() && same(a[i], b[i])) ++i;
    const std::string_view x = a.substr(i), y = b.substr(i);
    if (x.size() != y.size()) return equal_but_case(x, y.substr(1));
    if (x.empty() || equal_but_case(x.substr(1), y.substr(1))) return true;
    return x.size() >= 2 && same(x[0], y[1]) && same(x[1], y[0]) && equal_but_case(x.substr(2), y.substr(2));
}

/// A letter more or less may be what says at which temperature and pressure a flow is measured (`Nm3/min`,
/// `mls/min`, `scfm`, `acfm`): no flow is guessed from those.
bool other_reference(const Unit& unit, std::string_view wrong) {
    if (unit.kind != Kind::flow && unit.kind != Kind::volume_flow) return false;
    const auto holds = [](std::string_view text, char letter) {
        text = text.substr(0, text.find('/'));
        return std::any_of(text.begin(), text.end(), [&](char c) { return lower(c) == letter; });
    };
    // Another letter may also be another size (`Nm3/min`, `Ncm3/min`, `NmL/min`).
    for (char letter : {'n', 's', 'a', 'f', 'c', 'l'})
        if (((letter != 'c' && letter != 'l') || wrong.find('/') != std::string_view::npos) &&
            holds(unit.spelling, letter) != holds(wrong, letter))
            return true;
    return false;
}

/// A time that is a unit already (`L/d`) is not the letter that is wrong.
bool other_time(const Unit& unit, std::string_view wrong) {
    const std::size_t sign = wrong.rfind('/');
    if (sign == std::string_view::npos) return false;
    const Unit* time = unit_named(wrong.substr(sign + 1));
    return time != nullptr && time->kind == Kind::time && !unit.spelling.ends_with(wrong.substr(sign));
}

} // namespace

std::string_view suggest_unit(std::string_view wrong) {
    if (wrong.empty()) return {};
    if (const std::string_view slip = lookup(whole_slips, wrong); !slip.empty()) return slip;
    const std::string repaired = repair_parts(wrong);
    if (const Unit* unit = unit_named(repaired)) return unit->spelling;
    // "mw" may be mW or MW: the first row, the smaller and commoner one, is as good a hint as any.
    for (const Unit& unit : units())
        if (equal_but_case(unit.spelling, repaired)) return unit.spelling;
    // Short units are all one letter apart from each other; a guess would be noise.
    if (wrong.size() < (wrong.find('/') == std::string_view::npos ? 3 : 5)) return {};
    for (const Unit& unit : units())
        if (unit.spelling.size() >= 3 && one_slip_apart(unit.spelling, repaired) &&
            !other_reference(unit, repaired) && !other_time(unit, repaired))
            return unit.spelling;
    return {};
}

bool surely_unit(std::string_view wrong) {
    if (!lookup(whole_slips, wrong).empty()) return wrong.find("micron") == std::string_view::npos;
    const std::string repaired = repair_parts(wrong);
    if (unit_named(repaired) != nullptr) return true;
    // `Mbar` may be a million of them, `MM` is none of the two, and `M` a minute or a metre.
    if (wrong.starts_with('M')) return false;
    std::size_t count = 0;
    for (const Unit& unit : units())
        if (equal_but_case(unit.spelling, repaired)) ++count;
    return count == 1;
}

} // namespace athanor
