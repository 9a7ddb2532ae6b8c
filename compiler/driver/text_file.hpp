#pragma once
#include <optional>
#include <string>

namespace athanor::driver {

/// Reads a whole file, or standard input for "-". nullopt: it cannot be read, `error` says why.
/// Never reads more than the language's file limit plus one byte, so that a huge file costs nothing.
std::optional<std::string> read_file(const std::string& path, std::string& error);

} // namespace athanor::driver
