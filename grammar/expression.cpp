#include "grammar/expression.hpp"

#include "compiler/quantity/unit.hpp"
#include "grammar/parse.hpp"

#include <algorithm>

namespace athanor::grammar {
namespace {

using Type = Token::Type;

bool joins(const Token& token) {
    if (token.type == Type::word) {
        switch (token.word) {
        case Word::and_:
        case Word::or_:
        case Word::not_:
        case Word::while_:
        case Word::before:
        case Word::from:
        case Word::until:
        case Word::for_: return true;
        default: return false;
        }
    }
    switch (token.symbol) {
    case ',':
    case '+':
    case '-':
    case '*':
    case '/':
    case '<':
    case '>':
    case '=':
    case ':':
    case less_equal:
    case greater_equal:
    case plus_minus: return true;
    default: return false;
    }
}

void want_value(Build& build, std::uint32_t at) {
    build.want(at, {Wanted::Class::value});
}

/// A chain of operators nests to the left; later stages follow it by recursion, so its length has an end.
bool chain_ends(Build& build, unsigned& length, const Token& token) {
    constexpr unsigned longest = 1000;
    if (++length <= longest) return false;
    build.tell(Trouble::Kind::too_deep, token.begin, token.end);
    return true;
}

/// Wraps the operands from stack place `from` on into a node of an operator.
void reduce(Build& build, Node kind, std::size_t from, std::uint32_t end) {
    std::uint32_t begin = build.nodes[build.stack[from]].begin;
    build.close(kind, from, begin, end);
}

bool symbol_ahead(Build& build, std::uint32_t at, char symbol) {
    const Token& token = build.peek(at);
    return token.type == Type::symbol && token.symbol == symbol;
}

bool argument(Build& build, std::uint32_t& at) {
    Token first = build.peek(at);
    std::size_t from = build.stack.size();
    if (first.type == Type::word && !reserved(first.word)) {
        std::uint32_t behind = first.end;
        const Token& sign = build.peek(behind);
        if (sign.type == Type::symbol && sign.symbol == '=' && build.text()[sign.end] != '=') {
            build.leaf(Node::name, first.begin, first.end);
            at = behind;
            take(build, at, Token(sign));
        }
    }
    if (!expression(build, at)) return false;
    build.close(Node::argument, from, first.begin, at);
    return true;
}

/// Items between brackets, a comma after the last one allowed. The opening bracket is the next token.
template<class Item>
bool bracketed(Build& build, std::uint32_t& at, char closing, Item item) {
    Token opening = build.peek(at);
    Nesting nesting(build, opening.begin, opening.end);
    if (!nesting.ok) return false;
    at = opening.end;
    ++build.brackets;
    bool ok = true;
    while (ok && !symbol_ahead(build, at, closing)) {
        ok = item(at);
        if (!ok) break;
        Token next = build.peek(at);
        if (next.type == Type::symbol && next.symbol == ',') {
            take(build, at, next);
        } else if (!(next.type == Type::symbol && next.symbol == closing)) {
            build.want(next.begin, {Wanted::Class::symbol, ','});
            build.want(next.begin, {Wanted::Class::symbol, static_cast<std::uint8_t>(closing)});
            ok = false;
        }
    }
    if (ok) at = build.peek(at).end;
    --build.brackets;
    return ok;
}

bool parenthesis(Build& build, std::uint32_t& at) {
    Token opening = build.peek(at);
    Nesting nesting(build, opening.begin, opening.end);
    if (!nesting.ok) return false;
    std::size_t from = build.stack.size();
    at = opening.end;
    ++build.brackets;
    bool ok = expression(build, at);
    if (ok && !symbol_ahead(build, at, ')')) {
        build.want(build.peek(at).begin, {Wanted::Class::symbol, ')'});
        ok = false;
    }
    if (ok) at = build.peek(at).end;
    --build.brackets;
    if (ok) build.close(Node::paren, from, opening.begin, at);
    return ok;
}

} // namespace

bool operand(Build& build, std::uint32_t& at) {
    Token token = build.peek(at);
    switch (token.type) {
    case Type::number: return quantity(build, at, NumberPlace::value);
    case Type::text:
        build.leaf(Node::text, token.begin, token.end);
        at = token.end;
        return true;
    case Type::word: {
        if (token.word == Word::yes || token.word == Word::no) {
            build.leaf(token.word == Word::yes ? Node::yes : Node::no, token.begin, token.end);
            at = token.end;
            return true;
        }
        if (reserved(token.word)) break;
        Token next = build.peek(token.end);
        if (next.type == Type::symbol && next.symbol == '(') return call(build, at);
        std::size_t from = build.stack.size();
        build.name_leaf(token);
        at = token.end;
        if (next.type != Type::word || next.word != Word::of) return true;
        at = next.end;
        Token object = build.peek(at);
        if (object.type != Type::word || reserved(object.word)) {
            build.want(object.begin, {Wanted::Class::name});
            return false;
        }
        build.name_leaf(object);
        at = object.end;
        build.close(Node::of, from, token.begin, at);
        return true;
    }
    case Type::symbol:
        if (token.symbol == '(') return parenthesis(build, at);
        if (token.symbol == '[') return list(build, at);
        if (token.symbol == '?') {
            build.leaf(Node::hole, token.begin, token.end);
            at = token.end;
            return true;
        }
        if (token.symbol == '+' || token.symbol == '-') {
            if (number_ahead(build, at)) return quantity(build, at, NumberPlace::value);
            if (token.symbol == '+') break;
            Nesting nesting(build, token.begin, token.end);
            if (!nesting.ok) return false;
            std::size_t from = build.stack.size();
            take(build, at, token);
            if (!operand(build, at)) return false;
            build.close(Node::negate, from, token.begin, at);
            return true;
        }
        break;
    default: break;
    }
    want_value(build, token.begin);
    return false;
}

namespace {

/// The operators of arithmetic from the loosest to the tightest.
enum class Binds : std::uint8_t { none, sum, product, tolerance };

struct Operator {
    Binds binds = Binds::none;
    Node kind = Node::none;
};

Operator operator_of(const Token& token) {
    if (token.type != Type::symbol) return {};
    switch (token.symbol) {
    case '+': return {Binds::sum, Node::add};
    case '-': return {Binds::sum, Node::subtract};
    case '*': return {Binds::product, Node::multiply};
    case '/': return {Binds::product, Node::divide};
    case plus_minus: return {Binds::tolerance, Node::plus_minus};
    default: return {};
    }
}

bool operations(Build& build, std::uint32_t& at, std::size_t from, Binds outside);

/// Operands joined by operators that bind tighter than `outside`.
bool arithmetic(Build& build, std::uint32_t& at, Binds outside) {
    const std::size_t from = build.stack.size();
    return operand(build, at) && operations(build, at, from, outside);
}

/// The same behind the first operand, which stands at stack place `from`.
bool operations(Build& build, std::uint32_t& at, std::size_t from, Binds outside) {
    unsigned length = 0;
    Binds chain = Binds::none;
    for (;;) {
        const Token& sign = build.peek(at);
        const Operator next = operator_of(sign);
        if (next.binds <= outside) return true;
        if (next.binds != chain) length = 0;
        chain = next.binds;
        if (chain_ends(build, length, sign)) return false;
        take(build, at, sign);
        if (!arithmetic(build, at, next.binds)) return false;
        reduce(build, next.kind, from, at);
    }
}

bool sum(Build& build, std::uint32_t& at) {
    return arithmetic(build, at, Binds::none);
}

Node comparison_of(const Token& token) {
    if (token.type == Type::word) return token.word == Word::is ? Node::is : Node::none;
    if (token.type != Type::symbol) return Node::none;
    switch (token.symbol) {
    case '<': return Node::less;
    case '>': return Node::greater;
    case less_equal: return Node::less_equal;
    case greater_equal: return Node::greater_equal;
    default: return Node::none;
    }
}

/// The right side of `is`: `open`, `closed`, or any value.
bool state(Build& build, std::uint32_t& at) {
    Token token = build.peek(at);
    if (token.type == Type::word && (token.word == Word::open || token.word == Word::shut)) {
        build.leaf(Node::name, token.begin, token.end);
        at = token.end;
        return true;
    }
    return sum(build, at);
}

bool negated(const Token& token) {
    return token.type == Type::word && token.word == Word::not_;
}

bool negation(Build& build, std::uint32_t& at) {
    const Token token = build.peek(at);
    if (!negated(token)) return comparison(build, at);
    Nesting nesting(build, token.begin, token.end);
    if (!nesting.ok) return false;
    std::size_t from = build.stack.size();
    take(build, at, token);
    if (!negation(build, at)) return false;
    build.close(Node::not_, from, token.begin, at);
    return true;
}

} // namespace

Nesting::Nesting(Build& build, std::uint32_t begin, std::uint32_t end)
    : ok(build.depth < max_nesting), build_(build) {
    ++build_.depth;
    if (!ok) build_.tell(Trouble::Kind::too_deep, begin, end);
}
Nesting::~Nesting() {
    --build_.depth;
}

void take(Build& build, std::uint32_t& at, const Token& token) {
    at = token.end;
    if (joins(token)) build.joined_at = at;
}

bool number_ahead(Build& build, std::uint32_t at) {
    const Token& token = build.peek(at);
    if (token.type == Type::number) return true;
    if (token.type != Type::symbol || (token.symbol != '+' && token.symbol != '-')) return false;
    return token.end < build.text().size() && digit(build.text()[token.end]);
}

bool list(Build& build, std::uint32_t& at) {
    Token opening = build.peek(at);
    if (opening.type != Type::symbol || opening.symbol != '[') {
        build.want(opening.begin, {Wanted::Class::symbol, '['});
        return false;
    }
    std::size_t from = build.stack.size();
    if (!bracketed(build, at, ']', [&](std::uint32_t& place) { return expression(build, place); }))
        return false;
    build.close(Node::list, from, opening.begin, at);
    return true;
}

bool call(Build& build, std::uint32_t& at) {
    Token name = build.peek(at);
    std::size_t from = build.stack.size();
    build.name_leaf(name);
    at = name.end;
    if (!bracketed(build, at, ')', [&](std::uint32_t& place) { return argument(build, place); })) return false;
    build.close(Node::call, from, name.begin, at);
    return true;
}

namespace {

/// Comparisons behind the first sum, which stands at stack place `from`.
bool comparisons(Build& build, std::uint32_t& at, std::size_t from) {
    bool compared = false;
    unsigned length = 0;
    for (;;) {
        Token sign = build.peek(at);
        Node kind = comparison_of(sign);
        if (kind == Node::none) {
            bool equals = sign.type == Type::symbol && sign.symbol == '=' && sign.end < build.text().size() &&
                          build.text()[sign.end] == '=';
            if (equals) build.tell(Trouble::Kind::equals_in_value, sign.begin, sign.end + 1);
            return !equals;
        }
        if (chain_ends(build, length, sign)) return false;
        std::uint32_t middle = compared ? build.nodes[build.nodes[build.stack[from]].first].next : no_node;
        take(build, at, sign);
        if (!(kind == Node::is ? state(build, at) : sum(build, at))) return false;
        if (compared) {
            const SyntaxNode left = build.nodes[build.stack[from]];
            Trouble& trouble = build.tell(Trouble::Kind::chained, left.begin, at);
            trouble.parts = {left.begin, left.end, build.nodes[middle].begin, at, 0, 0};
        }
        reduce(build, kind, from, at);
        if (compared) build.last().broken = true;
        compared = true;
    }
}

/// Does a value surely end before this token? Nearly all do at once.
bool ends_value(const Token& token) {
    if (token.type == Type::word)
        return token.word != Word::is && token.word != Word::and_ && token.word != Word::or_;
    return token.type == Type::end_of_line;
}

/// `and` and `or` side by side: told with all operands, so that both readings can be shown whole.
void tell_mixed(Build& build, const Token& word) {
    Trouble& trouble = build.tell(Trouble::Kind::mixed_logic, word.begin, word.end);
    trouble.operands.clear();
    const auto* node = &build.last();
    for (; node->kind == Node::and_ || node->kind == Node::or_; node = &build.nodes[node->first]) {
        const SyntaxNode& right = build.nodes[build.nodes[node->first].next];
        trouble.operands.push_back({right.begin, right.end, node->kind});
    }
    trouble.operands.push_back({node->begin, node->end, Node::none});
    std::reverse(trouble.operands.begin(), trouble.operands.end());
}

} // namespace

bool comparison(Build& build, std::uint32_t& at) {
    const std::size_t from = build.stack.size();
    return sum(build, at) && comparisons(build, at, from);
}

bool expression(Build& build, std::uint32_t& at) {
    std::size_t from = build.stack.size();
    const Token* behind = plain_quantity(build, at); // as most values are
    if (behind == nullptr && negated(build.peek(at))) {
        if (!negation(build, at)) return false;
    } else {
        if (behind == nullptr) {
            if (!operand(build, at)) return false;
            behind = &build.peek(at);
        }
        if (ends_value(*behind)) return true;
        if (!operations(build, at, from, Binds::none) || !comparisons(build, at, from)) return false;
    }
    Word first = Word::none;
    Token mixed; // the word at which they mix
    unsigned length = 0;
    for (;;) {
        Token word = build.peek(at);
        if (word.type != Type::word || (word.word != Word::and_ && word.word != Word::or_)) break;
        if (chain_ends(build, length, word)) return false;
        take(build, at, word);
        if (!negation(build, at)) return false;
        if (first == Word::none) first = word.word;
        if (word.word != first && mixed.word == Word::none) mixed = word;
        reduce(build, word.word == Word::and_ ? Node::and_ : Node::or_, from, at);
        if (mixed.word != Word::none) build.last().broken = true;
    }
    if (mixed.word != Word::none) tell_mixed(build, mixed);
    return true;
}

// --- numbers and units -------------------------------------------------------------------------------

namespace {

bool unit_byte(char c) {
    return word_byte(c) || beyond_ascii(c) || c == '%';
}

/// The end of what an author can have meant as one unit: letters, and `/` or `*` glued between them.
std::uint32_t meant_unit_end(std::string_view text, std::uint32_t at) {
    auto here = [&](std::uint32_t i) { return i < text.size() ? text[i] : '\0'; };
    while (unit_byte(here(at)) ||
           ((here(at) == '/' || here(at) == '*' || here(at) == '^') && unit_byte(here(at + 1))))
        ++at;
    return at;
}

bool meant_as_unit(std::string_view word, Word meaning, bool glued, NumberPlace place) {
    if (glued) return true;
    if (meaning != Word::none && (reserved(meaning) || place != NumberPlace::value)) return false;
    switch (meaning) {
    case Word::volumes:
    case Word::closes:
    case Word::opens:
    case Word::accepts: return false;
    default: break;
    }
    // What people write behind a value and is no unit is told by the rule that stops there.
    if (word == "then" || word == "per") return false;
    // A count is followed by `times`; its misspelling is told by the rule that wants it.
    if (edit_distance(word, text_of(Word::times)) <= 1) return false;
    if (place == NumberPlace::value) return true;
    for (char c : word)
        if (c == '/' || c == '*' || c == '^' || beyond_ascii(c) || (c >= 'A' && c <= 'Z')) return true;
    for (std::string_view slip :
         {"lpm", "hr", "hrs", "hour", "hours", "sec", "secs", "mins", "minutes", "minute", "cc", "degc"})
        if (word == slip) return true;
    return false;
}

std::uint32_t length_of(const Unit& unit) {
    return static_cast<std::uint32_t>(unit.spelling.size());
}

/// Is a unit of the table that ends at `at` all that the author meant as one?
bool ends_unit(std::string_view text, std::uint32_t at) {
    if (at + 1 >= text.size()) return true;
    const char next = text[at], after = text[at + 1];
    if (next == '/' || next == '*' || next == '^') return !letter(after) && !beyond_ascii(after);
    return !beyond_ascii(next) || text.substr(at, 2) == "\xC2\xB1";
}

/// `l / min`, `deg. C/min`, `mbar l/s`: where a unit that ends at `end` goes on behind a blank; `end` where it
/// does not. No name is a unit, so that no division by a name is taken for one.
std::uint32_t spaced_unit_end(std::string_view text, std::uint32_t begin, std::uint32_t end) {
    const std::string_view read = text.substr(begin, end - begin);
    std::uint32_t next = end;
    if (degree_word(read)) {
        if (next < text.size() && text[next] == '.') ++next;
        next = past_blanks(text, next);
        if (next == end || next >= text.size() || !letter(text[next])) return end;
        const std::uint32_t stop = meant_unit_end(text, next);
        if (!surely_unit(one_unit(text.substr(begin, stop - begin)))) return end;
        return spaced_unit_end(text, begin, stop);
    }
    next = past_blanks(text, end);
    if (next >= text.size()) return end;
    if (text[next] == '/') {
        const std::uint32_t word = past_blanks(text, next + 1),
                            stop = word < text.size() ? meant_unit_end(text, word) : word;
        if ((next == end && word == next + 1) || unit_named(text.substr(word, stop - word)) == nullptr)
            return end;
        if (stop < text.size() && text[stop] == '(') return end;
        return surely_unit(one_unit(text.substr(begin, stop - begin))) ? stop : end;
    }
    const bool litres = next != end && (text[next] == 'l' || text[next] == 'L') && next + 1 < text.size() &&
                        text[next + 1] == '/';
    if (!litres) return end;
    const std::uint32_t stop = meant_unit_end(text, next);
    return surely_unit(one_unit(text.substr(begin, stop - begin))) ? stop : end;
}

/// What stands at [begin, end) behind the number at [number, at) is no unit.
void tell_unit(Build& build, std::uint32_t number, std::uint32_t& at, std::uint32_t begin, std::uint32_t end) {
    build.leaf(Node::unit, begin, end);
    build.last().broken = true;
    Trouble& trouble = build.tell(Trouble::Kind::unknown_unit, begin, end);
    trouble.other_begin = number;
    trouble.other_end = at;
    at = end;
}

/// Reads the unit of the number that ends at `at`. Returns its table row, or nullptr when none was read.
const Unit* unit(Build& build, std::uint32_t number, std::uint32_t& at, NumberPlace place) {
    std::string_view text = build.text();
    std::uint32_t begin = past_blanks(text, at);
    if (begin >= text.size()) return nullptr;
    char c = text[begin];
    if (!unit_byte(c) && c != '/') return nullptr;
    const Unit* found = unit_at(text.substr(begin));
    if (found && found->spelling == "in") return nullptr; // the reserved word, not an inch
    if (found && !ends_unit(text, begin + length_of(*found))) found = nullptr;
    // No other unit begins with a reserved word: the word that stands here matters only where none was found.
    Word word = Word::none;
    if ((!found || build.plain_volumes) && letter(c)) word = build.peek(at).word;
    if (reserved(word) || (word == Word::volumes && build.plain_volumes)) return nullptr;
    if (found) {
        const std::uint32_t end = begin + length_of(*found), spaced = spaced_unit_end(text, begin, end);
        if (spaced == end) {
            at = end;
            build.unit_leaf(*found, begin, at);
            return found;
        }
        tell_unit(build, number, at, begin, spaced);
        return nullptr;
    }
    if (digit(c) || c == '/' || text.substr(begin, 2) == "\xC2\xB1") return nullptr;
    if (beyond_ascii(c) && suggest_unit(text.substr(begin, meant_unit_end(text, begin) - begin)).empty())
        return nullptr;
    std::uint32_t end = meant_unit_end(text, begin);
    if (!meant_as_unit(text.substr(begin, end - begin), word, begin == at, place)) return nullptr;
    if (end < text.size() && text[end] == '(' && begin != at) return nullptr; // a call, not a unit
    tell_unit(build, number, at, begin, spaced_unit_end(text, begin, end));
    return nullptr;
}

/// "1,5" and "1:30" are numbers of other habits. Only where a comma or a colon cannot follow a number.
bool foreign_number(Build& build, std::uint32_t begin, std::uint32_t& end) {
    std::string_view text = build.text();
    if (end + 1 >= text.size() || !digit(text[end + 1])) return false;
    if (text[end] == ',' && build.brackets != 0) return false;
    if (text[end] != ',' && text[end] != ':') return false;
    Trouble::Kind kind = text[end] == ',' ? Trouble::Kind::comma_decimal : Trouble::Kind::clock_time;
    end = number_end(text, end + 1);
    if (kind == Trouble::Kind::clock_time && end + 1 < text.size() && text[end] == ':' && digit(text[end + 1]))
        end = number_end(text, end + 1);
    build.tell(kind, begin, end);
    return true;
}

} // namespace

const Token* plain_quantity(Build& build, std::uint32_t& at) {
    const Token& token = build.peek(at);
    if (token.type != Token::Type::number || build.plain_volumes) return nullptr;
    const Token number = token;
    const std::string_view text = build.text();
    const std::uint32_t begin = past_blanks(text, number.end);
    const Unit* unit = whole_unit_at(text.substr(begin));
    if (unit == nullptr || unit->spelling == "in") return nullptr;
    const std::uint32_t end = begin + length_of(*unit);
    const Token& next = build.peek(end);
    if (next.word == Word::gauge) return nullptr;
    // "l / min", "mbar l/s", "1 h 30 min"
    const char c = next.begin < text.size() ? text[next.begin] : '\n';
    if (c == '/' || c == 'l' || c == 'L' || (unit->kind == Kind::time && digit(c))) return nullptr;
    build.plain_quantity(number.begin, number.end, begin, end, *unit);
    at = end;
    return &next;
}

bool any_quantity(Build& build, std::uint32_t& at, NumberPlace place) {
    std::string_view text = build.text();
    std::size_t from = build.stack.size();
    const Token& token = build.peek(at);
    const std::uint32_t begin = token.begin;
    std::uint32_t end = token.type == Token::Type::symbol ? number_end(text, token.end) : token.end;
    bool foreign = foreign_number(build, begin, end);
    build.leaf(Node::number, begin, end);
    build.last().broken = foreign;
    at = end;
    std::size_t bare = build.stack.size();
    const Unit* found = unit(build, begin, at, place);
    if (!found && build.stack.size() == bare) {
        const Token& word = build.peek(at);
        if (place != NumberPlace::value || build.plain_volumes || word.type != Token::Type::word ||
            word.word != Word::volumes) {
            if (foreign) { // one message is enough: no second one about the unit that is missing
                build.close(Node::quantity, from, begin, at);
                build.last().broken = true;
            }
            return true;
        }
        build.leaf(Node::unit, word.begin, word.end);
        at = word.end;
    }
    bool broken = foreign || build.last().broken;
    // "1 h 30 min": each unit below the one before, each value below one of the larger unit.
    while (found && found->kind == Kind::time) {
        std::uint32_t next = past_blanks(text, at);
        if (next >= text.size() || !digit(text[next])) break;
        std::uint32_t number = number_end(text, next), unit_begin = past_blanks(text, number);
        const Unit* smaller = unit_begin < text.size() ? unit_at(text.substr(unit_begin)) : nullptr;
        double value = 0;
        if (!smaller || smaller->kind != Kind::time || !parse_number(text.substr(next, number - next), value))
            break;
        const std::uint32_t unit_end = unit_begin + length_of(*smaller);
        if (smaller->factor >= found->factor || value * smaller->factor >= found->factor) {
            build.tell(Trouble::Kind::compound_order, next, unit_end).other_begin = begin;
            broken = true;
        }
        build.leaf(Node::number, next, number);
        build.unit_leaf(*smaller, unit_begin, unit_end);
        at = unit_end;
        found = smaller;
    }
    const Token& behind = build.peek(at);
    if (behind.word == Word::gauge && !behind.later_line) {
        build.leaf(Node::gauge, behind.begin, behind.end);
        at = behind.end;
    }
    build.close(Node::quantity, from, begin, at);
    build.last().broken = broken;
    return true;
}

} // namespace athanor::grammar
