// Faults seeded into what the legaliser hands over and into what the writers write: `build` finds every one
// before a byte is written. The faults go the way that a real one would, through `tables_of`.
#include "compiler/driver/tables_of.hpp"

#include <doctest/doctest.h>

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

using namespace athanor;
using program::Program;
using program::Segment;
using program::SegmentKind;

namespace {

const std::string project = ATHANOR_ROOT;

/// A recipe taken as far as its program.
struct Made {
    driver::Session session;
    driver::Compiled compiled;

    explicit Made(const std::string& path) {
        driver::Options options;
        REQUIRE(session.open(project + "/" + path, options));
        const std::string stem = path.substr(path.rfind('/') + 1);
        const check::Index recipe = session.model.recipe_named(stem.substr(0, stem.size() - 4));
        REQUIRE(recipe != check::none);
        compiled = driver::compile(session, recipe, options, {}, session.out);
        REQUIRE_MESSAGE(compiled.proven, path);
    }
    /// What `build` says of a table in this format; empty: it would write it.
    std::string built(const targets::Target& format) {
        std::vector<targets::OutputFile> files;
        std::string internal;
        driver::tables_of(session, compiled, {&format}, "table", files, internal);
        CHECK(files.empty() == !internal.empty());
        return internal;
    }
    std::string with(const std::function<void(Program&)>& fault, const targets::Target& format) {
        const Program whole = compiled.legalised.program;
        fault(compiled.legalised.program);
        std::string said = built(format);
        compiled.legalised.program = whole;
        return said;
    }
};

const targets::Target& format(const char* name) {
    return *targets::target_named(name);
}

/// Every value that is keyed, moved by the least that the controller can hold, and every fault of structure.
/// Calls `seed(name, fault)` for each.
void each_fault(const Program& p,
                const std::function<void(const std::string&, const std::function<void(Program&)>&)>& seed) {
    const program::Controller& c = p.controller;
    for (std::size_t n = 0; n < p.parts.size(); ++n) {
        const program::Part& part = p.parts[n];
        for (std::size_t i = 0; i < part.segments.size(); ++i) {
            const Segment& s = part.segments[i];
            const std::string at = " of segment " + std::to_string(n + 1) + "." + std::to_string(i + 1);
            const auto change = [&](const std::string& what, const std::function<void(Segment&)>& to) {
                seed(what + at, [=](Program& q) { to(q.parts[n].segments[i]); });
            };
            // At its end a controller that switches off lets everything fall, whatever is keyed.
            const bool end = s.kind == SegmentKind::end;
            if (!end || c.holds_at_end)
                for (const program::Output& output : p.outputs) {
                    bool by_threshold = false;
                    for (const program::ThresholdOutput& t : part.thresholds)
                        by_threshold = by_threshold || t.output == output.number;
                    if (!by_threshold)
                        change("output " + output.name,
                               [&](Segment& x) { x.outputs ^= 1U << (output.number - 1); });
                }
            if (end) continue;
            for (const std::int64_t by : {-1, 1}) {
                const std::string more = by > 0 ? " one step up" : " one step down";
                for (std::size_t z = 0; z < s.targets.size() && s.kind != SegmentKind::operator_wait; ++z)
                    change("target" + more, [=](Segment& x) { x.targets[z] += by; });
                // The rate of a zone that stays moves nothing.
                for (std::size_t z = 0; z < s.rates.size(); ++z)
                    if (i == 0 || part.segments[i - 1].targets[z] != s.targets[z])
                        change("rate" + more, [=](Segment& x) { x.rates[z] += by; });
                if (s.ramp_time >= 0) change("ramp time" + more, [=](Segment& x) { x.ramp_time += by; });
                if (s.dwell >= 0) change("dwell" + more, [=](Segment& x) { x.dwell += by; });
                if (s.band >= 0) change("band" + more, [=](Segment& x) { x.band += by; });
            }
            if (s.band >= 0) change("band lost", [](Segment& x) { x.band = -1; });
            if (s.band < 0 && c.soak_band && s.kind == SegmentKind::dwell)
                change("band added", [](Segment& x) { x.band = 1; });
            if (s.kind == SegmentKind::dwell && c.operator_wait)
                change("a person for a dwell", [](Segment& x) {
                    x.kind = SegmentKind::operator_wait;
                    x.dwell = x.band = -1;
                });
            if (s.kind == SegmentKind::ramp)
                change("a step for a ramp", [](Segment& x) {
                    x.kind = SegmentKind::step;
                    x.rates.clear();
                    x.ramp_time = -1;
                });
            seed("loss" + at, [=](Program& q) {
                q.parts[n].segments.erase(q.parts[n].segments.begin() + static_cast<std::ptrdiff_t>(i));
            });
            // A second ramp to where the set-point is already takes no time.
            if (s.rates.empty())
                seed("copy" + at, [=](Program& q) {
                    q.parts[n].segments.insert(q.parts[n].segments.begin() + static_cast<std::ptrdiff_t>(i), s);
                });
        }
        for (std::size_t l = 0; l < part.loops.size(); ++l) {
            const auto change = [&](const std::string& what, const std::function<void(program::Loop&)>& to) {
                seed(what, [=](Program& q) { to(q.parts[n].loops[l]); });
            };
            change("a pass too many", [](program::Loop& x) { ++x.passes; });
            change("a pass too few", [](program::Loop& x) { --x.passes; });
            change("a loop begins late", [](program::Loop& x) { ++x.first; });
            change("a loop ends late", [](program::Loop& x) { ++x.last; });
            if (part.loops[l].last > part.loops[l].first)
                change("a loop ends early", [](program::Loop& x) { --x.last; });
            seed("a loop lost", [=](Program& q) { q.parts[n].loops.clear(); });
        }
        for (std::size_t t = 0; t < part.thresholds.size(); ++t) {
            seed("a threshold two steps up", [=](Program& q) { q.parts[n].thresholds[t].temperature += 2; });
            seed("a threshold turned", [=](Program& q) {
                q.parts[n].thresholds[t].energised_above = !q.parts[n].thresholds[t].energised_above;
            });
            seed("a threshold lost", [=](Program& q) { q.parts[n].thresholds.clear(); });
        }
        if (part.next != 0) seed("a link lost", [=](Program& q) { q.parts[n].next = 0; });
    }
}

std::string replaced(std::string text, const std::string& old, const std::string& fresh) {
    const std::size_t at = text.find(old);
    return at == std::string::npos ? text : text.replace(at, old.size(), fresh);
}

/// Changes the cells of one column of a CSV table.
std::string column(const std::string& text, const std::string& name,
                   const std::function<std::string(const std::string&)>& to) {
    std::string out;
    std::size_t wanted = std::string::npos;
    for (std::size_t begin = 0; begin < text.size();) {
        const std::size_t end = text.find('\n', begin);
        std::string line = text.substr(begin, end - begin), fresh;
        begin = end + 1;
        bool quoted = false;
        std::string cell;
        std::size_t n = 0;
        const auto close = [&](bool last) {
            if (wanted == std::string::npos && cell == name)
                wanted = n;
            else if (n == wanted)
                cell = to(cell);
            fresh += cell + (last ? "\n" : ",");
            cell.clear();
            ++n;
        };
        for (const char letter : line) {
            quoted = quoted != (letter == '"');
            if (letter == ',' && !quoted)
                close(false);
            else
                cell += letter;
        }
        close(true);
        out += fresh;
    }
    return out;
}

} // namespace

