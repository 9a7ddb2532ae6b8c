#pragma once
#include "compiler/check/model.hpp"
#include "compiler/prove/instance.hpp"
#include "compiler/prove/judge.hpp"

#include <string>

namespace athanor::prove {

/// Steps that would surely make a tube hot enough for a rule that a temperature fails, before its gas opens: a
/// hold in a band where the load only lags, else a higher set-point with it. Empty where none is sure, or the
/// set-point falls.
std::string hotter(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
                   const plant::Plant& plant, const Instance& instance, const Witness& witness);

} // namespace athanor::prove
