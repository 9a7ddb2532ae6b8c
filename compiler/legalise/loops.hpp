#pragma once
#include "compiler/legalise/fold.hpp"

/// The fewest rows that loops leave, wherever a loop may begin.
namespace athanor::legalise {

/// Folds equal neighbours among the rows, whatever repeat of the recipe they come from: a loop may begin in the
/// middle of a pass. Exact up to `most_folded_rows` rows; of more, those that save most are folded first, until
/// so few are left. Nothing where that does not get there.
std::optional<Folded> fold_anywhere(const Walked& walked, const timeline::Timeline& timeline,
                                    const program::Controller& controller);
inline constexpr std::size_t most_folded_rows = 300;

} // namespace athanor::legalise
