#pragma once
#include "compiler/check/model.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/source/file.hpp"

#include <cstdint>
#include <set>
#include <string>
#include <string_view>
#include <tuple>
#include <vector>

namespace athanor::elaborate {

/// A message once per code and place, however often a loop comes by; nullptr when it was given before, and in
/// the survey. A warning of the first pass does not stand for an error of the second. What happens inside an
/// operation of the standard library is told at the line that called it.
class Messages {
protected:
    Messages(const Files& files_, Diagnostics& out_) : files(files_), out(out_) {}

    Diagnostic* error(Code code, athanor::Span at, const std::string& message);
    Diagnostic* warning(Code code, athanor::Span at, const std::string& message);
    bool fresh(Severity severity, Code code, athanor::Span at);
    athanor::Span shown(athanor::Span at) const;
    std::string place(athanor::Span at) const { return files.place_line(at); }
    /// The statement's text with one part replaced: a repair that compiles.
    std::string rewritten(const check::Statement& s, athanor::Span part, std::string_view text) const;

    const Files& files;
    Diagnostics& out;
    std::size_t timeline_kept = 0;    // errors after which the timeline is still the recipe's
    bool survey = true;               // the first walk: what it meets the second reports
    std::vector<athanor::Span> calls; // operations running, outermost first

private:
    std::set<std::tuple<Severity, Code, FileId, std::uint32_t, std::uint32_t>> told;
};

} // namespace athanor::elaborate
