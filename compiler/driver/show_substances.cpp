// `gases` and `materials`: every figure of gases, tube materials and thermocouples, with its source.
#include "compiler/check/read_equipment.hpp"
#include "compiler/driver/commands.hpp"
#include "compiler/driver/rows.hpp"
#include "compiler/driver/show.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <system_error>

namespace athanor::driver {
namespace {

/// Opens a file, or only the standard library when none is given.
bool open_any(Session& session, const Options& options, const std::string& file) {
    if (!file.empty()) return session.open(file, options);
    return session.open(Given{"nothing.ath", ""}, options);
}

void print_title(const std::string& name, const std::string& title) {
    fmt::print("{}{}\n", name, title.empty() ? "" : "  " + title);
}

void print_gas(const check::Gas& gas, const check::Model& model, bool named = true) {
    print_title(gas.name, gas.formula);
    if (!named) print_row("known by its formula", "no recipe can name it", "");
    const bool renamed = gas.pure && gas.parts.size() == 1 && model.gases[gas.parts[0].first].name != gas.name;
    if (renamed) print_row("the same as", model.gases[gas.parts[0].first].name, "by its formula");
    if (!gas.pure) {
        std::string parts;
        for (const auto& [index, share] : gas.parts)
            parts += (parts.empty() ? "" : " + ") + to_text(share, Kind::fraction, 6) + " " +
                     model.gases[index].name;
        print_row("mixture", parts);
    }
    print_row("hazards", hazards(gas.hazards),
              gas.hazard_source.empty() ? gas.hazard_reason : gas.hazard_source);
    print_row("molar mass", gas.molar_mass, Kind::molar_mass);
    print_row("lower limit in air", gas.lower_limit, Kind::fraction);
    print_row("upper limit in air", gas.upper_limit, Kind::fraction);
    print_row("safety temperature", gas.safety_temperature, Kind::temperature);
    print_row("autoignition", gas.autoignition, Kind::temperature);
    print_row("limiting oxygen", gas.limiting_oxygen, Kind::fraction);
    print_row("ISO 10156, Tci", gas.fuel_threshold, Kind::fraction);
    print_row("ISO 10156, Kk", gas.inert_equivalence, Kind::count);
    print_row("exposure limit", gas.exposure_limit, Kind::fraction);
    print_row("toxic above", gas.toxic_above, Kind::temperature);
    if (gas.heat_of_combustion.given)
        print_row("heat of combustion", fmt::format("{:.6g} kJ/mol", gas.heat_of_combustion.lo() / 1000),
                  origin(gas.heat_of_combustion));
    print_row("meter factor", gas.meter_factor, Kind::count);
}

/// What neither a material nor a thermocouple stands, or needs.
void print_exposures(const std::vector<check::Exposure>& exposures) {
    for (const check::Exposure& e : exposures) {
        std::string what = e.name;
        if (e.share != check::Exposure{}.share) what += " above " + to_text(e.share, Kind::fraction);
        if (e.temperature.lo > 0) what += " at " + to_text(e.temperature, Kind::temperature);
        print_row(e.scarce ? "needs" : e.refused ? "attacked by" : "worn by", what, e.reference);
    }
}

void print_material(const check::Material& m) {
    print_title(m.name, m.title);
    print_row("limit", m.limit, Kind::temperature);
    print_row("limit under vacuum", m.limit_vacuum, Kind::temperature);
    print_exposures(m.exposures);
    for (const check::RateRow& r : m.rates) {
        std::string where = shown(r.rate, Kind::rate);
        if (std::isfinite(r.diameter.hi)) where += " at " + to_text(r.diameter, Kind::length);
        if (r.temperature.lo > 0 || std::isfinite(r.temperature.hi))
            where += " from " + to_text(r.temperature, Kind::temperature);
        print_row("rate", where, origin(r.rate));
    }
    print_row("elastic modulus", m.elastic_modulus, Kind::stress);
    print_row("Poisson's ratio", m.poisson, Kind::count);
    print_row("expansion", m.expansion, Kind::expansivity);
    print_row("conductivity", m.conductivity, Kind::conductivity);
    print_row("density", m.density, Kind::density);
    print_row("heat capacity", m.heat_capacity, Kind::heat_capacity);
    print_row("strength", m.strength, Kind::stress);
}

} // namespace

std::string tolerance_text(const check::Tolerance& c) {
    const std::string share = fmt::format("{:g} %", c.relative * 100);
    if (c.relative == 0) return fmt::format("{:g} K", c.absolute);
    if (c.added) return fmt::format("{:g} K plus {} above {:g} °C", c.absolute, share, c.from);
    return fmt::format("{:g} K or {} of t in °C, the greater", c.absolute, share);
}

namespace {

int print_materials(Session& session, const Options& options) {
    for (const check::Material& m : session.model.materials) print_material(m);
    fmt::print("\n");
    for (const check::Thermocouple& t : session.model.thermocouples) {
        print_title(t.name, t.title);
        print_row("range", t.range, Kind::temperature);
        print_exposures(t.exposures);
        for (const check::Tolerance& c : t.classes)
            print_row(fmt::format("class {}", c.number),
                      to_text(c.range, Kind::temperature) + ": " + tolerance_text(c), c.reference);
    }
    return finish(session, options);
}

/// `athanor gases hydrogen`: what is no file may be the name of one thing of the standard library.
bool names_one(const std::string& file) {
    std::error_code none;
    return !file.empty() && file.find_first_of("./-") == std::string::npos &&
           !std::filesystem::exists(file, none);
}

} // namespace

int run_gases(const Options& options, const std::string& file) {
    Session session;
    if (names_one(file) && open_any(session, options, ""))
        for (const check::Gas& gas : session.model.gases)
            if (gas.name == file) {
                print_gas(gas, session.model);
                return finish(session, options);
            }
    for (const check::Gas& substance : check::known_substances(session.units, session.files))
        if (substance.name == file) {
            print_gas(substance, session.model, false);
            return finish(session, options);
        }
    Session whole;
    if (!open_any(whole, options, file)) return exit_usage;
    for (const check::Gas& gas : whole.model.gases) print_gas(gas, whole.model);
    for (const check::Gas& substance : check::known_substances(whole.units, whole.files))
        print_gas(substance, whole.model, false);
    return finish(whole, options);
}

int run_materials(const Options& options, const std::string& file) {
    Session session;
    session.library = check::Library::whole;
    if (names_one(file) && open_any(session, options, ""))
        for (const check::Material& m : session.model.materials)
            if (m.name == file) {
                print_material(m);
                return finish(session, options);
            }
    Session whole;
    whole.library = check::Library::whole;
    if (!open_any(whole, options, file)) return exit_usage;
    return print_materials(whole, options);
}

} // namespace athanor::driver
