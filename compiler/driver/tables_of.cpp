#include "compiler/driver/tables_of.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::driver {
namespace {

const targets::Target* wanted_target(const std::string& name, const std::vector<targets::Declared>& declared,
                                     std::string& why) {
    const targets::Target* target = targets::target_named(name);
    if (target && target->write) return target;
    std::vector<const targets::Declared*> found;
    std::string known;
    for (const targets::Declared& one : declared) {
        if (one.target.name == name || one.family == name) found.push_back(&one);
        known += ", " + one.target.name;
    }
    if (found.size() == 1) return &found.front()->target;
    if (target) {
        why = fmt::format("--to {0}: the file declares {1} {0}; {2}", name,
                          found.empty() ? "no" : "more than one",
                          found.empty() ? "see docs/targets.md" : "give the name of one");
        return nullptr;
    }
    std::string list;
    for (const targets::Target& t : targets::all_targets())
        if (t.write) list += (list.empty() ? "" : ", ") + t.name;
    why = fmt::format("there is no format `{}`; there are: {}{}", name, list, known);
    return nullptr;
}

} // namespace

std::vector<const targets::Target*> wanted_targets(const std::vector<std::string>& names,
                                                   const std::vector<targets::Declared>& declared,
                                                   std::string& why) {
    std::vector<const targets::Target*> list;
    for (const std::string& name : names) {
        const targets::Target* target = wanted_target(name, declared, why);
        if (!target) return {};
        // A format named twice is written once.
        if (std::find(list.begin(), list.end(), target) == list.end()) list.push_back(target);
    }
    return list;
}

void tables_of(Session& session, const Compiled& compiled, const std::vector<const targets::Target*>& formats,
               const std::string& stem, std::vector<targets::OutputFile>& output, std::string& internal) {
    if (!compiled.legalised.complete) {
        session.out
            .error(Code::value_missing, session.model.recipes[compiled.recipe].span,
                   fmt::format("recipe `{}` names no controller, so there is no table to build", compiled.name))
            .remedy("write `for CONTROLLER` behind the recipe's name, or build with --controller NAME");
        return;
    }
    targets::Context beside = context(session, compiled);
    for (const targets::Target* target : formats) {
        if (!target->write || !holds(*target, session, compiled, beside)) continue; // reported
        std::vector<targets::OutputFile> files = target->write(compiled.legalised.program, beside, stem);
        std::vector<std::string> problems = validate(*target, files, session, compiled);
        if (!problems.empty()) {
            internal += fmt::format("internal error: the {} table of {} does not say what the recipe says; "
                                    "nothing was written [table_mismatch]\n",
                                    target->name, compiled.name);
            for (const std::string& problem : problems) internal += fmt::format("   {}\n", problem);
            return;
        }
        for (targets::OutputFile& file : files) output.push_back(std::move(file));
    }
}

} // namespace athanor::driver
