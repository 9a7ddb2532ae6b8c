#pragma once
#include "compiler/timeline/timeline.hpp"

#include <unordered_map>
#include <vector>

namespace athanor::elaborate {

/// Interns discrete states: equal states share one index of `Timeline::states`.
class States {
public:
    timeline::Index intern(const timeline::State& state, std::vector<timeline::State>& pool);

private:
    std::unordered_multimap<std::size_t, timeline::Index> by_hash_;
    timeline::Index last_ = 0; // the index given last: most steps ask with the state of the one before them
};

std::size_t hash(const timeline::State& state);

} // namespace athanor::elaborate
