// Free texts: what the rows tell a person must be what the recipe's steps do.
#include "compiler/replay/compare.hpp"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace athanor::replay {

/// The stretch whose words are read next.
std::size_t Walk::begun() const {
    return used_ > 0 ? now_ + 1 : now_;
}

/// Whether a stretch begins its row, in this pass of a loop.
bool Walk::begins_row(std::size_t i) const {
    if (i == 0) return true;
    const Stretch &s = run_.stretches[i], &before = run_.stretches[i - 1];
    const bool behind = s.kind == Stretch::Kind::hold &&
                        (before.kind == Stretch::Kind::line || before.kind == Stretch::Kind::jump);
    return s.row() != before.row() || !behind;
}

const std::string& Walk::instruction(const Stretch& s) const {
    static const std::string none;
    for (const program::Part& part : program_.parts)
        if (part.number == s.part)
            return s.between                           ? part.hand_over
                   : s.segment <= part.segments.size() ? part.segments[s.segment - 1].instruction
                                                       : none;
    return none;
}

/// What the rows from `from` on tell a person must be what the recipe's step does.
void Walk::check_texts(std::size_t from) {
    const auto add = [&](timeline::Index text) {
        if (text < timeline_.texts.size()) needed_ += (needed_.empty() ? "" : "; ") + timeline_.texts[text];
    };
    for (std::size_t i = group().first; i < group().last; ++i) {
        const timeline::Span& span = timeline_.spans[i];
        for (timeline::Index a = span.first_action; a < span.first_action + span.actions; ++a)
            if (timeline_.actions[a].kind == timeline::ActionKind::note) add(timeline_.actions[a].text);
        if (span.ending.kind == timeline::EndingKind::person) add(span.ending.text);
    }
    const std::size_t to = std::min(begun(), run_.stretches.size());
    if (from >= to) return; // its words are said with those of the next step
    std::string have;
    for (std::size_t i = from; i < to; ++i) {
        if (!begins_row(i)) continue;
        const std::string text = texts_in(instruction(run_.stretches[i]));
        if (!text.empty()) have += (have.empty() ? "" : "; ") + text;
    }
    const std::string need = texts_in(std::exchange(needed_, {}));
    if (same_text(have, need)) return;
    const RowName row = run_.stretches[from].row();
    if (need.empty())
        say(row, fmt::format("the table has `{}`, the recipe has nothing there", have), true);
    else if (have.empty())
        say(row, fmt::format("the table has nothing to be read, the recipe needs `{}`", need), true);
    else
        say(row, fmt::format("the table has `{}`, the recipe needs `{}`", have, need), true);
}

} // namespace athanor::replay
