#include "compiler/legalise/loops.hpp"

#include <algorithm>

namespace athanor::legalise {

using timeline::Index;
using timeline::Repeat;

namespace {

/// Where a span stands in the first pass of every repeat around it.
Index in_first_pass(Index span, const std::vector<Repeat>& repeats) {
    for (bool moved = true; moved;) {
        moved = false;
        for (const Repeat& repeat : repeats) {
            if (span < repeat.first + repeat.spans || span >= repeat.first + repeat.spans * repeat.passes)
                continue;
            span = repeat.first + (span - repeat.first) % repeat.spans;
            moved = true;
        }
    }
    return span;
}

class Anywhere {
public:
    Anywhere(const Walked& walked, const std::vector<Repeat>& repeats, const program::Controller& controller)
        : rows_(walked.rows), size_(walked.rows.size()),
          fewest_(std::max<std::size_t>(2, controller.passes_lo)), most_(controller.passes_hi),
          room_(controller.segments > 0 ? controller.segments - 1 : 0),
          levels_(std::min<std::size_t>(4, controller.loop_levels)) {
        std::vector<Index> place, within;
        for (std::size_t i = 0; i < size_; ++i) {
            place.push_back(in_first_pass(rows_.spans[i], repeats));
            within.push_back(i > 0 && rows_.spans[i - 1] == rows_.spans[i] ? within[i - 1] + 1 : 0);
        }
        alike_.assign(size_ + 1, std::vector<std::uint16_t>(size_ + 1, 0));
        for (std::size_t i = size_; i-- > 0;)
            for (std::size_t j = size_; j-- > i + 1;) {
                // What a person reads must hold in every pass, unless the recipe itself repeats the place.
                const bool same = rows_.segments[i].instruction == rows_.segments[j].instruction ||
                                  (place[i] == place[j] && within[i] == within[j]);
                if (same && keyed_alike(rows_, i, j))
                    alike_[i][j] = static_cast<std::uint16_t>(alike_[i + 1][j + 1] + 1);
            }
    }

    Folded fold() {
        for (std::size_t level = 0; level <= levels_; ++level) weigh(level);
        Folded result;
        emit(0, size_, levels_, true, {0}, result);
        return result;
    }

private:
    struct Choice {
        std::uint32_t rows = 0;
        std::uint32_t body = 0, passes = 0; // what comes first: a loop, or one row where `body` is 0
    };
    using Table = std::vector<std::vector<Choice>>; // [first][length]

    void weigh(std::size_t level) {
        Table any(size_ + 1, std::vector<Choice>(size_ + 1));
        Table open = any; // no loop over the whole stretch: it may be the body of another
        for (std::size_t length = 1; length <= size_; ++length)
            for (std::size_t i = 0; i + length <= size_; ++i) {
                Choice best{any[i + 1][length - 1].rows + 1, 0, 0};
                Choice whole = best;
                for (std::size_t body = 1; level > 0 && 2 * body <= length; ++body) {
                    const std::uint32_t rows = open_[level - 1][i][body].rows;
                    if (rows > room_) continue;
                    const std::size_t copies = std::min(1 + alike_[i][i + body] / body, most_);
                    for (std::size_t n = fewest_; n <= copies && n * body <= length; ++n) {
                        const Choice loop{rows + any[i + n * body][length - n * body].rows,
                                          static_cast<std::uint32_t>(body), static_cast<std::uint32_t>(n)};
                        Choice& into = n * body == length ? whole : best;
                        if (loop.rows < into.rows) into = loop;
                    }
                }
                open[i][length] = best;
                any[i][length] = whole.rows < best.rows ? whole : best;
            }
        any_.push_back(std::move(any));
        open_.push_back(std::move(open));
    }

    /// `copies`: distances to the passes that each row stands for.
    void emit(std::size_t i, std::size_t length, std::size_t level, bool may_be_whole,
              const std::vector<std::size_t>& copies, Folded& to) const {
        for (; length > 0; may_be_whole = true) {
            const Choice& choice = (may_be_whole ? any_ : open_)[level][i][length];
            if (choice.body == 0) {
                to.rows.append(rows_, i, i + 1);
                program::Segment& row = to.rows.segments.back();
                for (const std::size_t distance : copies) {
                    const program::Segment& other = rows_.segments[i + distance];
                    row.duration_lo_s = std::min(row.duration_lo_s, other.duration_lo_s);
                    row.duration_hi_s = std::max(row.duration_hi_s, other.duration_hi_s);
                }
                ++i;
                --length;
                continue;
            }
            std::vector<std::size_t> passes;
            for (std::size_t n = 0; n < choice.passes; ++n)
                for (const std::size_t distance : copies) passes.push_back(distance + n * choice.body);
            const auto first = static_cast<std::uint32_t>(to.rows.size());
            emit(i, choice.body, level - 1, false, passes, to);
            to.loops.push_back({first, static_cast<std::uint32_t>(to.rows.size() - 1), choice.passes});
            i += std::size_t{choice.body} * choice.passes;
            length -= std::size_t{choice.body} * choice.passes;
        }
    }

    const Rows& rows_;
    std::size_t size_, fewest_, most_, room_, levels_;
    std::vector<std::vector<std::uint16_t>> alike_; // [i][j]: rows from i on that are keyed as those from j on
    std::vector<Table> any_, open_;                 // per level
};

} // namespace

std::optional<Folded> fold_anywhere(const Walked& walked, const std::vector<Repeat>& repeats,
                                    const program::Controller& controller) {
    if (controller.loop_levels == 0 || walked.rows.size() < 2 || walked.rows.size() > most_folded_rows)
        return std::nullopt;
    return Anywhere(walked, repeats, controller).fold();
}

} // namespace athanor::legalise
