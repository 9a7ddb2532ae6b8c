#pragma once
#include "compiler/check/load.hpp"
#include "compiler/check/model.hpp"

#include <string_view>
#include <vector>

/// Which declaration a name means in a file. One namespace per kind of declaration; a file sees its own
/// declarations, those of the files it imports, and the standard library.
namespace athanor::check {

enum class Declares : std::uint8_t { value, operation, recipe, rig, controller, gas, policy, rule };
inline constexpr std::size_t declares_kinds = 8;
/// "let", "operation", "rig" … as messages say it.
std::string_view word_of(Declares kind);

class Declarations {
public:
    struct Entry {
        Declares kind;
        NameId name = 0;
        Index unit = none;
        Index index = none; // into the list of its kind
        athanor::Span span;
    };

    Declarations(const std::vector<Unit>& units, const Files& files, const Names& names, Diagnostics& out)
        : units_(units), files_(files), names_(names), out_(out) {}

    /// Adds one; with `refuse_twin`, a second of the name where one file sees both is `duplicate_name`.
    void add(const Entry& entry, bool refuse_twin);
    /// Silent: null when nothing, or more than one thing, of that name is visible.
    const Entry* peek(Declares kind, NameId name, Index unit) const;
    /// Reports `unknown_name` with the nearest name, or `duplicate_name` when two imports declare it.
    const Entry* find(Declares kind, NameId name, Index unit, athanor::Span span) const;
    /// Every visible name of a kind, for suggestions.
    void visible_names(Declares kind, Index unit, std::vector<std::string_view>& into) const;

private:
    struct Seen {
        const Entry *first = nullptr, *second = nullptr; // a second only where it makes the name ambiguous
    };
    Seen seen(Declares kind, NameId name, Index unit) const;
    bool sees(Index from, Index unit) const;

    const std::vector<Unit>& units_;
    const Files& files_;
    const Names& names_;
    Diagnostics& out_;
    std::vector<Entry> entries_;
    std::vector<Index> next_; // chain of entries with the same name, newest first
    std::vector<Index> head_; // by NameId
};

} // namespace athanor::check
