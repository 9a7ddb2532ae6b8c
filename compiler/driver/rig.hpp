#pragma once
#include "compiler/check/model.hpp"
#include "compiler/driver/session.hpp"
#include "compiler/plant/plant.hpp"

#include <string>
#include <vector>

namespace athanor::driver {

/// What a furnace can do at one temperature: bounds over every furnace that meets the rows of its declaration.
struct CurvePoint {
    double temperature = 0; // K
    plant::Capacity capacity;
    Interval power;  // W to hold it
    Interval heated; // s at full power from the cold end of the curve
    Interval cooled; // s with the heater off from the hot end
};

struct RigCurves {
    double cold = 0, hot = 0; // K
    std::vector<CurvePoint> points;
};

/// What the rig declares, a row each; figures that it does not declare are marked as assumed.
void print_declared(const Session& session, const check::Rig& rig);

/// Points every `step` K from the first full step above the room to the top of the furnace's range.
RigCurves curves_of(const plant::Plant& plant, const check::Rig& rig, double step);

/// The curves as an SVG document. `provenance`: one line of text.
std::string draw(const check::Rig& rig, const RigCurves& curves, const std::string& provenance);

} // namespace athanor::driver
