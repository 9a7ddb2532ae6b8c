#pragma once
// The building blocks of the grammar, as rules of the parser library. Taken in, by way of file.hpp, by
// parse.cpp and the grammar's own test only: the library stays behind this fence.
#include "grammar/expression.hpp"

#include <tao/pegtl/contrib/analyze_traits.hpp>
#include <tao/pegtl/match.hpp>
#include <tao/pegtl/memory_input.hpp>
#include <tao/pegtl/normal.hpp>
#include <tao/pegtl/nothing.hpp>
#include <tao/pegtl/rules.hpp>

namespace athanor::grammar {

namespace pegtl = tao::pegtl;

/// Lazy tracking: an input is two pointers; places are byte offsets of our own.
using Input = pegtl::memory_input<pegtl::tracking_mode::lazy, pegtl::eol::lf_crlf, const char*>;

inline std::uint32_t place(const Input& in) {
    return static_cast<std::uint32_t>(in.current() - in.begin());
}
inline void go_to(Input& in, std::uint32_t at) {
    in.bump(at - place(in));
}

/// No actions: the rules build the tree themselves, and can take it back.
template<class Rule>
bool accept(Input& in, Build& build) {
    return pegtl::match<Rule, pegtl::apply_mode::nothing, pegtl::rewind_mode::dontcare, pegtl::nothing,
                        pegtl::normal>(in, build);
}
template<class... Rules>
bool accept_all(Input& in, Build& build) {
    return (accept<Rules>(in, build) && ...);
}

/// A rule of ours: `Self::read(in, build)` may return false with input and stack in any state; both are
/// restored here. `Analysis` tells the library's analysis whether the rule always consumes, and of what it is
/// made.
template<class Self, class Analysis>
struct custom {
    using rule_t = Self;
    using subs_t = typename Analysis::subs_t;
    using analysis_t = Analysis;

    template<pegtl::apply_mode, pegtl::rewind_mode, template<class...> class, template<class...> class>
    static bool match(Input& in, Build& build) {
        auto rewind = in.mark<pegtl::rewind_mode::required>();
        Build::Mark mark = build.mark();
        if (rewind(Self::read(in, build))) return true;
        build.drop(mark);
        return false;
    }
};
using consumes = pegtl::analyze_any_traits<>;

/// A rule that takes nothing before it is sure to succeed, or whose parts put back what they took: when it
/// fails there is nothing to restore.
template<class Self, class Analysis>
struct sure : custom<Self, Analysis> {
    template<pegtl::apply_mode, pegtl::rewind_mode, template<class...> class, template<class...> class>
    static bool match(Input& in, Build& build) {
        return Self::read(in, build);
    }
};

// --- tokens ----------------------------------------------------------------------------------------------

inline void take(Input& in, Build& build, const Token& token) {
    std::uint32_t at = place(in);
    take(build, at, token);
    go_to(in, at);
}

template<Word W>
struct kw : sure<kw<W>, consumes> {
    static bool read(Input& in, Build& build) {
        const Token& token = build.peek(place(in));
        if (token.type == Token::Type::word && token.word == W) {
            take(in, build, Token(token));
            return true;
        }
        build.want(token.begin, W);
        return false;
    }
};

/// A word that may begin the next line: `else`, `while`, `before`.
template<Word W>
struct kw_far : sure<kw_far<W>, consumes> {
    static bool read(Input& in, Build& build) {
        Token token = build.peek_far(place(in));
        if (token.type == Token::Type::word && token.word == W) {
            take(in, build, token);
            return true;
        }
        if (!token.later_line) build.want(token.begin, W);
        return false;
    }
};

template<char C>
struct sym : sure<sym<C>, consumes> {
    static bool read(Input& in, Build& build) {
        const Token& token = build.peek(place(in));
        if (token.type == Token::Type::symbol && token.symbol == C) {
            take(in, build, Token(token));
            return true;
        }
        build.want(token.begin, {Wanted::Class::symbol, static_cast<std::uint8_t>(C)});
        return false;
    }
};

/// An identifier that is not reserved / any identifier.
template<bool Any>
struct identifier : sure<identifier<Any>, consumes> {
    static bool read(Input& in, Build& build) {
        const Token& token = build.peek(place(in));
        if (token.type == Token::Type::word && (Any || !reserved(token.word))) {
            if constexpr (Any)
                build.leaf(Node::name, token.begin, token.end);
            else
                build.name_leaf(token);
            go_to(in, token.end);
            return true;
        }
        build.want(token.begin, {Wanted::Class::name});
        return false;
    }
};
struct name : identifier<false> {};
struct any_name : identifier<true> {};

/// Any identifier, without a leaf of its own.
struct any_word : sure<any_word, consumes> {
    static bool read(Input& in, Build& build) {
        const Token& token = build.peek(place(in));
        if (token.type != Token::Type::word) {
            build.want(token.begin, {Wanted::Class::name});
            return false;
        }
        go_to(in, token.end);
        return true;
    }
};

template<Token::Type T, Node K, Wanted::Class W>
struct literal : sure<literal<T, K, W>, consumes> {
    static bool read(Input& in, Build& build) {
        Token token = build.peek(place(in));
        if (token.type == T) {
            build.leaf(K, token.begin, token.end);
            go_to(in, token.end);
            return true;
        }
        build.want(token.begin, {W});
        return false;
    }
};
struct text : literal<Token::Type::text, Node::text, Wanted::Class::text> {};
struct number : literal<Token::Type::number, Node::number, Wanted::Class::number> {};

/// A hand-written reader as a rule.
template<bool (*Reader)(Build&, std::uint32_t&)>
struct reader : sure<reader<Reader>, consumes> {
    static bool read(Input& in, Build& build) {
        std::uint32_t at = place(in);
        const Build::Mark mark = build.mark();
        if (!Reader(build, at)) {
            build.drop(mark);
            return false;
        }
        go_to(in, at);
        return true;
    }
};
struct expr : reader<expression> {};
struct compared : reader<comparison> {};
struct list_expr : reader<list> {};

struct call_expr : custom<call_expr, consumes> {
    static bool read(Input& in, Build& build) {
        Token name_token = build.peek(place(in));
        if (name_token.type != Token::Type::word || reserved(name_token.word)) return false;
        const Token& next = build.peek(name_token.end);
        if (next.type != Token::Type::symbol || next.symbol != '(') return false;
        std::uint32_t at = place(in);
        if (!call(build, at)) return false;
        go_to(in, at);
        return true;
    }
};

// --- combinators -----------------------------------------------------------------------------------------

/// A token rule whose text becomes a leaf.
template<Node K, class Rule>
struct leaf : custom<leaf<K, Rule>, pegtl::analyze_seq_traits<Rule>> {
    static bool read(Input& in, Build& build) {
        std::uint32_t begin = build.peek(place(in)).begin;
        if (!accept<Rule>(in, build)) return false;
        build.leaf(K, begin, place(in));
        return true;
    }
};
template<Word W>
struct word_leaf : leaf<Node::word, kw<W>> {};

/// The word that a rule begins with; `Word::none` where something else does.
template<class Rule>
inline constexpr Word first_word_of = Word::none;
template<Word W>
inline constexpr Word first_word_of<kw<W>> = W;

/// The nodes that the rules leave become children of one node.
template<Node K, class First, class... Rules>
struct node : custom<node<K, First, Rules...>, pegtl::analyze_seq_traits<First, Rules...>> {
    static constexpr Word head = first_word_of<First>;

