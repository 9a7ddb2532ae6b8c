// How each statement is written, for those who are told that theirs was not understood.
#include "grammar/place.hpp"

#include <array>

namespace athanor::grammar {

std::string_view form_of(Node statement) {
    struct Form {
        Node statement;
        std::string_view form;
    };
    constexpr std::array forms{
        Form{Node::ramp, "ramp to TARGET at RATE"},
        Form{Node::heat, "heat to TARGET"},
        Form{Node::cool, "cool to TARGET"},
        Form{Node::step_to, "step to TARGET"},
        Form{Node::dwell, "dwell TIME"},
        Form{Node::purge, "purge LINE at FLOW until CONDITION"},
        Form{Node::evacuate, "evacuate to PRESSURE"},
        Form{Node::backfill, "backfill LINE at FLOW to PRESSURE"},
        Form{Node::repeat, "repeat N times { … }"},
        Form{Node::for_each, "for NAME in [A, B] { … }"},
        Form{Node::if_else, "if CONDITION { … }"},
        Form{Node::wait_operator, "wait for operator \"…\""},
        Form{Node::quench, "quench in water"},
        Form{Node::run, "run \"…\" { … }"},
        Form{Node::open_line, "open LINE at FLOW"},
        Form{Node::close_lines, "close LINE"},
        Form{Node::close_all, "close all"},
        Form{Node::set_line, "set LINE to FLOW"},
        Form{Node::switch_to, "switch to LINE at FLOW"},
        Form{Node::blend, "blend 5 % GAS + rest GAS at FLOW"},
        Form{Node::regulate, "regulate pressure to PRESSURE"},
        Form{Node::humidify, "humidify LINE at TEMPERATURE"},
        Form{Node::move, "move sample to PLACE"},
        Form{Node::note, "note \"…\""},
        Form{Node::at_action, "at TEMPERATURE ACTION"},
        Form{Node::after_action, "after TIME ACTION"},
        Form{Node::keep, "keep LINE open at FLOW above TEMPERATURE"},
        Form{Node::require, "require CONDITION"},
        Form{Node::expect, "expect CONDITION"},
        Form{Node::use, "use \"FILE\""},
        Form{Node::recipe, "recipe NAME on RIG for CONTROLLER { … }"},
    };
    for (const Form& known : forms)
        if (known.statement == statement) return known.form;
    return {};
}

} // namespace athanor::grammar
