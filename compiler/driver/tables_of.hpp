#pragma once
#include "compiler/driver/declared.hpp"
#include "compiler/driver/pipeline.hpp"

#include <string>
#include <vector>

/// From a compiled recipe to the bytes of its tables, each read back and compared before anyone may have it.
namespace athanor::driver {

/// `--to NAME …`: back ends, layouts of the file, or `layout` and `registers` for the only one of its kind.
/// Pointers into `declared` and the registry. Empty: `why` says what is wrong.
std::vector<const targets::Target*> wanted_targets(const std::vector<std::string>& names,
                                                   const std::vector<targets::Declared>& declared,
                                                   std::string& why);

/// The files of every format, appended to `output`. What the recipe or a layout lacks is reported to the
/// session; `internal` receives what a table says wrongly, which is a bug of this program.
void tables_of(Session& session, const Compiled& compiled, const std::vector<const targets::Target*>& formats,
               const std::string& stem, std::vector<targets::OutputFile>& output, std::string& internal);

} // namespace athanor::driver
