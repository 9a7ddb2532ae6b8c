#include "grammar/format.hpp"

#include "grammar/layout.hpp"

#include <algorithm>

namespace athanor {
namespace {

using grammar::Layout;
using grammar::Piece;

constexpr std::size_t indent_width = 4;
constexpr std::size_t line_width = 110;

std::size_t code_points(std::string_view text) {
    return static_cast<std::size_t>(std::count_if(
        text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

class Printer {
public:
    Printer(const Layout& layout, std::string_view text)
        : layout_(layout), pieces_(layout.pieces), text_(text) {}

    std::string print() {
        for (at_ = 0; at_ < pieces_.size(); ++at_) piece();
        if (!out_.empty()) out_ += '\n';
        return std::move(out_);
    }

private:
    struct Open {
        std::uint32_t close, end;
        bool inlined;
        bool split; // written on one line that is too long: one property a line
    };

    const Piece& now() const { return pieces_[at_]; }
    std::string_view text(const Piece& p) const { return text_.substr(p.begin, p.end - p.begin); }
    bool is(const Piece& p, char c) const {
        return p.kind == Piece::Kind::token && text_[p.begin] == c && p.end == p.begin + 1;
    }
    bool closes_block(const Piece& p) const {
        return is(p, '}') && !open_.empty() && open_.back().close == p.begin;
    }
    std::size_t level() const {
        return static_cast<std::size_t>(
            std::count_if(open_.begin(), open_.end(), [](const Open& o) { return !o.inlined; }));
    }
    bool inlined() const { return !open_.empty() && open_.back().inlined; }

    void new_line(std::size_t levels) {
        std::size_t i = at_;
        while (i > 1 && pieces_[i - 1].kind == Piece::Kind::comment && !pieces_[i - 1].later_line)
            --i; // "{  # why"
        bool opened = i > 0 && layout_.braces.contains(pieces_[i - 1].begin);
        bool closing = now().kind == Piece::Kind::token && closes_block(now());
        out_ += '\n';
        if (now().line_ends >= 2 && !opened && !closing) out_ += '\n';
        // The marker of a merge conflict is one only in the first column.
        bool marker = now().kind == Piece::Kind::verbatim && text(now()).size() >= 7 &&
                      text(now()).substr(0, 7).find_first_not_of(text(now())[0]) == std::string_view::npos;
        if (!marker) out_.append(levels * indent_width, ' ');
    }

    /// Is the next piece that is no comment the middle of a statement?
    bool inside_statement(std::size_t i) const {
        while (i < pieces_.size() && pieces_[i].kind == Piece::Kind::comment) ++i;
        if (i == pieces_.size()) return false;
        return layout_.start(pieces_[i].begin) == Layout::Start::none && !closes_block(pieces_[i]);
    }

    bool goes_on(const Piece& p) const {
        if (p.kind != Piece::Kind::token) return false;
        for (std::string_view joining : {",",  "+",   "-",     "*",      "/",    "±",     "+/-",
                                         "<",  "<=",  ">",     ">=",     "=",    ":",     "and",
                                         "or", "not", "while", "before", "from", "until", "for"})
            if (text(p) == joining) return true;
        return false;
    }

    void begin_statement(const Piece& p, const Piece& before, Layout::Start start, bool after_comment) {
        bool opened = layout_.braces.contains(before.begin);
        bool ended = before.kind == Piece::Kind::verbatim && text(before).ends_with(';');
        bool grouped = start == Layout::Start::grouped;
        bool same_line = grouped && !opened && !after_comment && !p.later_line && !broke_block_ &&
                         (open_.empty() || !open_.back().split);
        if (grouped && inlined()) {
            out_ += opened || ended ? " " : " ; ";
        } else if (same_line) {
            out_ += ended ? " " : " ; ";
        } else {
            // A line that cannot be read may begin with a word that goes on with the line before it, and a line
            // may end with one behind which it goes on: there the `;` stays.
            if (p.separated && !opened && ((p.kind == Piece::Kind::verbatim && !ended) || goes_on(before))) {
                bool own = before.kind != Piece::Kind::token;
                if (own) new_line(level());
                out_ += own ? ";" : " ;";
            }
            new_line(level());
        }
    }

    void separate() {
        const Piece& p = now();
        if (at_ == 0) return;
        while (!open_.empty() && open_.back().close == 0 && p.begin >= open_.back().end)
            open_.pop_back(); // never closed
        const Piece& before = pieces_[at_ - 1];
        bool after_comment =
            before.kind == Piece::Kind::comment || (before.kind == Piece::Kind::verbatim && p.later_line);
        if (p.kind == Piece::Kind::comment) {
            if (p.line_ends == 0 && !after_comment)
                out_ += "  ";
            else
                new_line(level() + (inside_statement(at_) ? 1 : 0));
            return;
        }
        if (closes_block(p)) {
            bool was_inlined = open_.back().inlined;
            bool empty = layout_.braces.contains(before.begin);
            open_.pop_back();
            if (!after_comment && (was_inlined || empty))
                out_ += ' ';
            else {
                out_ += '\n';
                out_.append(level() * indent_width, ' ');
            }
            return;
        }
        Layout::Start start = layout_.start(p.begin);
        if (start != Layout::Start::none) return begin_statement(p, before, start, after_comment);
        bool brace = layout_.braces.contains(p.begin);
        bool otherwise = text(p) == "else";
        if (after_comment || (p.line_ends != 0 && !brace && !otherwise)) {
            bool hangs = brace || otherwise || ((is(p, ')') || is(p, ']')) && brackets_ <= 1);
            return new_line(level() + (hangs ? 0 : 1));
        }
        if (spaced(before, p)) out_ += ' ';
    }

    bool spaced(const Piece& before, const Piece& p) const {
        if (is(p, ',') || is(p, ')') || is(p, ']')) return false;
        if (is(p, '(') && layout_.tight.contains(p.begin)) return false;
        if (before.end == p.begin && layout_.tight.contains(p.begin) && !is(p, '-')) return false;
        if (is(before, '(') || is(before, '[')) return false;
        if (is(before, '-') && layout_.tight.contains(before.begin)) {
            // "-5" would be read as a number, "- 5" is the negation it was.
            char c = text_[p.begin];
            return c >= '0' && c <= '9';
        }
        return true;
    }

    /// Does the property whose block begins here fit on the line as its author wrote it?
    bool fits(const Layout::Brace& brace, std::uint32_t opening) const {
        if (!on_one_line(brace, opening)) return false;
        std::size_t line = out_.rfind('\n');
        std::size_t width =
            code_points(std::string_view(out_).substr(line == std::string::npos ? 0 : line + 1)) + 2;
        for (std::size_t i = at_ + 1; i < pieces_.size() && width <= line_width; ++i) {
            const Piece& p = pieces_[i];
            if (p.kind == Piece::Kind::comment) break;
            if (p.kind == Piece::Kind::verbatim) return false;
            if (p.begin > brace.close &&
                (layout_.start(p.begin) != Layout::Start::none || p.later_line || is(p, '}')))
                break;
            if (layout_.start(p.begin) != Layout::Start::none)
                width += layout_.braces.contains(pieces_[i - 1].begin) ? 1 : 3;
            else if (spaced(pieces_[i - 1], p))
                ++width;
            width += code_points(text(p));
        }
        return width <= line_width;
    }

    void piece() {
        separate();
        const Piece& p = now();
        broke_block_ = false;
        if (p.kind == Piece::Kind::token) {
            if (is(p, '(') || is(p, '[')) ++brackets_;
            if ((is(p, ')') || is(p, ']')) && brackets_ > 0) --brackets_;
            if (is(p, '{') && layout_.braces.contains(p.begin)) {
                const Layout::Brace& brace = layout_.braces.at(p.begin);
                out_ += '{';
                bool inlined_here = brace.grouped && (inlined() || fits_here(brace, p.begin));
                open_.push_back({brace.close, brace.end, inlined_here,
                                 brace.grouped && !inlined_here && on_one_line(brace, p.begin)});
                brackets_ = 0;
                return;
            }
            broke_block_ = is(p, '}') && line_has_only_indent();
        }
        append(p);
    }

    bool on_one_line(const Layout::Brace& brace, std::uint32_t opening) const {
        return brace.close != 0 &&
               text_.substr(opening, brace.close - opening).find('\n') == std::string_view::npos;
    }
    bool fits_here(const Layout::Brace& brace, std::uint32_t opening) {
        out_.pop_back(); // measured without the brace, which is counted apart
        if (!out_.empty() && out_.back() == ' ') out_.pop_back();
        bool result = fits(brace, opening);
        out_ += out_.empty() || out_.back() == '\n' ? "{" : " {";
        return result;
    }
    bool line_has_only_indent() const {
        std::size_t line = out_.rfind('\n');
        return line != std::string::npos && out_.find_first_not_of(' ', line + 1) == std::string::npos;
    }

    /// The carriage return of a line's end goes; no other is read.
    void append(const Piece& p) {
        for (char c : text(p))
            if (c != '\r') out_ += c;
    }

    const Layout& layout_;
    const std::vector<Piece>& pieces_;
    std::string_view text_;
    std::string out_;
    std::vector<Open> open_;
    std::size_t at_ = 0;
    std::size_t brackets_ = 0;
    bool broke_block_ = false; // a block spread over lines was closed last: the next property begins a line
};

} // namespace

std::string format(const Tree& tree, const Files& files) {
    std::string_view text = files[tree.file].text();
    // A file that is no text is left alone.
    NodeId first = tree[tree.root].first;
    if (first != no_node && tree.kind(first) == Node::error && tree[first].begin == 0 &&
        tree[first].end == text.size() && tree.comments().empty() && tree[first].next == no_node)
        return std::string(text);
    return Printer(grammar::layout_of(tree, text), text).print();
}

} // namespace athanor
