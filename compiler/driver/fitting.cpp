// `athanor rig RIGS --for RECIPES`: what a recipe needs fitted, what a rig has, and what is missing. Read off
// the steps as they are carried out, and off what the checks say on that rig.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/page.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/text_file.hpp"
#include "compiler/prove/cautions.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <functional>
#include <optional>
#include <set>

namespace athanor::driver {
namespace {

struct Part {
    std::string what, needed, has;
    bool there = false;
};

/// What the steps of a timeline ask of a rig. `own`: the rig the timeline was made for.
class Needs {
public:
    Needs(const check::Model& model, const check::Rig& own, const timeline::Timeline& timeline,
          const check::Rig& rig)
        : model_(model), own_(own), timeline_(timeline), rig_(rig) {}

    std::vector<Part> parts() {
        heat();
        for (timeline::Index l = 0; l < timeline_.lines.size() && l < own_.lines.size(); ++l)
            if (timeline_.lines[l].used) line(l);
        tube();
        exhaust();
        return std::move(parts_);
    }

private:
    void add(std::string what, std::string needed, std::string has, bool there) {
        parts_.push_back({std::move(what), std::move(needed), has.empty() ? "none" : std::move(has), there});
    }
    bool any(const std::function<bool(const timeline::State&)>& wanted) const {
        return std::any_of(timeline_.states.begin(), timeline_.states.end(), wanted);
    }
    const check::Gas* gas(const check::Line& line) const {
        return line.gas < model_.gases.size() ? &model_.gases[line.gas] : nullptr;
    }
    bool uses(check::Hazard hazard) const {
        for (std::size_t l = 0; l < timeline_.lines.size() && l < own_.lines.size(); ++l)
            if (timeline_.lines[l].used && gas(own_.lines[l]) != nullptr &&
                gas(own_.lines[l])->hazards.of(hazard))
                return true;
        return false;
    }
    bool pumped() const {
        return any([](const timeline::State& s) { return s.pump; });
    }

    void heat() {
        double hottest = 0;
        for (const timeline::Law& law : timeline_.laws) hottest = std::max({hottest, law.from, law.to});
        const std::string asked = to_text(hottest, Kind::temperature);
        if (timeline_.zones.size() > 1)
            add("furnace zones", std::to_string(timeline_.zones.size()),
                std::to_string(std::max<std::size_t>(rig_.furnace.zones.size(), 1)),
                rig_.furnace.zones.size() >= timeline_.zones.size());
        add("furnace", asked, to_text(rig_.furnace.range.value, Kind::temperature),
            hottest <= rig_.furnace.range.hi());
        if (rig_.tube.material < model_.materials.size()) {
            const check::Material& material = model_.materials[rig_.tube.material];
            const check::Figure& limit =
                pumped() && material.limit_vacuum.given ? material.limit_vacuum : material.limit;
            if (limit.given)
                add("tube", asked + (pumped() ? ", evacuated" : ""),
                    fmt::format("{}, up to {}", material.name, to_text(limit.lo(), Kind::temperature)),
                    hottest <= limit.lo());
        }
        if (rig_.sensor.type < model_.thermocouples.size()) {
            const check::Thermocouple& type = model_.thermocouples[rig_.sensor.type];
            if (type.range.given)
                add("sensor", asked,
                    fmt::format("{}, {}", type.name, to_text(type.range.value, Kind::temperature)),
                    type.range.value.contains(hottest));
        }
    }

