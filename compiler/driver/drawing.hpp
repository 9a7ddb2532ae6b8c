#pragma once
#include "compiler/driver/trace.hpp"

#include <string>
#include <vector>

namespace athanor::driver {

/// What stands around the curves of a recipe's drawing.
struct DrawingText {
    std::string title, subtitle; // "Nickel foam, …" and "nickel_reduction on quartz_bench for …"
    std::string verdict;         // one line
    bool refused = false;        // drawn as no plan to run
    std::vector<std::string> provenance;
    std::vector<std::string> cautions, concessions; // as every output says them
    std::vector<std::string> hazards;               // per line of the timeline: "flammable", or empty
};

/// A timeline with its bounds as an SVG document: lanes over one nominal time axis.
std::string draw(const timeline::Timeline& timeline, const plant::Plant& plant, const DrawingText& text);

/// More spans than this are not drawn: no page shows them apart.
inline constexpr std::size_t most_drawn_spans = 100'000;

} // namespace athanor::driver
