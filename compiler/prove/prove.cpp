#include "compiler/prove/prove.hpp"

#include "compiler/prove/burner_load.hpp"
#include "compiler/prove/cautions.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/prove/fault.hpp"
#include "compiler/prove/hazards.hpp"
#include "compiler/prove/hotter.hpp"
#include "compiler/prove/instance.hpp"
#include "compiler/prove/interlock.hpp"
#include "compiler/prove/judge.hpp"
#include "compiler/prove/sweep_limits.hpp"
#include "compiler/prove/walk.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

namespace athanor::prove {
namespace {

using plant::Verdict;
using timeline::Comparison;
using timeline::SignalKind;
using timeline::Term;

std::string value_text(Interval value, SignalKind signal) {
    if (timeline::kind_of(signal) == Kind::time && value.hi >= plant::for_ever) value.hi = infinity;
    std::string unit = signal == SignalKind::swept ? " volumes" : "";
    return to_text(value, timeline::kind_of(signal)) + unit;
}

/// "oxygen at most 8.9 ppm, limit 10 ppm"
std::string margin_text(const Margin& margin, const timeline::Timeline& timeline) {
    if (!std::isfinite(margin.relative)) return "";
    if (margin.term.left.kind == SignalKind::constant ||
        (margin.term.right_is_signal && margin.term.right.kind == SignalKind::constant))
        return ""; // what this rig does not have
    if (margin.term.kind == Term::Kind::truth) {
        const timeline::Signal& left = margin.term.left;
        const bool line = left.kind == SignalKind::line_open;
        return (line ? timeline.lines[left.index].name : print(left, timeline)) +
               (margin.value.hi < 0.5   ? (line ? " is closed" : " is off")
                : margin.value.lo > 0.5 ? (line ? " is open" : " is on")
                                        : " may be either");
    }
    bool below = margin.term.comparison == Comparison::less || margin.term.comparison == Comparison::less_equal;
    Interval worst = below ? margin.value.hi : margin.value.lo;
    if (!std::isfinite(worst.lo)) return "";
    if (below && worst.hi > 0 && timeline::kind_of(margin.term.left.kind) == Kind::fraction)
        worst = std::max(worst.hi, least_share);
    std::string limit = margin.term.right_is_signal ? print(margin.term.right, timeline)
                                                    : value_text(margin.term.value, margin.term.left.kind);
    return fmt::format("{} {} {}, limit {}", print(margin.term.left, timeline), below ? "at most" : "at least",
                       value_text(worst, margin.term.left.kind), limit);
}

/// The comparisons of a condition that do not hold at the witness, in words; empty when only their combination
/// fails.
std::string failing(const timeline::Condition& condition, const Witness& witness,
                    const timeline::Timeline& timeline, const plant::Plant& plant,
                    std::vector<timeline::Signal>& signals, const std::vector<std::string>& not_there = {}) {
    std::string text;
    for (std::size_t i = 0; i < condition.terms.size(); ++i) {
        const Term& term = condition.terms[i];
        if (term.kind != Term::Kind::compare && term.kind != Term::Kind::truth) continue;
        timeline::Condition alone;
        alone.terms.push_back(term);
        bool negated = i + 1 < condition.terms.size() && condition.terms[i + 1].kind == Term::Kind::not_;
        if (negated) alone.terms.push_back(condition.terms[i + 1]);
        if (plant.evaluate(alone, witness.state, witness.discrete) == Verdict::proven) continue;
        std::string one;
        const bool absent = term.left.kind == SignalKind::constant && term.left.index >= first_absent;
        if (!absent) signals.push_back(term.left);
        if (absent) {
            one = fmt::format("this rig has no {}", not_there.at(term.left.index - first_absent));
        } else if (term.kind == Term::Kind::truth) {
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

void advise(Diagnostic& d, const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
            const plant::Plant& plant, const Instance& instance, const Witness& witness) {
    const SweepLimits until = sweep_limits(model);
    if (d.code == Code::no_inert_purge_first) {
        std::string line = inert_line(model, rig, timeline);
        if (line.empty())
            d.remedy("this rig has no inert line: flammable gas cannot be used on it");
        else
            d.remedy("purge first, while the tube is cold:  purge " + line + " until " + until.air_gone);
    } else if (d.code == Code::flammable_below_ignition) {
        if (const std::string first = hotter(model, rig, timeline, plant, instance, witness); !first.empty())
            d.remedy(first);
        else
            d.remedy("before cooling, clear the tube:  switch to an inert gas, then  dwell until " +
                     until.fuel_gone);
    } else if (d.code == Code::flammable_to_pump && instance.clause->form == check::RuleForm::always) {
        const std::string line = inert_line(model, rig, timeline);
        d.remedy("let the flammable gas into a tube at ambient pressure:  stop pump  before it" +
                 (line.empty() ? "" : ", and  backfill " + line + " to ambient + 20 mbar"));
    } else if (d.code == Code::opening_tube || d.code == Code::flammable_to_pump ||
               d.code == Code::flammable_left_at_end) {
        d.remedy("clear the tube first: switch to an inert gas, then  dwell until " + until.fuel_gone);
    } else if (d.code == Code::flammable_mixture) {
        d.remedy(
            fmt::format("keep fuel and oxygen apart by an inert gas between them:  dwell until {}  before the "
                        "fuel, dwell until {}  behind it",
                        until.little_oxygen, until.fuel_gone));
    } else if (d.code == Code::burner_off) {
        d.remedy(fmt::format("write  light burner  and  dwell {}  before the gas opens, and  shut burner  only "
                             "after  dwell until {}",
                             until.burner_burns, until.fuel_gone));
    }
}

/// What falls open, and what would have to.
void advise_abort(Diagnostic& d, const check::Model& model, const check::Rig& rig,
                  const timeline::Timeline& timeline, const Witness& witness) {
    std::string flowing;
    for (std::size_t l = 0; l < rig.lines.size(); ++l)
        if (witness.discrete.open[l])
            flowing += fmt::format("{}{} at {}", flowing.empty() ? "" : ", ", rig.lines[l].name,
                                   to_text(witness.discrete.between[l], Kind::flow, 3));
    d.cause(flowing.empty() ? "without power every line of this rig is closed"
                            : "without power these flow: " + flowing);
    for (timeline::Index l = 0; l < rig.lines.size(); ++l) {
        const check::Line& line = rig.lines[l];
        if (line.gas == check::none) continue;
        const check::Hazards& hazards = model.gases[line.gas].hazards;
        if ((hazards.flammable || hazards.oxidiser) && timeline.lines[l].falls_open())
            d.remedy(fmt::format("let {} fall closed:  de_energised closed", line.name))
                .also(line.source, "falls open");
        if (inert_without_fuel(model, line) && timeline.lines[l].falls_open() && !line.meter.controlled &&
            !(witness.discrete.between[l].lo > 0))
            d.remedy(flows_by_itself(rig, timeline, l));
        if (inert_without_fuel(model, line) && !line.open_without_power)
            d.remedy(fmt::format(
                "let {} fall open, through a needle valve that is set by hand:  de_energised open", line.name));
    }
    if (d.code == Code::abort_cools_into_flammable)
        d.remedy("more inert gas without power clears the tube sooner; a hotter or a heavier furnace cools "
                 "more slowly");
    if (d.code == Code::abort_seals_hot_tube && !rig.relief.given)
        if (const std::string fit = relief_to_fit(rig); !fit.empty())
            d.remedy("fit a relief device and declare it:  " + fit);
    if (d.code == Code::abort_outflow_unburnt)
        d.remedy("a burner with a pilot flame, or an extraction with backup power:  exhaust afterburner { "
                 "pilot yes }");
}

class Prover {
public:
    Prover(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
           const plant::Plant& plant, const Files& files, Diagnostics& out,
           const program::Controller* controller)
        : controller_(controller), model_(model), rig_(rig), timeline_(timeline), plant_(plant), files_(files),
          out_(out), walk_(walk(timeline, plant)), judge_(timeline, plant, walk_, controller != nullptr),
          aborts_(rig, timeline), faults_(timeline, plant, walk_, judge_, aborts_) {}

    Assurance run() {
        rules();
        faults();
        equipment();
        requirements();
        result_.concessions = concessions(model_);
        result_.cautions = cautions(model_, rig_, timeline_);
        result_.assumptions = assumptions(rig_);
        if (std::string load = burner_load({model_, rig_, timeline_, plant_}, walk_); !load.empty())
            result_.assumptions.push_back(std::move(load));
        if (std::any_of(timeline_.states.begin(), timeline_.states.end(),
                        [](const timeline::State& s) { return s.pump; }))
            result_.assumptions.emplace_back(
                "what the pump takes out of the tube leaves where the exhaust leads");
        result_.beforehand = beforehand(timeline_);
        for (const std::string& deed : result_.beforehand)
            result_.assumptions.push_back("people have done before the start: " + deed);
        return std::move(result_);
    }

private:
    /// A run that breaks a rule without any failure is not judged for failures as well: that would say it
    /// twice.
    void rules() {
        instances_ = instances(model_, rig_, timeline_, out_);
        const std::vector<Instance>& list = instances_;
        std::vector<Margin> nearest(model_.rules.size());
        for (const check::Rule& rule : model_.rules) {
            Row row;
            row.rule = rule.name;
            row.title = rule.title;
            row.applied = false;
            result_.rows.push_back(std::move(row));
        }
        for (const bool aborted : {false, true}) {
            if (aborted && !result_.proven) {
                // What is wrong without any failure comes first; the table says that these are still open.
                for (const Instance& instance : list)
                    if (instance.clause->form == check::RuleForm::after_abort) {
                        Row& row = result_.rows[static_cast<std::size_t>(instance.rule - model_.rules.data())];
                        row.applied = row.not_judged = true;
                    }
                break;
            }
            std::vector<const Instance*> clauses;
            for (const Instance& instance : list)
                if ((instance.clause->form == check::RuleForm::after_abort) == aborted)
                    clauses.push_back(&instance);
            std::vector<Judgement> judgements;
            if (aborted)
                judgements = faults_.rules(clauses);
            else
                for (const Instance* instance : clauses) judgements.push_back(judge_.rule(*instance));
            for (std::size_t c = 0; c < clauses.size(); ++c) {
                const auto at = static_cast<std::size_t>(clauses[c]->rule - model_.rules.data());
                rule(*clauses[c], judgements[c], result_.rows[at], nearest[at]);
            }
        }
        for (std::size_t i = 0; i < model_.rules.size(); ++i) {
            Row& row = result_.rows[i];
            row.margin = margin_text(nearest[i], timeline_);
            row.decides = decides(nearest[i]);
            row.conceded = row.verdict != Verdict::proven && model_.conceded(row.rule);
            if (row.verdict != Verdict::proven || !row.applied) continue;
            row.at_s = nearest[i].at_s;
            row.after_s = nearest[i].after_s;
            row.source = nearest[i].source;
        }
    }

    /// Asked once a row: a state of the plant is large, so a margin only says where it was.
    std::string decides(const Margin& margin) const {
        if (!std::isfinite(margin.relative)) return {};
        if (margin.after_s >= 0) return faults_.explain(margin);
        const std::size_t spans = timeline_.spans.size();
        const bool last = margin.span >= spans;
        if (margin.boundary || last) {
            const std::size_t at = last ? spans : margin.span;
            const timeline::Index state = at == 0 ? 0 : timeline_.spans[at - 1].state;
            return plant_.explain(margin.term.left, walk_.arrival(at), timeline_.states[state]);
        }
        const timeline::State& discrete = timeline_.states[timeline_.spans[margin.span].state];
        return plant_.explain(
            margin.term.left,
            plant_.during(walk_.entry(margin.span), plant::drive(timeline_, margin.span), margin.in_course),
            discrete);
    }

    void rule(const Instance& instance, const Judgement& judgement, Row& row, Margin& nearest) {
        if (!judgement.applied) return;
        row.applied = true;
        if (judgement.margin.relative < nearest.relative) nearest = judgement.margin;
        if (judgement.verdict == Verdict::proven) return;
        const bool told = row.verdict != Verdict::proven;
        row.verdict = judgement.verdict;
        row.source = judgement.witness->source;
        row.at_s = judgement.witness->at_s;
        row.after_s = judgement.witness->after_s;
        if (model_.conceded(row.rule)) return;
        result_.proven = false;
        // Two clauses of one rule that fail are one thing to mend.
        if (!told) report_rule(instance, judgement);
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

    /// With this rig's lines and figures; as it is written where the rig does not have all that it names.
    std::string words(const Instance& instance, const timeline::Condition& condition) const {
        return instance.absent.empty() ? print(condition, timeline_)
                                       : std::string(files_.text(condition.source));
    }

    void report_rule(const Instance& instance, const Judgement& judgement) {
        const Witness& witness = *judgement.witness;
        std::vector<timeline::Signal> signals;
        std::string what = failing(instance.require, witness, timeline_, plant_, signals, instance.absent);
        std::string subject;
        if (witness.after_s >= 0) {
            subject = fmt::format("after a power failure at {}{}, ", to_clock(witness.at_s),
                                  witness.after_s >= 1 ? fmt::format(" and {} without power",
                                                                     to_text(witness.after_s, Kind::time, 3))
                                                       : "");
        } else if (instance.clause->form == check::RuleForm::before) {
            subject = before_words(instance);
        } else if (instance.line != timeline::none && !instance.guard.terms.empty()) {
            subject = fmt::format("while {}, ", words(instance, instance.guard));
        } else if (instance.line != timeline::none) {
            const std::string& line = timeline_.lines[instance.line].name;
            bool open = instance.line < witness.discrete.open.size() && witness.discrete.open[instance.line];
            subject = open ? "with " + line + " open, " : "with a rest of " + line + " in the tube, ";
        }
        std::optional<Code> code = instance.rule->standard ? code_named(instance.rule->name) : std::nullopt;
        Diagnostic& d =
            out_.error(code.value_or(Code::policy_rule), witness.source,
                       fmt::format("{}{}; needed: {}", subject, what.empty() ? "the rule is not proven" : what,
                                   words(instance, instance.require)));
        d.rule = instance.rule->name;
        d.with_label(fmt::format("{} {} of the run", witness.after_s >= 0 ? "power fails at" : "at",
                                 to_clock(witness.at_s)));
        d.cause(instance.rule->title.empty() ? instance.rule->because
                                             : instance.rule->title + ": " + instance.rule->because);
        explain(d, signals, witness);
        if (!instance.rule->standard) d.cause("the rule stands at " + files_.place_line(instance.rule->span));
        if (witness.together)
            d.cause("outputs of one instant move in no promised order").remedy("part them:  dwell 1 min");
        if (witness.after_s >= 0)
            advise_abort(d, model_, rig_, timeline_, witness);
        else
            advise(d, model_, rig_, timeline_, plant_, instance, witness);
    }

    /// Whether every rule after an abort is proven for a failure of power without the gas of a line.
    bool outlives(timeline::Index lost) const {
        std::vector<const Instance*> clauses;
        for (const Instance& instance : instances_)
            if (instance.clause->form == check::RuleForm::after_abort) clauses.push_back(&instance);
        const Aborts aborts(rig_, timeline_, lost);
        const std::vector<Judgement> judgements =
            FaultJudge(timeline_, plant_, walk_, judge_, aborts).rules(clauses);
        return std::all_of(judgements.begin(), judgements.end(), [](const Judgement& judgement) {
            return !judgement.applied || judgement.verdict == Verdict::proven;
        });
    }

    /// What only hardware can answer: rows of the table, and one warning for all that nothing answers.
    void faults() {
        std::vector<FaultAnswer> open;
        for (FaultAnswer& fault : fault_answers(model_, rig_, timeline_, plant_, aborts_.failure())) {
            if (fault.without != timeline::none && result_.proven && !outlives(fault.without)) {
                fault.answer.clear();
                fault.source = rig_.lines[fault.without].source;
                fault.needed += " with more gas: what flows without power does not keep the tube safe";
            }
            Row row;
            row.rule = "fault";
            row.title = fault.name;
            row.source = fault.source;
            if (!fault.answer.empty()) {
                row.margin =
                    fmt::format("answered by `{}` at {}", fault.answer, files_.place_line(fault.source));
            } else {
                row.verdict = Verdict::not_provable;
                row.needs_interlock = true;
                row.decides = fault.needed;
                row.margin = "needs an interlock";
                // Where nothing shuts the line in a cold tube `no_low_temperature_cutoff` says so.
                const auto cutoff = cold_cutoff(model_, rig_, fault.line, plant_);
                if (fault.fault != Fault::heater_lost || !cutoff || cutoff->holds()) open.push_back(fault);
            }
            result_.rows.push_back(std::move(row));
        }
        if (open.empty()) return;
        std::string names;
        for (const FaultAnswer& fault : open) names += (names.empty() ? "" : ", ") + fault.name;
        Diagnostic& d = out_.warning(Code::needs_interlock, rig_.source,
                                     fmt::format("rig `{}` declares no interlock for: {}", rig_.name, names));
        d.cause("no position of a valve answers these faults");
        std::set<timeline::Index> unset;
        for (const FaultAnswer& fault : open) {
            if (fault.unset == timeline::none) {
                d.remedy("fit hardware that acts by itself and declare it:  " + fault.needed);
            } else if (unset.insert(fault.unset).second) {
                d.cause(
                    fmt::format("the interlocks that are declared open `{}`, and nothing may come from it then",
                                rig_.lines[fault.unset].name));
                d.remedy(fault.needed);
            }
        }
    }

    void equipment() {
        const std::size_t before = out_.errors();
        for (Row& row :
             check_equipment(model_, rig_, timeline_, plant_, walk_, aborts_, controller_, files_, out_))
            result_.rows.push_back(std::move(row));
        if (out_.errors() != before) result_.proven = false;
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
            const Judgement judgement = judge_.requirement(r);
            judge_one(judgement, timeline_.conditions[r.condition], r.source, text, false);
            if (!judgement.applied && r.guard != timeline::none && r.first_span < r.last_span)
                guard_never_holds(r);
        }
        for (const timeline::Expectation& e : timeline_.expectations)
            judge_one(judge_.expectation(e), timeline_.conditions[e.condition], e.source,
                      "expect " + print(timeline_.conditions[e.condition], timeline_), true);
    }

    /// What is asked only while something holds that never does is not asked at all.
    void guard_never_holds(const timeline::Requirement& r) {
        const timeline::Condition& guard = timeline_.conditions[r.guard];
        out_.warning(
                Code::never_reached, guard.source == athanor::Span{} ? r.source : guard.source,
                fmt::format("`{}` holds at no instant that this `require` covers, so that nothing is asked",
                            print(guard, timeline_)))
            .remedy("another limit behind `while`, or the `require` where it is met");
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
        row.decides = decides(judgement.margin);
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

    const program::Controller* controller_;
    const check::Model& model_;
    const check::Rig& rig_;
    const timeline::Timeline& timeline_;
    const plant::Plant& plant_;
    const Files& files_;
    Diagnostics& out_;
    Walk walk_;
    Judge judge_;
    Aborts aborts_;
    FaultJudge faults_;
    std::vector<Instance> instances_;
    Assurance result_;
};

} // namespace

std::string_view name(Outcome outcome) {
    constexpr std::array names{"proven", "not applied", "conceded",     "needs an interlock",
                               "warned", "not judged",  "not provable", "violated"};
    return names[static_cast<std::size_t>(outcome)];
}

std::string identifier(Outcome outcome) {
    std::string text(name(outcome));
    std::replace(text.begin(), text.end(), ' ', '_');
    return text;
}

Outcome Row::outcome() const {
    if (!applied) return Outcome::not_applied;
    if (not_judged) return Outcome::not_judged;
    if (needs_interlock) return Outcome::needs_interlock;
    if (verdict == Verdict::proven) return Outcome::proven;
    if (conceded) return Outcome::conceded;
    if (warned) return Outcome::warned;
    return verdict == Verdict::violated ? Outcome::violated : Outcome::not_provable;
}

Assurance prove(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
                const plant::Plant& plant, const Files& files, Diagnostics& out,
                const program::Controller* controller) {
    return Prover(model, rig, timeline, plant, files, out, controller).run();
}

} // namespace athanor::prove
