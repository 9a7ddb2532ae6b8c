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
            fmt::print("{}.{:<3} {:<28} {}\n", part.number, i + 1, session.files.place_line(segment.source), segment.why);
        }
    }
}

/// True when the file is proven, or has nothing to prove and no error.
bool check_file(Session& session, const CheckOptions& options) {
    bool good = true;
    std::vector<std::string> lines;
    std::vector<check::Index> list = session.recipes(options);
    for (check::Index recipe : list) {
        Compiled compiled = compile(session, recipe, options, session.sets, session.out);
        good = good && compiled.proven;
        lines.push_back(summary(compiled, session));
        if (options.emit == "timeline" && compiled.timeline_ready) fmt::print("{}", timeline::print(*compiled.elaborated.timeline));
        if (options.emit == "program" && compiled.legalised.complete) fmt::print("{}", program::print(compiled.legalised.program));
        if (options.explain_segments && compiled.legalised.complete) print_segments(compiled, session);
    }
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
