#pragma once
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/table_rows.hpp"

#include <string>
#include <string_view>
#include <vector>

/// What a JSON table copies from its recipe beside the programmes: names, equipment, provenance, assumptions,
/// concessions, cautions.
namespace athanor::driver {

/// A text in which files of ours are named without their folders: those depend on where the command was
/// started.
std::string without_folders(std::string text);

/// Whether a JSON table says that it was written of other texts than those that are there now, or by another
/// version of the compiler. Then it says nothing of lines that could be compared.
bool of_other_texts(const ReadTable& table, const Session& session, const Compiled& compiled);

/// Against `own`, the table that `build` writes of the recipe. `very_same`: both key the very same, so that
/// also what stands beside each row is compared.
std::vector<Misfit> copied_misfits(const ReadTable& table, std::string_view own, bool very_same);

} // namespace athanor::driver
