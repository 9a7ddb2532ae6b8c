#include "compiler/driver/other_waits.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::driver {
namespace {

/// The recipe with the waits of a table in place of those that were worked out. Each condition that a wait was
/// for becomes an expectation behind it: a wait before it may have changed what it needs.
timeline::Timeline with_waits(const timeline::Timeline& recipe, const std::vector<replay::OtherWait>& waits) {
    timeline::Timeline t = recipe;
    for (const replay::OtherWait& wait : waits) {
        std::size_t worked_out = wait.last;
        double others = 0;
        for (std::size_t i = wait.first; i < wait.last; ++i)
            if (t.spans[i].ending.kind == timeline::EndingKind::certain) worked_out = i;
        if (worked_out == wait.last) continue; // a time of the recipe's own, rounded
        for (std::size_t i = wait.first; i < wait.last; ++i)
            if (i != worked_out) others += t.spans[i].duration.hi;
        timeline::Span& span = t.spans[worked_out];
        t.expectations.push_back(
            {span.ending.condition, static_cast<timeline::Index>(worked_out + 1), 0, span.source});
        span.ending = {};
        span.ending.duration = std::max(0.0, wait.seconds - others);
        span.duration = span.ending.duration;
    }
    return t;
}

} // namespace

std::vector<Misfit> broken_by_waits(const ReadTable& table, const std::vector<replay::OtherWait>& waits,
                                    const Session& session, const Compiled& compiled) {
    const auto first =
        std::find_if(waits.begin(), waits.end(), [](const replay::OtherWait& wait) { return wait.differs(); });
    if (first == waits.end()) return {};
    const check::Model& model = session.model;
    const check::Rig& rig = model.rigs[compiled.rig];
    const program::Controller& controller = model.controllers[compiled.controller];
    const plant::Plant& plant = *compiled.elaborated.plant;
    const timeline::Timeline asked = with_waits(*compiled.elaborated.timeline, waits);
    const prove::Hazards hazards{model, rig, asked, plant};
    const legalise::Limits limits = keying_limits(hazards);
    Diagnostics unheard, said;
    const legalise::Legalised made =
        legalise::legalise_within(limits, asked, plant, controller, session.files, unheard, true);
    prove::prove(model, rig, made.complete ? made.timeline : asked, plant, session.files, said, &controller);
    std::vector<Misfit> list;
    for (const Diagnostic& d : said.all())
        if (d.severity == Severity::error)
            list.push_back(misfit(
                table, {first->row, fmt::format("it waits {} where the recipe's own programme waits {}: {}",
                                                to_text(first->seconds, Kind::time, 6),
                                                to_text(first->own_seconds, Kind::time, 6), d.message)}));
    return list;
}

} // namespace athanor::driver
