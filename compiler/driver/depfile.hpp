#pragma once
#include <string>
#include <vector>

namespace athanor::driver {

/// A rule for Make and ninja: "out.csv out.json: recipe.ath rig.ath". Blanks, `#`, `$`, `:` and backslashes of
/// paths are escaped so that both read them back. Nothing, with `why` set, where a path has a line end, which
/// no Makefile can hold.
std::string dependency_rule(const std::vector<std::string>& outputs, const std::vector<std::string>& sources,
                            std::string& why);

} // namespace athanor::driver
