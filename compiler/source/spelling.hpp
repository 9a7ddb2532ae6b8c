#pragma once
#include <algorithm>
#include <array>
#include <bit>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <string_view>
#include <type_traits>

namespace athanor {

/// What tells short words apart: how many bytes they have, and the first eight.
struct Spelling {
    std::uint64_t head = 0;
    std::size_t length = 0;

    constexpr Spelling() = default;
    constexpr explicit Spelling(std::string_view text) : Spelling(text, text.size()) {}
    /// Of the first `size` bytes of a text: read at once where eight stand there.
    constexpr Spelling(std::string_view text, std::size_t size) : length(size) {
        if (!std::is_constant_evaluated() && std::endian::native == std::endian::little &&
            text.size() >= sizeof head) {
            std::memcpy(&head, text.data(), sizeof head);
            if (size < sizeof head) head &= (std::uint64_t{1} << 8 * size) - 1;
            return;
        }
        for (std::size_t i = 0; i < std::min(size, sizeof head); ++i)
            head |= std::uint64_t{static_cast<unsigned char>(text[i])} << 8 * i;
    }
    /// Equal spellings that hold every byte are the same word.
    constexpr bool whole() const { return length <= sizeof head; }
    bool operator==(const Spelling&) const = default;
};

/// A fixed list of words by their spelling. Built by the compiler; one look decides for nearly every text.
template<std::size_t Count>
class Lexicon {
public:
    constexpr explicit Lexicon(const std::array<std::string_view, Count>& words) : words_(words) {
        for (std::size_t i = 0; i < Count; ++i) {
            spellings_[i] = Spelling(words[i]);
            std::size_t slot = slot_of(spellings_[i]);
            while (numbers_[slot] != 0) slot = next(slot);
            numbers_[slot] = static_cast<std::uint16_t>(i + 1);
        }
    }

    /// The number of a word in the list, from 1; 0 when it is none of them.
    constexpr std::size_t number(Spelling spelling, std::string_view text) const {
        for (std::size_t slot = slot_of(spelling); numbers_[slot] != 0; slot = next(slot)) {
            const std::size_t row = numbers_[slot] - 1U;
            if (spellings_[row] == spelling && (spelling.whole() || words_[row] == text)) return row + 1;
        }
        return 0;
    }
    constexpr std::size_t number(std::string_view text) const { return number(Spelling(text), text); }
    /// Of a word that its spelling holds whole.
    constexpr std::size_t number(Spelling spelling) const {
        for (std::size_t slot = slot_of(spelling); numbers_[slot] != 0; slot = next(slot)) {
            const std::size_t row = numbers_[slot] - 1U;
            if (spellings_[row] == spelling) return row + 1;
        }
        return 0;
    }

private:
    static constexpr std::size_t slots = std::bit_ceil(4 * Count);
    static constexpr std::size_t slot_of(Spelling spelling) {
        constexpr int bits = std::bit_width(slots) - 1;
        return (spelling.head * 0x9E3779B97F4A7C15U) >> static_cast<unsigned>(64 - bits); // the golden ratio
    }
    static constexpr std::size_t next(std::size_t slot) { return (slot + 1) % slots; }

    std::array<std::string_view, Count> words_;
    std::array<Spelling, Count> spellings_{};
    std::array<std::uint16_t, slots> numbers_{};
};

} // namespace athanor
