// `athanor check`: everything but the table.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/pipeline.hpp"

#include <fmt/format.h>

namespace athanor::driver {
namespace {

void print_segments(const Compiled& compiled, const Session& session) {
    for (const program::Part& part : compiled.legalised.program.parts) {
        for (std::size_t i = 0; i < part.segments.size(); ++i) {
            const program::Segment& segment = part.segments[i];
            fmt::print("{}.{:<3} {:<28} {}\n", part.number, i + 1, session.files.place_line(segment.source),
                       segment.why);
        }
    }
}

/// A value of a parameter that must hold too: an end of its range, or a member of its list.
struct Corner {
    std::string parameter, which;
    check::ExprId value;
};

std::vector<Corner> corners(const check::Model& model, const check::Recipe& recipe, const Session& session) {
    std::vector<Corner> list;
    for (const check::Parameter& p : recipe.parameters) {
        std::string name(model.names[p.name]);
        bool set = false;
        for (const auto& [given, expr] : session.sets) set = set || given == name;
        if (set) continue; // --set proves the value given
        if (p.lo != 0) list.push_back({name, "the lower end of its range", p.lo});
        if (p.hi != 0) list.push_back({name, "the upper end of its range", p.hi});
        if (p.list != 0)
            for (check::Index i = 0; i < model.exprs[p.list].count; ++i)
                list.push_back({name, "a value of its list", model.arguments[model.exprs[p.list].first + i]});
    }
    return list;
}

/// Tries each parameter alone at the ends of its range. A refusal is reported with the value that gave it.
/// Ends are no proof of what lies between; see docs/language.md.
bool corners_hold(Session& session, check::Index recipe, const CheckOptions& options) {
    bool good = true;
    for (const Corner& corner : corners(session.model, session.model.recipes[recipe], session)) {
        Diagnostics out;
        auto values = session.sets;
        values.emplace_back(corner.parameter, corner.value);
        Compiled compiled = compile(session, recipe, options, values, out);
        if (compiled.proven) continue;
        good = false;
        for (const Diagnostic& d : out.all()) {
            if (d.severity != Severity::error) continue;
            std::string value(session.files.text(session.model.exprs[corner.value].span));
            session.out.add(d).cause(fmt::format("with {} = {}, {}", corner.parameter, value, corner.which));
            break; // the first one says enough; the others follow from the same value
        }
    }
    return good;
}

/// True when the file is proven, or has nothing to prove and no error.
bool check_file(Session& session, const CheckOptions& options) {
    bool good = true;
    std::vector<std::string> lines;
    std::vector<check::Index> list = session.recipes(options);
    for (check::Index recipe : list) {
        Compiled compiled = compile(session, recipe, options, session.sets, session.out);
        if (compiled.proven) compiled.proven = corners_hold(session, recipe, options);
        good = good && compiled.proven;
        lines.push_back(summary(compiled, session));
        if (options.emit == "timeline" && compiled.timeline_ready)
            fmt::print("{}", timeline::print(*compiled.elaborated.timeline));
        if (options.emit == "program" && compiled.legalised.complete)
            fmt::print("{}", program::print(compiled.legalised.program));
        if (options.explain_segments && compiled.legalised.complete) print_segments(compiled, session);
    }
    // Whatever else is wrong in the file, nothing in it is proven.
    if (good && session.out.any_error())
        for (std::string& line : lines)
            line = line.substr(0, line.find(':')) + ": refused, the file has errors";
    if (list.empty() && !session.out.any_error())
        lines.push_back(fmt::format("{}: no recipe, no error", session.files[0].path()));
    print_messages(session.out, session.files, options);
    std::FILE* to = options.format == MessageFormat::json || !options.emit.empty() ? stderr : stdout;
    for (const std::string& line : lines) fmt::print(to, "{}\n", line);
    return good && !session.out.any_error();
}

} // namespace

int run_check(const CheckOptions& options) {
    int status = exit_proven;
    for (const std::string& file : options.files) {
        Session session;
        if (!session.open(file, options)) {
            status = exit_usage;
            continue;
        }
        if (!check_file(session, options) && status == exit_proven) status = exit_refused;
    }
    return status;
}

} // namespace athanor::driver
