// The elements of a property, read by hand: one look at the token decides.
#include "grammar/expression.hpp"

namespace athanor::grammar {
namespace {

bool special_word(Word word) {
    switch (word) {
    case Word::to:
    case Word::by:
    case Word::at:
    case Word::in:
    case Word::of:
    case Word::from:
    case Word::below:
    case Word::above:
    case Word::while_:
    case Word::is:
    case Word::and_:
    case Word::open:
    case Word::stop:
    case Word::yes:
    case Word::no:
    case Word::hand:
    case Word::controlled: return true;
    default: return false;
    }
}

} // namespace

bool element(Build& build, std::uint32_t& at) {
    Token token = build.peek(at);
    switch (token.type) {
    case Token::Type::text:
        build.leaf(Node::text, token.begin, token.end);
        at = token.end;
        return true;
    case Token::Type::word:
        // `source "…"` ends the property.
        if (token.word == Word::source) {
            Token::Type next = build.peek(token.end).type;
            if (next == Token::Type::text || next == Token::Type::unclosed_text) return false;
        }
        build.leaf(special_word(token.word) ? Node::word : Node::name, token.begin, token.end);
        if (const std::string_view word = build.text(token.begin, token.end);
            has_capital(word) && !gas_of_formula(word).empty())
            build.tell(Trouble::Kind::capital, token.begin, token.end);
        take(build, at, token);
        return true;
    case Token::Type::symbol:
        if (token.symbol == '?') {
            build.leaf(Node::hole, token.begin, token.end);
            at = token.end;
            return true;
        }
        if (token.symbol == ',' || token.symbol == plus_minus) {
            build.leaf(Node::word, token.begin, token.end);
            take(build, at, token);
            return true;
        }
        if (!number_ahead(build, at)) return false;
        break;
    case Token::Type::number: break;
    default: return false;
    }
    Node before = build.stack.empty() ? Node::none : build.last().kind;
    bool touching = (before == Node::quantity || before == Node::number) && build.last().end <= token.begin &&
                    past_blanks(build.text(), build.last().end) == token.begin;
    std::uint32_t left_begin = touching ? build.last().begin : 0, left_end = touching ? build.last().end : 0;
    if (!quantity(build, at, NumberPlace::element)) return false;
    if (touching) {
        build.last().broken = true;
        Trouble& trouble = build.tell(Trouble::Kind::two_quantities, build.last().begin, build.last().end);
        trouble.other_begin = left_begin;
        trouble.other_end = left_end;
    }
    return true;
}

} // namespace athanor::grammar
