#include "targets/csv/csv.hpp"
#include "targets/json/json.hpp"
#include "targets/markdown/markdown.hpp"
#include "targets/structured_text/structured_text.hpp"
#include "targets/target.hpp"

#include <cstdio>
#include <cstdlib>

namespace athanor::targets {
namespace {

// A back end is one entry here and one folder beside this file.
std::vector<Target> own() {
    return {
        {.name = "csv",
         .description = "one row a segment (RFC 4180), with a metadata file of types, units and provenance",
         .write = csv::write,
         .read = csv::read,
         .ending = "csv",
         .losses = {},
         .instructions = true},
        {.name = "json",
         .description =
             "everything a tool needs in one object: segments, assurance, totals, rig and controller",
         .write = json::write,
         .read = json::read,
         .ending = "json",
         .losses = {},
         .instructions = true},
        {.name = "markdown",
         .description = "a run sheet as plain text: tables, what a person does, where it comes from",
         .write = markdown::write,
         .read = markdown::read,
         .ending = "md",
         .losses = {},
         .instructions = true},
        {.name = "structured_text",
         .description = "data types and constants of IEC 61131-3 for a programmable controller",
         .write = structured_text::write,
         .read = structured_text::read,
         .ending = "st",
         .losses = {}},
        // The members of these two families are declared in a file.
        {.name = "layout",
         .description = "another controller's table, by the `layout` that the file declares or imports",
         .write = {},
         .read = {},
         .ending = "",
         .losses = {}},
        {.name = "registers",
         .description = "address and value writes, by the `layout` with `form registers` of the file",
         .write = {},
         .read = {},
         .ending = "",
         .losses = {}},
    };
}

/// Grown only before main() begins, by constants of type Registration.
std::vector<Target>& list() {
    static std::vector<Target> targets = own();
    return targets;
}

} // namespace

std::span<const Target> all_targets() {
    return list();
}

const Target* target_named(std::string_view name) {
    for (const Target& target : list())
        if (target.name == name) return &target;
    return nullptr;
}

Registration::Registration(Target target) {
    if (target_named(target.name)) {
        std::fprintf(stderr, "athanor: two back ends have the name %s\n", target.name.c_str());
        std::abort();
    }
    list().push_back(std::move(target));
}

} // namespace athanor::targets
