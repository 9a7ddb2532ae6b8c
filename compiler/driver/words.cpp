#include "compiler/driver/words.hpp"

#include "compiler/replay/instruction.hpp"

#include <set>

#include <fmt/format.h>

namespace athanor::driver {

void check_words(const timeline::Timeline& timeline, Diagnostics& out) {
    std::set<std::pair<std::uint32_t, std::uint32_t>> told; // passes of one statement
    const auto check = [&](timeline::Index text, Span at) {
        if (text >= timeline.texts.size()) return;
        for (const replay::Word& word : replay::words_of(timeline.texts[text])) {
            if (word.order == replay::Order::text) continue;
            if (!told.insert({at.file, at.begin}).second) return;
            out.error(Code::misplaced, at,
                      fmt::format("\"{}\" reads in the table as something that the recipe switches",
                                  timeline.texts[text]))
                .cause("instructions of a table are read back, and a person at the furnace reads them as well")
                .remedy("write it as a statement of its own where it is done, and word this otherwise");
            return;
        }
    };
    for (const timeline::Action& action : timeline.actions)
        if (action.kind == timeline::ActionKind::note) check(action.text, action.source);
    for (const timeline::Span& span : timeline.spans)
        if (span.ending.kind == timeline::EndingKind::person) check(span.ending.text, span.source);
}

} // namespace athanor::driver
