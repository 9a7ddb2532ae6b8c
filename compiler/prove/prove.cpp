#include "compiler/prove/prove.hpp"

#include "compiler/prove/cautions.hpp"
#include "compiler/prove/instance.hpp"
#include "compiler/prove/judge.hpp"
#include "compiler/prove/walk.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <cmath>

namespace athanor::prove {
namespace {

using plant::Verdict;
using timeline::Comparison;
using timeline::SignalKind;
using timeline::Term;

std::string value_text(Interval value, SignalKind signal) {
    std::string unit = signal == SignalKind::swept ? " volumes" : "";
    return to_text(value, timeline::kind_of(signal)) + unit;
}

/// "oxygen at most 8.9 ppm, limit 10 ppm"
std::string margin_text(const Margin& margin, const timeline::Timeline& timeline) {
    if (!std::isfinite(margin.relative)) return "";
    bool below = margin.term.comparison == Comparison::less || margin.term.comparison == Comparison::less_equal;
    Interval worst = below ? margin.value.hi : margin.value.lo;
    if (!std::isfinite(worst.lo)) return "";
    std::string limit = margin.term.right_is_signal ? print(margin.term.right, timeline)
                                                    : value_text(margin.term.value, margin.term.left.kind);
    return fmt::format("{} {} {}, limit {}", print(margin.term.left, timeline), below ? "at most" : "at least",
                       value_text(worst, margin.term.left.kind), limit);
}

/// The comparisons of a condition that do not hold at the witness, in words; empty when only their combination
/// fails.
std::string failing(const timeline::Condition& condition, const Witness& witness,
                    const timeline::Timeline& timeline, const plant::Plant& plant,
                    std::vector<timeline::Signal>& signals) {
    std::string text;
    for (std::size_t i = 0; i < condition.terms.size(); ++i) {
        const Term& term = condition.terms[i];
        if (term.kind != Term::Kind::compare && term.kind != Term::Kind::truth) continue;
        timeline::Condition alone;
        alone.terms.push_back(term);
        bool negated = i + 1 < condition.terms.size() && condition.terms[i + 1].kind == Term::Kind::not_;
        if (negated) alone.terms.push_back(condition.terms[i + 1]);
        if (plant.evaluate(alone, witness.state, witness.discrete) == Verdict::proven) continue;
        signals.push_back(term.left);
        std::string one;
        if (term.kind == Term::Kind::truth) {
            bool is_line = term.left.kind == SignalKind::line_open;
            std::string name = is_line ? timeline.lines[term.left.index].name : print(term.left, timeline);
            one = name + (is_line ? (negated ? " is open" : " is closed") : (negated ? " is on" : " is off"));
        } else {
            one = fmt::format(
                "{} is {}", print(term.left, timeline),
                value_text(plant.signal(term.left, witness.state, witness.discrete), term.left.kind));
        }
        text += (text.empty() ? "" : " and ") + one;
    }
    return text;
}

/// A line of this rig that carries only inert gas, for remedies.
std::string inert_line(const check::Model& model, const check::Rig& rig) {
    for (const check::Line& line : rig.lines)
        if (line.gas != check::none && model.gases[line.gas].hazards.inert &&
            !model.gases[line.gas].hazards.flammable) {
            std::string flow = to_text(line.meter.range.hi(), Kind::flow, 3);
            return line.name + " at " + flow;
        }
    return {};
}

void advise(Diagnostic& d, const check::Model& model, const check::Rig& rig, const Instance& instance) {
    if (d.code == Code::no_inert_purge_first) {
        std::string line = inert_line(model, rig);
        if (line.empty())
            d.remedy("this rig has no inert line: flammable gas cannot be used on it");
        else
            d.remedy("purge first, while the tube is cold:  purge " + line + " until oxygen < 0.5 %");
    } else if (d.code == Code::flammable_below_ignition) {
        d.remedy("heat further and hold inside a soak band before the valve opens:  dwell 20 min within 5 K");
        d.remedy("before cooling, clear the tube:  switch to an inert gas, then  dwell until " +
                 (instance.line == timeline::none ? std::string("flammability < 25 %")
                                                  : std::string("flammability < 20 %")));
    } else if (d.code == Code::opening_tube || d.code == Code::flammable_to_pump ||
               d.code == Code::flammable_left_at_end) {
        d.remedy("clear the tube first: switch to an inert gas, then  dwell until flammability < 20 %");
    } else if (d.code == Code::burner_off) {
        d.remedy("write  light burner  before the gas opens, and  shut burner  only after  dwell until "
                 "flammability < 20 %");
    }
}

class Prover {
public:
    Prover(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
           const plant::Plant& plant, const Files& files, Diagnostics& out)
        : model_(model), rig_(rig), timeline_(timeline), plant_(plant), files_(files), out_(out),
          walk_(walk(timeline, plant)), judge_(timeline, plant, walk_) {}

    Assurance run() {
        rules();
        requirements();
        for (const check::Concession& c : model_.concessions)
            result_.concessions.push_back(fmt::format("{}: {} (approved {})", c.rule, c.because, c.approved));
        result_.cautions = cautions(model_, rig_, timeline_);
        result_.assumptions = assumptions(rig_);
        return std::move(result_);
    }

private:
    bool conceded(const std::string& rule) const {
        for (const check::Concession& c : model_.concessions)
            if (c.rule == rule) return true;
        return false;
    }

