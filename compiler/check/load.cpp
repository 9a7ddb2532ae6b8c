#include "compiler/check/load.hpp"
#include "compiler/check/import_path.hpp"
#include "grammar/parse.hpp"

#include <algorithm>
#include <fmt/format.h>
#include <unordered_map>

namespace athanor::check {

namespace {

/// `use` of one file by another.
struct Import {
    Index target = none;
    athanor::Span span; // of the quoted path
};

class Loader {
public:
    Loader(const std::string& root, const ReadFile& read, Files& files, Diagnostics& out)
        : root_(root), read_(read), files_(files), out_(out) {}

    void add(Source source, bool named) {
        // The same file named twice is one file.
        if (!source.standard &&
            !by_path_.emplace(canonical_path(source.path), static_cast<Index>(units.size())).second)
            return;
        Unit unit;
        if (source.built_in != nullptr) {
            unit.file = files_.add_built_in(std::move(source.path), source.built_in->text);
            unit.tree = Tree(unit.file, *source.built_in);
        } else {
            unit.file = files_.add(std::move(source.path), std::move(source.text), source.standard);
            unit.tree = parse(unit.file, files_, out_);
        }
        unit.standard = source.standard;
        unit.named = named;
        units.push_back(std::move(unit));
        imports_.emplace_back();
    }

    void follow_imports() {
        // Units are appended while this runs: a work list, so that a long chain of imports needs no deep stack.
        for (Index u = 0; u < units.size(); ++u) {
            if (units[u].standard) continue;
            for (NodeId node = units[u].tree[units[u].tree.root].first; node != no_node;
                 node = units[u].tree[node].next)
                if (units[u].tree.kind(node) == Node::use && !follow(u, node)) units[u].lacks = true;
            units[u].lacks = units[u].lacks || unread_import(units[u].tree) || unread_head(units[u].tree);
        }
    }

    void refuse_cycles();

    void see() {
        std::vector<Index> library;
        for (Index u = 0; u < units.size(); ++u)
            if (units[u].standard) library.push_back(u);
        for (Index u = 0; u < units.size(); ++u) {
            std::vector<Index>& seen = units[u].visible;
            seen.push_back(u);
            for (const Import& import : imports_[u]) seen.push_back(import.target);
            seen.insert(seen.end(), library.begin(), library.end());
            std::sort(seen.begin(), seen.end());
            seen.erase(std::unique(seen.begin(), seen.end()), seen.end());
        }
    }

    std::vector<Unit> units;

private:
    /// An import that the grammar could not read, and told: `use bench.ath`, `import "bench.ath"`.
    bool unread_import(const Tree& tree) const {
        return out_.any_error() &&
               std::any_of(tree.nodes().begin(), tree.nodes().end(), [&](const SyntaxNode& node) {
                   if (node.kind != Node::error) return false;
                   const std::string_view text =
                       files_[tree.file].text().substr(node.begin, node.end - node.begin);
                   return text.starts_with("use ") || text.starts_with("import ") ||
                          text.starts_with("include ");
               });
    }
    /// The name in such a head may be another one than was read of it.
    static bool unread_head(const Tree& tree) {
        for (NodeId node : tree.children(tree.root))
            if (tree[node].broken && (tree.kind(node) == Node::recipe || tree.kind(node) == Node::operation))
                return true;
        return false;
    }
    bool follow(Index from, NodeId use);
    std::string cycle_text(const std::vector<Index>& path, std::size_t begin) const;
    const std::string& path_of(Index unit) const { return files_[units[unit].file].path(); }

