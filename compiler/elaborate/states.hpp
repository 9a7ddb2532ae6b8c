#pragma once
#include "compiler/timeline/timeline.hpp"

#include <cstdint>
#include <vector>

namespace athanor::elaborate {

/// Interns discrete states: equal states share one index of `Timeline::states`.
class States {
public:
    timeline::Index intern(const timeline::State& state, std::vector<timeline::State>& pool) {
        if (last_ < pool.size() && pool[last_] == state) return last_;
        return last_ = find(state, pool);
    }

private:
    struct Slot {
        std::uint32_t hash = 0;
        timeline::Index index = timeline::none; // none: free
    };
    timeline::Index find(const timeline::State& state, std::vector<timeline::State>& pool);
    void place(Slot known);

    std::vector<Slot> slots_ = std::vector<Slot>(64); // from the hash on to the first free one, round the end
    std::size_t known_ = 0;                           // of them not free, at most half
    timeline::Index last_ = 0; // the index given last: most steps ask with the state of the one before them
};

} // namespace athanor::elaborate
