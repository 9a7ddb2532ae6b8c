#include "compiler/check/equipment_block.hpp"
#include "grammar/words.hpp"

#include <algorithm>
#include <fmt/format.h>

namespace athanor::check {

std::string_view word_for(Node kind) {
    switch (kind) {
    case Node::gas: return "gas";
    case Node::material: return "material";
    case Node::thermocouple: return "thermocouple";
    case Node::substance: return "substance";
    case Node::rig: return "rig";
    case Node::controller: return "controller";
    default: return "declaration";
    }
}

std::string nearest(std::string_view wrong, const std::vector<std::string_view>& known) {
    std::string_view best;
    unsigned least = wrong.size() < 4 ? 2 : 3; // short words lie near to everything
    std::string_view longer;                   // the one that is cut short: "temp" for "temperature"
    bool several = false;
    for (std::string_view word : known) {
        const unsigned distance = grammar::edit_distance(wrong, word);
        if (distance < least) {
            least = distance;
            best = word;
        }
        if (wrong.size() > 3 && word.starts_with(wrong) && word != longer) {
            several = !longer.empty();
            longer = word;
        }
    }
    return std::string(least > 1 && !longer.empty() && !several ? longer : best);
}

void mend_name(Diagnostic& d, athanor::Span span, std::string_view wrong, const std::string& near) {
    if (grammar::surely_named(wrong, near)) d.mend(span, near);
}

void mend_word(Diagnostic& d, athanor::Span span, std::string_view wrong, const std::string& near) {
    if (near.size() > 3 && grammar::edit_distance(wrong, near) == 1) d.mend(span, near);
}

namespace {

/// The order in which declarations are looked up.
std::pair<Node, std::string_view> key_of(const Declaration* d) {
    return {d->kind, d->name};
}

} // namespace

Registry::Registry(const std::vector<Unit>& units_, const Files& files_, Diagnostics& out_)
    : units(units_), files(files_), out(out_), schemas(read_schemas(units_, files_, out_)) {
    for (Index u = 0; u < units.size(); ++u) {
        const Tree& t = tree(u);
        for (NodeId node : t.children(t.root)) {
            const Node kind = t.kind(node) == Node::gas_mix ? Node::gas : t.kind(node);
            if (word_for(kind) == "declaration") continue;
            const NodeId name = t.child(node, Node::name);
            if (name == no_node) continue;
            all_.push_back({kind, t.text(name, files), u, node, t.span(name)});
            by_name_.push_back(&all_.back());
        }
    }
    std::ranges::stable_sort(by_name_, {}, key_of);
    refuse_twins();
}

std::span<Declaration* const> Registry::named(Node kind, std::string_view name) const {
    const auto found = std::ranges::equal_range(by_name_, std::pair(kind, name), {}, key_of);
    return {found.begin(), found.end()};
}

bool Registry::sees(Index from, Index unit) const {
    const auto& visible = units[from].visible;
    return from == unit || std::find(visible.begin(), visible.end(), unit) != visible.end();
}

/// Two of one name where one file sees both by writing one of them. Two imports that clash are told at use.
void Registry::refuse_twins() {
    for (std::size_t from = 0, next = 0; from < by_name_.size(); from = next) {
        const auto key = key_of(by_name_[from]);
        for (next = from + 1; next < by_name_.size() && key_of(by_name_[next]) == key;) ++next;
        for (std::size_t b = from + 1; b < next; ++b)
            for (std::size_t a = from; a < b; ++a) {
                Declaration* later = by_name_[b];
                Declaration* first = by_name_[a];
                if (later->unit != first->unit && !sees(later->unit, first->unit)) std::swap(later, first);
                if (later->unit != first->unit && !sees(later->unit, first->unit)) continue;
                // A file sees the library, not the reverse; whoever sees both is the one to change.
                if (units[later->unit].standard && !units[first->unit].standard) std::swap(later, first);
                const bool standard = units[first->unit].standard;
                out.error(Code::duplicate_name, later->span,
                          fmt::format("{} `{}` is declared already{}", word_for(key.first), key.second,
                                      standard ? " in the standard library" : ""))
                    .also(first->span, "first declared here")
                    .remedy("give one of them another name");
                break;
            }
    }
}

Declaration* Registry::find(Node kind, std::string_view name, Index unit, athanor::Span span) {
    const std::span<Declaration* const> declared = named(kind, name);
    Few<Declaration*, 2> seen;
    for (Declaration* d : declared)
        if (sees(unit, d->unit)) seen.push_back(d);
    // The file's own declaration was already told apart from what it sees.
    for (Declaration* d : seen)
        if (d->unit == unit) return d;
    if (seen.size() > 1 && units[seen[0]->unit].standard) return seen[0];
    if (seen.size() > 1) {
        out.error(Code::duplicate_name, span,
                  fmt::format("{} `{}` is declared in two of the imported files", word_for(kind), name))
            .also(seen[0]->span, "one of them")
            .also(seen[1]->span, "the other")
            .remedy("import one of the two files only, or rename one of the declarations");
        return nullptr;
    }
    if (!seen.empty()) return seen[0];
    if (units[unit].lacks) return nullptr;
    // The grammar has told what the gas of that formula is called.
    if (kind == Node::gas && grammar::has_capital(name) && !grammar::gas_of_formula(name).empty())
        return nullptr;

    Diagnostic& d =
        out.error(Code::unknown_name, span, fmt::format("no {} is called `{}`", word_for(kind), name));
    std::vector<std::string_view> known;
    for (const Declaration& declaration : all_)
        if (declaration.kind == kind && sees(unit, declaration.unit)) known.push_back(declaration.name);
    std::string near = nearest(name, known);
    // "quartz" for "fused_quartz".
    for (std::string_view word : known)
        if (near.empty() && name.size() > 3 && word.find(name) != std::string_view::npos) near = word;
    // "alumina" for "recrystallised_alumina".
    for (std::string_view word : known)
        if (near.empty() && word.size() > 3 && name.find(word) != std::string_view::npos) near = word;
    if (!near.empty()) {
        d.remedy(fmt::format("`{}` is declared", near));
        // A gas or a material that is near in letters is another one all the same.
        if (kind == Node::rig || kind == Node::controller) mend_name(d, span, name, near);
    } else if (!declared.empty())
        d.remedy(fmt::format("it is declared in {}, which this file does not import",
                             files[declared[0]->span.file].path()));
    else
        d.remedy(
            fmt::format("declare it with `{} {} {{ … }}`, or import the file that does with `use \"FILE\"`",
                        word_for(kind), name));
    return nullptr;
}

} // namespace athanor::check
