// What elaboration reports, and where.
#include "compiler/elaborate/messages.hpp"

#include <algorithm>

namespace athanor::elaborate {

athanor::Span Messages::shown(athanor::Span at) const {
    if (at.file >= files.size() || !files[at.file].standard()) return at;
    for (auto call = calls.rbegin(); call != calls.rend(); ++call)
        if (!files[call->file].standard()) return *call;
    return at;
}

bool Messages::fresh(Severity severity, Code code, athanor::Span at) {
    return !survey && told.emplace(severity, code, at.file, at.begin, at.end).second;
}

namespace {

/// What rig or rules do not stand, and what happens all the same as it is written: set-points, valves and flows
/// are known. A target that was cut to a limit, or a wait without an end, is not of these.
bool keeps_timeline(Code code) {
    switch (code) {
    case Code::air_drawn_in:
    case Code::hand_meter_changed:
    case Code::supply_pressure:
    case Code::opposing_valves:
    case Code::tube_shock:
    case Code::beyond_tube:
    case Code::beyond_sensor:
    case Code::tube_vacuum_limit: return true;
    default: return false;
    }
}

} // namespace

Diagnostic* Messages::error(Code code, athanor::Span at, const std::string& message) {
    if (!fresh(Severity::error, code, shown(at))) return nullptr;
    if (keeps_timeline(code)) ++timeline_kept;
    Diagnostic& d = out.error(code, shown(at), message);
    return shown(at) == at ? &d : &d.also(at, "by this line of the operation");
}

Diagnostic* Messages::warning(Code code, athanor::Span at, const std::string& message) {
    if (!fresh(Severity::warning, code, shown(at))) return nullptr;
    Diagnostic& d = out.warning(code, shown(at), message);
    return shown(at) == at ? &d : &d.also(at, "by this line of the operation");
}

std::string Messages::rewritten(const check::Statement& s, athanor::Span part, std::string_view text) const {
    std::string whole(files.text(s.span));
    if (part.file != s.span.file || part.begin < s.span.begin || part.end > s.span.end) return whole;
    // The end of a statement's own text may lie before the part's (a step with a block), hence the clamp.
    std::size_t begin = std::min<std::size_t>(part.begin - s.span.begin, whole.size());
    whole.replace(begin, part.end - part.begin, text);
    return whole;
}

} // namespace athanor::elaborate
