// Commands that show what is known, with its sources: explain, units, gases, materials, targets, schema.
#include "compiler/driver/show.hpp"
#include "compiler/driver/commands.hpp"
#include "compiler/driver/embedded.hpp"
#include "compiler/quantity/unit.hpp"
#include "targets/target.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::driver {

std::string figure(const check::Figure& figure, Kind kind) {
    if (!figure.given) return "-";
    return to_text(figure.value, kind) + (figure.defaulted ? " (default)" : "");
}

namespace {

void row(std::string_view name, const std::string& value, const std::string& reference) {
    if (value == "-") return;
    fmt::print("    {:<22} {:<28} {}\n", name, value, reference);
}

void row(std::string_view name, const check::Figure& f, Kind kind) {
    row(name, figure(f, kind), f.reference);
}

} // namespace

std::string hazards(const check::Hazards& h) {
    std::string text;
    auto add = [&](bool is, const char* word) {
        if (is) text += (text.empty() ? "" : ", ") + std::string(word);
    };
    add(h.flammable, "flammable");
    add(h.oxidiser, "oxidiser");
    add(h.toxic, "toxic");
    add(h.inert, "inert");
    add(h.asphyxiant, "asphyxiant");
    return text.empty() ? "-" : text;
}

namespace {

/// Opens a file, or only the standard library when none is given.
bool open_any(Session& session, const Options& options, const std::string& file) {
    if (!file.empty()) return session.open(file, options);
    return session.open(Given{"nothing.ath", ""}, options);
}

/// The rows of the nearest names, so that a slip in a code costs one look.
std::vector<std::string_view> containing(std::string_view part) {
    std::vector<std::string_view> list;
    for (Code code : all_codes())
        if (name(code).find(part) != std::string_view::npos) list.push_back(name(code));
    return list;
}

} // namespace

int finish(const Session& session, const Options& options) {
    print_messages(session.out, session.files, options);
    return session.out.any_error() ? exit_refused : exit_proven;
}

int run_explain(const std::string& code) {
    std::string path = "docs/diagnostics/" + code + ".md";
    for (const EmbeddedFile& file : embedded_files()) {
        if (file.path != path) continue;
        fmt::print("{}", file.text);
        return exit_proven;
    }
    fmt::print(stderr, "athanor explain: there is no code `{}`", code);
    std::vector<std::string_view> near = code.empty() ? std::vector<std::string_view>{} : containing(code);
    if (!near.empty()) {
        fmt::print(stderr, "; near it:");
        for (std::string_view n : near) fmt::print(stderr, " {}", n);
        fmt::print(stderr, "\n");
    } else {
        fmt::print(stderr, "; the codes are:\n");
        for (Code c : all_codes()) fmt::print(stderr, "  {:<26} {}\n", name(c), meaning(c));
    }
    return exit_usage;
}

int run_units(const std::string& kind) {
    std::optional<Type> type = kind.empty() ? std::nullopt : type_named(kind);
    if (!kind.empty() && !type) {
        fmt::print(stderr, "athanor units: there is no quantity `{}`; there are:", kind);
        for (Kind k : named_kinds()) fmt::print(stderr, " {}", name(k));
        fmt::print(stderr, "\n");
        return exit_usage;
    }
    Kind shown = Kind::poison;
    for (const Unit& unit : units()) {
        if (type && unit.kind != type->kind) continue;
        if (unit.kind != shown) {
            shown = unit.kind;
            fmt::print("{}\n", name(shown));
        }
        std::string meaning = fmt::format("{:.10g}", unit.factor);
        if (unit.offset != 0) meaning += fmt::format(" * x + {:.10g}", unit.offset);
        fmt::print("    {:<14} {:<26} {:<16} {}\n", unit.spelling, meaning,
                   unit.ucum.empty() ? "no UCUM code" : unit.ucum, unit.source);
    }
    return exit_proven;
}

int run_gases(const Options& options, const std::string& file) {
    Session session;
    if (!open_any(session, options, file)) return exit_usage;
    for (const check::Gas& gas : session.model.gases) {
        fmt::print("{}{}\n", gas.name, gas.formula.empty() ? "" : "  " + gas.formula);
        if (!gas.pure) {
            std::string parts;
            for (const auto& [index, share] : gas.parts)
                parts += (parts.empty() ? "" : " + ") + to_text(share, Kind::fraction) + " " +
                         session.model.gases[index].name;
            row("mixture", parts, "");
        }
        row("hazards", hazards(gas.hazards), gas.hazard_reason);
        row("molar mass", gas.molar_mass, Kind::molar_mass);
        row("lower limit in air", gas.lower_limit, Kind::fraction);
        row("upper limit in air", gas.upper_limit, Kind::fraction);
        row("safety temperature", gas.safety_temperature, Kind::temperature);
        row("autoignition", gas.autoignition, Kind::temperature);
        row("limiting oxygen", gas.limiting_oxygen, Kind::fraction);
        row("exposure limit", gas.exposure_limit, Kind::fraction);
    }
    return finish(session, options);
}

int run_materials(const Options& options, const std::string& file) {
    Session session;
    if (!open_any(session, options, file)) return exit_usage;
    for (const check::Material& m : session.model.materials) {
        fmt::print("{}{}\n", m.name, m.title.empty() ? "" : "  " + m.title);
        row("limit", m.limit, Kind::temperature);
        row("limit under vacuum", m.limit_vacuum, Kind::temperature);
        for (const check::Exposure& e : m.exposures) {
            std::string what = session.model.gases[e.gas].name;
            if (e.temperature.lo > 0) what += " at " + to_text(e.temperature, Kind::temperature);
            row(e.refused ? "attacked by" : "worn by", what, e.reference);
        }
        for (const check::RateRow& r : m.rates) {
            std::string where = figure(r.rate, Kind::rate);
            if (r.diameter.hi < 10) where += " at " + to_text(r.diameter, Kind::length);
            row("rate", where, r.rate.reference);
        }
    }
    fmt::print("\n");
    for (const check::Thermocouple& t : session.model.thermocouples) {
        fmt::print("{}{}\n", t.name, t.title.empty() ? "" : "  " + t.title);
        row("range", t.range, Kind::temperature);
        for (const check::Tolerance& c : t.classes)
            row(fmt::format("class {}", c.number),
                fmt::format("{:g} K or {:g} % of t, {}", c.absolute, c.relative * 100,
                            to_text(c.range, Kind::temperature)),
                c.reference);
    }
    return finish(session, options);
}

int run_targets() {
    for (const targets::Target& target : targets::all_targets())
        fmt::print("{:<16} {}{}\n", target.name, target.description,
                   target.read || !target.write ? "; can be read back" : "");
    return exit_proven;
}

int run_schema(const std::string& wanted) {
    std::string known;
    for (const EmbeddedFile& file : embedded_files()) {
        if (!file.path.ends_with(".schema.json")) continue;
        std::string_view base = file.path.substr(file.path.rfind('/') + 1);
        base.remove_suffix(std::string_view(".schema.json").size());
        if (base == wanted) {
            fmt::print("{}", file.text);
            return exit_proven;
        }
        known += (known.empty() ? "" : ", ") + std::string(base);
    }
    // The equipment schema is a file of the language, shown as it stands.
    for (const EmbeddedFile& file : embedded_files()) {
        if (file.path != "recipes/standard/schema.ath" || wanted != "equipment") continue;
        fmt::print("{}", file.text);
        return exit_proven;
    }
    fmt::print(stderr, "athanor schema: there is no schema `{}`; there are: equipment, {}\n", wanted, known);
    return exit_usage;
}

} // namespace athanor::driver
