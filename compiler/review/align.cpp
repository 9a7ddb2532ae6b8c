#include "compiler/review/align.hpp"

#include <algorithm>
#include <cstdint>

namespace athanor::review {

std::vector<std::pair<std::size_t, std::size_t>>
align(std::size_t before, std::size_t after,
      const std::function<Likeness(std::size_t, std::size_t)>& likeness) {
    std::vector<std::pair<std::size_t, std::size_t>> pairs, tail;
    std::size_t head = 0, a = before, b = after;
    for (; head < a && head < b && likeness(head, head) == equal; ++head) pairs.emplace_back(head, head);
    while (a > head && b > head && likeness(a - 1, b - 1) == equal) tail.emplace_back(--a, --b);
    const std::size_t n = a - head, m = b - head;
    constexpr std::size_t most_cells = 25'000'000;
    if (n != 0 && m != 0 && n * m <= most_cells) {
        std::vector<std::uint32_t> score((n + 1) * (m + 1), 0);
        auto at = [&](std::size_t i, std::size_t j) -> std::uint32_t& { return score[i * (m + 1) + j]; };
        for (std::size_t i = n; i-- > 0;)
            for (std::size_t j = m; j-- > 0;) {
                const std::uint32_t gain = likeness(head + i, head + j);
                at(i, j) = std::max({at(i + 1, j), at(i, j + 1), gain == 0 ? 0U : at(i + 1, j + 1) + gain});
            }
        for (std::size_t i = 0, j = 0; i < n && j < m;) {
            const std::uint32_t gain = likeness(head + i, head + j);
            if (gain != 0 && at(i, j) == at(i + 1, j + 1) + gain)
                pairs.emplace_back(head + i++, head + j++);
            else if (at(i, j) == at(i + 1, j))
                ++i;
            else
                ++j;
        }
    } else {
        for (std::size_t k = 0; k < std::min(n, m); ++k)
            if (likeness(head + k, head + k) != unlike) pairs.emplace_back(head + k, head + k);
    }
    pairs.insert(pairs.end(), tail.rbegin(), tail.rend());
    return pairs;
}

} // namespace athanor::review