    void line(timeline::Index l) {
        const check::Line& wanted = own_.lines[l];
        const std::string gas_name = gas(wanted) == nullptr ? "gas" : gas(wanted)->name;
        Interval flow{infinity, 0};
        const auto set = [&](double value) {
            if (value > 0) flow = {std::min(flow.lo, value), std::max(flow.hi, value)};
        };
        for (const timeline::State& state : timeline_.states)
            if (l < state.flows.size()) set(state.flows[l]);
        for (const timeline::Threshold& threshold : timeline_.thresholds)
            if (threshold.line == l) set(threshold.flow);
        std::string needed = gas_name;
        if (flow.hi > 0) needed += ", meter for " + to_text(flow, Kind::flow, 3);

        const check::Line* found = nullptr;
        for (const check::Line& line : rig_.lines)
            if (line.name == wanted.name) found = &line;
        const auto hazards = [&](const check::Line& line) {
            return gas(line) == nullptr ? check::Hazards{} : gas(line)->hazards;
        };
        const check::Hazards h = hazards(wanted);
        std::string has;
        bool there = found != nullptr;
        if (found != nullptr) {
            has = gas(*found) == nullptr ? "no gas" : gas(*found)->name;
            const check::Hazards g = hazards(*found);
            there = g.flammable == h.flammable && g.oxidiser == h.oxidiser && g.toxic == h.toxic;
            const check::Meter& meter = found->meter;
            if (meter.range.given) {
                has += ", " + to_text(meter.range.value, Kind::flow, 3);
                there = there && !(flow.hi > meter.range.hi() * (1 + 1e-9)) &&
                        !(flow.hi > 0 && flow.lo < meter.range.lo() * (1 - 1e-9));
            }
            if (wanted.output != 0 && found->output == 0) has += ", by hand", there = false;
        }
        if (wanted.output != 0) needed += ", switched by an output";
        add("line " + wanted.name, needed, has, there);
        if (h.flammable)
            add("  its valve", "falls closed",
                found == nullptr            ? ""
                : found->open_without_power ? "falls open"
                                            : "falls closed",
                found != nullptr && !found->open_without_power);
        if (h.inert && !h.flammable && uses(check::Hazard::flammable))
            add("  its valve", "falls open",
                found == nullptr            ? ""
                : found->open_without_power ? "falls open"
                                            : "falls closed",
                found != nullptr && found->open_without_power);
    }

    void tube() {
        bool atmosphere = pumped();
        for (std::size_t l = 0; l < timeline_.lines.size() && l < own_.lines.size(); ++l)
            atmosphere = atmosphere || (timeline_.lines[l].used && gas(own_.lines[l]) != nullptr &&
                                        gas(own_.lines[l])->name != "air");
        if (atmosphere) {
            add("seals", "gas-tight",
                !rig_.seals.gas_tight ? ""
                : rig_.seals.rated.given
                    ? "gas-tight, " + to_text(rig_.seals.rated.lo(), Kind::pressure) + " gauge"
                    : "gas-tight",
                rig_.seals.gas_tight);
            add("relief", "below the rating of tube and seals",
                rig_.relief.given ? to_text(rig_.relief.value, Kind::pressure) + " gauge" : "",
                rig_.relief.given);
        }
        if (!pumped()) return;
        constexpr std::array ends{"insulation plugs", "radiation shields", "open ends"};
        add("pump", "to evacuate",
            rig_.pump.present ? to_text(rig_.pump.speed.value, Kind::volume_flow, 3) : "", rig_.pump.present);
        add("ends", "shields, no plugs", ends[static_cast<std::size_t>(rig_.ends.kind)],
            rig_.ends.kind != check::EndsKind::insulation_plugs);
    }

    void exhaust() {
        const check::Exhaust& e = rig_.exhaust;
        const bool flammable = uses(check::Hazard::flammable), toxic = uses(check::Hazard::toxic);
        if (flammable || any([](const timeline::State& s) { return s.burner; }))
            add("burner", "at the outlet",
                e.has_burner() ? (e.output == 0 ? "lit by hand" : "by an output") : "", e.has_burner());
        if (flammable)
            add("exhaust without power", "pilot flame, or extraction with backup",
                std::string(e.pilot ? "pilot flame" : "") + (e.pilot && e.extraction_backup ? ", " : "") +
                    (e.extraction_backup ? "extraction with backup" : ""),
                e.pilot || e.extraction_backup);
        if (toxic) add("extraction", "for a toxic gas", e.extraction ? "yes" : "", e.extraction);
    }

