#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <utility>

/// What is wrong with a table, and in which of its rows.
namespace athanor::replay {

/// Programme and segment, both from 1; segment 0 is what a person does before the programme, programme 0 the
/// table as a whole.
using RowName = std::pair<std::uint32_t, std::uint32_t>;

struct Finding {
    RowName row{0, 0};
    std::string message{}, remedy{};
    bool words = false;                     // it is in what the row tells a person, not in what is keyed
    std::optional<std::size_t> threshold{}; // of the programme: then that threshold's words are meant
};

/// "programme 1, segment 3", or "before programme 2".
std::string row_text(RowName row);

/// With the row in front, where it has one.
std::string text_of(const Finding& finding);

} // namespace athanor::replay
