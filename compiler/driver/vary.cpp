// `athanor vary`: every point of a design of experiments, built like a recipe of its own.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/design.hpp"
#include "compiler/driver/output.hpp"
#include "compiler/driver/parallel.hpp"
#include "compiler/driver/tables_of.hpp"
#include "targets/csv/text.hpp"
#include "targets/sha256.hpp"
#include "targets/write_files.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <set>

namespace athanor::driver {
namespace {

/// What is left of a point once it is built.
struct Point {
    std::vector<targets::OutputFile> output;
    std::vector<std::string> values; // as a person reads them
    std::string verdict, rules, duration_lo, duration_hi, first_error;
    std::uint32_t segments = 0;
    std::string internal;
    int status = exit_proven;
};

/// Codes of the errors, once each, in the order of the text.
void refused(Point& point, const Diagnostics& out, const Files& files) {
    point.verdict = "refused";
    point.status = exit_refused;
    point.output.clear();
    std::set<std::string> told;
    std::size_t hidden = 0;
    for (const Diagnostic* d : out.sorted(1000, hidden)) {
        if (d->severity != Severity::error) continue;
        std::string rule = d->rule.empty() ? std::string(name(d->code)) : d->rule;
        if (point.first_error.empty())
            point.first_error = fmt::format("{}: {}", files.place_line(d->span), d->message);
        if (told.insert(rule).second) point.rules += (point.rules.empty() ? "" : " ") + rule;
    }
}

Point build(const VaryOptions& options, const std::vector<Factor>& factors, std::size_t number,
            const std::string& stem) {
    Point point;
    Options own = options;
    std::vector<std::string> values = point_at(factors, number);
    for (std::size_t f = 0; f < factors.size(); ++f) own.sets.push_back(factors[f].parameter + "=" + values[f]);
    point.values = values;
    Session session;
    if (!session.open(options.file, own)) {
        point.status = exit_usage;
        return point;
    }
    std::vector<check::Index> list = session.recipes(own);
    if (session.out.any_error() || list.empty()) {
        refused(point, session.out, session.files);
        return point;
    }
    Compiled compiled = compile(session, list.front(), own, session.sets, session.out);
    if (compiled.elaborated.timeline)
        for (std::size_t f = 0; f < factors.size(); ++f)
            for (const timeline::Parameter& p : compiled.elaborated.timeline->parameters)
                if (p.name == factors[f].parameter) point.values[f] = p.value;
    if (compiled.proven) {
        std::vector<targets::Declared> declared = declared_targets(session);
        std::string why;
        tables_of(session, compiled, wanted_targets(options.to, declared, why), stem, point.output,
                  point.internal);
    }
    if (!point.internal.empty()) {
        point.status = exit_internal;
        return point;
    }
    if (!compiled.proven || session.out.any_error()) {
        refused(point, session.out, session.files);
        return point;
    }
    point.verdict = "proven";
    Interval total = duration(compiled.legalised.timeline);
    point.duration_lo = fmt::format("{:.0f}", total.lo);
    point.duration_hi = fmt::format("{:.0f}", total.hi);
    point.segments = program::segment_count(compiled.legalised.program);
    return point;
}

void append_row(std::string& text, const std::vector<std::string>& fields) {
    for (std::size_t i = 0; i < fields.size(); ++i) {
        if (i != 0) text += ',';
        targets::csv::append_field(text, targets::csv::harmless(fields[i]));
    }
    text += "\r\n";
}

/// The recipe that is meant, once for all points; nothing where it was reported.
std::string recipe_of(const VaryOptions& options, std::vector<Factor>& factors, int& status) {
    status = exit_usage;
    Options own = options;
    own.sets.clear();
    Session session;
    if (!session.open(options.file, own)) return "";
    std::vector<check::Index> list = session.recipes(own);
    status = exit_refused;
    std::string why;
    std::vector<targets::Declared> declared = declared_targets(session);
    if (!session.out.any_error() && list.empty())
        session.out.error(Code::value_missing, Span{}, "the file holds no recipe to vary");
    if (!session.out.any_error()) {
        (void)session.rig(own); // told where there is none of that name
        (void)session.controller(own, list.front());
    }
    if (session.out.any_error()) {
        print_messages(session.out, session.files, options);
        status = session.status();
        return "";
    }
    status = exit_usage;
    if (list.size() > 1) {
        fmt::print(stderr, "athanor vary: {} has {} recipes: name one with --recipe\n", options.file,
                   list.size());
        return "";
    }
    wanted_targets(options.to, declared, why);
    if (!why.empty()) {
        fmt::print(stderr, "athanor vary: {}\n", why);
        return "";
    }
    const check::Recipe& recipe = session.model.recipes[list.front()];
    std::string names;
    for (const check::Parameter& p : recipe.parameters)
        names += (names.empty() ? "" : ", ") + std::string(session.model.names[p.name]);
    std::vector<std::string> wanted;
    for (const Factor& factor : factors) wanted.push_back(factor.parameter);
    for (const std::string& set : options.sets) {
        const std::size_t end = set.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789_");
        wanted.push_back(set.substr(0, end));
    }
    for (const std::string& parameter : wanted) {
        bool known = false;
        for (const check::Parameter& p : recipe.parameters)
            known = known || session.model.names[p.name] == parameter;
        if (known) continue;
        fmt::print(stderr, "athanor vary: `{}` has no parameter `{}`; it has {}\n",
                   session.model.names[recipe.name], parameter, names.empty() ? "none" : names);
        return "";
    }
    status = exit_proven;
    return std::string(session.model.names[recipe.name]);
}

bool factors_of(const VaryOptions& options, std::vector<Factor>& factors, int& status) {
    status = exit_usage;
    for (const std::string& text : options.over) {
        std::string why;
        bool too_many = false;
        std::optional<Factor> factor = factor_of(text, options.most, why, too_many);
        if (!factor && too_many) {
            fmt::print(
                stderr,
                "athanor vary: error: {}; at most {} points are built, --most N changes that [too_large]\n",
                why, options.most);
            status = exit_refused;
            return false;
        }
        if (!factor) {
            fmt::print(stderr, "athanor vary: {}\n", why);
            return false;
        }
        for (const Factor& other : factors)
            if (other.parameter == factor->parameter) {
                fmt::print(stderr, "athanor vary: --over names `{}` twice\n", factor->parameter);
                return false;
            }
        for (const std::string& set : options.sets)
            if (set.substr(0, set.find('=')) == factor->parameter) {
                fmt::print(stderr, "athanor vary: `{}` is varied and set\n", factor->parameter);
                return false;
            }
        factors.push_back(std::move(*factor));
    }
    if (points_of(factors, options.most) > options.most) {
        std::string sizes;
        for (const Factor& factor : factors)
            sizes +=
                fmt::format("{}{} of {}", sizes.empty() ? "" : ", ", factor.values.size(), factor.parameter);
        fmt::print(stderr,
                   "athanor vary: error: more than {} points ({} values); --most N changes that [too_large]\n",
                   options.most, sizes);
        status = exit_refused;
        return false;
    }
    status = exit_proven;
    return true;
}

} // namespace

int run_vary(const VaryOptions& options) {
    if (options.file == "-" || options.output == "-") {
        fmt::print(stderr, "athanor vary: it reads a file and writes a folder\n");
        return exit_usage;
    }
    int status = exit_proven;
    std::vector<Factor> factors;
    if (!factors_of(options, factors, status)) return status;
    std::string name = recipe_of(options, factors, status);
    if (name.empty()) return status;
    std::size_t count = points_of(factors, options.most);
    std::size_t digits = std::to_string(count).size();
    auto stem = [&](std::size_t i) { return fmt::format("{}_{:0{}}", name, i + 1, digits); };

    std::string index;
    std::vector<std::string> header{"file"};
    for (const Factor& factor : factors) header.push_back(factor.parameter);
    for (const char* column :
         {"verdict", "rules", "duration_least_s", "duration_greatest_s", "segments", "sha256"})
        header.emplace_back(column);
    append_row(index, header);

    std::vector<Point> points(count);
    std::vector<targets::OutputFile> output;
    std::size_t proven = 0;
    auto done = [&](std::size_t i) {
        Point& point = points[i];
        std::string at;
        for (std::size_t f = 0; f < factors.size(); ++f)
            at += fmt::format("{}{} = {}", at.empty() ? "" : ", ", factors[f].parameter, point.values[f]);
        if (!point.internal.empty()) fmt::print(stderr, "athanor vary: {}: {}", at, point.internal);
        status = std::max(status, point.status);
        if (point.status == exit_refused)
            fmt::print("{}: refused, {} [{}]\n", at, point.first_error, point.rules);
        std::vector<std::string> row{point.output.empty() ? "" : point.output.front().name};
        row.insert(row.end(), point.values.begin(), point.values.end());
        row.insert(row.end(), {point.verdict, point.rules, point.duration_lo, point.duration_hi,
                               point.output.empty() ? "" : std::to_string(point.segments),
                               point.output.empty() ? "" : targets::sha256_hex(point.output.front().bytes)});
        append_row(index, row);
        proven += point.status == exit_proven ? 1 : 0;
        for (targets::OutputFile& file : point.output) output.push_back(std::move(file));
        point = Point{};
    };
    in_order(
        count, options.jobs, [&](std::size_t i) { points[i] = build(options, factors, i, stem(i)); }, done);
    if (status > exit_refused) return status;
    output.push_back({name + "_index.csv", index});
    std::string error;
    if (!targets::write_all(options.output, output, error)) {
        fmt::print(stderr, "athanor vary: nothing was written: {}\n", error);
        return exit_usage;
    }
    std::string path =
        (std::filesystem::path(options.output) / (name + "_index.csv")).lexically_normal().string();
    fmt::print("{}: {} points, {} proven, {} refused\n", path, count, proven, count - proven);
    return status;
}

} // namespace athanor::driver
