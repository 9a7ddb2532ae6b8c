#pragma once
#include "compiler/source/diagnostic.hpp"
#include "compiler/source/file.hpp"

#include <string>

namespace athanor {

/// The framed form for a terminal: place, message, source line with carets, causes, remedies.
std::string render_pretty(const Diagnostic& diagnostic, const Files& files, bool colour);
/// One line: `file:line:col: severity: message [code]`.
std::string render_short(const Diagnostic& diagnostic, const Files& files);
/// One JSON object on one line; fields are documented in docs/diagnostics.md.
std::string render_json(const Diagnostic& diagnostic, const Files& files);

} // namespace athanor
