#pragma once
#include "compiler/driver/session.hpp"

#include <string>

/// What the commands that show equipment share.
namespace athanor::driver {

/// "18 °C to 28 °C", with "(default)" behind a figure of the schema; "-" where none is given.
std::string figure(const check::Figure& figure, Kind kind);
/// "flammable, toxic"; "-" for none.
std::string hazards(const check::Hazards& hazards);
/// Prints the messages of a session; its exit status.
int finish(const Session& session, const Options& options);

} // namespace athanor::driver
