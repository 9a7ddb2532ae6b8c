// `athanor check`: everything but the table.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/declared.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/ranges.hpp"
#include "compiler/driver/repair.hpp"

#include <fmt/format.h>

namespace athanor::driver {
namespace {

void print_segments(const Compiled& compiled, const Session& session) {
    for (const program::Part& part : compiled.legalised.program.parts) {
        for (std::size_t i = 0; i < part.segments.size(); ++i) {
            const program::Segment& segment = part.segments[i];
            fmt::print("{}.{:<3} {:<28} {}\n", part.number, i + 1, session.files.place_line(segment.source),
                       program::text(segment.why, session.files));
        }
    }
}

/// True when the file is proven, or has nothing to prove and no error.
bool check_file(Session& session, const CheckOptions& options) {
    bool good = true;
    std::vector<std::string> lines;
    std::vector<check::Index> list = session.recipes(options);
    std::vector<targets::Declared> declared = declared_targets(session);
    // Who prints the program reads its texts, and so may a layout that is asked what it would lose.
    const bool read = options.emit == "program" || options.explain_segments || !declared.empty();
    const legalise::Texts texts = read ? legalise::Texts::all : legalise::Texts::none;
    for (check::Index recipe : list) {
        Compiled compiled = compile(session, recipe, options, session.sets, session.out, texts);
        if (compiled.proven && compiled.legalised.complete)
            for (const targets::Declared& one : declared)
                if (one.target.losses && one.controller == compiled.legalised.program.controller.name)
                    (void)holds(one.target, session, compiled, context(session, compiled));
        if (compiled.proven) compiled.proven = ranges_hold(session, recipe, options);
        good = good && compiled.proven;
        lines.push_back(summary(compiled, session) + conceded(compiled));
        if (options.emit == "timeline" && compiled.timeline_ready)
            fmt::print("{}", timeline::print(*compiled.elaborated.timeline));
        if (options.emit == "program" && compiled.legalised.complete)
            fmt::print("{}", program::print(compiled.legalised.program, session.files));
        if (options.explain_segments && compiled.legalised.complete) print_segments(compiled, session);
    }
    // Whatever else is wrong in the file, nothing in it is proven.
    if (good && session.out.any_error())
        for (std::string& line : lines)
            line = line.substr(0, line.find(':')) + ": refused, the file has errors";
    if (list.empty() && !session.out.any_error())
        lines.push_back(fmt::format("{}: no recipe, no error", session.files[0].path()));
    // Who reads JSON can apply an edit; trying them takes a while, so nobody else waits for it.
    if (options.format == MessageFormat::json) add_edits(session, options);
    print_messages(session.out, session.files, options);
    std::FILE* to = options.format == MessageFormat::json || !options.emit.empty() ? stderr : stdout;
    for (const std::string& line : lines) fmt::print(to, "{}\n", line);
    return good && !session.out.any_error();
}

} // namespace

int run_check(const CheckOptions& options) {
    if (options.emit == "state") return emit_state(options);
    if (!options.every.empty()) {
        fmt::print(stderr, "athanor check: --every belongs to --emit state\n");
        return exit_usage;
    }
    if (options.fit && !options.fix) {
        fmt::print(stderr, "athanor check: --fit belongs to --fix\n");
        return exit_usage;
    }
    int status = exit_proven;
    for (const std::string& file : options.files) {
        if (options.fix && file == "-") {
            fmt::print(stderr, "athanor check: --fix changes a file, and standard input is none\n");
            return exit_usage;
        }
        if (options.fix && !mend_file(file, options.fit, options)) {
            status = exit_usage;
            continue;
        }
        Session session;
        if (!session.open(file, options)) {
            status = exit_usage;
            continue;
        }
        if (!check_file(session, options))
            status = std::max<int>(status, std::max(session.status(), exit_refused));
    }
    return status;
}

} // namespace athanor::driver
