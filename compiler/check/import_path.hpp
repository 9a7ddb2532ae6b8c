#pragma once
#include <string>
#include <string_view>

/// Where an import leads: which file is meant, and whether it lies inside the root.
namespace athanor::check {

/// The path that messages print and that is read: folder of `importer` joined with `written`, `a/../` taken
/// out.
std::string joined_path(std::string_view importer, std::string_view written);
/// One spelling per file: absolute, without `..`, symbolic links followed where they exist.
std::string canonical_path(std::string_view path);
/// `root` as given, else the nearest ancestor of the file with `.git` or `athanor.root`, else the file's
/// folder; canonical.
std::string root_of(std::string_view file, std::string_view root);
/// Both canonical.
bool inside(std::string_view path, std::string_view root);
bool absolute(std::string_view path);
/// The existing file whose name is nearest to that of `path`, looked for in its folder; empty when none is
/// near.
std::string nearest_file(std::string_view path);

} // namespace athanor::check