    void rules() {
        std::vector<Instance> list = instances(model_, rig_, timeline_, out_);
        for (const check::Rule& rule : model_.rules) {
            Row row;
            row.rule = rule.name;
            row.title = rule.title;
            row.applied = false;
            Margin nearest;
            bool reported = false;
            for (const Instance& instance : list) {
                if (instance.rule != &rule) continue;
                Judgement judgement = judge_.rule(instance);
                if (!judgement.applied) continue;
                row.applied = true;
                if (judgement.margin.relative < nearest.relative) nearest = judgement.margin;
                if (judgement.verdict == Verdict::proven) continue;
                row.verdict = judgement.verdict;
                row.source = judgement.witness->source;
                row.at_s = judgement.witness->at_s;
                if (conceded(rule.name)) continue;
                result_.proven = false;
                // Two clauses of one rule that fail at one place are one thing to mend.
                if (!reported) report_rule(instance, judgement);
                reported = true;
            }
            row.margin = margin_text(nearest, timeline_);
            if (row.verdict == Verdict::proven && row.applied) {
                row.at_s = nearest.at_s;
                row.source = nearest.source;
            }
            result_.rows.push_back(std::move(row));
        }
    }

    /// What happens too early: "hydrogen opens while ".
    std::string before_words(const Instance& instance) const {
        using E = check::EventKind;
        std::string line = instance.line == timeline::none ? "" : timeline_.lines[instance.line].name;
        switch (instance.clause->event.kind) {
        case E::opening:
        case E::opening_hazard: return line + " opens while ";
        case E::closing:
        case E::closing_hazard: return line + " closes while ";
        case E::evacuating: return "pumping starts while ";
        case E::heating_above:
            return fmt::format("it heats above {} while ", to_text(instance.temperature, Kind::temperature));
        case E::opening_tube: return "the tube is opened while ";
        case E::start: return "the recipe starts while ";
        case E::end: return "the recipe ends while ";
        case E::none:
        case E::abort: break;
        }
        return "";
    }

    void report_rule(const Instance& instance, const Judgement& judgement) {
        const Witness& witness = *judgement.witness;
        std::vector<timeline::Signal> signals;
        std::string what = failing(instance.require, witness, timeline_, plant_, signals);
        std::string subject;
        if (instance.clause->form == check::RuleForm::before) {
            subject = before_words(instance);
        } else if (instance.line != timeline::none) {
            const std::string& line = timeline_.lines[instance.line].name;
            bool open = instance.line < witness.discrete.open.size() && witness.discrete.open[instance.line];
            subject = open ? "with " + line + " open, " : "with a rest of " + line + " in the tube, ";
        }
        std::optional<Code> code = instance.rule->standard ? code_named(instance.rule->name) : std::nullopt;
        Diagnostic& d =
            out_.error(code.value_or(Code::policy_rule), witness.source,
                       fmt::format("{}{}; needed: {}", subject, what.empty() ? "the rule is not proven" : what,
                                   print(instance.require, timeline_)));
        d.rule = instance.rule->name;
        d.with_label(fmt::format("at {} of the run", to_clock(witness.at_s)));
        d.cause(instance.rule->title + ": " + instance.rule->because);
        explain(d, signals, witness);
        if (!instance.rule->standard) d.cause("the rule stands at " + files_.place_line(instance.rule->span));
        advise(d, model_, rig_, instance);
    }

    void explain(Diagnostic& d, const std::vector<timeline::Signal>& signals, const Witness& witness) {
        for (timeline::Signal signal : signals) {
            std::string why = plant_.explain(signal, witness.state, witness.discrete);
            if (!why.empty()) d.cause(why);
        }
    }

    void requirements() {
        for (const timeline::Requirement& r : timeline_.requirements) {
            std::string text = "require " + print(timeline_.conditions[r.condition], timeline_);
            if (r.guard != timeline::none) text += " while " + print(timeline_.conditions[r.guard], timeline_);
            judge_one(judge_.requirement(r), timeline_.conditions[r.condition], r.source, text, false);
        }
        for (const timeline::Expectation& e : timeline_.expectations)
            judge_one(judge_.expectation(e), timeline_.conditions[e.condition], e.source,
                      "expect " + print(timeline_.conditions[e.condition], timeline_), true);
    }

    void judge_one(const Judgement& judgement, const timeline::Condition& condition, athanor::Span source,
                   const std::string& text, bool expectation) {
        Row row{expectation ? "expect" : "require",
                text,
                judgement.verdict,
                margin_text(judgement.margin, timeline_),
                judgement.margin.at_s,
                source,
                judgement.applied};
        if (judgement.verdict != Verdict::proven) {
            result_.proven = false;
            row.at_s = judgement.witness->at_s;
            std::vector<timeline::Signal> signals;
            std::string what = failing(condition, *judgement.witness, timeline_, plant_, signals);
            bool violated = judgement.verdict == Verdict::violated;
            Code code = expectation ? Code::expectation_violated
                        : violated  ? Code::requirement_violated
                                    : Code::requirement_not_provable;
            Diagnostic& d = out_.error(code, source,
                                       fmt::format("{}: {}{}", text, what.empty() ? "not proven" : what,
                                                   violated ? " for every rig inside the stated intervals"
                                                            : " for some rig inside the stated intervals"));
            if (!(judgement.witness->source == source))
                d.also(judgement.witness->source,
                       fmt::format("here, at {} of the run", to_clock(judgement.witness->at_s)));
            explain(d, signals, *judgement.witness);
        }
        result_.rows.push_back(std::move(row));
    }

    const check::Model& model_;
    const check::Rig& rig_;
    const timeline::Timeline& timeline_;
    const plant::Plant& plant_;
    const Files& files_;
    Diagnostics& out_;
    Walk walk_;
    Judge judge_;
    Assurance result_;
};

} // namespace

Assurance prove(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
                const plant::Plant& plant, const Files& files, Diagnostics& out) {
    return Prover(model, rig, timeline, plant, files, out).run();
}

} // namespace athanor::prove
