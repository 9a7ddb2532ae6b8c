// Policies: rules and concessions; and the conditions of a rig's interlocks.
#include "compiler/check/checker.hpp"
#include "compiler/check/equipment_block.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::check {

void Checker::policy(NodeId node) {
    for (NodeId at = first(node); at != no_node; at = next(at)) {
        if (kind(at) == Node::rule) rule(at);
        if (kind(at) == Node::concession) concession(at);
    }
}

void Checker::rule(NodeId node) {
    const NodeId name = tree().child(node, Node::name);
    if (name == no_node) return;
    Rule rule;
    rule.name = text(name);
    rule.span = span(name);
    rule.standard = units[unit_].standard;
    for (const Rule& earlier : model.rules)
        if (earlier.name == rule.name) {
            // Whatever a `use` reaches applies, so two rules of one name meet even when neither file sees the
            // other.
            out.error(Code::duplicate_name, rule.span,
                      fmt::format("rule `{}` is declared already{}", rule.name,
                                  earlier.standard ? " in the standard policy" : ""))
                .also(earlier.span, "first declared here")
                .remedy("give it a name of its own; a rule of a site is added to the standard ones");
            return;
        }
    if (!rule.standard && code_named(rule.name)) {
        out.error(Code::duplicate_name, rule.span, fmt::format("`{}` is a check of the compiler", rule.name))
            .remedy("give the rule a name of its own");
        return;
    }
    Scope frame;
    frame_ = &frame;
    const std::size_t before = out.errors();
    bool unread = broken(node); // told by the parser
    for (NodeId at = first(node); at != no_node; at = next(at)) {
        unread = unread || broken(at);
        switch (kind(at)) {
        case Node::text: rule.title = unquoted(at); break;
        case Node::because: rule.because = unquoted(first(at)); break;
        case Node::source: rule.sources.push_back(unquoted(first(at))); break;
        case Node::rule_require:
            if (!broken(at)) rule_require(at, rule);
            break;
        default: break;
        }
    }
    frame_ = nullptr;
    if (rule.requires_.empty() && out.errors() == before && !unread)
        out.error(Code::value_missing, rule.span, fmt::format("rule `{}` requires nothing", rule.name))
            .remedy("require burner before opening flammable");
    // A rule that was not understood is not judged; the error stops every run that it would have stopped.
    if (out.errors() == before && !unread) model.rules.push_back(std::move(rule));
}

void Checker::rule_require(NodeId node, Rule& rule) {
    RuleRequire r;
    r.span = span(node);
    r.require = condition(first(node), Reads::rules, "`require`");
    for (NodeId at = next(first(node)); at != no_node; at = next(at)) {
        switch (kind(at)) {
        case Node::guard: r.guard = condition(first(at), Reads::rules, "`while`"); break;
        case Node::until: r.until = condition(first(at), Reads::rules, "`until`"); break;
        case Node::before:
            r.form = RuleForm::before;
            r.event = event(first(at));
            if (r.event.kind == EventKind::abort)
                out.error(Code::misplaced, span(at), "a failure may come at any instant: nothing is before it")
                    .remedy("`after abort`, or neither: a rule without an event holds all the time");
            break;
        case Node::from_event:
            r.form = RuleForm::from_until;
            r.event = event(first(at));
            if (r.event.kind == EventKind::abort) r.form = RuleForm::after_abort;
            if (r.event.kind == EventKind::end)
                out.error(Code::misplaced, span(at),
                          "what comes behind the end of a run is not judged by rules")
                    .remedy("`before end` asks how the run ends");
            break;
        case Node::after_abort:
            r.form = RuleForm::after_abort;
            r.event.kind = EventKind::abort;
            break;
        default: break;
        }
    }
    rule.requires_.push_back(r);
}

Event Checker::event(NodeId node) {
    Event e;
    const NodeId word = node == no_node ? no_node : first(node);
    if (word == no_node) return e;
    const std::string_view what = text(word);
    const NodeId subject = next(word);
    if (what == "evacuating")
        e.kind = EventKind::evacuating;
    else if (what == "start")
        e.kind = EventKind::start;
    else if (what == "end")
        e.kind = EventKind::end;
    else if (what == "abort")
        e.kind = EventKind::abort;
    else if (what == "heating") {
        e.kind = EventKind::heating_above;
        e.temperature = value(subject, Kind::temperature, "`heating above`");
    } else if (subject != no_node) {
        const bool opens = what == "opening";
        const NameId name = intern(subject);
        if (name == tube_ && opens) {
            e.kind = EventKind::opening_tube;
        } else if (is_hazard(name)) {
            e.kind = opens ? EventKind::opening_hazard : EventKind::closing_hazard;
            e.hazard = static_cast<Hazard>(name - flammable_);
        } else {
            e.kind = opens ? EventKind::opening : EventKind::closing;
            e.line = line(subject);
        }
    }
    return e;
}

