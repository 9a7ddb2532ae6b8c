#pragma once
#include <cstddef>
#include <cstdint>
#include <initializer_list>
#include <string>
#include <string_view>
#include <vector>

namespace athanor::timeline {

/// What a step is known by: the blocks around it, its own name, and what tells equals apart, such as
/// "anneal/ramp left#2/3". Indices of `Paths::text`.
struct Path {
    std::uint32_t blocks = 0;  // of "anneal/"; 0: none around it
    std::uint32_t name = 0;    // of "ramp left"
    std::uint32_t ordinal = 1; // among the steps of that name in its block
    std::uint32_t piece = 1;   // of a step that was cut
};

/// Paths of all spans. They are put together where they are read, which is by people only.
class Paths {
public:
    Paths() = default;
    Paths(std::initializer_list<std::string_view> names) {
        for (const std::string_view name : names) add(name);
    }

    /// Keeps a part of later paths.
    std::uint32_t keep(std::string_view text) {
        texts_.emplace_back(text);
        return static_cast<std::uint32_t>(texts_.size() - 1);
    }
    const std::string& text(std::uint32_t index) const { return texts_[index]; }

    std::uint32_t add(const Path& path) {
        paths_.push_back(path);
        return static_cast<std::uint32_t>(paths_.size() - 1);
    }
    std::uint32_t add(std::string_view name) { return add(Path{0, keep(name)}); }
    void reserve(std::size_t count) { paths_.reserve(count); }
    std::size_t size() const { return paths_.size(); }
    std::string operator[](std::size_t index) const {
        const Path& path = paths_[index];
        std::string whole = texts_[path.blocks] + texts_[path.name];
        if (path.ordinal > 1) whole.append("#").append(std::to_string(path.ordinal));
        if (path.piece > 1) whole.append("/").append(std::to_string(path.piece));
        return whole;
    }

private:
    std::vector<std::string> texts_{std::string{}};
    std::vector<Path> paths_;
};

} // namespace athanor::timeline
