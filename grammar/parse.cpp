// Reads a file. No other source of the compiler takes in the rules of the grammar, and with them the parser
// library: they are templates, and are compiled here once.
#include "grammar/parse.hpp"

#include "compiler/quantity/unit.hpp"
#include "grammar/explain.hpp"
#include "grammar/file.hpp"

#include <algorithm>

namespace athanor::grammar {
namespace {

/// The word that was meant by `text` among those a predicate takes, when one and only one is near enough.
template<class Predicate>
Word meant_by(std::string_view written, Predicate begins) {
    std::string text(written);
    for (char& c : text)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    Word best = Word::none;
    unsigned distance = text.size() < 4 ? 1 : 2;
    bool unique = true;
    for (unsigned i = 1; i <= word_count(); ++i) {
        auto word = static_cast<Word>(i);
        if (!begins(word) || text_of(word).size() < 3) continue;
        unsigned here = edit_distance(text, text_of(word));
        if (here > distance || here >= text_of(word).size() - 1) continue;
        unique = here < distance || best == Word::none;
        distance = here;
        best = word;
    }
    return unique ? best : Word::none;
}

/// Reads past a parameter that failed: to its comma or the closing parenthesis, or to what ends the head.
std::uint32_t end_of_parameter(const Build& build, std::uint32_t at) {
    std::string_view text = build.text();
    int open = 0;
    while (at < text.size()) {
        char c = text[at];
        if (c == '"') {
            for (++at; at < text.size() && text[at] != '"' && text[at] != '\n';) ++at;
            if (at < text.size()) ++at;
            continue;
        }
        if (c == '#') {
            while (at < text.size() && text[at] != '\n') ++at;
            continue;
        }
        if (c == '{' || c == '}' || c == ';') return at;
        if (open == 0 && (c == ',' || c == ')')) return at;
        if (c == '(' || c == '[') ++open;
        if (c == ')' || c == ']') --open;
        ++at;
    }
    return at;
}

bool wants_block(const Trouble& trouble) {
    return std::any_of(trouble.wanted.begin(), trouble.wanted.end(),
                       [](const Wanted& wanted) { return wanted.kind == Wanted::Class::block; });
}

/// Turns the statement read last into an `error` and tells it once.
void misplace(Build& build, const Token& first, bool tell) {
    SyntaxNode& last = build.last();
    last.kind = Node::error;
    last.broken = true;
    if (!tell) return;
    Trouble& trouble = build.tell(Trouble::Kind::misplaced, first.begin, first.end);
    trouble.word = first.word;
    build.statement.told = 0;
}

} // namespace

bool closes::read(Input& in, Build& build) {
    Node kind = Node::none;
    for (;;) {
        Token token = build.peek(place(in));
        bool clause =
            token.type == Token::Type::word && (token.word == Word::closes || token.word == Word::opens);
        if (clause) {
            kind = token.word == Word::closes ? Node::closes : Node::opens;
            go_to(in, token.end);
        } else if (kind == Node::none) {
            build.want(token.begin, Word::closes);
            build.want(token.begin, Word::opens);
            return false;
        }
        std::size_t from = build.stack.size();
        if (!accept<name>(in, build)) return false;
        build.close(kind, from, build.last().begin, place(in));
        const Token& comma = build.peek(place(in));
        if (comma.type != Token::Type::symbol || comma.symbol != ',') return true;
        take(in, build, Token(comma));
    }
}

bool share::read(Input& in, Build& build) {
    Token token = build.peek(place(in));
    std::uint32_t at = place(in);
    bool symbol = token.type == Token::Type::symbol;
    if (number_ahead(build, at)) {
        if (!quantity(build, at, NumberPlace::part)) return false;
        go_to(in, at);
        return true;
    }
    if (symbol && (token.symbol == '(' || token.symbol == '?')) return accept<reader<operand>>(in, build);
    if (token.type == Token::Type::word && !reserved(token.word) &&
        build.peek(token.end).type == Token::Type::word)
        return accept<name>(in, build);
    build.want(token.begin, {Wanted::Class::part});
    return false;
}

bool else_branch::read(Input& in, Build& build) {
    if (!accept<kw_far<Word::else_>>(in, build)) return false;
    Token next = build.peek(place(in));
    if (next.type != Token::Type::word || next.word != Word::if_) return accept<step_block>(in, build);
    Nesting nesting(build, next.begin, next.end);
    return nesting.ok && accept<if_else>(in, build);
}

bool placed::read(Input& in, Build& build) {
    Token token = build.peek(place(in));
    if (accept<action>(in, build)) return true;
    bool calls =
        token.type == Token::Type::word && !reserved(token.word) && build.peek(token.end).symbol == '(';
    if (calls && accept<call_expr>(in, build)) return true;
    build.want(token.begin, {Wanted::Class::action});
    return false;
}

bool step_line::read(Input& in, Build& build) {
    Token token = build.peek(place(in));
    if (token.type != Token::Type::word) return accept<bad_line<step_block>>(in, build);
    if (begins_step(token.word) || token.word == Word::at || token.word == Word::after ||
        token.word == Word::defaults)
        if (statements::read(in, build, token.word) || action::read(in, build, token.word)) return true;
    if (begins_declaration(token.word)) {
        (void)accept<declarations>(in, build);
        misplace(build, token, true);
        return true;
    }
    if (reserved(token.word)) return accept<bad_line<step_block>>(in, build);
    Token next = build.peek(token.end);
    if (token.word == Word::load && (next.symbol == '{' || next.type == Token::Type::end_of_line))
        return accept<load>(in, build);
    if (next.type == Token::Type::symbol && next.symbol == '(') return accept<call_step>(in, build);
    bool sign = next.type == Token::Type::symbol && (next.symbol == '=' || next.symbol == ':');
    const std::string_view written = build.text(token.begin, token.end);
    build.meant = sign || everyday_verb(written) ? Word::none : meant_by(written, begins_step);
    if (build.meant != Word::none &&
        (statements::read(in, build, build.meant) || action::read(in, build, build.meant)))
        return true;
    build.meant = Word::none;
    return accept<bad_line<step_block>>(in, build);
}

namespace {

bool begins_parameter(Build& build, std::uint32_t at) {
    const Token name = build.peek(at);
    return name.type == Token::Type::word && !reserved(name.word) && build.peek(name.end).symbol == ':';
}

} // namespace

bool parameter::read(Input& in, Build& build) {
    Token first = build.peek(place(in));
    std::size_t from = build.stack.size();
    Build::Statement outer = build.enter(Node::parameter, Word::none, first.begin);
    unsigned brackets = build.brackets;
    bool whole = parameter_body::read(in, build);
    if (!whole) {
        build.brackets = brackets;
        const std::size_t told = build.troubles.size();
        build.tell_stop();
        // Behind a comma that is missing the next parameter keeps its name, too.
        const std::uint32_t stop = build.troubles.size() == told ? first.begin : build.troubles.back().begin;
        go_to(in, stop > first.begin && begins_parameter(build, stop)
                      ? stop
                      : std::max(place(in), end_of_parameter(build, first.begin)));
    }
    std::uint32_t end = place(in);
    while (end > first.begin && (build.text()[end - 1] == ' ' || build.text()[end - 1] == '\n')) --end;
    build.close(Node::parameter, from, first.begin, end);
    build.last().broken = !whole;
    build.leave(outer, place(in));
    return true;
}

bool parameters::read(Input& in, Build& build) {
    Token opening = build.peek(place(in));
    std::size_t from = build.stack.size();
    go_to(in, opening.end);
    ++build.brackets;
    bool closed = false;
    for (;;) {
        Token token = build.peek(place(in));
        bool symbol = token.type == Token::Type::symbol;
        if (symbol && token.symbol == ')') {
            go_to(in, token.end);
            closed = true;
            break;
        }
        if (symbol && token.symbol == ',') {
            take(in, build, token);
            continue;
        }
        if (token.type == Token::Type::end_of_file ||
            (symbol && (token.symbol == '{' || token.symbol == '}' || token.symbol == ';')))
            break;
        (void)accept<parameter>(in, build);
    }
    --build.brackets;
    if (!closed) {
        // A parameter that ran into the block has told it.
        if (!build.stack.empty() && build.last().kind == Node::parameter && build.last().broken)
            ++build.statement.told;
        build.want(build.peek(place(in)).begin, {Wanted::Class::symbol, ')'});
        return false;
    }
    build.close(Node::parameters, from, opening.begin, place(in));
    return true;
}

bool gas::read(Input& in, Build& build) {
    Token name_token = build.peek(build.peek(place(in)).end);
    Token sign = build.peek(name_token.end);
    bool mixture = sign.type == Token::Type::symbol && (sign.symbol == '=' || sign.symbol == ':');
    return mixture ? accept<gas_mix>(in, build) : accept<gas_block>(in, build);
}

bool column_unit::read(Input& in, Build& build) {
    std::uint32_t begin = past_blanks(build.text(), place(in));
    const Unit* unit = unit_at(build.text().substr(begin, 48));
    if (!unit) {
        build.want(begin, {Wanted::Class::unit});
        return false;
    }
    auto end = begin + static_cast<std::uint32_t>(unit->spelling.size());
    build.unit_leaf(*unit, begin, end);
    go_to(in, end);
    return true;
}

bool number_or_quantity::read(Input& in, Build& build) {
    std::uint32_t at = place(in);
    if (!number_ahead(build, at)) {
        build.want(build.peek(at).begin, {Wanted::Class::number});
        return false;
    }
    (void)quantity(build, at, NumberPlace::element);
    go_to(in, at);
    return true;
}

bool file_line::read(Input& in, Build& build) {
    Token token = build.peek(place(in));
    if (token.type == Token::Type::symbol && token.symbol == '}') {
        if (!build.misplaced_before) build.tell(Trouble::Kind::stray_brace, token.begin, token.end);
        build.statement.told = 0;
        build.misplaced_now = true;
        build.leaf(Node::error, token.begin, token.end);
        go_to(in, token.end);
        return true;
    }
    if (token.type != Token::Type::word) return accept<bad_line<step_block>>(in, build);
    const std::size_t told_before = build.troubles.size();
    if (accept<declarations>(in, build)) {
        // The steps behind a head without its `{` stand outside for that reason.
        const bool headless = build.troubles.size() > told_before && wants_block(build.troubles.back());
        build.misplaced_now = headless && (token.word == Word::recipe || token.word == Word::operation);
        return true;
    }
    bool calls = build.peek(token.end).symbol == '(';
    if (reserved(token.word) || calls) {
        if (begins_step(token.word) || calls) {
            std::size_t told = build.troubles.size();
            (void)accept<step_line>(in, build);
            misplace(build, token, !build.misplaced_before && build.troubles.size() == told);
            build.misplaced_now = true;
            return true;
        }
        return accept<bad_line<step_block>>(in, build);
    }
    build.meant = meant_by(build.text(token.begin, token.end), begins_declaration);
    if (build.meant != Word::none && declarations::read(in, build, build.meant)) return true;
    build.meant = Word::none;
    return accept<bad_line<step_block>>(in, build);
}

bool file::read(Input& in, Build& build) {
    for (;;) {
        Token next = build.peek_far(place(in));
        go_to(in, next.begin);
        if (next.type == Token::Type::end_of_file) return true;
        if (next.type == Token::Type::symbol && next.symbol == ';') {
            go_to(in, next.end);
            continue;
        }
        build.braces_told = false;
        build.misplaced_before = build.misplaced_now;
        build.misplaced_now = false;
        std::uint32_t from = place(in);
        (void)accept<file_line>(in, build);
        if (place(in) == from) return true; // cannot happen: every line consumes
    }
}

} // namespace athanor::grammar

