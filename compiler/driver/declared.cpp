// Layouts and register maps, as the sources of a session declare them.
#include "compiler/driver/declared.hpp"

#include "compiler/check/equipment_block.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

namespace athanor::driver {

namespace {

/// A layout for a controller that nobody declares is never held against a programme, so a slip in that name
/// would pass for a layout that loses nothing.
void controller_is_known(Session& session, const targets::Declared& one) {
    const std::vector<program::Controller>& controllers = session.model.controllers;
    if (one.controller.empty() || std::any_of(controllers.begin(), controllers.end(),
                                              [&](const auto& c) { return c.name == one.controller; }))
        return;
    // One whose file could not be read, or whose declaration could not, was told.
    if (std::any_of(session.units.begin(), session.units.end(),
                    [](const check::Unit& unit) { return unit.lacks; }))
        return;
    Diagnostic& d = session.out.error(Code::unknown_name, one.controller_span,
                                      fmt::format("no controller is called `{}`", one.controller));
    std::vector<std::string_view> known;
    for (const program::Controller& controller : controllers) known.push_back(controller.name);
    if (const std::string near = check::nearest(one.controller, known); !near.empty())
        d.remedy(fmt::format("`{}` is declared", near)).mend(one.controller_span, near);
    else
        d.remedy("import the file that declares it, for example `use \"controllers/NAME.ath\"`");
}

} // namespace

std::vector<targets::Declared> declared_targets(Session& session) {
    std::vector<targets::Declared> list;
    std::map<std::string, Span> names;
    for (const check::Unit& unit : session.units)
        for (targets::Declared& one : targets::declared_targets(unit.tree, session.files, session.out)) {
            auto [first, fresh] = names.try_emplace(one.target.name, one.span);
            if (!fresh)
                session.out
                    .error(Code::duplicate_name, one.span,
                           fmt::format("a second layout with the name {}", one.target.name))
                    .also(first->second, "the first one");
            if (targets::target_named(one.target.name))
                session.out.error(
                    Code::duplicate_name, one.span,
                    fmt::format("{} is the name of a format; see `athanor targets`", one.target.name));
            controller_is_known(session, one);
            list.push_back(std::move(one));
        }
    return list;
}

std::string readable_formats(const std::vector<targets::Declared>& declared) {
    std::string names;
    const auto add = [&](const targets::Target& one) {
        if (one.read) names += (names.empty() ? "" : ", ") + one.name;
    };
    for (const targets::Target& one : targets::all_targets()) add(one);
    for (const targets::Declared& one : declared) add(one.target);
    return names;
}

bool holds(const targets::Target& target, Session& session, const Compiled& compiled,
           const targets::Context& beside) {
    if (!target.losses) return true;
    std::vector<targets::Loss> losses = target.losses(compiled.legalised.program, beside);
    for (const targets::Loss& loss : losses)
        session.out.error(loss.code, loss.span, loss.message)
            .cause(fmt::format("recipe {} on {} keys it", compiled.name,
                               compiled.legalised.program.controller.name));
    return losses.empty();
}

} // namespace athanor::driver
