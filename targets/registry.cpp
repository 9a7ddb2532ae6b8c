#include "targets/csv/csv.hpp"
#include "targets/json/json.hpp"
#include "targets/target.hpp"

#include <array>

namespace athanor::targets {
namespace {

// A back end is one line here and one folder beside this file.
constexpr std::array<Target, 2> targets{{
    {"csv", "one row a segment (RFC 4180), with a metadata file of types, units and provenance", &csv::write,
     &csv::read},
    {"json", "everything a tool needs in one object: segments, assurance, totals, rig and controller",
     &json::write, &json::read},
}};

} // namespace

std::span<const Target> all_targets() {
    return targets;
}

const Target* target_named(std::string_view name) {
    for (const Target& target : targets)
        if (target.name == name) return &target;
    return nullptr;
}

} // namespace athanor::targets