    const std::string& root_;
    const ReadFile& read_;
    Files& files_;
    Diagnostics& out_;
    std::vector<std::vector<Import>> imports_; // per unit
    std::unordered_map<std::string, Index> by_path_;
    bool full_ = false;
};

/// False when nothing is imported, which is then told.
bool Loader::follow(Index from, NodeId use) {
    const Tree& tree = units[from].tree;
    const NodeId text = tree.child(use, Node::text);
    if (text == no_node || tree[use].broken || full_) return false;
    const athanor::Span span = tree.span(text);
    std::string_view written = tree.text(text, files_);
    written = written.substr(1, written.size() - 2);
    if (written.empty()) {
        out_.error(Code::import_not_found, span, "an import names no file").remedy("use \"rigs/bench.ath\"");
        return false;
    }
    const std::string path = joined_path(path_of(from), written);
    const std::string canonical = canonical_path(path);
    const std::string root = root_of(path_of(from), root_);
    if (absolute(written) || !inside(canonical, root)) {
        Diagnostic& d = out_.error(Code::import_escapes, span,
                                   fmt::format("`{}` leaves the root folder {}", written, root));
        if (absolute(written))
            d.cause("an import is relative to the file that imports");
        else
            d.cause(fmt::format("it leads to {}", canonical));
        d.remedy("copy the file into the root folder, or name a wider one with `--root`");
        return false;
    }
    if (auto found = by_path_.find(canonical); found != by_path_.end()) {
        imports_[from].push_back({found->second, span});
        return true;
    }
    if (units.size() >= max_files) {
        full_ = true;
        out_.error(Code::too_large, span, fmt::format("more than {} files in one compilation", max_files));
        return false;
    }
    std::optional<std::string> content = read_(path);
    if (!content) {
        Diagnostic& d = out_.error(Code::import_not_found, span, fmt::format("no file `{}` can be read", path));
        const std::string near = nearest_file(path);
        if (near.empty()) {
            d.remedy("an import is relative to the file that imports");
        } else {
            const std::string_view folder = written.substr(0, written.rfind('/') + 1);
            std::string repaired = fmt::format("\"{}{}\"", folder, near);
            d.remedy(fmt::format("use {}", repaired)).mend(span, std::move(repaired));
        }
        return false;
    }
    imports_[from].push_back({static_cast<Index>(units.size()), span});
    add({path, std::move(*content)}, false);
    return true;
}

std::string Loader::cycle_text(const std::vector<Index>& path, std::size_t begin) const {
    std::string text;
    for (std::size_t i = begin; i < path.size(); ++i) {
        constexpr std::size_t shown = 8;
        if (path.size() - begin > 2 * shown && i == begin + shown) {
            text += fmt::format("{} more -> ", path.size() - begin - 2 * shown);
            i = path.size() - shown;
        }
        text += path_of(path[i]) + " -> ";
    }
    return text + path_of(path[begin]);
}

/// Depth-first with its own stack; an import that leads back to a file on the way to it closes a cycle.
void Loader::refuse_cycles() {
    enum class State : std::uint8_t { fresh, open, done };
    std::vector<State> states(units.size(), State::fresh);
    std::vector<std::size_t> next(units.size(), 0);
    for (Index start = 0; start < units.size(); ++start) {
        if (states[start] != State::fresh) continue;
        std::vector<Index> path{start};
        states[start] = State::open;
        while (!path.empty()) {
            const Index at = path.back();
            if (next[at] == imports_[at].size()) {
                states[at] = State::done;
                path.pop_back();
                continue;
            }
            const Import& import = imports_[at][next[at]++];
            if (states[import.target] == State::fresh) {
                states[import.target] = State::open;
                path.push_back(import.target);
            } else if (states[import.target] == State::open) {
                const auto begin = std::find(path.begin(), path.end(), import.target) - path.begin();
                out_.error(Code::import_cycle, import.span,
                           path.back() == import.target
                               ? fmt::format("this file imports itself: {}",
                                             cycle_text(path, static_cast<std::size_t>(begin)))
                               : fmt::format("these files import each other: {}",
                                             cycle_text(path, static_cast<std::size_t>(begin))))
                    .remedy("move what both need into a file of its own, and import that");
            }
        }
    }
}

} // namespace

std::vector<Unit> load(std::vector<Source> named, std::vector<Source> standard, const std::string& root,
                       const ReadFile& read, Files& files, Diagnostics& out) {
    Loader loader(root, read, files, out);
    for (Source& source : named) loader.add(std::move(source), true);
    for (Source& source : standard) {
        source.standard = true;
        loader.add(std::move(source), false);
    }
    loader.follow_imports();
    loader.refuse_cycles();
    loader.see();
    return std::move(loader.units);
}

} // namespace athanor::check
