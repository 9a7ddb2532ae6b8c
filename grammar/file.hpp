#pragma once
// Declarations, and the file that holds them.
#include "grammar/recipe.hpp"

namespace athanor::grammar {

struct language : statement<Node::language, Word::language, step_block, number> {};
struct use : statement<Node::use, Word::use, step_block, text> {};

struct on : node<Node::on, kw<Word::on>, name> {};
struct for_controller : node<Node::for_controller, kw<Word::for_>, name> {};
struct operation : step<Node::operation, Word::operation, name, maybe_parameters, step_block> {};
struct recipe : step<Node::recipe, Word::recipe, name, maybe<text>, maybe_parameters, maybe<on>,
                     maybe<for_controller>, step_block> {};

// --- equipment -------------------------------------------------------------------------------------------
struct from : node<Node::from, kw<Word::from>, name> {};
template<Node K, Word Head>
struct equipment : statement<K, Head, property_block, name, maybe<text>, maybe<from>, property_block> {};
struct rig : equipment<Node::rig, Word::rig> {};
struct material : equipment<Node::material, Word::material> {};
struct thermocouple : equipment<Node::thermocouple, Word::thermocouple> {};
struct substance : equipment<Node::substance, Word::substance> {};
struct controller : equipment<Node::controller, Word::controller> {};
/// Schemas describe the declarations by their own words, so a reserved word may name one.
struct schema : statement<Node::schema, Word::schema, property_block, any_name, maybe<text>, maybe<from>,
                          property_block> {};
struct gas_block : statement<Node::gas, Word::gas, property_block, name, maybe<text>, property_block> {};
struct gas_mix : statement<Node::gas_mix, Word::gas, property_block, name, sym<'='>, parts> {};
/// `gas NAME = …` is a mixture, everything else a block.
struct gas : custom<gas, pegtl::analyze_sor_traits<gas_mix, gas_block>> {
    static constexpr Word head = Word::gas;
    static bool read(Input& in, Build& build);
};

// --- layouts ---------------------------------------------------------------------------------------------
struct column_unit : custom<column_unit, consumes> {
    static bool read(Input& in, Build& build);
};
struct number_or_quantity : custom<number_or_quantity, consumes> {
    static bool read(Input& in, Build& build);
};
struct column_names : all_of<sym<'('>, listed<name>, sym<')'>> {};
struct column_clause
    : node<Node::column_clause,
           first_of<all_of<word_leaf<Word::in>, column_unit>, all_of<word_leaf<Word::by>, number_or_quantity>,
                    all_of<word_leaf<Word::as>, any_name>>,
           maybe<column_names>> {};
struct column
    : statement<Node::column, Word::column, property_block, text, sym<'='>, any_name, many<column_clause>> {};
struct layout_line
    : custom<layout_line, pegtl::analyze_sor_traits<column, property, bad_line<property_block>>> {
    static bool read(Input& in, Build& build) {
        const Token& token = build.peek(place(in));
        if (token.type != Token::Type::word) return accept<bad_line<property_block>>(in, build);
        return token.word == Word::column ? accept<column>(in, build) : accept<property>(in, build);
    }
};
struct layout_lines : open_braces<layout_line> {};
struct layout : statement<Node::layout, Word::layout, layout_lines, name, maybe<for_controller>, layout_lines> {
};

// --- policies --------------------------------------------------------------------------------------------
struct heating_above : all_of<word_leaf<Word::heating>, kw<Word::above>, expr> {};
struct event
    : node<Node::event, first_of<all_of<word_leaf<Word::opening>, name>, all_of<word_leaf<Word::closing>, name>,
                                 heating_above, word_leaf<Word::evacuating>, word_leaf<Word::start>,
                                 word_leaf<Word::end>, word_leaf<Word::abort>>> {};
struct before : node<Node::before, kw_far<Word::before>, event> {};
struct from_event : node<Node::from_event, kw<Word::from>, event> {};
struct after_abort : leaf<Node::after_abort, all_of<kw<Word::after>, kw<Word::abort>>> {};
struct rule_require : statement<Node::rule_require, Word::require, layout_lines, expr, maybe<guard>,
                                maybe<first_of<before, all_of<from_event, maybe<until_clause>>,
                                               all_of<after_abort, maybe<until_clause>>>>> {};
struct because_line : statement<Node::because, Word::because, layout_lines, text> {};
struct source_line : statement<Node::source, Word::source, layout_lines, text> {};
struct approved_line : statement<Node::approved, Word::approved, layout_lines, text> {};
struct rule_words : chosen_by_word<rule_require, because_line, source_line, approved_line> {};
struct rule_lines : open_braces<first_of<rule_words, bad_line<property_block>>> {};
struct rule : statement<Node::rule, Word::rule, rule_lines, name, maybe<text>, rule_lines> {};

struct because : node<Node::because, kw<Word::because>, text> {};
struct approved : node<Node::approved, kw<Word::approved>, text> {};
struct concession
    : statement<Node::concession, Word::concession, property_block, name, many<first_of<because, approved>>> {};
struct policy_words : chosen_by_word<rule, concession> {};
struct policy_lines : open_braces<first_of<policy_words, bad_line<rule_lines>>> {};
struct policy : statement<Node::policy, Word::policy, policy_lines, name, maybe<text>, policy_lines> {};

// --- tests -----------------------------------------------------------------------------------------------
struct refused : all_of<word_leaf<Word::refused>, maybe<kw<Word::by>, name>> {};
struct verdict : node<Node::verdict, first_of<word_leaf<Word::proven>, refused>> {};
struct further : node<Node::verdict, first_of<word_leaf<Word::proven>, refused, compared>> {};
struct test_line : statement<Node::test_line, Word::none, step_block, first_of<call_expr, name>, maybe<on>,
                             maybe<for_controller>, kw<Word::is>, verdict, many<kw<Word::and_>, further>> {};
struct test_lines : open_braces<first_of<test_line, bad_line<step_block>>> {};
struct test : statement<Node::test, Word::test, test_lines, text, test_lines> {};

struct declarations : chosen_by_word<use, let, operation, recipe, rig, gas, material, thermocouple, controller,
                                     policy, layout, test, language, schema, substance> {};
/// One declaration, or a line that is none. Always consumes.
struct file_line : custom<file_line, pegtl::analyze_sor_traits<declarations, step_line>> {
    static bool read(Input& in, Build& build);
};
struct file : custom<file, pegtl::analyze_opt_traits<file_line>> {
    static bool read(Input& in, Build& build);
};

} // namespace athanor::grammar
