#pragma once
#include "compiler/quantity/unit.hpp"
#include "grammar/syntax.hpp"
#include "grammar/words.hpp"

#include <array>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace athanor::grammar {

/// What stands at a place of the text, blanks skipped.
struct Token {
    enum class Type : std::uint8_t {
        end_of_file,
        end_of_line,
        word,
        number,
        text,
        unclosed_text, // a text without its closing quote; no rule takes it
        symbol
    };
    Type type = Type::end_of_file;
    Word word = Word::none;  // of a word
    char symbol = 0;         // first byte, or one of `Symbol`
    bool later_line = false; // blanks before it held a line end
    std::uint32_t begin = 0, end = 0;
};

/// Symbols of more than one byte; all others are their own byte.
enum Symbol : char { less_equal = 1, greater_equal, plus_minus, other };

/// What a rule would have taken where it stopped: a word, a symbol, or a class of things.
struct Wanted {
    enum class Class : std::uint8_t {
        word,
        symbol,
        name,
        text,
        number,
        value,
        unit,
        block,
        statement_end,
        action,
        part
    };
    Class kind = Class::word;
    std::uint8_t which = 0; // the word or the symbol

    bool operator==(const Wanted&) const = default;
};

/// One thing that is wrong, as data; `explain` turns it into a diagnostic.
struct Trouble {
    enum class Kind : std::uint8_t {
        unexpected,      // a rule stopped at `begin`; `wanted` says what it would have taken
        unknown_unit,    // [begin, end) is no unit; [other_begin, other_end) its number
        comma_decimal,   // [begin, end) is "1,5"
        clock_time,      // [begin, end) is "1:30"
        compound_order,  // [begin, end) cannot follow the time before it
        two_quantities,  // [begin, end) follows another number of a property without a word between
        mixed_logic,     // `and` and `or` side by side; the whole chain is in `operands`
        chained,         // a < b < c; the operands are in `parts`
        equals_in_value, // `=` or `==` where a comparison stands, at [begin, end)
        misspelt,        // [begin, end) is read as `word`
        capital,         // the name at [begin, end) has capital letters
        given_twice,     // clause at [begin, end) again; first at [other_begin, other_end)
        missing_brace,   // of the block opened at [begin, end)
        stray_brace,
        too_deep,
        misplaced, // a step in a file, or a declaration in a block
        bad_byte,
        invisible,        // the character at `begin` shows nothing
        foreign_line_end, // the character at `begin` only looks like a line end
        file_too_large,
        other_language, // [begin, end) is a version of the language that is not known here
        language_twice  // the line at [begin, end) again; first at [other_begin, other_end)
    };
    Kind kind = Kind::unexpected;
    Node statement = Node::none; // the statement it is in
    Word word = Word::none;      // its first word, or the word meant
    std::uint32_t statement_begin = 0;
    std::uint32_t begin = 0, end = 0;
    std::uint32_t other_begin = 0, other_end = 0;
    std::array<std::uint32_t, 6> parts{};
    struct Operand {
        std::uint32_t begin, end;
        Node joined; // to the one before it, by `and_` or `or_`
    };
    std::vector<Operand> operands;
    std::vector<Wanted> wanted;
};

/// The growing tree and what is known about the place where reading stopped. Knows nothing of the parser
/// library. Nodes are made children first; `stack` holds finished ones that have no parent yet.
class Build {
public:
    explicit Build(std::string_view text) : text_(text) {}

    std::vector<SyntaxNode> nodes{SyntaxNode{}}; // may be longer than what was made so far
    std::vector<Comment> comments;
    std::vector<Trouble> troubles;

    std::string_view text() const { return text_; }
    std::string_view text(std::uint32_t begin, std::uint32_t end) const {
        return text_.substr(begin, end - begin);
    }

