#pragma once
#include "compiler/program/program.hpp"

#include <cstdint>

namespace athanor::replay {

/// The widest loop that begins at row `first` and ends before `to`, `running` and its like apart; null: none.
inline const program::Loop* widest_loop(const program::Part& part, std::uint32_t first, std::uint32_t to,
                                        const program::Loop* running) {
    const program::Loop* best = nullptr;
    for (const program::Loop& loop : part.loops) {
        if (loop.first != first || loop.last >= to || &loop == running) continue;
        if (running && loop.last == running->last && loop.first == running->first) continue;
        if (!best || loop.last > best->last) best = &loop;
    }
    return best;
}

} // namespace athanor::replay
