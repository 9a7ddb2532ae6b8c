#include "tests/mutation/compile.hpp"

#include "compiler/legalise/limits.hpp"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>

namespace athanor::mutation {

namespace {

std::optional<std::string> read(const std::string& path) {
    static std::map<std::string, std::optional<std::string>> known;
    auto [found, first] = known.try_emplace(path);
    if (!first) return found->second;
    std::ifstream in(path, std::ios::binary);
    if (!in) return std::nullopt;
    std::ostringstream text;
    text << in.rdbuf();
    return found->second = text.str();
}

const std::vector<check::Source>& library() {
    static const std::vector<check::Source> sources = [] {
        std::vector<check::Source> list;
        std::vector<std::filesystem::path> paths;
        for (const auto& entry : std::filesystem::directory_iterator(ATHANOR_ROOT "/recipes/standard"))
            if (entry.path().extension() == ".ath") paths.push_back(entry.path());
        std::sort(paths.begin(), paths.end());
        for (const auto& path : paths)
            list.push_back({"standard/" + path.filename().string(), *read(path.string()), true});
        return list;
    }();
    return sources;
}

} // namespace

std::set<Code> Compiled::errors() const {
    std::set<Code> codes;
    for (const Diagnostic& d : out.all())
        if (d.severity == Severity::error) codes.insert(d.code);
    return codes;
}

std::unique_ptr<Compiled> compile(const Subject& subject) {
    auto c = std::make_unique<Compiled>();
    const std::string rig_name = std::filesystem::path(subject.rig_path).filename().string();
    const auto reader = [&](const std::string& path) -> std::optional<std::string> {
        if (std::filesystem::path(path).filename() == rig_name) return subject.rig;
        return read(path);
    };
    c->units = check::load({{subject.path, joined(subject.recipe), false}}, library(), ATHANOR_ROOT, reader,
                           c->files, c->out);
    c->model = check::check(c->units, c->files, c->out);
    if (c->out.any_error() || c->model.own_recipes == 0) return c;
    c->done = elaborate::elaborate(c->model, {0, check::none, {}}, c->files, c->out);
    if (!c->done.complete) return c;
    c->runs = true;
    const check::Index index = c->model.recipes[0].controller_index;
    const program::Controller* controller = index == check::none ? nullptr : &c->model.controllers[index];
    // As the driver does it: what runs is the rounded program, and set-points that were moved to save segments
    // go back where that alone is not proven safe.
    const auto attempt = [&](bool nearest) {
        Diagnostics said;
        if (controller != nullptr)
            c->legalised = legalise::legalise_within({}, *c->done.timeline, *c->done.plant, *controller,
                                                     c->files, said, nearest);
        prove::prove(c->model, c->rig(), c->timeline(), *c->done.plant, c->files, said, controller);
        return said;
    };
    Diagnostics said = attempt(false);
    if (said.any_error() && c->legalised.complete && c->legalised.displaced) said = attempt(true);
    for (const Diagnostic& d : said.all()) c->out.add(d);
    c->accepted = !c->out.any_error();
    return c;
}

} // namespace athanor::mutation