    /// The token at `at`. Line ends are blanks inside brackets and behind a word or sign that goes on.
    /// Valid until the next look at another place.
    const Token& peek(std::uint32_t at) {
        const Seen& seen = look(at);
        if (seen.near.type != Token::Type::end_of_line) return seen.near;
        return brackets != 0 || at == joined_at ? seen.far : seen.near;
    }
    /// The same, line ends always blanks.
    const Token& peek_far(std::uint32_t at) { return look(at).far; }

    unsigned brackets = 0;                 // open ( and [
    std::uint32_t joined_at = 0xFFFFFFFFU; // the line goes on behind this place
    unsigned depth = 0;                    // nesting of blocks and expressions
    bool plain_volumes = false;            // `volumes` ends a clause here, it is no unit

    // --- nodes ---------------------------------------------------------------------------------------
    struct Mark {
        NodeId nodes;
        std::size_t stack;
    };
    Mark mark() const { return {made_, stack.size()}; }
    void drop(Mark mark) {
        made_ = mark.nodes;
        if (stack.size() != mark.stack) stack.resize(mark.stack);
    }
    NodeId leaf(Node kind, std::uint32_t begin, std::uint32_t end) {
        const NodeId id = add({kind, false, 0, begin, end, no_node, no_node});
        stack.push_back(id);
        return id;
    }
    void unit_leaf(const Unit& unit, std::uint32_t begin, std::uint32_t end) {
        leaf(Node::unit, begin, end);
        last().unit = static_cast<std::uint16_t>(number_of(unit));
    }
    /// A number at [begin, number_end) with its unit, whole: the leaves and the node around them at once.
    void plain_quantity(std::uint32_t begin, std::uint32_t number_end, std::uint32_t unit_begin,
                        std::uint32_t unit_end, const Unit& unit) {
        if (made_ + 3 > room_) grow();
        SyntaxNode* const made = nodes.data() + made_;
        const auto row = static_cast<std::uint16_t>(number_of(unit));
        made[0] = {Node::number, false, 0, begin, number_end, no_node, made_ + 1};
        made[1] = {Node::unit, false, row, unit_begin, unit_end, no_node, no_node};
        made[2] = {Node::quantity, false, 0, begin, unit_end, made_, no_node};
        made_ += 3;
        stack.push_back(made_ - 1);
    }
    /// The finished nodes from stack place `from` on become the children of a new one.
    NodeId close(Node kind, std::size_t from, std::uint32_t begin, std::uint32_t end) {
        const std::size_t count = stack.size() - from;
        if (count == 0) return leaf(kind, begin, end);
        NodeId* const children = stack.data() + from;
        for (std::size_t i = 1; i < count; ++i) nodes[children[i - 1]].next = children[i];
        const NodeId id = add({kind, false, 0, begin, end, children[0], no_node});
        children[0] = id;
        stack.resize(from + 1);
        return id;
    }
    /// The leaf of a name; capital letters in it are told.
    void name_leaf(const Token& token) {
        leaf(Node::name, token.begin, token.end);
        for (char c : text(token.begin, token.end))
            if (c >= 'A' && c <= 'Z') {
                tell(Trouble::Kind::capital, token.begin, token.end);
                return;
            }
    }
    /// The tree, whole. Nothing is added behind it.
    Tree finished(FileId file) {
        nodes.resize(made_);
        return {file, made_ - 1, std::move(nodes), std::move(comments)};
    }
    SyntaxNode& last() { return nodes[stack.back()]; }
    std::vector<NodeId> stack;

    // --- where reading stopped -----------------------------------------------------------------------
    /// A rule did not find what it takes at `at`; the furthest place wins.
    void want(std::uint32_t at, Wanted wanted) {
        if (at < furthest) return;
        if (at > furthest) {
            furthest = at;
            wanted_count_ = 0;
        }
        for (std::size_t i = 0; i < wanted_count_; ++i)
            if (wanted_[i] == wanted) return;
        if (wanted_count_ < wanted_.size()) wanted_[wanted_count_++] = wanted;
    }
    void want(std::uint32_t at, Word word) { want(at, {Wanted::Class::word, static_cast<std::uint8_t>(word)}); }
    std::uint32_t furthest = 0;

