#pragma once
#include "compiler/driver/pipeline.hpp"
#include "targets/declared.hpp"

#include <string>
#include <vector>

namespace athanor::driver {

/// The layouts and register maps of a file and of all it imports; what is wrong with them is reported.
std::vector<targets::Declared> declared_targets(Session& session);

/// "csv, json, …": the names of all formats that can be read, the declared ones last.
std::string readable_formats(const std::vector<targets::Declared>& declared);

/// Can this form hold this program? Reports what it loses.
bool holds(const targets::Target& target, Session& session, const Compiled& compiled,
           const targets::Context& beside);

} // namespace athanor::driver