    const check::Model& model_;
    const check::Rig& own_;
    const timeline::Timeline& timeline_;
    const check::Rig& rig_;
    std::vector<Part> parts_;
};

/// Lines of a cell.
std::vector<std::string> cell(const std::string& text, std::size_t columns) {
    std::vector<std::string> lines{""};
    std::size_t begin = 0;
    while (begin < text.size()) {
        std::size_t end = std::min(text.find(' ', begin), text.size());
        const std::string word = text.substr(begin, end - begin);
        if (!lines.back().empty() && width(lines.back()) + 1 + width(word) > columns) lines.emplace_back("  ");
        if (width(lines.back()) > 0 && lines.back() != "  ") lines.back() += ' ';
        lines.back() += word;
        begin = end + 1;
    }
    return lines;
}

void print(const Part& part) {
    constexpr std::array<std::size_t, 3> columns{17, 25, 25};
    const std::array cells{cell(part.what, columns[0]), cell(part.needed, columns[1]),
                           cell(part.has, columns[2])};
    const std::size_t rows = std::max({cells[0].size(), cells[1].size(), cells[2].size()});
    for (std::size_t r = 0; r < rows; ++r) {
        std::string line = " ";
        for (std::size_t c = 0; c < cells.size(); ++c)
            line += " " + padded(r < cells[c].size() ? cells[c][r] : "", columns[c]);
        if (r == 0) line += part.there ? " ok" : " MISSING";
        fmt::print("{}\n", line.substr(0, line.find_last_not_of(' ') + 1));
    }
}

/// Findings that a row of the table says already.
bool in_table(Code code) {
    switch (code) {
    case Code::needs_interlock:
    case Code::no_relief:
    case Code::beyond_furnace:
    case Code::beyond_tube:
    case Code::tube_vacuum_limit: return true;
    default: return false;
    }
}

/// A recipe on the rig that is looked at, and where that cannot have it, on its own.
struct Both {
    Compiled here, home;
    Diagnostics said; // of `here`

    /// A rig that lacks a line or a zone has no timeline of the recipe; its own rig has.
    bool from_home() const { return !whole(here) && home.timeline_ready; }
    const Compiled& shown() const { return from_home() ? home : here; }

