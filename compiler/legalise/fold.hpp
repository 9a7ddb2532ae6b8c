#pragma once
#include "compiler/legalise/walk.hpp"

#include <cstddef>
#include <functional>
#include <vector>

/// Repeats folded into controller loops, and rows packed into programmes.
namespace athanor::legalise {

struct Folded {
    Rows rows;
    std::vector<program::Loop> loops; // indices into `rows`; an inner loop lies inside its outer one
};

/// Folds the passes of repeats that are equal in every settable value and in their instructions, as deep as the
/// controller has levels; of folding an outer or an inner repeat, or of beginning a loop in the middle of a
/// pass, the one that leaves fewer segments is taken. The rows are moved where no two of them can become one.
Folded fold(Walked& walked, const timeline::Timeline& timeline, const program::Controller& controller);

/// Whether two rows are equal as far as a person keys them; what they say apart from that is not looked at.
bool keyed_alike(const Rows& rows, std::size_t a, std::size_t b);

/// Says of each row why it does not go on in the row before it.
void explain(Folded& folded, const program::Controller& controller);

/// Divides the rows among programmes; reports `too_many_segments` and `no_operator_wait`. `with_loops` works
/// out how many segments a controller with loops would need; it is asked only for a message. The segments are
/// moved.
std::vector<program::Part> pack(Folded& folded, const Walked& walked, const program::Controller& controller,
                                const std::vector<program::ThresholdOutput>& thresholds,
                                const std::function<std::size_t()>& with_loops, Diagnostics& out);

} // namespace athanor::legalise
