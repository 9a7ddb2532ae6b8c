#include "tests/elaborate/support.hpp"

#include "compiler/source/render.hpp"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>

namespace athanor::elaborate::test {
namespace {

std::optional<std::string> read(const std::string& path) {
    if (path.ends_with("/rigs.ath")) return std::string(rigs);
    std::ifstream in(path, std::ios::binary);
    if (!in) return std::nullopt;
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

const std::vector<check::Source>& library() {
    static const std::vector<check::Source> sources = [] {
        std::vector<check::Source> list;
        std::vector<std::filesystem::path> paths;
        for (const auto& entry : std::filesystem::directory_iterator(ATHANOR_ROOT "/recipes/standard"))
            if (entry.path().extension() == ".ath") paths.push_back(entry.path());
        std::sort(paths.begin(), paths.end());
        for (const auto& path : paths)
            list.push_back({"standard/" + path.filename().string(), *read(path.string()), true});
        return list;
    }();
    return sources;
}

std::unique_ptr<Case> go(std::vector<check::Source> named,
                         std::vector<std::pair<std::string, check::Value>> values) {
    auto c = std::make_unique<Case>();
    c->units = check::load(named, library(), ATHANOR_ROOT, read, c->files, c->out);
    c->model = check::check(c->units, c->files, c->out);
    if (c->out.any_error() || c->model.own_recipes == 0) return c;
    Request request{0, check::none, std::move(values)};
    c->done = elaborate(c->model, request, c->files, c->out);
    return c;
}

std::string names(const Case& c, Severity severity) {
    std::string text;
    std::size_t hidden = 0;
    for (const Diagnostic* d : c.out.sorted(1000, hidden)) {
        if (d->severity != severity) continue;
        if (!text.empty() && text.substr(text.rfind(' ') + 1) == d->rule) continue;
        text += (text.empty() ? "" : " ") + d->rule;
    }
    return text;
}

} // namespace

const std::string_view rigs = R"(
gas argon_n50 = 2 ppm oxygen + 3 ppm water + rest argon
gas lean = 10 % hydrogen + rest argon
rig bench "60 mm quartz tube with plugs" {
    ambient 18 degC to 28 degC, 980 mbar to 1030 mbar
    furnace {
        range 30 degC to 1200 degC ; heated_length 600 mm ; power 3.0 kW
        heat_up 50 min to 1100 degC ; holding_power 1.2 kW ± 10 % at 1100 degC
        cool_down 1100 degC to 200 degC in 5 h ± 15 % ; zones centre
    }
    tube { material fused_quartz ; inner_diameter 60 mm ; wall 3 mm ; length 1200 mm }
    ends insulation_plugs { length 150 mm ; porosity 85 % ; air_release 1 min to 3 min }
    seals gas_tight { rated 200 mbar gauge ; cooled no }
    mixing 0.7 to 1
    leak_rate 1e-4 mbar*L/s
    load_lag 0 min to 4 min
    sensor type_k class 1
    line argon {
        gas argon_n50 ; output 1 ; de_energised open
        meter hand ; flow 0.2 L/min to 2 L/min at 20 degC, 1 bar ; accuracy 5 % of reading ; supply 150 mbar gauge
    }
    line hydrogen {
        gas hydrogen ; output 2 ; de_energised closed
        meter hand ; flow 10 sccm to 1 slm ; accuracy 5 % of reading ; supply 150 mbar gauge
    }
    line oxygen {
        gas oxygen ; output 3 ; de_energised closed
        meter controlled ; flow 10 sccm to 1 slm ; accuracy 1 % of reading ; supply 150 mbar gauge
    }
    exhaust afterburner { output 4 ; into extraction_hood { backup_power yes } }
    relief 180 mbar gauge
}
rig shields from bench {
    ends radiation_shields { count 4 }
    pump { output 5 ; speed 4 m3/h ; ultimate 1e-2 mbar ; pipe 25 mm by 1 m }
}
rig pumped_plugs from bench { pump { output 5 ; speed 4 m3/h ; ultimate 1e-2 mbar ; pipe 25 mm by 1 m } }
rig loose from bench { seals none }
rig ceramic from bench { tube { material alumina ; inner_diameter 60 mm ; wall 3 mm ; length 1200 mm } }
rig premixed from bench {
    without line hydrogen
    line lean { gas lean ; output 2 ; de_energised closed ; meter hand ; flow 10 sccm to 1 slm ; supply 150 mbar gauge }
}
rig hot_sensor from bench { sensor type_s class 1 }
rig three_zones from bench {
    furnace {
        range 30 degC to 1200 degC ; heated_length 600 mm ; power 3.0 kW
        heat_up 50 min to 1100 degC ; holding_power 1.2 kW ± 10 % at 1100 degC
        cool_down 1100 degC to 200 degC in 5 h ± 15 % ; zones left, centre, right
    }
}
)";

std::string Case::errors() const {
    return names(*this, Severity::error);
}
std::string Case::warnings() const {
    return names(*this, Severity::warning);
}

std::string Case::all() const {
    std::string text;
    for (const Diagnostic& d : out.all()) text += render_pretty(d, files, false);
    return text;
}

const Diagnostic* Case::first(Code code) const {
    for (const Diagnostic& d : out.all())
        if (d.code == code) return &d;
    return nullptr;
}

std::unique_ptr<Case> run(std::string_view text, std::vector<std::pair<std::string, check::Value>> values) {
    return go({{ATHANOR_ROOT "/recipe.ath", std::string(text), false}}, std::move(values));
}

std::unique_ptr<Case> steps(std::string_view text, std::string_view rig) {
    return run("use \"rigs.ath\"\nrecipe r on " + std::string(rig) + " {\n" + std::string(text) + "\n}\n");
}

std::unique_ptr<Case> file(const std::string& path) {
    auto text = read(path);
    if (!text) return nullptr;
    return go({{path, *text, false}}, {});
}

check::Value temperature(double degC) {
    return {type_of(Kind::temperature), degC + 273.15, check::none, {}};
}

} // namespace athanor::elaborate::test
