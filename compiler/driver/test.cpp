// `athanor test`: the tests written in the language, beside the recipes.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/svg.hpp"
#include "compiler/quantity/unit.hpp"
#include "targets/write_files.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

namespace athanor::driver {
namespace {

struct Result {
    std::string file, title;
    std::vector<std::string> failures;
    std::vector<std::string> errors; // why it, or a line of it, could not be judged

    std::string_view word() const { return !errors.empty() ? "ERROR" : failures.empty() ? "passed" : "FAILED"; }
};

/// What became of a verdict: it holds, it does not, or nobody can say.
struct Judged {
    enum class Kind : std::uint8_t { holds, fails, unknown } kind = Kind::holds;
    std::string found; // instead of what was wanted
};

bool compare(double left, timeline::Comparison comparison, double right) {
    switch (comparison) {
    case timeline::Comparison::less: return left < right;
    case timeline::Comparison::less_equal: return left <= right;
    case timeline::Comparison::greater: return left > right;
    case timeline::Comparison::greater_equal: return left >= right;
    }
    return false;
}

std::string refusals(const Diagnostics& out) {
    std::string text;
    for (const Diagnostic& d : out.all())
        if (d.severity == Severity::error && text.find(d.rule) == std::string::npos)
            text += (text.empty() ? "" : ", ") + d.rule;
    return text;
}

Judged judge(const check::TestVerdict& verdict, const Compiled& compiled, const Diagnostics& out) {
    using What = check::TestVerdict::Kind;
    using Measure = check::TestVerdict::Measure;
    const auto fails = [](std::string found) { return Judged{Judged::Kind::fails, std::move(found)}; };
    const std::string refused = refusals(out);
    // Nothing in it is refused, and yet it is not proven: what is wrong stands elsewhere in the files.
    const auto refusal = [&] {
        if (refused.empty()) return Judged{Judged::Kind::unknown, "cannot be judged: the file has errors"};
        return fails("is refused by " + refused);
    };
    if (verdict.kind == What::proven) return compiled.proven ? Judged{} : refusal();
    if (verdict.kind == What::refused) {
        if (compiled.proven) return fails("is proven, not refused");
        bool found = verdict.rule.empty() && !refused.empty();
        for (const Diagnostic& d : out.all())
            found = found || (d.severity == Severity::error && d.rule == verdict.rule);
        if (found) return {};
        return refused.empty() ? refusal() : fails("is refused by " + refused + ", not by " + verdict.rule);
    }
    if (!compiled.timeline_ready) return refusal();
    if (verdict.measure == Measure::duration) {
        Interval total =
            duration(compiled.legalised.complete ? compiled.legalised.timeline : *compiled.elaborated.timeline);
        // Every duration inside the interval must satisfy the comparison.
        bool holds = compare(total.lo, verdict.comparison, verdict.value) &&
                     compare(total.hi, verdict.comparison, verdict.value);
        return holds ? Judged{} : fails("lasts " + to_text(total, Kind::time));
    }
    if (!compiled.legalised.complete) return fails("has no table");
    std::size_t count = compiled.legalised.program.parts.size();
    if (verdict.measure == Measure::segments) count = program::segment_count(compiled.legalised.program);
    if (compare(static_cast<double>(count), verdict.comparison, verdict.value)) return {};
    return fails(
        fmt::format("has {} {}", count, verdict.measure == Measure::segments ? "segments" : "programmes"));
}

/// What the checker found inside the test itself: a line that was not understood is no line that holds.
void told_before(const Session& session, const check::Test& test, Result& result) {
    for (const Diagnostic& d : session.out.all())
        if (d.severity == Severity::error && d.span.file == test.span.file && d.span.begin >= test.span.begin &&
            d.span.end <= test.span.end)
            result.errors.push_back(fmt::format("{} [{}]", d.message, d.rule));
}

Result run_one(Session& session, const check::Test& test, const Options& options) {
    Result result{session.files[test.span.file].path(), test.title, {}, {}};
    told_before(session, test, result);
    for (const check::TestLine& line : test.lines) {
        const std::string text(session.files.text(line.span));
        if (line.recipe == check::none) {
            if (result.errors.empty())
                result.errors.push_back(text + ": cannot be judged: the file has errors");
            continue;
        }
        if (session.model.recipes[line.recipe].broken) { // why was told already
            result.errors.push_back(text + ": cannot be judged, the recipe has errors of its own");
            continue;
        }
        Options with = options;
        if (line.rig.name != 0) with.rig = std::string(session.model.names[line.rig.name]);
        if (line.controller.name != 0) with.controller = std::string(session.model.names[line.controller.name]);
        std::vector<std::pair<std::string, check::ExprId>> values;
        for (auto [id, expr] : line.arguments) values.emplace_back(std::string(session.model.names[id]), expr);
        Diagnostics out;
        Compiled compiled = compile(session, line.recipe, with, values, out);
        for (const check::TestVerdict& verdict : line.verdicts) {
            const Judged judged = judge(verdict, compiled, out);
            if (judged.kind == Judged::Kind::holds) continue;
            if (judged.kind == Judged::Kind::unknown) {
                result.errors.push_back(text + ": " + judged.found);
                continue;
            }
            result.failures.push_back(text + ": " + judged.found);
            session.out.error(Code::test_failed, line.span,
                              fmt::format("test \"{}\": this {}", test.title, judged.found));
        }
    }
    return result;
}

using svg::escaped;

std::ptrdiff_t count(const std::vector<Result>& results, std::string_view word) {
    return std::count_if(results.begin(), results.end(), [&](const Result& r) { return r.word() == word; });
}

std::string junit(const std::vector<Result>& results) {
    std::string out = fmt::format("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuite name=\"athanor\" "
                                  "tests=\"{}\" failures=\"{}\" errors=\"{}\">\n",
                                  results.size(), count(results, "FAILED"), count(results, "ERROR"));
    for (const Result& result : results) {
        out += fmt::format("  <testcase classname=\"{}\" name=\"{}\">", escaped(result.file),
                           escaped(result.title));
        for (const std::string& failure : result.failures)
            out += fmt::format("<failure message=\"{}\"/>", escaped(failure));
        for (const std::string& error : result.errors)
            out += fmt::format("<error message=\"{}\"/>", escaped(error));
        out += "</testcase>\n";
    }
    return out + "</testsuite>\n";
}

} // namespace

int run_test(const TestOptions& options) {
    int status = exit_proven;
    std::vector<Result> results;
    for (const std::string& file : options.files) {
        Session session;
        if (!session.open(file, options)) {
            results.push_back({file, "the file itself", {}, {"cannot be read"}});
            status = exit_usage;
            continue;
        }
        const std::size_t before = results.size();
        for (const check::Test& test : session.model.tests)
            if (test.span.file == 0) results.push_back(run_one(session, test, options));
        const bool told = std::any_of(results.begin() + static_cast<std::ptrdiff_t>(before), results.end(),
                                      [](const Result& r) { return !r.errors.empty(); });
        // A test that could not be read at all leaves no result of its own.
        if (session.files_wrong && !told)
            results.push_back({file, "the file itself", {}, {"has errors outside of its tests"}});
        print_messages(session.out, session.files, options);
        if (session.out.any_error()) status = std::max<int>(status, exit_refused);
    }
    for (const Result& result : results) fmt::print("{} {}: {}\n", result.word(), result.file, result.title);
    fmt::print("{} passed, {} failed", count(results, "passed"), count(results, "FAILED"));
    if (const auto errors = count(results, "ERROR"); errors != 0) fmt::print(", {} not judged", errors);
    fmt::print("\n");
    if (!options.junit.empty()) {
        std::filesystem::path path(options.junit);
        std::string folder = path.parent_path().string(), error;
        if (!targets::write_all(folder.empty() ? "." : folder, {{path.filename().string(), junit(results)}},
                                error)) {
            fmt::print(stderr, "athanor test: the report was not written: {}\n", error);
            return exit_usage;
        }
    }
    return status;
}

} // namespace athanor::driver
