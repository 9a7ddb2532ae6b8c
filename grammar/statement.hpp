#pragma once
// Statements and blocks: committed choice, one message a statement, recovery at its end.
#include "grammar/rules.hpp"
#include "grammar/scan.hpp"

namespace athanor::grammar {

/// Line end, `;`, before `}`, or behind the statement's own `}`.
struct statement_end : sure<statement_end, pegtl::analyze_opt_traits<>> {
    static bool read(Input& in, Build& build) {
        std::uint32_t at = place(in);
        Token token = build.peek(at);
        switch (token.type) {
        case Token::Type::end_of_file:
        case Token::Type::end_of_line: return true;
        case Token::Type::symbol:
            if (token.symbol == '}' || token.symbol == ';') return true; // left to the list of statements
            break;
        default: break;
        }
        if ((at > 0 && build.text()[at - 1] == '}') || at == build.unclosed_at) return true;
        build.want(token.begin, {Wanted::Class::statement_end});
        return false;
    }
};

/// `end` without the blanks and line ends before it.
inline std::uint32_t trimmed(const Build& build, std::uint32_t end) {
    auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r' || c == '\n'; };
    while (end > 0 && blank(build.text()[end - 1])) --end;
    return end;
}

/// The place where a statement that failed ends: a `{` that a block can be read from, or its statement end.
/// What stands before `from` was read; nothing before `error` ends it, except a line that begins a new
/// statement.
std::uint32_t end_of_failed(Build& build, std::uint32_t from, std::uint32_t error);

/// What a statement always consumes, for the library's analysis: its first word, or at least one character.
template<Word Head>
using first_token = std::conditional_t<Head == Word::none, pegtl::any, kw<Head>>;

/// A statement is committed once its first word is read: if the rest fails it is told, skipped to its end, and
/// counts as read. A block behind a broken head is still read. `Head` is `Word::none` where any word begins it.
template<Node K, Word Head, class Rescue, class... Body>
struct statement
    : sure<statement<K, Head, Rescue, Body...>, pegtl::analyze_seq_traits<first_token<Head>, Body..., Rescue>> {
    static constexpr Word head = Head;

    static bool read(Input& in, Build& build) {
        Token first = build.peek(place(in));
        std::size_t from = build.stack.size();
        Build::Mark mark = build.mark();
        Build::Statement outer = build.enter(K, first.word == Word::none ? Head : first.word, first.begin);
        // A brace that opens nothing inside another one of its sort is the same mistake.
        bool repeated = K == Node::error && outer.kind == Node::error && first.type == Token::Type::symbol &&
                        first.symbol == '{';
        if (repeated) build.statement.told = 1;
        bool misspelt = build.meant != Word::none;
        if (misspelt) {
            build.tell(Trouble::Kind::misspelt, first.begin, first.end).word = build.meant;
            build.statement.word = build.meant;
            build.meant = Word::none;
        }
        if constexpr (Head != Word::none) take(in, build, first);
        if (accept_all<Body...>(in, build) && accept<statement_end>(in, build)) {
            build.close(K, from, first.begin, trimmed(build, place(in)));
            build.last().broken = misspelt || build.spliced_unclosed;
            build.spliced_unclosed = false;
        } else {
            build.tell_stop();
            build.brackets = 0;
            std::uint32_t stop = end_of_failed(build, place(in), build.furthest);
            go_to(in, stop);
            bool rescued = stop < build.text().size() && build.text()[stop] == '{' && accept<Rescue>(in, build);
            std::uint32_t end = trimmed(build, rescued ? place(in) : stop);
            if (rescued || (begins_declaration(build.statement.word) && build.stack.size() > from)) {
                build.close(K, from, first.begin, end);
            } else {
                build.drop(mark);
                build.leaf(Node::error, first.begin, end > first.begin ? end : first.end);
                if (place(in) < first.end) go_to(in, first.end);
            }
            build.last().broken = true;
        }
        build.leave(outer, place(in));
        return true;
    }
};

/// A line that no statement begins: told, skipped, kept as `error`.
template<class Rescue>
struct bad_line : statement<Node::error, Word::none, Rescue, pegtl::failure> {};

/// Chooses a statement by its first word: one look-up instead of one attempt each. False when none begins so.
template<class... Statements>
struct chosen_by_word : sure<chosen_by_word<Statements...>, pegtl::analyze_sor_traits<Statements...>> {
    static bool read(Input& in, Build& build) {
        const Token& token = build.peek(place(in));
        return token.type == Token::Type::word && read(in, build, token.word);
    }
    static bool read(Input& in, Build& build, Word word) {
        bool done = false;
        (void)((word == Statements::head && (done = accept<Statements>(in, build), true)) || ...);
        return done;
    }
};

/// Does a declaration begin in the first column? Then the block around it was never closed.
inline bool begins_in_first_column(const Build& build, const Token& token, bool equipment) {
    if (token.begin != 0 && build.text()[token.begin - 1] != '\n') return false;
    if (!begins_declaration(token.word) || token.word == Word::let) return false;
    // A property may have the name of a declaration.
    return !equipment || (token.word != Word::gas && token.word != Word::material);
}
void tell_unclosed(Build& build, const Token& opening, std::uint32_t at);
/// Behind the `}` that closes the `{` at `opening`, or the text's end.
std::uint32_t behind_block(const Build& build, std::uint32_t opening);

/// `{ Line … }`; the brace may begin the next line. Never fails behind its `{`.
template<Node K, class Line, bool Equipment = K == Node::property_block>
struct braces : sure<braces<K, Line, Equipment>, pegtl::analyze_seq_traits<sym<'{'>, Line>> {
    static bool read(Input& in, Build& build) {
        Token opening = build.peek_far(place(in));
        if (opening.type != Token::Type::symbol || opening.symbol != '{') {
            build.want(build.peek(place(in)).begin, {Wanted::Class::block});
            return false;
        }
        Nesting nesting(build, opening.begin, opening.end);
        std::size_t from = build.stack.size();
        if (build.depth == 1) build.outermost_brace = opening.begin;
        if (!nesting.ok) {
            go_to(in, behind_block(build, opening.begin));
            build.close(K, from, opening.begin, trimmed(build, place(in)));
            build.last().broken = true;
            return true;
        }
        go_to(in, opening.end);
        bool closed = false;
        for (;;) {
            Token next = build.peek_far(place(in));
            go_to(in, next.begin);
            if (next.type == Token::Type::end_of_file) break;
            if (next.type == Token::Type::symbol && next.symbol == ';') {
                go_to(in, next.end);
                continue;
            }
            if (next.type == Token::Type::symbol && next.symbol == '}') {
                go_to(in, next.end);
                closed = true;
                break;
            }
            if (next.type == Token::Type::word && begins_in_first_column(build, next, Equipment)) break;
            std::uint32_t before = place(in);
            (void)accept<Line>(in, build);
            if (place(in) == before) break; // cannot happen: every line consumes
        }
        if (!closed) {
            tell_unclosed(build, opening, place(in));
            build.unclosed_at = place(in);
        }
        build.close(K, from, opening.begin, trimmed(build, place(in)));
        build.last().broken = !closed;
        return true;
    }
};

/// The children of the node read last take its place.
inline void unwrap(Build& build) {
    NodeId last = build.stack.back();
    build.stack.pop_back();
    for (NodeId at = build.nodes[last].first; at != no_node; at = build.nodes[at].next)
        build.stack.push_back(at);
    build.nodes[last] = SyntaxNode{};
}

/// The braces of a policy, rule, test or layout: their lines become children of the declaration itself.
template<class Line, bool Equipment = false>
struct open_braces
    : custom<open_braces<Line, Equipment>, pegtl::analyze_seq_traits<braces<Node::block, Line, Equipment>>> {
    static bool read(Input& in, Build& build) {
        if (!accept<braces<Node::block, Line, Equipment>>(in, build)) return false;
        build.spliced_unclosed = build.last().broken; // told; the declaration takes the mark over
        unwrap(build);
        return true;
    }
};

} // namespace athanor::grammar
