#pragma once
#include "compiler/driver/recipe_text.hpp"
#include "compiler/prove/sweep_limits.hpp"

#include <string>
#include <string_view>
#include <vector>

/// How this recipe would be told to sweep its rig's tube: by which line, with what flow, until when.
namespace athanor::driver {

class SweepWords {
public:
    SweepWords(const Session& session, const Compiled& compiled, const RecipeText& text);

    /// The line that a name in the recipe means; null where it means none, or could mean several.
    const check::Line* line_named(std::string_view name) const;
    /// A line whose gas clears a tube of fuel: one that the recipe uses, else the first; null where there is
    /// none.
    const check::Line* inert() const { return inert_; }

    /// The literal flows in steps that work this line.
    std::vector<NodeId> flows_of(const check::Line& line) const;
    /// Does the step call the operation that exchanges flammable gas?
    bool calls_clearing(NodeId step) const;

    // Of the inert line, which must be there.
    std::string flow() const;
    std::string switch_over() const; // "switch to argon at 2.4 slm"
    std::string purge(std::string_view until) const;
    std::string purge() const { return purge(air_gone()); }
    /// Steps as calls of the standard operations where those work this line, else their own steps.
    std::string inert_purge() const;
    std::vector<std::string> clear() const;

    // What the rules ask, with some room for rounding.
    const std::string& air_gone() const { return limits_.air_gone; }
    std::string fuel_gone() const { return "dwell until " + limits_.fuel_gone; }
    std::string burner_burns() const { return "dwell " + limits_.burner_burns; }

private:
    /// An operation of the library that works one gas line: its parameters as they are declared.
    struct Operation {
        std::string name;
        std::string gas, flow;             // names of its parameters; empty: it has none such
        const check::Line* line = nullptr; // of the default gas
    };
    Operation operation(std::string_view name) const;
    /// With the flow that this recipe gives the inert line; empty where the operation does not work it so.
    std::string call(const Operation& operation) const;
    /// The flow that the recipe gives this line already (a hand meter has only one), else most of its range.
    std::string flow_text(const check::Line& line) const;

    const check::Model& model_;
    const check::Rig* rig_; // null: not known
    const RecipeText& text_;
    const prove::SweepLimits limits_;
    Operation purging_, clearing_;
    const check::Line* inert_ = nullptr;
};

} // namespace athanor::driver
