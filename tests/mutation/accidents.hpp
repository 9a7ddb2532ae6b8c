#pragma once
#include "tests/mutation/text.hpp"

#include <span>

/// The table of accidents.
namespace athanor::mutation {

struct Kind {
    std::string_view name;
    bool (*happen)(Subject&, std::mt19937&); // false: nothing to be done
};

std::span<const Kind> accidents();

} // namespace athanor::mutation
