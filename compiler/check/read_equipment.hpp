#pragma once
#include "compiler/check/load.hpp"
#include "compiler/check/model.hpp"

namespace athanor::check {

/// Gases, materials, thermocouples, rigs and controllers of every file, judged by the schemas of the standard
/// library, into the model: `gases`, `materials`, `thermocouples`, `rigs` with `rig_defaults`, `controllers`.
/// Whatever is wrong is told once; the declaration is kept, marked `broken`, so that its name still resolves.
/// `Interlock::condition` is left open: its names are recipes' signals.
void read_equipment(const std::vector<Unit>& units, const Files& files, Model& model, Diagnostics& out);

/// Every `substance`: the model has them only where a gas of a site is compared with them.
std::vector<Gas> known_substances(const std::vector<Unit>& units, const Files& files);

} // namespace athanor::check