    static bool whole(const Compiled& compiled) {
        return compiled.timeline_ready && compiled.elaborated.complete;
    }
};

Both compiled_on(Session& session, check::Index recipe, check::Index rig, const RigOptions& options) {
    Options on = options;
    on.rig = session.model.rigs[rig].name;
    Both both;
    both.here = compile(session, recipe, on, session.sets, both.said);
    const check::Index own = session.model.recipes[recipe].rig_index;
    if (own == check::none || own == rig || Both::whole(both.here)) return both;
    on.rig.clear();
    Diagnostics unheard;
    both.home = compile(session, recipe, on, session.sets, unheard);
    return both;
}

/// Nothing is missing?
bool print_parts(const Session& session, const Both& both, const check::Rig& rig) {
    const Compiled& shown = both.shown();
    std::vector<Part> parts =
        Needs(session.model, session.model.rigs[shown.rig], *shown.elaborated.timeline, rig).parts();
    for (const prove::Row& row : both.here.assurance.rows)
        if (row.rule == "fault")
            parts.push_back({"interlock", row.title,
                             row.needs_interlock ? "none" : session.files.place_line(row.source),
                             !row.needs_interlock});
    print({"part", "needed", "there is", true});
    for (const Part& part : parts) print(part);
    return std::all_of(parts.begin(), parts.end(), [](const Part& part) { return part.there; });
}

/// What the checks say beside the table; nothing?
bool print_errors(const Session& session, const Both& both) {
    std::size_t hidden = 0;
    bool none = true, heading = false;
    for (const Diagnostic* d : both.said.sorted(100, hidden)) {
        if (d->severity != Severity::error || (in_table(d->code) && both.shown().timeline_ready)) continue;
        none = false;
        // A line or a burner that is not there is a row of the table already.
        if (both.from_home() && (d->code == Code::unknown_name || d->code == Code::rig_inconsistent)) continue;
        if (!heading) fmt::print("  what the checks say on this rig\n");
        heading = true;
        fmt::print("{}",
                   paragraph("  - ",
                             fmt::format("{} [{}], {}", d->message, d->rule, session.files.place_line(d->span)),
                             4));
        for (const std::string& remedy : d->remedies) fmt::print("{}", paragraph("      ", remedy, 8));
    }
    if (hidden != 0) fmt::print("    and {} more\n", hidden);
    return none;
}

/// Nothing is missing?
bool compare(Session& session, check::Index recipe, check::Index rig, const RigOptions& options) {
    const check::Model& model = session.model;
    const check::Rig& machine = model.rigs[rig];
    const Both both = compiled_on(session, recipe, rig, options);
    const Compiled& shown = both.shown();
    fmt::print("{}", paragraph("",
                               fmt::format("{} on {}{}", model.names[model.recipes[recipe].name], machine.name,
                                           both.here.proven ? ": proven" : ": refused"),
                               2));
    const bool fitted = !shown.timeline_ready || print_parts(session, both, machine);
    if (both.from_home() && both.here.assurance.rows.empty())
        fmt::print(
            "{}",
            paragraph("  ", "The rules and the interlocks are judged once the rig can run the recipe.", 2));
    const bool agreed = print_errors(session, both);
    if (shown.timeline_ready)
        for (const std::string& caution :
             prove::cautions(model, model.rigs[shown.rig], *shown.elaborated.timeline))
            fmt::print("{}", paragraph("  ! ", caution, 4));
    return fitted && agreed && both.here.proven;
}

} // namespace

int run_fitting(const RigOptions& options) {
    Session session;
    std::vector<check::Source> named;
    for (const std::string& path : {options.recipes, options.file}) {
        std::string error;
        std::optional<std::string> text = read_file(path, error);
        if (!text) {
            print_file_error(path, error, options);
            return exit_usage;
        }
        named.push_back({path, std::move(*text), false});
    }
    session.units = check::load(
        std::move(named), standard_library(), options.root,
        [](const std::string& path) {
            std::string error;
            return read_file(path, error);
        },
        session.files, session.out);
    session.model = check::check(session.units, session.files, session.out);
    const FileId recipes = session.units.front().file;
    std::set<std::string> of_rig_file;
    for (const check::Unit& unit : session.units)
        if (unit.named)
            for (NodeId at : unit.tree.children(unit.tree.root))
                if (unit.tree.kind(at) == Node::rig &&
                    (unit.file != recipes || options.file == options.recipes))
                    if (const NodeId name = unit.tree.child(at, Node::name); name != no_node)
                        of_rig_file.emplace(unit.tree.text(name, session.files));
    print_messages(session.out, session.files, options);
    if (session.out.any_error()) return exit_refused;
    bool complete = true, first = true;
    for (check::Index recipe : session.recipes(options)) {
        if (session.model.recipes[recipe].span.file != recipes) continue;
        for (check::Index rig = 0; rig < session.model.rigs.size(); ++rig) {
            const std::string& name = session.model.rigs[rig].name;
            if (!of_rig_file.contains(name) || (!options.rig.empty() && name != options.rig)) continue;
            if (!first) fmt::print("\n");
            first = false;
            complete = compare(session, recipe, rig, options) && complete;
        }
    }
    if (first) {
        fmt::print(stderr, "athanor rig: nothing to compare: {} has no recipe or {} no rig of that name\n",
                   options.recipes, options.file);
        return exit_usage;
    }
    return complete ? exit_proven : exit_refused;
}

} // namespace athanor::driver
