// `athanor check --emit state`: the bounds along one recipe as CSV.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/segments.hpp"
#include "compiler/driver/trace.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

namespace athanor::driver {
namespace {

constexpr double most_rows = 2e6; // about a gigabyte of text

/// "10 min" in seconds; nothing when it is no time above zero.
std::optional<double> time_of(const std::string& text) {
    const std::size_t end = text.find_first_not_of("0123456789.+-");
    double number = 0;
    if (end == std::string::npos || !parse_number(std::string_view(text).substr(0, end), number))
        return std::nullopt;
    const std::size_t begin = text.find_first_not_of(' ', end);
    const Unit* unit = begin == std::string::npos ? nullptr : unit_named(std::string_view(text).substr(begin));
    if (!unit || unit->kind != Kind::time || !(number > 0)) return std::nullopt;
    return to_si(number, *unit);
}

int usage(const std::string& what) {
    fmt::print(stderr, "athanor check: {}\n", what);
    return exit_usage;
}

} // namespace

int emit_state(const CheckOptions& options) {
    Every every;
    if (!options.every.empty()) {
        every = time_of(options.every);
        if (!every)
            return usage(
                fmt::format("--every takes a time above zero, like '10 min'; not '{}'", options.every));
    }
    if (options.files.size() > 1) return usage("--emit state prints one table: give one file");
    Session session;
    if (!session.open(options.files.front(), options)) return exit_usage;
    std::vector<check::Index> list = session.recipes(options);
    if (list.size() > 1)
        return usage(fmt::format("--emit state prints one table, and {} has {} recipes: name one with --recipe",
                                 options.files.front(), list.size()));
    if (list.empty() && !session.out.any_error())
        session.out.error(Code::value_missing, Span{}, "the file holds no recipe, so there is no state");

    std::string line;
    bool refused_rows = false;
    for (check::Index recipe : list) {
        Compiled compiled = compile(session, recipe, options, session.sets, session.out);
        line = summary(compiled, session) + "\n";
        // A recipe that a rule refuses still has a state, and that shows why. One that the rig cannot run has
        // none.
        if (!compiled.elaborated.complete) continue;
        const bool legal = compiled.legalised.complete;
        const timeline::Timeline& timeline =
            legal ? compiled.legalised.timeline : *compiled.elaborated.timeline;
        const double rows = least_rows(timeline, every);
        if (rows > most_rows) {
            refused_rows = true;
            fmt::print(stderr,
                       "athanor check: {:.3g} rows of state are more than anybody reads (at most {:g}){}\n",
                       rows, most_rows, every ? ": take a longer --every" : "");
            continue;
        }
        const auto segments =
            legal ? segments_of(timeline, compiled.legalised.program) : std::vector<std::string>{};
        write_csv(timeline, *compiled.elaborated.plant, every, segments,
                  [](const std::string& text) { std::fwrite(text.data(), 1, text.size(), stdout); });
    }
    // JSON messages would stand between the rows.
    Options messages = options;
    if (messages.format == MessageFormat::json) messages.format = MessageFormat::short_;
    print_messages(session.out, session.files, messages);
    fmt::print(stderr, "{}", line);
    if (std::fflush(stdout) != 0 || std::ferror(stdout) != 0) return usage("standard output cannot be written");
    if (refused_rows) return exit_usage;
    return session.status();
}

} // namespace athanor::driver
