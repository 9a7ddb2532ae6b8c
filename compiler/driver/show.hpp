#pragma once
#include "compiler/driver/session.hpp"

#include <string>

/// What the commands that show equipment share.
namespace athanor::driver {

/// "flammable, toxic"; "none" where there is none.
std::string hazards(const check::Hazards& hazards);
/// "1.5 K or 0.4 % of t in °C, the greater"; "1 K plus 0.3 % above 1100 °C".
std::string tolerance_text(const check::Tolerance& tolerance);
/// Prints the messages of a session; its exit status.
int finish(const Session& session, const Options& options);

} // namespace athanor::driver
