#include "compiler/source/diagnostic.hpp"

#include <algorithm>
#include <array>

namespace athanor {
namespace {

struct Entry {
    std::string_view name;
    Group group;
    std::string_view meaning;
};

constexpr std::array entries{
#define CODE(name, group, severity, meaning) Entry{#name, Group::group, meaning},
#include "compiler/source/codes.def"
#undef CODE
};

const Entry& entry(Code code) {
    return entries[static_cast<std::size_t>(code)];
}

} // namespace

std::string_view name(Code code) {
    return entry(code).name;
}
std::string_view meaning(Code code) {
    return entry(code).meaning;
}
Group group(Code code) {
    return entry(code).group;
}

std::string_view name(Group group) {
    constexpr std::array names{"flammable gas", "any fault",   "gas and pressure", "vacuum",
                               "heat",          "requirement", "controller",       "text"};
    return names[static_cast<std::size_t>(group)];
}

std::string_view name(Severity severity) {
    return severity == Severity::error ? "error" : "warning";
}

const std::vector<Code>& all_codes() {
    static const std::vector<Code> codes = [] {
        std::vector<Code> list;
        for (std::size_t i = 0; i < entries.size(); ++i) list.push_back(static_cast<Code>(i));
        return list;
    }();
    return codes;
}

std::optional<Code> code_named(std::string_view wanted) {
    for (std::size_t i = 0; i < entries.size(); ++i)
        if (entries[i].name == wanted) return static_cast<Code>(i);
    return std::nullopt;
}

Diagnostic& Diagnostics::error(Code code, Span span, std::string message) {
    Diagnostic d;
    d.severity = Severity::error;
    d.code = code;
    d.span = span;
    d.message = std::move(message);
    return add(std::move(d));
}

Diagnostic& Diagnostics::warning(Code code, Span span, std::string message) {
    Diagnostic d;
    d.severity = Severity::warning;
    d.code = code;
    d.span = span;
    d.message = std::move(message);
    return add(std::move(d));
}

Diagnostic& Diagnostics::add(Diagnostic diagnostic) {
    if (diagnostic.rule.empty()) diagnostic.rule = name(diagnostic.code);
    if (diagnostic.severity == Severity::error) ++errors_;
    return all_.emplace_back(std::move(diagnostic));
}

bool Diagnostics::has(Code code) const {
    return std::any_of(all_.begin(), all_.end(), [&](const Diagnostic& d) { return d.code == code; });
}

bool Diagnostics::has_error(Code code) const {
    return std::any_of(all_.begin(), all_.end(),
                       [&](const Diagnostic& d) { return d.code == code && d.severity == Severity::error; });
}

std::vector<const Diagnostic*> Diagnostics::sorted(std::size_t cap, std::size_t& hidden) const {
    std::vector<const Diagnostic*> list;
    for (const Diagnostic& d : all_) list.push_back(&d);
    auto before = [](const Diagnostic* a, const Diagnostic* b) { return a->span < b->span; };
    std::stable_sort(list.begin(), list.end(), before);
    auto same = [](const Diagnostic* a, const Diagnostic* b) {
        return a->span == b->span && a->severity == b->severity && a->rule == b->rule &&
               a->message == b->message;
    };
    // Equal findings share a place, so only those of one place are compared.
    std::vector<const Diagnostic*> kept;
    for (const Diagnostic* d : list) {
        bool known = false;
        for (auto other = kept.rbegin(); other != kept.rend() && (*other)->span == d->span && !known; ++other)
            known = same(*other, d);
        if (!known) kept.push_back(d);
    }
    list = std::move(kept);
    hidden = list.size() > cap ? list.size() - cap : 0;
    if (hidden != 0) list.resize(cap);
    return list;
}

} // namespace athanor
