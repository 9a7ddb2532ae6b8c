#pragma once
#include "compiler/source/render.hpp"
#include "grammar/format.hpp"
#include "grammar/parse.hpp"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

namespace athanor::grammar_test {

struct Read {
    Files files;
    Diagnostics diagnostics;
    Tree tree;

    explicit Read(std::string text) {
        FileId id = files.add("recipe.ath", std::move(text));
        tree = parse(id, files, diagnostics);
    }
    std::string dumped() const { return dump(tree, files); }
    std::string formatted() const { return format(tree, files); }
    /// Every message in its short form, one a line, in source order.
    std::string messages() const {
        std::size_t hidden = 0;
        std::string out;
        for (const Diagnostic* d : diagnostics.sorted(1000, hidden)) out += render_short(*d, files) + '\n';
        return out;
    }
};

inline std::string file_text(const std::filesystem::path& path) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}

/// Every recipe of the repository: the samples beside this file, and the library.
inline std::vector<std::filesystem::path> recipes() {
    std::vector<std::filesystem::path> out;
    for (const char* folder : {"/tests/grammar/samples", "/recipes"}) {
        std::filesystem::path root = std::string(ATHANOR_ROOT) + folder;
        if (!std::filesystem::exists(root)) continue;
        for (const auto& entry : std::filesystem::recursive_directory_iterator(root))
            if (entry.path().extension() == ".ath") out.push_back(entry.path());
    }
    std::sort(out.begin(), out.end());
    return out;
}

/// Empty when the tree is sound: every child inside its parent, siblings in order and apart, each node in one
/// place.
inline std::string unsound(const Tree& tree, std::size_t size) {
    std::vector<bool> seen(tree.nodes().size(), false);
    std::vector<NodeId> work{tree.root};
    if (tree.kind(tree.root) != Node::file) return "the root is no file";
    while (!work.empty()) {
        NodeId id = work.back();
        work.pop_back();
        if (seen[id]) return "a node stands in two places";
        seen[id] = true;
        const SyntaxNode& node = tree[id];
        if (node.begin > node.end || node.end > size) return "a span outside the text";
        std::uint32_t last = node.begin;
        for (NodeId child : tree.children(id)) {
            if (tree.kind(child) == Node::none) return "a node without a kind";
            if (tree[child].begin < last || tree[child].end > node.end)
                return "child " + std::string(name(tree.kind(child))) + " at " +
                       std::to_string(tree[child].begin) + " out of order in " + std::string(name(node.kind));
            last = tree[child].end;
            work.push_back(child);
        }
    }
    return "";
}

/// The text without blanks, line ends and `;`: what the formatter must keep. Blanks inside texts and comments
/// count.
inline std::string substance(const std::string& text) {
    std::string out;
    bool quoted = false, comment = false;
    for (char c : text) {
        if (c == '\n') {
            quoted = comment = false;
            continue;
        }
        if (c == '"' && !comment) quoted = !quoted;
        if (c == '#' && !quoted) comment = true;
        bool blank = c == ' ' || c == '\t' || c == '\r';
        if (blank || (c == ';' && !quoted && !comment)) continue;
        out += c;
    }
    return out;
}

} // namespace athanor::grammar_test