namespace athanor {
namespace {

/// What the declarations just read say about the language's version. False: it is another one, and told.
bool known_version(grammar::Build& build) {
    using grammar::Trouble;
    const SyntaxNode* first = nullptr;
    for (NodeId id : build.stack) {
        const SyntaxNode& node = build.nodes[id];
        if (node.kind != Node::language || node.broken || node.first == no_node) continue;
        const SyntaxNode& number = build.nodes[node.first];
        if (first != nullptr) {
            build.statement = {};
            Trouble& twice = build.tell(Trouble::Kind::language_twice, node.begin, node.end);
            twice.other_begin = first->begin;
            twice.other_end = first->end;
            continue;
        }
        first = &node;
        if (build.text(number.begin, number.end) == std::to_string(language_version)) continue;
        build.troubles.clear(); // they were judged by the wrong grammar
        build.statement = {};
        build.tell(Trouble::Kind::other_language, number.begin, number.end);
        return false;
    }
    return true;
}

/// Reads the whole text: what is wrong in it is in `build.troubles`.
void read(grammar::Build& build) {
    using namespace grammar;
    const std::string_view text = build.text();
    auto size = static_cast<std::uint32_t>(std::min<std::size_t>(text.size(), 0xFFFFFFFFU));
    const auto refuse = [&](Trouble::Kind kind, std::uint32_t begin, std::uint32_t end) {
        build.tell(kind, begin, end);
        build.leaf(Node::error, 0, size);
        build.last().broken = true;
    };
    if (text.size() > max_file_bytes) return refuse(Trouble::Kind::file_too_large, 0, 0);
    if (const Unfit unfit = unfit_in(text); unfit.at != nowhere) {
        const auto kind = unfit.kind == Unfit::Kind::bad_byte           ? Trouble::Kind::bad_byte
                          : unfit.kind == Unfit::Kind::foreign_line_end ? Trouble::Kind::foreign_line_end
                                                                        : Trouble::Kind::invisible;
        return refuse(kind, unfit.at, unfit.at + character_length(text, unfit.at));
    }
    build.nodes.reserve(text.size() / 4 + 64);
    build.comments = comments_of(text);
    Input in(text.data(), text.data() + text.size(), "");
    if (text.substr(0, 3) == "\xEF\xBB\xBF") in.bump(3); // a byte order mark is accepted
    const Build::Mark before = build.mark();
    (void)accept<grammar::file>(in, build);
    if (known_version(build)) return;
    build.drop(before);
    build.leaf(Node::error, 0, size);
    build.last().broken = true;
}

} // namespace

std::vector<grammar::Trouble> grammar::troubles_in(std::string_view text) {
    Build build(text);
    read(build);
    return std::move(build.troubles);
}

Tree parse(FileId file, const Files& files, Diagnostics& out) {
    using namespace grammar;
    const std::string_view text = files[file].text();
    Build build(text);
    read(build);
    build.close(Node::file, 0, 0, static_cast<std::uint32_t>(std::min<std::size_t>(text.size(), 0xFFFFFFFFU)));
    explain(build.troubles, file, files, out);
    return build.finished(file);
}

} // namespace athanor
