#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/program/program.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/source/file.hpp"
#include "compiler/timeline/timeline.hpp"

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace athanor::prove {

/// What a row of the table says. Ordered: everything before `not_provable` lets a run go.
enum class Outcome : std::uint8_t {
    proven,
    not_applied,     // nothing in this recipe falls under the rule
    conceded,        // not proven, and a site policy takes that upon itself
    needs_interlock, // a fault that only hardware answers, and none is declared
    warned,          // not held, and the rule only warns
    not_judged,      // what it rests on failed before
    not_provable,    // fails for some rig inside the declared intervals
    violated         // fails for every one
};
std::string_view name(Outcome outcome);  // "needs an interlock"
std::string identifier(Outcome outcome); // "needs_an_interlock", for other programs

/// One row of the assurance table.
struct Row {
    std::string rule, title;
    plant::Verdict verdict = plant::Verdict::proven;
    std::string margin;    // "oxygen 8.9 ppm, limit 10 ppm"; empty when the rule never applied
    double at_s = 0;       // nominal instant of the smallest margin
    athanor::Span source;  // where in the recipe
    bool applied = true;   // false: nothing in this recipe falls under the rule
    double after_s = -1;   // time without power, where `at_s` is the instant of a failure; negative: no failure
    std::string decides{}; // the floor or uncertainty that the margin hangs on; may be empty
    bool conceded = false, needs_interlock = false, warned = false, not_judged = false;

    Outcome outcome() const;
    bool has_margin() const { return applied && !not_judged && !margin.empty(); }
};

struct Assurance {
    std::vector<Row> rows; // one per rule and per `require`/`expect`, in the order of the policy
    std::vector<std::string> cautions, assumptions;
    std::vector<std::string> concessions;
    std::vector<std::string> beforehand; // what people have done before the start
    bool proven = true;
};

/// Judges any timeline, elaborated or legalised, against its own requirements and every rule of the model.
/// Spans are bisected where a verdict depends on the instant. Reports one diagnostic per rule and place.
/// Rules about the controller are judged where one is named.
Assurance prove(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
                const plant::Plant& plant, const Files& files, Diagnostics& out,
                const program::Controller* controller = nullptr);

} // namespace athanor::prove