    static bool read(Input& in, Build& build) {
        std::size_t from = build.stack.size();
        std::uint32_t begin = build.peek(place(in)).begin;
        if (!accept_all<First, Rules...>(in, build)) return false;
        build.close(K, from, begin, place(in));
        return true;
    }
};

template<class... Rules>
struct all_of : custom<all_of<Rules...>, pegtl::analyze_seq_traits<Rules...>> {
    static bool read(Input& in, Build& build) { return accept_all<Rules...>(in, build); }
};
template<class... Rules>
struct first_of : sure<first_of<Rules...>, pegtl::analyze_sor_traits<Rules...>> {
    static bool read(Input& in, Build& build) { return (accept<Rules>(in, build) || ...); }
};
/// One rule as it is, several as a sequence.
template<class... Rules>
struct sequence : all_of<Rules...> {};
template<class Rule>
struct sequence<Rule> : Rule {};
template<class... Rules>
struct maybe : sure<maybe<Rules...>, pegtl::analyze_opt_traits<Rules...>> {
    static bool read(Input& in, Build& build) {
        (void)accept<sequence<Rules...>>(in, build);
        return true;
    }
};
template<class... Rules>
struct many : sure<many<Rules...>, pegtl::analyze_opt_traits<Rules...>> {
    static bool read(Input& in, Build& build) {
        while (accept<sequence<Rules...>>(in, build)) {
        }
        return true;
    }
};
/// Rule, Rule, …
template<class Rule>
struct listed : all_of<Rule, many<sym<','>, Rule>> {};

/// Clauses in any order, each once. Each begins with a word of its own (`head`).
template<class... Clauses>
struct clauses : sure<clauses<Clauses...>, pegtl::analyze_opt_traits<Clauses...>> {
    static bool read(Input& in, Build& build) {
        std::size_t from = build.stack.size();
        for (;;) {
            Token token = build.peek(place(in));
            if (!(begins<Clauses>(in, build, token) || ...)) return true;
            SyntaxNode& added = build.last();
            for (std::size_t i = from; i + 1 < build.stack.size(); ++i) {
                const SyntaxNode& earlier = build.nodes[build.stack[i]];
                if (earlier.kind != added.kind) continue;
                Trouble& trouble = build.tell(Trouble::Kind::given_twice, added.begin, added.end);
                trouble.other_begin = earlier.begin;
                trouble.other_end = earlier.end;
                added.broken = true;
            }
        }
    }

private:
    /// A clause is tried only where its word stands.
    template<class Clause>
    static bool begins(Input& in, Build& build, const Token& token) {
        static_assert(Clause::head != Word::none);
        if (token.type == Token::Type::word && token.word == Clause::head) return accept<Clause>(in, build);
        build.want(token.begin, Clause::head);
        return false;
    }
};
template<class... Clauses>
struct some_clauses : custom<some_clauses<Clauses...>, pegtl::analyze_sor_traits<Clauses...>> {
    static bool read(Input& in, Build& build) {
        std::size_t before = build.stack.size();
        return accept<clauses<Clauses...>>(in, build) && build.stack.size() > before;
    }
};

} // namespace athanor::grammar

/// One specialisation for every rule of ours: it brings its own description.
template<class Name, class Rule>
requires requires {
    typename Rule::analysis_t;
}
struct tao::pegtl::analyze_traits<Name, Rule> : Rule::analysis_t {};