TEST_CASE("a fault in any keyed value of any segment is found by build") {
    std::size_t seeded = 0;
    std::map<std::string, std::size_t> of;
    for (const char* path :
         {"tests/examples/accepted/copper_sinter.ath", "tests/examples/accepted/thermal_cycles.ath",
          "tests/examples/accepted/threshold_gas.ath", "tests/examples/accepted/vacuum_degas.ath",
          "recipes/gradient_growth.ath", "recipes/phosphor_firing.ath"}) {
        Made made(path);
        CAPTURE(path);
        const targets::Target& csv = format("csv");
        REQUIRE(made.built(csv) == "");
        each_fault(made.compiled.legalised.program,
                   [&](const std::string& name, const std::function<void(Program&)>& fault) {
                       CAPTURE(name);
                       const std::string said = made.with(fault, csv);
                       CHECK(said.find("[table_mismatch]") != std::string::npos);
                       ++seeded;
                       ++of[name.substr(0, name.find(" of segment"))];
                   });
        REQUIRE(made.built(csv) == ""); // and each fault was taken back
    }
    std::string kinds;
    for (const auto& [name, count] : of) kinds += name + " " + std::to_string(count) + ", ";
    MESSAGE(seeded, " faults: ", kinds);
    CHECK(seeded >= 400);
    CHECK(of.size() >= 25);
}

