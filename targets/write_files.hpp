#pragma once
#include "targets/target.hpp"

#include <string>
#include <vector>

namespace athanor::targets {

/// Writes a set of files into `folder`, all of them or none: every file goes to a temporary file beside its
/// place, is flushed to the disk (fsync), and only when all are there are they renamed into place. On failure
/// false, `error` says which path and why; what stood in the folder before stands there again, and nothing new
/// remains, a folder that this call made included. A symbolic link keeps pointing where it did, and the file it
/// points to is replaced. An existing path that is no ordinary file (a folder, a device) is refused.
bool write_all(const std::string& folder, const std::vector<OutputFile>& files, std::string& error);

} // namespace athanor::targets
