#pragma once
#include <string>
#include <string_view>
#include <vector>

/// Where a value stands in a JSON text, so that an error about it has a line and a column.
namespace athanor::targets::json {

struct Place {
    std::size_t line = 1, column = 1;
};

/// Line and column (in bytes) of an offset.
Place place_of(std::string_view text, std::size_t offset);

/// One step down: an object's key, or an array's index where the key is empty.
struct Step {
    std::string key;
    std::size_t index = 0;
};

/// Offset of the value that `path` leads to, or of the last value on the way that exists. `text` is valid JSON.
std::size_t locate(std::string_view text, const std::vector<Step>& path);

} // namespace athanor::targets::json
