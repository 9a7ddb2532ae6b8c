#include "compiler/check/declarations.hpp"
#include "compiler/check/equipment_block.hpp"

#include <algorithm>
#include <array>
#include <fmt/format.h>

namespace athanor::check {

std::string_view word_of(Declares kind) {
    constexpr std::array<std::string_view, declares_kinds> words{"let",        "operation", "recipe", "rig",
                                                                 "controller", "gas",       "policy", "rule"};
    return words[static_cast<std::size_t>(kind)];
}

bool Declarations::sees(Index from, Index unit) const {
    const std::vector<Index>& visible = units_[from].visible;
    return from == unit || std::binary_search(visible.begin(), visible.end(), unit);
}

void Declarations::add(const Entry& entry, bool refuse_twin) {
    if (entry.name >= head_.size()) head_.resize(entry.name + 64, none);
    if (refuse_twin) {
        for (Index at = head_[entry.name]; at != none; at = next_[at]) {
            const Entry* first = &entries_[at];
            const Entry* later = &entry;
            if (first->kind != entry.kind) continue;
            if (first->unit != later->unit && !sees(later->unit, first->unit)) std::swap(first, later);
            if (first->unit != later->unit && !sees(later->unit, first->unit)) continue; // told at use
            // Two imports of one file are told at use as well; here one of both stands in the file itself.
            const bool standard = units_[first->unit].standard && !units_[later->unit].standard;
            out_.error(Code::duplicate_name, later->span,
                       fmt::format("{} `{}` is declared already{}", word_of(entry.kind), names_[entry.name],
                                   standard ? " in the standard library" : ""))
                .also(first->span, "first declared here")
                .remedy("give one of them another name");
            break;
        }
    }
    entries_.push_back(entry);
    next_.push_back(head_[entry.name]);
    head_[entry.name] = static_cast<Index>(entries_.size() - 1);
}

Declarations::Seen Declarations::seen(Declares kind, NameId name, Index unit) const {
    Seen result;
    if (name >= head_.size()) return result;
    const Entry* standard = nullptr;
    for (Index at = head_[name]; at != none; at = next_[at]) {
        const Entry& entry = entries_[at];
        if (entry.kind != kind || !sees(unit, entry.unit)) continue;
        // The own declaration, and the library's, were told apart from what else is visible already.
        if (entry.unit == unit) return {&entry, nullptr};
        if (units_[entry.unit].standard) standard = &entry;
        if (result.first == nullptr)
            result.first = &entry;
        else if (result.first->unit != entry.unit)
            result.second = &entry;
    }
    if (standard != nullptr) return {standard, nullptr};
    return result;
}

const Declarations::Entry* Declarations::peek(Declares kind, NameId name, Index unit) const {
    const Seen found = seen(kind, name, unit);
    return found.second == nullptr ? found.first : nullptr;
}

void Declarations::visible_names(Declares kind, Index unit, std::vector<std::string_view>& into) const {
    for (const Entry& entry : entries_)
        if (entry.kind == kind && sees(unit, entry.unit)) into.push_back(names_[entry.name]);
}

const Declarations::Entry* Declarations::find(Declares kind, NameId name, Index unit,
                                              athanor::Span span) const {
    const Seen found = seen(kind, name, unit);
    if (found.second != nullptr) {
        // In the order of the files, so that the message does not depend on the order of the chain.
        const Entry *a = found.first, *b = found.second;
        if (b->span < a->span) std::swap(a, b);
        out_.error(Code::duplicate_name, span,
                   fmt::format("{} `{}` is declared in two of the imported files", word_of(kind), names_[name]))
            .also(a->span, "one of them")
            .also(b->span, "the other")
            .remedy("import one of the two files only, or rename one of the declarations");
        return nullptr;
    }
    if (found.first != nullptr || units_[unit].lacks) return found.first;

    Diagnostic& d =
        out_.error(Code::unknown_name, span, fmt::format("no {} is called `{}`", word_of(kind), names_[name]));
    std::vector<std::string_view> known;
    visible_names(kind, unit, known);
    if (const std::string near = nearest(names_[name], known); !near.empty()) {
        mend_name(d.remedy(fmt::format("`{}` is declared", near)), span, names_[name], near);
        return nullptr;
    }
    if (name < head_.size())
        for (Index at = head_[name]; at != none; at = next_[at])
            if (entries_[at].kind == kind) {
                d.remedy(fmt::format("it is declared in {}, which this file does not import",
                                     files_[units_[entries_[at].unit].file].path()));
                return nullptr;
            }
    d.remedy("declare it, or import the file that does with `use \"FILE\"`");
    return nullptr;
}

} // namespace athanor::check
