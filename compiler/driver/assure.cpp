// `athanor assure`: what was proven, how nearly, where, on what it hangs, and what it takes for granted.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/page.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/recipe_text.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <optional>

namespace athanor::driver {
namespace {

using prove::Outcome;
using prove::Row;
using Json = nlohmann::ordered_json;

constexpr std::size_t verdict_columns = 20, indent = 4;

std::string_view subject(const Row& row) {
    if (row.rule == "require" || row.rule == "expect") return "the recipe's own";
    if (row.rule == "fault") return name(Group::any_fault);
    const std::optional<Code> code = code_named(row.rule);
    return code ? name(group(*code)) : "site policy";
}

bool has_place(athanor::Span span, const Files& files) {
    return span.file < files.size() && span.end != 0;
}

/// "at 04:41:28, sinter.ath:12"
std::string instant(const Row& row, const Files& files) {
    std::string text;
    if (row.after_s >= 0)
        text = fmt::format("power fails at {}, {} without power", to_clock(row.at_s),
                           to_text(row.after_s, Kind::time, 3));
    else if (std::isfinite(row.at_s) && row.rule != "fault" && has_place(row.source, files))
        text = "at " + to_clock(row.at_s);
    if (has_place(row.source, files)) text += (text.empty() ? "" : ", ") + files.place_line(row.source);
    return text;
}

void print_row(const Row& row, const Files& files) {
    const Outcome outcome = row.outcome();
    const bool own = row.rule == "require" || row.rule == "expect" || row.rule == "fault";
    fmt::print("{}", paragraph(padded("  " + std::string(name(outcome)), verdict_columns + 2),
                               own ? row.title : row.rule, verdict_columns + 2));
    const auto line = [](const std::string& words) {
        if (!words.empty()) fmt::print("{}", paragraph(std::string(indent, ' '), words, indent + 2));
    };
    if (!own) line(row.title);
    if (outcome == Outcome::not_judged) {
        line("judged once the run holds without a failure");
        return;
    }
    if (outcome == Outcome::needs_interlock) {
        line("would answer it: " + row.decides);
        return;
    }
    line(row.margin);
    line(instant(row, files));
    if (!row.decides.empty()) line("decided by: " + row.decides);
}

/// A place inside an operation that the recipe calls once is shown where it is called.
void show_in_recipe(Compiled& compiled, const Session& session) {
    const RecipeText text(session, compiled);
    for (Row& row : compiled.assurance.rows) {
        if (!has_place(row.source, session.files)) continue;
        if (const auto calls = text.calls_around(row.source); calls.size() == 1)
            row.source = text.tree().span(calls.front());
    }
}

void list(std::string_view heading, const std::vector<std::string>& lines) {
    if (lines.empty()) return;
    fmt::print("\n{}\n", heading);
    for (const std::string& text : lines) fmt::print("{}", paragraph("  - ", text, 4));
}

std::string heading(const Compiled& compiled, const Session& session) {
    std::string text = compiled.name;
    if (compiled.rig < session.model.rigs.size()) text += " on " + session.model.rigs[compiled.rig].name;
    if (compiled.controller < session.model.controllers.size())
        text += " for " + session.model.controllers[compiled.controller].name;
    return text;
}

/// A rule that nothing of the recipe falls under; one with rows of other parts, that apply, is not.
bool idles(const Row& row, const std::vector<Row>& rows) {
    if (row.outcome() != Outcome::not_applied) return false;
    if (row.rule == "require" || row.rule == "expect") return true;
    return std::none_of(rows.begin(), rows.end(), [&](const Row& other) {
        return other.rule == row.rule && other.outcome() != Outcome::not_applied;
    });
}

void print_table(const Compiled& compiled, const Session& session) {
    const prove::Assurance& a = compiled.assurance;
    if (!compiled.judged) {
        fmt::print("{}\n", summary(compiled, session));
        return;
    }
    fmt::print("{}",
               paragraph("", heading(compiled, session) + (compiled.proven ? ": proven" : ": refused"), 2));
    if (a.rows.empty()) {
        fmt::print("{}",
                   paragraph("  ", "No rule was judged: the rig cannot run this recipe as it stands.", 2));
        return;
    }
    std::string_view last;
    std::string idle;
    for (const Row& row : a.rows) {
        if (idles(row, a.rows))
            idle += (idle.empty() ? "" : ", ") +
                    (row.rule == "require" || row.rule == "expect" ? row.title : row.rule);
        if (row.outcome() == Outcome::not_applied) continue;
        if (subject(row) != last) fmt::print("\n{}\n", last = subject(row));
        print_row(row, session.files);
    }
    if (!idle.empty()) fmt::print("\nno part of this recipe falls under\n{}", paragraph("  ", idle, 2));
    list("taken for granted", a.assumptions);
    list("conceded", a.concessions);
    list("cautions", a.cautions);
}

Json place(athanor::Span span, const Files& files) {
    if (!has_place(span, files)) return nullptr;
    const Position at = files.position(span);
    return {{"path", files[span.file].path()}, {"line", at.line}, {"column", at.column}};
}

Json json(const Compiled& compiled, const Session& session) {
    const auto or_null = [](const std::string& text) { return text.empty() ? Json(nullptr) : Json(text); };
    Json rows = Json::array();
    for (const Row& row : compiled.assurance.rows)
        rows.push_back({{"rule", row.rule},
                        {"title", row.title},
                        {"subject", subject(row)},
                        {"verdict", prove::identifier(row.outcome())},
                        {"margin", or_null(row.margin)},
                        {"at_s", row.has_margin() && std::isfinite(row.at_s) ? Json(row.at_s) : Json(nullptr)},
                        {"after_failure_s", row.after_s >= 0 ? Json(row.after_s) : Json(nullptr)},
                        {"place", place(row.source, session.files)},
                        {"decides", or_null(row.decides)}});
    const check::Model& model = session.model;
    return {{"recipe", compiled.name},
            {"rig", compiled.rig < model.rigs.size() ? Json(model.rigs[compiled.rig].name) : Json(nullptr)},
            {"controller", compiled.controller < model.controllers.size()
                               ? Json(model.controllers[compiled.controller].name)
                               : Json(nullptr)},
            {"proven", compiled.proven},
            {"assurance", std::move(rows)},
            {"assumptions", compiled.assurance.assumptions},
            {"concessions", compiled.assurance.concessions},
            {"cautions", compiled.assurance.cautions}};
}

} // namespace

int run_assure(const AssureOptions& options) {
    Session session;
    if (!session.open(options.file, options)) return exit_usage;
    std::vector<Compiled> all;
    for (check::Index recipe : session.recipes(options))
        show_in_recipe(all.emplace_back(compile(session, recipe, options, session.sets, session.out)), session);
    // What is wrong elsewhere in the file leaves nothing in it proven.
    if (session.out.any_error())
        for (Compiled& compiled : all) compiled.proven = false;
    print_messages(session.out, session.files, options);
    for (const Compiled& compiled : all) {
        if (options.format == MessageFormat::json) {
            fmt::print("{}\n", json(compiled, session).dump(-1, ' ', false, Json::error_handler_t::replace));
            continue;
        }
        if (&compiled != all.data()) fmt::print("\n");
        print_table(compiled, session);
    }
    if (all.empty() && !session.out.any_error() && options.format != MessageFormat::json)
        fmt::print("{}: no recipe, nothing to prove\n", session.files[0].path());
    return session.status();
}

} // namespace athanor::driver