TEST_CASE("words of the legaliser that are not what was proven are found by build") {
    const auto say = [](std::size_t segment, const char* words) {
        return [=](Program& p) { p.parts[0].segments[segment - 1].instruction = words; };
    };
    Made made("tests/examples/accepted/copper_sinter.ath");
    const targets::Target& csv = format("csv");
    for (const auto& fault : {say(1, "Load the boat"), say(2, ""), say(2, "open argon at 0.3 L/min"),
                              say(3, "set argon to 2 L/min"), say(7, "open hydrogen at 900 sccm; close argon")})
        CHECK(made.with(fault, csv).find("[table_mismatch]") != std::string::npos);
    REQUIRE(made.built(csv) == "");
}

TEST_CASE("a fault of a writer is found by build, in every format") {
    struct Fault {
        const char* name;
        const char* format;
        std::function<std::string(const std::string&)> seed;
    };
    const auto all = [](const char* from, const char* to) {
        return [=](std::string text) {
            const std::string old = from;
            for (std::size_t at = text.find(old); at != std::string::npos; at = text.find(old, at)) {
                text.replace(at, old.size(), to);
                at += std::string(to).size();
            }
            return text;
        };
    };
    const auto numbers = [](const char* name, double times) {
        return [=](const std::string& text) {
            return column(text, name, [=](const std::string& cell) {
                return cell.empty() ? cell : std::to_string(std::llround(std::stod(cell) * times));
            });
        };
    };
    const std::vector<Fault> faults{
        {"minutes for seconds", "csv", numbers("duration_s", 1.0 / 60)},
        {"kelvin for degrees", "csv",
         [](const std::string& text) {
             return column(text, "target_degC", [](const std::string& cell) {
                 return cell.empty() ? cell : std::to_string(std::stoi(cell) + 273);
             });
         }},
        {"K/h for K/min", "csv", numbers("rate_K_per_min", 60)},
        {"outputs turned", "csv",
         [](const std::string& text) {
             return column(text, "out2_hydrogen", [](const std::string& cell) {
                 return cell == "0" ? "1" : cell == "1" ? "0" : cell;
             });
         }},
        {"two columns exchanged", "csv",
         [](std::string text) {
             text = replaced(text, "out1_argon", "out_x");
             text = replaced(text, "out2_hydrogen", "out1_argon");
             return replaced(text, "out_x", "out2_hydrogen");
         }},
        {"bands lost", "csv",
         [](const std::string& text) {
             return column(text, "soak_band_K", [](const std::string&) { return std::string(); });
         }},
        {"a band in tenths", "csv", numbers("soak_band_K", 10)},
        {"the last row lost", "csv",
         [](const std::string& text) { return text.substr(0, text.rfind('\n', text.size() - 2) + 1); }},
        {"the first segment lost", "csv",
         [](const std::string& text) {
             const std::size_t first = text.find('\n') + 1;
             return text.substr(0, first) + text.substr(text.find('\n', first) + 1);
         }},
        {"every rate one digit short", "csv",
         [](const std::string& text) {
             return column(text, "rate_K_per_min", [](const std::string& cell) {
                 return cell.size() > 1 ? cell.substr(0, cell.size() - 1) : cell + "0";
             });
         }},
        {"a dwell for a step", "csv", all(",step,", ",dwell,")},
        {"an operator wait for a dwell", "csv", all(",operator,", ",dwell,")},
        {"nothing at all", "csv", [](const std::string&) { return std::string(); }},
        {"segments from 0", "csv",
         [](const std::string& text) {
             return column(text, "segment", [](const std::string& cell) {
                 return cell.empty() ? cell : std::to_string(std::stoi(cell) - 1);
             });
         }},
        {"a time in JSON", "json", all("\"dwell_s\": 1200", "\"dwell_s\": 1260")},
        {"a rate in JSON", "json", all("\"rate_K_per_min\": 3,", "\"rate_K_per_min\": 4,")},
        {"an output in JSON", "json", all("\"2\": 1", "\"2\": 0")},
        {"a band in JSON", "json", all("\"soak_band_K\": 5", "\"soak_band_K\": 4")},
        {"a target in JSON", "json", all("\"target_degC\": 950", "\"target_degC\": 951")},
        {"a kind in JSON", "json", all("\"kind\": \"step\"", "\"kind\": \"dwell\"")},
        {"a target on the run sheet", "markdown", all("950", "951")},
        {"a time on the run sheet", "markdown", all("0:20:00", "0:21:00")},
        {"bits on the run sheet", "markdown", all("1 1 1", "0 1 1")},
        {"a kind on the run sheet", "markdown", all("| step", "| dwell")},
        {"a target of the constants", "structured_text", all("950", "951")},
        {"the unit of the constants", "structured_text",
         all("ATHANOR_RATE_UNIT : LREAL := 0.", "ATHANOR_RATE_UNIT : LREAL := 1.")},
        {"a flow in CSV", "csv", all("open argon at 1.5 L/min", "open argon at 0.5 L/min")},
        {"an instruction lost in CSV", "csv", all("light burner", "")},
        {"a flow in JSON", "json", all("open hydrogen at 500 sccm", "open hydrogen at 5000 sccm")},
        {"an instruction lost in JSON", "json", all("\"shut burner\"", "null")},
        {"a free text in JSON", "json", all("fit both plugs", "fit one plug")},
        // Lines are wrapped, where depends on the folder.
        {"a flow on the run sheet", "markdown", all("1.5", "15")},
        {"a nominal length in JSON", "json", all("\"duration_s\": 3240", "\"duration_s\": 60")},
        {"the totals in JSON", "json", all("\"energy_kWh\"", "\"energy_kwh\"")},
        {"outputs of the constants", "structured_text",
         all("Outputs := 16#0000000B", "Outputs := 16#00000003")},
    };
    Made made("tests/examples/accepted/copper_sinter.ath");
    for (const Fault& fault : faults) {
        CAPTURE(fault.name);
        targets::Target wrong = format(fault.format);
        bool reached = false;
        wrong.write = [&](const Program& program, const targets::Context& context, std::string_view stem) {
            std::vector<targets::OutputFile> files = format(fault.format).write(program, context, stem);
            const std::string bytes = fault.seed(files[0].bytes);
            reached = bytes != files[0].bytes;
            files[0].bytes = bytes;
            return files;
        };
        const std::string said = made.built(wrong);
        CHECK_MESSAGE(reached, format(fault.format)
                                   .write(made.compiled.legalised.program,
                                          driver::context(made.session, made.compiled), "t")[0]
                                   .bytes.substr(0, 4000));
        CHECK(said.find("[table_mismatch]") != std::string::npos);
    }
    CHECK(faults.size() >= 25);
}
