#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/source/file.hpp"
#include "compiler/timeline/timeline.hpp"

#include <string>
#include <vector>

namespace athanor::prove {

/// One row of the assurance table.
struct Row {
    std::string rule, title;
    plant::Verdict verdict = plant::Verdict::proven;
    std::string margin;   // "oxygen 8.9 ppm, limit 10 ppm"; empty when the rule never applied
    double at_s = 0;      // nominal instant of the smallest margin
    athanor::Span source; // where in the recipe
    bool applied = true;  // false: nothing in this recipe falls under the rule
};

struct Assurance {
    std::vector<Row> rows; // one per rule and per `require`/`expect`, in the order of the policy
    std::vector<std::string> cautions, assumptions;
    std::vector<std::string> concessions;
    bool proven = true;
};

/// Judges any timeline, elaborated or legalised, against its own requirements and every rule of the model.
/// Spans are bisected where a verdict depends on the instant. Reports one diagnostic per rule and place.
Assurance prove(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
                const plant::Plant& plant, const Files& files, Diagnostics& out);

} // namespace athanor::prove
