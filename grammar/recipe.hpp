#pragma once
// What a recipe is made of: parameters, steps, actions, requirements. Reads as the grammar in
// docs/grammar.ebnf.
#include "grammar/equipment.hpp"

namespace athanor::grammar {

struct step_block;
template<Node K, Word Head, class... Body>
struct step : statement<K, Head, step_block, Body...> {};

// --- clauses ---------------------------------------------------------------------------------------------
struct at_clause : node<Node::at, kw<Word::at>, expr> {};
struct over_clause : node<Node::over, kw<Word::over>, expr> {};
struct within_clause : node<Node::within, kw<Word::within>, expr> {};
struct until_clause : node<Node::until, kw<Word::until>, expr> {};
struct at_most_clause : node<Node::at_most, kw<Word::at>, kw<Word::most>, expr> {};
struct to_clause : node<Node::to, kw<Word::to>, expr> {};
struct guard : node<Node::guard, kw_far<Word::while_>, expr> {};

/// `for D` or `for N volumes`.
struct for_clause : custom<for_clause, pegtl::analyze_seq_traits<kw<Word::for_>, expr>> {
    static constexpr Word head = Word::for_;
    static bool read(Input& in, Build& build) {
        std::size_t from = build.stack.size();
        std::uint32_t begin = build.peek(place(in)).begin;
        bool outer = build.plain_volumes;
        build.plain_volumes = true;
        bool ok = accept_all<kw<Word::for_>, expr>(in, build);
        build.plain_volumes = outer;
        if (!ok) return false;
        Token next = build.peek(place(in));
        bool volumes = next.type == Token::Type::word && next.word == Word::volumes;
        if (volumes) go_to(in, next.end);
        build.close(volumes ? Node::volumes : Node::duration, from, begin, place(in));
        return true;
    }
};

// --- steps -----------------------------------------------------------------------------------------------
struct zone_target : node<Node::zone_target, maybe<name>, kw<Word::to>, expr> {};
struct zone_targets : listed<zone_target> {};

struct ramp : step<Node::ramp, Word::ramp, zone_targets, clauses<at_clause, over_clause, within_clause>,
                   maybe<step_block>> {};
struct heat : step<Node::heat, Word::heat, zone_targets, clauses<within_clause>, maybe<step_block>> {};
struct cool : step<Node::cool, Word::cool, zone_targets, clauses<at_clause, over_clause, within_clause>,
                   maybe<step_block>> {};
struct step_to : step<Node::step_to, Word::step_, zone_targets, clauses<within_clause>, maybe<step_block>> {};
struct dwell
    : step<Node::dwell, Word::dwell,
           first_of<all_of<expr, clauses<within_clause>>, clauses<until_clause, at_most_clause, within_clause>>,
           maybe<step_block>> {};
struct purge : step<Node::purge, Word::purge, name,
                    clauses<at_most_clause, at_clause, until_clause, for_clause>, maybe<step_block>> {};
struct evacuate
    : step<Node::evacuate, Word::evacuate, kw<Word::to>, expr, clauses<at_most_clause>, maybe<step_block>> {};
struct backfill
    : step<Node::backfill, Word::backfill, name, some_clauses<at_clause, to_clause>, maybe<step_block>> {};

struct loop_name : node<Node::loop_name, kw<Word::as>, name> {};
struct repeat_until
    : step<Node::repeat_until, Word::repeat, kw<Word::until>, kw<Word::operator_>, kw<Word::accepts>, text,
           kw<Word::at>, kw<Word::most>, expr, kw<Word::times>, step_block> {};
struct repeat_times : step<Node::repeat, Word::repeat, expr, kw<Word::times>, maybe<loop_name>, step_block> {};
/// Both begin with `repeat`; the next word decides.
struct repeat : custom<repeat, pegtl::analyze_sor_traits<repeat_until, repeat_times>> {
    static constexpr Word head = Word::repeat;
    static bool read(Input& in, Build& build) {
        std::uint32_t behind = build.peek(place(in)).end;
        return build.peek(behind).word == Word::until ? accept<repeat_until>(in, build)
                                                      : accept<repeat_times>(in, build);
    }
};
struct for_each : step<Node::for_each, Word::for_, name, kw<Word::in>, list_expr, step_block> {};

struct if_else;
struct else_branch : custom<else_branch, pegtl::analyze_seq_traits<kw_far<Word::else_>, step_block>> {
    static bool read(Input& in, Build& build);
};
struct if_else : step<Node::if_else, Word::if_, expr, step_block, maybe<else_branch>> {};

struct with_tube_open : leaf<Node::with_tube_open, all_of<kw<Word::with>, kw<Word::tube>, kw<Word::open>>> {};
struct wait_operator
    : step<Node::wait_operator, Word::wait, kw<Word::for_>, kw<Word::operator_>, text, maybe<with_tube_open>> {
};
struct quench : step<Node::quench, Word::quench, kw<Word::in>, name> {};
/// The parts of a call, for a statement that is the call itself.
struct call_parts : custom<call_parts, pegtl::analyze_seq_traits<call_expr>> {
    static bool read(Input& in, Build& build) {
        if (!accept<call_expr>(in, build)) return false;
        unwrap(build);
        return true;
    }
};
struct call_step : step<Node::call, Word::none, call_parts> {};

// --- actions ---------------------------------------------------------------------------------------------
struct open_line : step<Node::open_line, Word::open, name, clauses<at_clause>> {};
struct close_all : step<Node::close_all, Word::close, kw<Word::all>> {};
struct close_lines : step<Node::close_lines, Word::close, listed<name>> {};
struct close : custom<close, pegtl::analyze_sor_traits<close_all, close_lines>> {
    static constexpr Word head = Word::close;
    static bool read(Input& in, Build& build) {
        std::uint32_t behind = build.peek(place(in)).end;
        return build.peek(behind).word == Word::all ? accept<close_all>(in, build)
                                                    : accept<close_lines>(in, build);
    }
};
struct set_line : step<Node::set_line, Word::set, name, kw<Word::to>, expr> {};
struct switch_to : step<Node::switch_to, Word::switch_, kw<Word::to>, name, clauses<at_clause>> {};
struct blend : step<Node::blend, Word::blend, parts, clauses<at_clause>> {};
struct light_burner : step<Node::light_burner, Word::light, kw<Word::burner>> {};
struct shut_burner : step<Node::shut_burner, Word::shut, kw<Word::burner>> {};
struct start_pump : step<Node::start_pump, Word::start, kw<Word::pump>> {};
struct stop_pump : step<Node::stop_pump, Word::stop, kw<Word::pump>> {};
struct note : step<Node::note, Word::note, text> {};
struct regulate : step<Node::regulate, Word::regulate, kw<Word::pressure>, kw<Word::to>, expr> {};
struct humidify : step<Node::humidify, Word::humidify, name, clauses<at_clause>> {};
struct move : step<Node::move, Word::move, name, kw<Word::to>, name> {};

struct action : chosen_by_word<open_line, close, set_line, switch_to, blend, light_burner, shut_burner,
                               start_pump, stop_pump, note, regulate, humidify, move> {};
/// An action placed inside a step. The action is a statement of its own and ends this one too.
struct placed : custom<placed, pegtl::analyze_sor_traits<action, call_step>> {
    static bool read(Input& in, Build& build);
};
struct at_action : step<Node::at_action, Word::at, expr, placed> {};
struct after_action : step<Node::after_action, Word::after, expr, placed> {};

// --- requirements and blocks -----------------------------------------------------------------------------
struct open_state : leaf<Node::word, first_of<kw<Word::open>, kw<Word::closed>>> {};
struct bound : leaf<Node::word, first_of<kw<Word::above>, kw<Word::below>>> {};
struct keep : step<Node::keep, Word::keep, name, open_state, clauses<at_clause>, bound, expr> {};
struct require : step<Node::require, Word::require, expr, maybe<guard>> {};
struct expect : step<Node::expect, Word::expect, expr> {};

struct type_name : leaf<Node::type_name, any_word> {};
struct let : step<Node::let, Word::let, name, maybe<sym<':'>, type_name>, sym<'='>, expr> {};
struct run : step<Node::run, Word::run, text, step_block> {};
struct load : statement<Node::load, Word::load, property_block, property_block> {};

struct statements : chosen_by_word<ramp, heat, cool, step_to, dwell, purge, evacuate, backfill, repeat,
                                   for_each, if_else, wait_operator, quench, at_action, after_action, keep,
                                   require, expect, let, run, defaults> {};

struct step_line
    : custom<step_line, pegtl::analyze_sor_traits<statements, action, load, call_step, bad_line<step_block>>> {
    static bool read(Input& in, Build& build);
};
struct step_block : braces<Node::block, step_line> {};

// --- parameters ------------------------------------------------------------------------------------------
struct in_range : node<Node::in_range, expr, kw<Word::to>, expr, maybe<kw<Word::by>, expr>> {};
struct in_list : node<Node::in_list, list_expr> {};
struct allowed : custom<allowed, pegtl::analyze_seq_traits<kw<Word::in>, pegtl::sor<in_list, in_range>>> {
    static bool read(Input& in, Build& build) {
        if (!accept<kw<Word::in>>(in, build)) return false;
        const Token& token = build.peek(place(in));
        bool bracket = token.type == Token::Type::symbol && token.symbol == '[';
        return bracket ? accept<in_list>(in, build) : accept<in_range>(in, build);
    }
};
struct default_value : node<Node::default_value, sym<'='>, expr> {};
struct parameter_end : custom<parameter_end, pegtl::analyze_opt_traits<>> {
    static bool read(Input& in, Build& build) {
        const Token& token = build.peek(place(in));
        if (token.type == Token::Type::symbol && (token.symbol == ',' || token.symbol == ')')) return true;
        build.want(token.begin, {Wanted::Class::symbol, ','});
        build.want(token.begin, {Wanted::Class::symbol, ')'});
        return false;
    }
};
struct parameter_body
    : all_of<name, maybe<sym<':'>, type_name>, maybe<allowed>, maybe<default_value>, parameter_end> {};
/// A parameter that fails is told, skipped to its comma, and keeps its name.
struct parameter : custom<parameter, pegtl::analyze_seq_traits<parameter_body>> {
    static bool read(Input& in, Build& build);
};
struct parameters : custom<parameters, pegtl::analyze_seq_traits<sym<'('>, parameter>> {
    static bool read(Input& in, Build& build);
};
/// Without an opening parenthesis there are none.
struct maybe_parameters : custom<maybe_parameters, pegtl::analyze_opt_traits<parameters>> {
    static bool read(Input& in, Build& build) {
        const Token& token = build.peek(place(in));
        if (token.type == Token::Type::symbol && token.symbol == '(') return accept<parameters>(in, build);
        build.want(token.begin, {Wanted::Class::symbol, '('});
        return true;
    }
};

} // namespace athanor::grammar
