// `athanor test`: the tests written in the language, beside the recipes.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/pipeline.hpp"
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

/// Empty when the verdict holds, else what was found instead.
std::string judge(const check::TestVerdict& verdict, const Compiled& compiled, const Diagnostics& out) {
    using What = check::TestVerdict::Kind;
    using Measure = check::TestVerdict::Measure;
    if (verdict.kind == What::proven) return compiled.proven ? "" : "is refused by " + refusals(out);
    if (verdict.kind == What::refused) {
        if (compiled.proven) return "is proven, not refused";
        bool found = verdict.rule.empty();
        for (const Diagnostic& d : out.all())
            found = found || (d.severity == Severity::error && d.rule == verdict.rule);
        return found ? "" : "is refused by " + refusals(out) + ", not by " + verdict.rule;
    }
    if (!compiled.timeline_ready) return "is refused by " + refusals(out);
    if (verdict.measure == Measure::duration) {
        Interval total =
            duration(compiled.legalised.complete ? compiled.legalised.timeline : *compiled.elaborated.timeline);
        // Every duration inside the interval must satisfy the comparison.
        bool holds = compare(total.lo, verdict.comparison, verdict.value) &&
                     compare(total.hi, verdict.comparison, verdict.value);
        return holds ? "" : "lasts " + to_text(total, Kind::time);
    }
    if (!compiled.legalised.complete) return "has no table";
    std::size_t count = compiled.legalised.program.parts.size();
    if (verdict.measure == Measure::segments) count = program::segment_count(compiled.legalised.program);
    if (compare(static_cast<double>(count), verdict.comparison, verdict.value)) return "";
    return fmt::format("has {} {}", count, verdict.measure == Measure::segments ? "segments" : "programmes");
}

Result run_one(Session& session, const check::Test& test, const Options& options) {
    Result result{session.files[test.span.file].path(), test.title, {}};
    for (const check::TestLine& line : test.lines) {
        if (line.recipe == check::none) {
            result.failures.push_back("names no recipe");
            continue;
        }
        if (session.model.recipes[line.recipe].broken) { // why was told already
            result.failures.push_back(std::string(session.files.text(line.span)) +
                                      ": cannot be judged, the recipe has errors of its own");
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
            std::string found = judge(verdict, compiled, out);
            if (found.empty()) continue;
            result.failures.push_back(std::string(session.files.text(line.span)) + ": " + found);
            session.out.error(Code::test_failed, line.span,
                              fmt::format("test \"{}\": this {}", test.title, found));
        }
    }
    return result;
}

std::string escaped(std::string_view text) {
    std::string out;
    for (char c : text) {
        if (c == '&')
            out += "&amp;";
        else if (c == '<')
            out += "&lt;";
        else if (c == '>')
            out += "&gt;";
        else if (c == '"')
            out += "&quot;";
        else if (static_cast<unsigned char>(c) < 0x20 && c != '\n')
            out += ' ';
        else
            out += c;
    }
    return out;
}

std::string junit(const std::vector<Result>& results) {
    auto failed =
        std::count_if(results.begin(), results.end(), [](const Result& r) { return !r.failures.empty(); });
    std::string out = fmt::format("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuite name=\"athanor\" "
                                  "tests=\"{}\" failures=\"{}\">\n",
                                  results.size(), failed);
    for (const Result& result : results) {
        out += fmt::format("  <testcase classname=\"{}\" name=\"{}\">", escaped(result.file),
                           escaped(result.title));
        for (const std::string& failure : result.failures)
            out += fmt::format("<failure message=\"{}\"/>", escaped(failure));
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
            status = exit_usage;
            continue;
        }
        for (const check::Test& test : session.model.tests)
            if (test.span.file == 0) results.push_back(run_one(session, test, options));
        print_messages(session.out, session.files, options);
        if (session.out.any_error()) status = std::max<int>(status, exit_refused);
    }
    std::size_t failed = 0;
    for (const Result& result : results) {
        fmt::print("{} {}: {}\n", result.failures.empty() ? "passed" : "FAILED", result.file, result.title);
        failed += result.failures.empty() ? 0 : 1;
    }
    fmt::print("{} passed, {} failed\n", results.size() - failed, failed);
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
