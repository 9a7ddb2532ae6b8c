// `athanor build`: the table. Of one recipe file all tables are written, or none: only when everything in it is
// proven and every table reads back right. Several files are worked on side by side, and stand for themselves.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/depfile.hpp"
#include "compiler/driver/output.hpp"
#include "compiler/driver/parallel.hpp"
#include "compiler/driver/tables_of.hpp"
#include "grammar/explain.hpp"
#include "targets/write_files.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <map>
#include <memory>

namespace athanor::driver {
namespace {

namespace fs = std::filesystem;

/// One recipe file on its way to tables. What is to be printed waits for its turn.
struct Job {
    std::string file;
    bool from_folder = false; // a file without recipes is then no mistake
    std::unique_ptr<Session> session;
    std::vector<targets::OutputFile> output;
    std::vector<std::string> lines;
    std::string trouble;  // usage or internal error, in words
    bool nothing = false; // no recipe in it to build
    int status = exit_proven;
};

void build(Job& job, const BuildOptions& options, const Destination& to) {
    auto usage = [&](std::string why) {
        job.trouble = std::move(why);
        job.status = exit_usage;
    };
    job.session = std::make_unique<Session>();
    Session& session = *job.session;
    if (!session.open(job.file, options)) {
        job.session.reset(); // reported
        job.status = exit_usage;
        return;
    }
    // A folder may hold rigs, controllers and, in this project, the library itself.
    bool library = false;
    if (job.from_folder)
        for (const check::Source& source : standard_library())
            library = library || source.built_in->text == session.files[0].text();
    if (library || (job.from_folder && session.model.own_recipes == 0 && !session.out.any_error())) {
        job.session.reset();
        job.nothing = true;
        return;
    }
    std::vector<targets::Declared> declared = declared_targets(session);
    std::string why;
    std::vector<const targets::Target*> formats = wanted_targets(options.to, declared, why);
    if (!why.empty()) return usage(why);
    std::vector<check::Index> list = session.recipes(options);
    if (!to.stem.empty() && list.size() > 1)
        return usage(fmt::format("{} has {} recipes: name one with --recipe, or give -o a folder", job.file,
                                 list.size()));
    if (to.standard_output && (list.size() > 1 || formats.size() > 1))
        return usage("-o - takes one recipe and one format");
    if (list.empty() && !session.out.any_error())
        session.out.error(Code::value_missing, Span{}, "the file holds no recipe to build");
    for (check::Index recipe : list) {
        Compiled compiled = compile(session, recipe, options, session.sets, session.out);
        job.lines.push_back(summary(compiled, session) + conceded(compiled));
        if (!compiled.proven) continue;
        std::string internal;
        tables_of(session, compiled, formats, to.stem.empty() ? compiled.name : to.stem, job.output, internal);
        if (internal.empty()) continue;
        job.trouble = internal;
        job.status = exit_internal;
        return;
    }
    if (session.out.any_error()) job.status = session.status();
}

/// The files that are meant: those named, and every `.ath` below a folder that is named. False: reported.
bool jobs_of(const std::vector<std::string>& named, std::vector<Job>& jobs) {
    for (const std::string& path : named) {
        std::error_code error;
        if (!fs::is_directory(path, error)) {
            jobs.emplace_back().file = path;
            continue;
        }
        std::vector<std::string> found;
        for (fs::recursive_directory_iterator it(path, error), end; !error && it != end; it.increment(error))
            if (it->path().extension() == ".ath" && it->is_regular_file(error))
                found.push_back(it->path().generic_string());
        if (error) {
            fmt::print(stderr, "athanor build: {}: the folder cannot be read: {}\n", path, error.message());
            return false;
        }
        std::sort(found.begin(), found.end());
        for (std::string& file : found) {
            Job& job = jobs.emplace_back();
            job.file = std::move(file);
            job.from_folder = true;
        }
    }
    return true;
}

std::vector<std::string> sources_read(const Session& session) {
    std::vector<std::string> list;
    for (FileId id = 0; id < session.files.size(); ++id) {
        const File& file = session.files[id];
        bool ours = file.standard() || file.path() == "standard input" || is_command_line(file);
        if (!ours && std::find(list.begin(), list.end(), file.path()) == list.end())
            list.push_back(file.path());
    }
    return list;
}

/// Only what was written may stand as an output, so this comes behind the tables.
int put_depfile(const BuildOptions& options, const Destination& to, const std::vector<Job>& jobs) {
    std::string text, why;
    for (const Job& job : jobs) {
        if (job.output.empty() || job.status != exit_proven || !job.session) continue;
        std::vector<std::string> outputs;
        for (const targets::OutputFile& file : job.output)
            outputs.push_back((fs::path(to.folder) / file.name).lexically_normal().string());
        text += dependency_rule(outputs, sources_read(*job.session), why);
    }
    if (!why.empty()) {
        fmt::print(stderr, "athanor build: --depfile: a path with a line end or a tab has no place in it: {}\n",
                   grammar::quoted(why, grammar::whole));
        return exit_usage;
    }
    fs::path path(options.depfile);
    std::string folder = path.parent_path().string(), error;
    if (targets::write_all(folder.empty() ? "." : folder, {{path.filename().string(), text}}, error))
        return exit_proven;
    fmt::print(stderr, "athanor build: the dependency file was not written: {}\n", error);
    return exit_usage;
}

} // namespace

int run_build(const BuildOptions& options) {
    Destination to = destination(options.output);
    std::vector<Job> jobs;
    if (!jobs_of(options.files, jobs)) return exit_usage;
    if (jobs.empty()) {
        fmt::print(stderr, "athanor build: no `.ath` file in {}\n", options.files.front());
        return exit_usage;
    }
    if (jobs.size() > 1 && (to.standard_output || !to.stem.empty())) {
        fmt::print(stderr, "athanor build: {} files: give -o a folder\n", jobs.size());
        return exit_usage;
    }
    if (!options.depfile.empty() && to.standard_output) {
        fmt::print(stderr,
                   "athanor build: --depfile names the files that are written; with -o - there are none\n");
        return exit_usage;
    }
    int status = exit_proven;
    std::map<std::string, std::string> written; // file name, from which recipe file
    auto work = [&](std::size_t i) { build(jobs[i], options, to); };
    auto done = [&](std::size_t i) {
        Job& job = jobs[i];
        if (job.session) print_messages(job.session->out, job.session->files, options);
        for (const std::string& line : job.lines) fmt::print(stderr, "{}\n", line);
        if (!job.trouble.empty())
            fmt::print(stderr, "athanor build: {}{}", job.trouble, job.trouble.ends_with('\n') ? "" : "\n");
        for (const targets::OutputFile& file : job.output) {
            auto [other, fresh] = written.try_emplace(file.name, job.file);
            if (fresh || job.status != exit_proven) continue;
            fmt::print(stderr, "athanor build: {} and {} both make {}; build them into folders of their own\n",
                       other->second, job.file, file.name);
            job.status = exit_usage;
        }
        if (job.status == exit_proven) job.status = put(to, job.output, "build");
        status = std::max(status, job.status);
        if (options.depfile.empty() || job.status != exit_proven) {
            job.session.reset();
            job.output.clear();
        }
    };
    in_order(jobs.size(), options.jobs, work, done);
    if (std::all_of(jobs.begin(), jobs.end(), [](const Job& job) { return job.nothing; })) {
        fmt::print(stderr, "athanor build: no file of these holds a recipe\n");
        return exit_refused;
    }
    if (status == exit_proven && !options.depfile.empty()) status = put_depfile(options, to, jobs);
    return status;
}

} // namespace athanor::driver
