// What a file consists of, for the formatter: pieces in order, and where lines begin, from the tree.
#include "grammar/layout.hpp"

#include "grammar/build.hpp"

#include <algorithm>

namespace athanor::grammar {
namespace {

struct Region {
    std::uint32_t begin, end;
};

bool blank(char c) {
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

class Survey {
public:
    Survey(const Tree& tree, std::string_view text, Layout& out) : tree_(tree), text_(text), out_(out) {}

    void visit(NodeId id) {
        const SyntaxNode& node = tree_[id];
        switch (node.kind) {
        case Node::error: add_verbatim(node.begin, node.end); return;
        case Node::unit:
            if (node.broken) out_.tight[node.begin] = true;
            [[fallthrough]];
        case Node::number: leaves_.push_back({node.begin, node.end}); return;
        case Node::file: starts_of(id, Layout::Start::own_line); break;
        case Node::block: brace(id, node.begin, Layout::Start::own_line); break;
        case Node::property_block: brace(id, node.begin, Layout::Start::grouped); break;
        case Node::parameters: out_.tight[node.begin] = true; break;
        case Node::negate: out_.tight[node.begin] = true; break;
        case Node::call: {
            std::size_t opening = text_.find('(', tree_[node.first].end);
            if (opening != std::string_view::npos) out_.tight[static_cast<std::uint32_t>(opening)] = true;
            break;
        }
        default: break;
        }
        bool statement = node.kind >= Node::language && node.kind <= Node::load && node.kind != Node::block &&
                         node.kind != Node::property_block;
        bool spliced = node.kind == Node::policy || node.kind == Node::rule || node.kind == Node::test ||
                       node.kind == Node::layout || node.kind == Node::defaults;
        if (statement && node.broken) {
            broken(id, spliced);
            return;
        }
        if (spliced) {
            bool grouped = node.kind == Node::layout || node.kind == Node::defaults;
            // The lines of the block are those behind its brace; what stands before it is the head.
            std::uint32_t opening = opening_brace(node);
            if (opening < node.end)
                brace(id, opening, grouped ? Layout::Start::grouped : Layout::Start::own_line);
        }
        for (NodeId child : tree_.children(id)) visit(child);
    }

    std::vector<Region> verbatim_, leaves_;

private:
    std::uint32_t opening_brace(const SyntaxNode& node) const {
        std::uint32_t at = node.begin;
        while (at < node.end && text_[at] != '{') {
            if (text_[at] == '"')
                for (++at; at < node.end && text_[at] != '"';) ++at;
            if (at < node.end && text_[at] == '#')
                while (at < node.end && text_[at] != '\n') ++at;
            else
                ++at;
        }
        return at;
    }

    void starts_of(NodeId id, Layout::Start style, std::uint32_t from = 0) {
        for (NodeId child : tree_.children(id))
            if (tree_[child].begin >= from) out_.starts[tree_[child].begin] = style;
    }

    void brace(NodeId id, std::uint32_t opening, Layout::Start style) {
        const SyntaxNode& node = tree_[id];
        starts_of(id, style, opening);
        Layout::Brace found;
        found.end = node.end;
        found.grouped = style == Layout::Start::grouped;
        if (node.end > opening + 1 && text_[node.end - 1] == '}' && !node.broken) found.close = node.end - 1;
        out_.braces[opening] = found;
    }

    void add_verbatim(std::uint32_t begin, std::uint32_t end) {
        while (end > begin && blank(text_[end - 1])) --end;
        if (end > begin) verbatim_.push_back({begin, end});
    }

    /// The head of a statement that could not be read stays as it is; its block is laid out.
    void broken(NodeId id, bool spliced) {
        const SyntaxNode& node = tree_[id];
        std::uint32_t from = node.begin;
        if (!spliced)
            for (NodeId child : tree_.children(id)) {
                if (tree_.kind(child) != Node::block && tree_.kind(child) != Node::property_block) continue;
                add_verbatim(from, tree_[child].begin);
                visit(child);
                from = tree_[child].end;
            }
        add_verbatim(from, node.end);
        // Behind a block only blanks can be left of `from`; begin at what is there.
        if (!verbatim_.empty())
            while (blank(text_[verbatim_.back().begin]) && verbatim_.back().begin < verbatim_.back().end)
                ++verbatim_.back().begin;
    }

    const Tree& tree_;
    std::string_view text_;
    Layout& out_;
};

} // namespace

Layout layout_of(const Tree& tree, std::string_view text) {
    Layout out;
    Survey survey(tree, text, out);
    survey.visit(tree.root);
    auto by_begin = [](const Region& a, const Region& b) { return a.begin < b.begin; };
    std::sort(survey.verbatim_.begin(), survey.verbatim_.end(), by_begin);
    std::sort(survey.leaves_.begin(), survey.leaves_.end(), by_begin);

    Build lexer(text);
    auto size = static_cast<std::uint32_t>(text.size());
    std::uint32_t at = text.substr(0, 3) == "\xEF\xBB\xBF" ? 3 : 0;
    std::size_t verbatim = 0, leaf = 0, comment = 0;
    unsigned line_ends = 0;
    bool separated = false, later_line = false;
    auto add = [&](Piece::Kind kind, std::uint32_t end) {
        out.pieces.push_back({kind, at, end, line_ends, later_line, separated});
        line_ends = 0;
        separated = later_line = false;
        at = end;
    };
    while (at < size) {
        if (blank(text[at])) {
            if (text[at++] != '\n') continue;
            ++line_ends;
            later_line = true;
            continue;
        }
        while (verbatim < survey.verbatim_.size() && survey.verbatim_[verbatim].end <= at) ++verbatim;
        while (leaf < survey.leaves_.size() && survey.leaves_[leaf].end <= at) ++leaf;
        while (comment < tree.comments().size() && tree.comments()[comment].end <= at) ++comment;
        if (verbatim < survey.verbatim_.size() && survey.verbatim_[verbatim].begin <= at) {
            add(Piece::Kind::verbatim, survey.verbatim_[verbatim].end);
        } else if (comment < tree.comments().size() && tree.comments()[comment].begin == at) {
            add(Piece::Kind::comment, tree.comments()[comment].end);
        } else if (leaf < survey.leaves_.size() && survey.leaves_[leaf].begin == at) {
            add(Piece::Kind::token, survey.leaves_[leaf].end);
        } else {
            std::uint32_t end = std::max(lexer.peek(at).end, at + 1);
            if (text[at] != ';') {
                add(Piece::Kind::token, end);
                continue;
            }
            // The `;` that ended what could not be read stays with it: without it more would be skipped.
            if (!out.pieces.empty() && out.pieces.back().kind == Piece::Kind::verbatim &&
                text[out.pieces.back().end - 1] != ';' && !later_line)
                out.pieces.back().end = end;
            separated = true;
            line_ends = 0;
            at = end;
        }
    }
    return out;
}

} // namespace athanor::grammar
