#pragma once
#include "compiler/check/evaluate.hpp"
#include "compiler/check/model.hpp"
#include "compiler/timeline/timeline.hpp"

#include <string>
#include <vector>

/// Typed expressions over signals become conditions of the timeline, in postfix order. Requirements and waits
/// of a recipe, rules of a site and interlocks of a rig are read by this one grammar; what a word means where
/// the condition stands is the reader's to say.
namespace athanor::check {

class Words {
public:
    virtual ~Words() = default;
    /// Of an expression without a signal; poison where it was reported.
    virtual Value value(ExprId expr) = 0;
    /// The signal that an expression reads. False where the rig does not know it: the reader reports that, or
    /// the condition does not apply.
    virtual bool signal(const Expr& expr, timeline::Signal& signal) = 0;
    /// `flammable is open`, `flammable is closed`: the terms that stand for it. Rules alone have such words.
    virtual bool lines_of(const Expr& expr, std::vector<timeline::Term>& terms);
    /// K, `safety_temperature of flammable`, of several gases the highest or the lowest; what is compared with
    /// it may be read in another way. Rules alone.
    virtual double safety_temperature(const Expr& expr, bool highest, timeline::Signal& compared);
    /// A condition of this form, or a comparison of these figures, there is not.
    virtual void refuse(Code code, athanor::Span at, const std::string& message) = 0;
};

/// Appends the terms of an expression. `asked`: it must hold; else it says when something is asked. False where
/// it cannot be read.
bool lower(const Model& model, const Rig& rig, ExprId expr, Words& words, timeline::Condition& into,
           bool asked = true);

/// Does it depend on what happens in the run, or on which lines a hazard word means?
bool reads_run(const Model& model, ExprId expr);

/// Less, or less or equal.
bool upper(timeline::Comparison comparison);

} // namespace athanor::check
