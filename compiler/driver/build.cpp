// `athanor build`: the table. Nothing is written unless everything is proven and every table reads back right.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/pipeline.hpp"
#include "targets/write_files.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <set>

namespace athanor::driver {
namespace {

struct Destination {
    std::string folder, stem; // stem empty: the recipe's name
    bool standard_output = false;
};

/// -o takes a folder, a file name (its ending is the format's affair) or `-`.
Destination destination(const std::string& output) {
    if (output == "-") return {"", "", true};
    std::filesystem::path path(output);
    if (std::filesystem::is_directory(path) || output.ends_with('/')) return {output, "", false};
    std::string folder = path.parent_path().string();
    if (path.extension().empty()) return {output, "", false};
    return {folder.empty() ? "." : folder, path.stem().string(), false};
}

std::vector<const targets::Target*> wanted_targets(const BuildOptions& options, int& status) {
    std::vector<const targets::Target*> list;
    for (const std::string& name : options.to) {
        const targets::Target* target = targets::target_named(name);
        if (!target) {
            std::string known;
            for (const targets::Target& t : targets::all_targets())
                known += (known.empty() ? "" : ", ") + std::string(t.name);
            fmt::print(stderr, "athanor build: there is no format `{}`; there are: {}\n", name, known);
            status = exit_usage;
            return {};
        }
        list.push_back(target);
    }
    return list;
}

} // namespace

int run_build(const BuildOptions& options) {
    int status = exit_proven;
    std::vector<const targets::Target*> formats = wanted_targets(options, status);
    if (status != exit_proven) return status;
    Session session;
    if (!session.open(options.file, options)) return exit_usage;
    Destination to = destination(options.output);
    std::vector<check::Index> list = session.recipes(options);
    if (!to.stem.empty() && list.size() > 1) {
        fmt::print(stderr, "athanor build: {} has {} recipes: name one with --recipe, or give -o a folder\n",
                   options.file, list.size());
        return exit_usage;
    }
    if (to.standard_output && (list.size() > 1 || formats.size() > 1)) {
        fmt::print(stderr, "athanor build: -o - takes one recipe and one format\n");
        return exit_usage;
    }
    if (list.empty() && !session.out.any_error())
        session.out.error(Code::value_missing, Span{}, "the file holds no recipe to build");

    std::vector<targets::OutputFile> output;
    std::vector<std::string> lines;
    for (check::Index recipe : list) {
        Compiled compiled = compile(session, recipe, options, session.sets, session.out);
        lines.push_back(summary(compiled, session));
        if (!compiled.proven) continue;
        if (!compiled.legalised.complete) {
            session.out
                .error(Code::value_missing, session.model.recipes[recipe].span,
                       fmt::format("recipe `{}` names no controller, so there is no table to build",
                                   compiled.name))
                .remedy("write `for CONTROLLER` behind the recipe's name, or build with --controller NAME");
            continue;
        }
        targets::Context beside = context(session, compiled);
        for (const targets::Target* target : formats) {
            std::vector<targets::OutputFile> files =
                target->write(compiled.legalised.program, beside, to.stem.empty() ? compiled.name : to.stem);
            std::vector<std::string> problems = validate(*target, files, compiled);
            if (!problems.empty()) {
                fmt::print(
                    stderr,
                    "athanor build: internal error: the {} table of {} does not say what the recipe says; "
                    "nothing was written [table_mismatch]\n",
                    target->name, compiled.name);
                for (const std::string& problem : problems) fmt::print(stderr, "   {}\n", problem);
                return exit_internal;
            }
            for (targets::OutputFile& file : files) output.push_back(std::move(file));
        }
    }
    print_messages(session.out, session.files, options);
    for (const std::string& line : lines) fmt::print(stderr, "{}\n", line);
    if (session.out.any_error()) return exit_refused;

    if (to.standard_output) {
        fmt::print("{}", output.front().bytes);
        if (std::fflush(stdout) != 0 || std::ferror(stdout) != 0) {
            fmt::print(stderr, "athanor build: standard output cannot be written\n");
            return exit_usage;
        }
        return exit_proven;
    }
    std::string error;
    if (!targets::write_all(to.folder, output, error)) {
        fmt::print(stderr, "athanor build: nothing was written: {}\n", error);
        return exit_usage;
    }
    for (const targets::OutputFile& file : output)
        fmt::print("{}\n", (std::filesystem::path(to.folder) / file.name).lexically_normal().string());
    return exit_proven;
}

} // namespace athanor::driver