void Checker::concession(NodeId node) {
    const NodeId name = tree().child(node, Node::name);
    if (name == no_node || broken(node)) return;
    Concession c;
    c.rule = text(name);
    c.span = span(name);
    for (NodeId at = first(node); at != no_node; at = next(at)) {
        if (kind(at) == Node::because) c.because = unquoted(first(at));
        if (kind(at) == Node::approved) c.approved = unquoted(first(at));
    }
    if (c.because.empty() || c.approved.empty())
        out.error(Code::value_missing, span(node),
                  fmt::format("a concession needs {}", c.because.empty()
                                                           ? "its reason: `because \"…\"`"
                                                           : "who approved it: `approved \"…\"`"));
    else
        model.concessions.push_back(std::move(c));
}

namespace {

/// Checks of the compiler that ask what a site may know better: they harm rig and load, and nobody directly.
bool concedable(Code code) {
    return code == Code::condensation || code == Code::material_attacked;
}

} // namespace

/// Only what is always on can be conceded, and nothing of the groups that keep people safe.
void Checker::judge_concessions() {
    std::vector<Concession> kept;
    for (Concession& c : model.concessions) {
        // Two policies may each have their reason and their signature; one file has one of each.
        const auto same = std::find_if(kept.begin(), kept.end(), [&](const Concession& earlier) {
            return earlier.rule == c.rule && earlier.span.file == c.span.file;
        });
        if (same != kept.end()) {
            out.error(Code::duplicate_name, c.span, fmt::format("`{}` is conceded twice", c.rule))
                .also(same->span, "first conceded here")
                .remedy("write one concession with the reason and the signature that hold");
            continue;
        }
        const Rule* rule = nullptr;
        for (const Rule& r : model.rules)
            if (r.name == c.rule) rule = &r;
        const auto code = code_named(c.rule);
        if (code && (group(*code) == Group::flammable_gas || group(*code) == Group::any_fault)) {
            Diagnostic& d = out.error(Code::misplaced, c.span,
                                      fmt::format("rule `{}` cannot be conceded: it belongs to the group {}",
                                                  c.rule, name(group(*code))));
            if (rule != nullptr) d.also(rule->span, "declared here");
            d.remedy("change the recipe so that the rule holds");
        } else if (rule == nullptr && code && concedable(*code)) {
            kept.push_back(std::move(c));
        } else if (rule == nullptr && code) {
            out.error(
                Code::misplaced, c.span,
                fmt::format("`{}` is a check of the compiler, not a rule: it cannot be conceded", c.rule));
        } else if (rule == nullptr) {
            Diagnostic& d =
                out.error(Code::unknown_name, c.span, fmt::format("no rule is called `{}`", c.rule));
            std::vector<std::string_view> known;
            for (const Rule& r : model.rules)
                if (r.standard) known.push_back(r.name);
            if (const std::string near = nearest(c.rule, known); !near.empty())
                mend_name(d.remedy(fmt::format("`{}` is a rule", near)), c.span, c.rule, near);
        } else if (rule->standard && !code) {
            // Its group is not known, so it may be one of those that keep people safe.
            out.error(Code::misplaced, c.span, fmt::format("rule `{}` cannot be conceded", c.rule))
                .also(rule->span, "declared here");
        } else if (!rule->standard) {
            out.error(Code::misplaced, c.span,
                      fmt::format("rule `{}` is a site's own, not of the standard policy", c.rule))
                .also(rule->span, "declared here")
                .remedy("change the rule itself");
        } else {
            kept.push_back(std::move(c));
        }
    }
    model.concessions = std::move(kept);
}

/// `interlock hydrogen is open and temperature < 770 degC closes hydrogen`: read as in the file where it
/// stands.
void Checker::interlocks() {
    for (Rig& rig : model.rigs) {
        for (Interlock& interlock : rig.interlocks) {
            if (interlock.unit == none || interlock.node == no_node) continue;
            enter(interlock.unit);
            Scope frame;
            frame_ = &frame;
            if (const NodeId node = first(interlock.node); node != no_node && !broken(interlock.node))
                interlock.condition = condition(node, Reads::signals, "`interlock`");
            if (frame.broken) rig.broken = true;
            frame_ = nullptr;
            if (interlock.condition != none) one_line_each(rig, interlock.condition);
        }
    }
}

/// What a condition names by a gas must be one line: which of several the hardware watches nobody could tell.
void Checker::one_line_each(Rig& rig, ExprId id) {
    if (id == 0) return;
    const Expr e = model.exprs[id];
    if (e.op != Op::signal) {
        one_line_each(rig, e.a);
        one_line_each(rig, e.b);
        return;
    }
    if (e.name == 0 || (e.signal != timeline::SignalKind::line_open && e.signal != timeline::SignalKind::flow))
        return;
    const std::vector<Index> named = model.lines_named(rig, model.names[e.name]);
    if (named.size() < 2) return;
    out.error(Code::unknown_name, e.span, Model::which_of(rig, named, model.names[e.name]));
    rig.broken = true;
}

} // namespace athanor::check
