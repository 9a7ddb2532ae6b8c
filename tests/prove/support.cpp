#include "tests/prove/support.hpp"

#include "compiler/driver/embedded.hpp"
#include "compiler/source/render.hpp"

#include <doctest/doctest.h>

namespace athanor::prove::test {

const std::string_view rigs = R"(
rig small "50 mm quartz tube with shields" {
    ambient 18 degC to 28 degC, 980 mbar to 1030 mbar
    furnace {
        range 30 degC to 1150 degC ; heated_length 300 mm ; power 2.0 kW
        heat_up 40 min to 1000 degC ; holding_power 0.8 kW ± 10 % at 1000 degC
        cool_down 1000 degC to 200 degC in 3 h ± 10 % ; zones centre
    }
    tube { material fused_quartz ; inner_diameter 50 mm ; wall 2.5 mm ; length 900 mm }
    ends radiation_shields { count 4 }
    seals gas_tight { rated 200 mbar gauge ; cooled no }
    mixing 0.7 to 1
    leak_rate 1e-4 mbar*L/s
    load_lag 0 min to 2 min
    sensor type_k class 1
    line argon {
        gas argon ; output 1 ; de_energised open, 1.5 slm to 4 slm
        meter controlled ; flow 0.1 slm to 4 slm ; accuracy 2 % of reading ; supply 150 mbar gauge
    }
    line hydrogen {
        gas hydrogen ; output 2 ; de_energised closed
        meter controlled ; flow 0.1 slm to 1 slm ; accuracy 2 % of reading ; supply 150 mbar gauge
    }
    line oxygen {
        gas oxygen ; output 3 ; de_energised closed
        meter controlled ; flow 0.1 slm to 1 slm ; accuracy 2 % of reading ; supply 150 mbar gauge
    }
    pump { output 5 ; speed 4 m3/h ; ultimate 1e-2 mbar ; pipe 25 mm by 1 m }
    exhaust afterburner { output 4 ; into extraction_hood { backup_power yes } }
    relief 180 mbar gauge
}
rig three from small {
    furnace {
        range 30 degC to 1150 degC ; heated_length 300 mm ; power 2.0 kW
        heat_up 40 min to 1000 degC ; holding_power 0.8 kW ± 10 % at 1000 degC
        cool_down 1000 degC to 200 degC in 3 h ± 10 % ; zones left, centre, right
    }
}
rig slow from small {
    furnace {
        range 30 degC to 1150 degC ; heated_length 300 mm ; power 1.0 kW
        heat_up 3 h to 1000 degC ; holding_power 0.8 kW ± 10 % at 1000 degC
        cool_down 1000 degC to 200 degC in 3 h ± 10 % ; zones centre
    }
}
)";

std::unique_ptr<Case> run(std::string_view text, std::string_view standard) {
    auto c = std::make_unique<Case>();
    std::vector<check::Source> library;
    for (const EmbeddedFile& file : embedded_files())
        if (file.path.starts_with("recipes/standard/"))
            library.push_back({std::string(file.path), std::string(file.content.text), true});
    if (!standard.empty()) library.push_back({"recipes/standard/added.ath", std::string(standard), true});
    auto read = [](const std::string& path) -> std::optional<std::string> {
        if (path.ends_with("rigs.ath")) return std::string(rigs);
        if (path.ends_with("vented.ath")) { // without the pump, and so without its non-return valve
            std::string vented(rigs);
            const std::size_t pump = vented.find("    pump {");
            return vented.erase(pump, vented.find('\n', pump) - pump);
        }
        return std::nullopt;
    };
    c->units = check::load({{"/bench/recipe.ath", std::string(text), false}}, library, "/bench", read, c->files,
                           c->out);
    c->model = check::check(c->units, c->files, c->out);
    if (c->out.any_error() || c->model.own_recipes == 0) return c;
    c->done = elaborate::elaborate(c->model, {0, check::none, {}}, c->files, c->out);
    if (!c->done.complete) return c;
    const check::Index controller = c->model.recipes[0].controller_index;
    c->assurance = prove(c->model, c->rig(), *c->done.timeline, *c->done.plant, c->files, c->out,
                         controller == check::none ? nullptr : &c->model.controllers[controller]);
    return c;
}

std::unique_ptr<Case> steps(std::string_view text, std::string_view policy, std::string_view rig,
                            std::string_view standard) {
    std::string whole = "use \"rigs.ath\"";
    if (!policy.empty()) whole += "; policy site { " + std::string(policy) + " }";
    return run(whole + "\nrecipe r on " + std::string(rig) + " {\n" + std::string(text) + "\n}\n", standard);
}

std::string Case::errors() const {
    std::string text;
    std::size_t hidden = 0;
    for (const Diagnostic* d : out.sorted(1000, hidden)) {
        if (d->severity != Severity::error) continue;
        text += (text.empty() ? "" : " ") + d->rule + ":" + std::to_string(files.position(d->span).line);
    }
    return text;
}

std::string Case::all() const {
    std::string text;
    for (const Diagnostic& d : out.all()) text += render_pretty(d, files, false);
    return text;
}

const Diagnostic& Case::only() const {
    const Diagnostic* found = nullptr;
    for (const Diagnostic& d : out.all()) {
        if (d.severity != Severity::error) continue;
        REQUIRE_MESSAGE(found == nullptr, "more than one error:\n", all());
        found = &d;
    }
    REQUIRE_MESSAGE(found != nullptr, "no error");
    return *found;
}

const Diagnostic& Case::first(Code code) const {
    const Diagnostic* found = nullptr;
    for (const Diagnostic& d : out.all())
        if (found == nullptr && d.code == code) found = &d;
    REQUIRE_MESSAGE(found != nullptr, all());
    return *found;
}

const Row& Case::row(std::string_view rule, std::size_t n) const {
    for (const Row& r : assurance.rows)
        if (r.rule == rule && n-- == 0) return r;
    FAIL("no such row: " << std::string(rule));
    return assurance.rows.front();
}

} // namespace athanor::prove::test