    /// The statement being read: its troubles are counted so that one of them is told, or several as long as
    /// each was read past.
    struct Statement {
        Node kind = Node::none;
        Word word = Word::none;
        std::uint32_t begin = 0;
        unsigned told = 0;
        bool read_past = true; // nothing told so far stopped the reading
    };
    Statement statement;
    Statement enter(Node kind, Word word, std::uint32_t begin) {
        Statement outer = statement;
        statement = {kind, word, begin, 0, true};
        furthest = begin;
        wanted_count_ = 0;
        return outer;
    }
    void leave(const Statement& outer, std::uint32_t at) {
        statement = outer;
        furthest = at;
        wanted_count_ = 0;
    }

    /// Adds a trouble unless its statement has told one that this one may follow from. Returns the place to
    /// fill in.
    Trouble& tell(Trouble::Kind kind, std::uint32_t begin, std::uint32_t end);
    /// The statement stopped at the furthest place.
    void tell_stop();
    Word meant = Word::none;           // the next statement's first word is a slip for this one
    std::uint32_t outermost_brace = 0; // of the declaration being read
    bool misplaced_before = false, misplaced_now = false; // a run of misplaced lines is told once
    std::uint32_t unclosed_at = 0xFFFFFFFFU;              // where a block ended without its `}`
    bool spliced_unclosed = false;                        // the lines just read had no `}` behind them
    bool braces_told = false;                             // its missing `}` was told

private:
    void grow(); // nodes are cleared when they come to use
    NodeId add(const SyntaxNode& node) {
        if (made_ == room_) grow();
        nodes[made_] = node;
        return made_++;
    }

    /// What stands behind a place, seen before: rules look at the same few places again and again.
    struct alignas(32) Seen {
        std::uint32_t at = 0xFFFFFFFFU;
        Token near, far; // where a line end counts, and where it is a blank; mostly the same
    };
    const Seen& look(std::uint32_t at) {
        Seen& seen = seen_[at % seen_.size()];
        if (seen.at != at) scan(at, seen);
        return seen;
    }
    void scan(std::uint32_t at, Seen& seen);
    void scan_any(std::uint32_t at, Seen& seen);
    /// The token behind `at`, before which a line may end.
    void keep(std::uint32_t at, Seen& seen, Token token, std::uint32_t line_end);
    /// The sign that a token begins with; its end.
    std::uint32_t scan_symbol(Token& token) const;

    std::string_view text_;
    NodeId made_ = 1, room_ = 1; // nodes, with the `none` node, and how long their list is
    std::array<Seen, 8> seen_;
    std::array<Wanted, 16> wanted_;
    std::size_t wanted_count_ = 0;
    Trouble silent_;
};

/// The offset behind blanks (spaces, tabs, carriage returns) at `at`.
inline std::uint32_t past_blanks(std::string_view text, std::uint32_t at) {
    while (at < text.size() && (text[at] == ' ' || text[at] == '\t' || text[at] == '\r')) ++at;
    return at;
}

constexpr bool digit(char c) {
    return c >= '0' && c <= '9';
}
constexpr bool letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}
constexpr bool word_byte(char c) {
    return letter(c) || digit(c) || c == '_';
}
constexpr bool beyond_ascii(char c) {
    return (static_cast<unsigned char>(c) & 0x80U) != 0;
}

/// `deg`, `degrees` and their like, behind which the name of the scale may stand apart.
bool degree_word(std::string_view word);
/// A unit that is written with blanks in it, without them: "degC" for "deg. C", "mbar*l/s" for "mbar l/s".
std::string one_unit(std::string_view written);

/// Bytes of the character at `at` (1 for ASCII); the text is valid UTF-8.
std::uint32_t character_length(std::string_view text, std::uint32_t at);
/// End of the number that begins at `at` with a digit.
std::uint32_t number_end(std::string_view text, std::uint32_t at);

} // namespace athanor::grammar
