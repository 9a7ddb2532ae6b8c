// `functions`: what expressions can call.
#include "compiler/check/functions.hpp"
#include "compiler/driver/commands.hpp"
#include "compiler/driver/page.hpp"

#include <fmt/format.h>

namespace athanor::driver {
namespace {

void print_plain(const check::Function& f) {
    fmt::print("{}{}", paragraph("    ", check::signature(f), 8), paragraph("        ", f.does, 8));
    if (const std::string range = check::validity(f); !range.empty())
        fmt::print("{}", paragraph("        holds for:", range, 12));
    fmt::print("{}", paragraph("        source:", f.source, 12));
}

/// A cell of a table: a bar would end it.
std::string cell(std::string_view text) {
    std::string safe;
    for (char c : text) safe += c == '|' ? std::string("\\|") : std::string(1, c);
    return safe;
}

void print_markdown() {
    fmt::print(
        "# Functions\n\n"
        "This page is what `athanor functions --markdown` prints; a test keeps it so. Each function may stand "
        "in "
        "any expression of a\nrecipe and behind `athanor evaluate`. Arguments stand by their order, or by name "
        "behind those; a parameter with `=` may be left\nout. Beyond a range an argument is refused "
        "([outside_validity](diagnostics/outside_validity.md)); uncertain arguments give the interval of\n"
        "all results. A function computes what its equation says: what is safe is proven by the rules, on the "
        "model of the rig.\n");
    std::string_view subject;
    for (const check::Function& f : check::functions()) {
        if (f.subject != subject) {
            subject = f.subject;
            fmt::print(
                "\n## {}{}\n\n| function | gives | holds for | source | example |\n|---|---|---|---|---|\n",
                std::string(1, static_cast<char>(subject[0] - 'a' + 'A')), subject.substr(1));
        }
        const std::string value = value_text(std::string(f.example)).value_or("an error");
        fmt::print("| `{}` | {} | {} | {} | `{}` = {} |\n", cell(check::signature(f)), cell(f.does),
                   cell(check::validity(f)), cell(f.source), cell(f.example), cell(value));
    }
}

} // namespace

int run_functions(const std::string& name, bool markdown) {
    if (markdown) {
        print_markdown();
        return exit_proven;
    }
    std::string_view subject;
    bool found = false;
    for (const check::Function& f : check::functions()) {
        if (!name.empty() && f.name != name && f.subject != name) continue;
        if (f.subject != subject) {
            subject = f.subject;
            fmt::print("{}\n", subject);
        }
        found = true;
        print_plain(f);
        if (f.name == name)
            fmt::print("{}", paragraph("        example:",
                                       fmt::format("{} = {}", f.example,
                                                   value_text(std::string(f.example)).value_or("an error")),
                                       12));
    }
    if (found) return exit_proven;
    fmt::print(stderr, "athanor functions: there is no function and no subject `{}`; the functions are:\n",
               name);
    std::string names;
    for (const check::Function& f : check::functions()) names += std::string(f.name) + ' ';
    fmt::print(stderr, "{}", paragraph("", names, 0));
    return exit_usage;
}

} // namespace athanor::driver
