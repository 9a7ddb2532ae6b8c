#pragma once
#include <string>
#include <vector>

namespace athanor::driver {

/// A rule for Make and ninja: "out.csv out.json: recipe.ath rig.ath". Blanks, `#`, `$`, `:` and the backslashes
/// in front of them are escaped as Make reads them. Nothing, with `why` set to the path, where one has a line
/// end or a tab, which no Makefile can hold.
std::string dependency_rule(const std::vector<std::string>& outputs, const std::vector<std::string>& sources,
                            std::string& why);

} // namespace athanor::driver
