#pragma once
// Equipment: lists of properties of one shape, NAME element* [ { property* } ] [ source "…" ].
#include "grammar/statement.hpp"

namespace athanor::grammar {

struct property_block;

/// One element of a property; the grammar knows no property by name. Fails without a word where none begins.
bool element(Build& build, std::uint32_t& at);
struct elements : custom<elements, pegtl::analyze_opt_traits<>> {
    static bool read(Input& in, Build& build) {
        std::uint32_t at = place(in);
        while (element(build, at)) {
        }
        go_to(in, at);
        return true;
    }
};
struct source : node<Node::source, kw<Word::source>, text> {};

struct property : statement<Node::property, Word::none, property_block, any_name, elements,
                            maybe<property_block>, maybe<source>> {};

struct default_line : statement<Node::default_line, Word::none, property_block, any_name, elements> {};
struct default_lines : open_braces<first_of<default_line, bad_line<property_block>>, true> {};
struct defaults : statement<Node::defaults, Word::defaults, property_block, default_lines> {};

struct closes : custom<closes, pegtl::analyze_seq_traits<name>> {
    static bool read(Input& in, Build& build);
};
struct interlock : statement<Node::interlock, Word::interlock, property_block, expr, closes, maybe<source>> {};
struct without : statement<Node::without, Word::without, property_block, kw<Word::line>, name> {};

struct equipment_lines : chosen_by_word<interlock, without, defaults> {};
struct property_line
    : custom<property_line, pegtl::analyze_sor_traits<equipment_lines, property, bad_line<property_block>>> {
    static bool read(Input& in, Build& build) {
        if (build.peek(place(in)).type != Token::Type::word) return accept<bad_line<property_block>>(in, build);
        return accept<equipment_lines>(in, build) || accept<property>(in, build);
    }
};
struct property_block : braces<Node::property_block, property_line> {};

// --- parts of a mixture ----------------------------------------------------------------------------------
struct rest : leaf<Node::rest, kw<Word::rest>> {};
struct share : custom<share, consumes> {
    static bool read(Input& in, Build& build);
};
struct part : node<Node::part, first_of<rest, share>, name> {};
struct parts : all_of<part, many<sym<'+'>, part>> {};

} // namespace athanor::grammar
