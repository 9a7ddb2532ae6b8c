#pragma once
#include <cstddef>
#include <functional>
#include <utility>
#include <vector>

namespace athanor::review {

/// How much two entries of two lists have in common.
enum Likeness : unsigned { unlike = 0, same_kind = 2, equal = 3 };

/// Longest common subsequence of two lists, as pairs of positions. Equal entries weigh more than those of one
/// kind, so that an inserted entry does not shift every later one. Beyond a few thousand entries a side only
/// the common ends are matched, and what lies between them place by place.
std::vector<std::pair<std::size_t, std::size_t>>
align(std::size_t before, std::size_t after, const std::function<Likeness(std::size_t, std::size_t)>& likeness);

} // namespace athanor::review
