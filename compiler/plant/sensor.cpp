#include "compiler/plant/sensor.hpp"

#include <algorithm>
#include <stdexcept>

namespace athanor::plant {

SensorTolerance::SensorTolerance(const check::Model& model, const check::Sensor& sensor) {
    const auto& classes = model.thermocouples.at(sensor.type).classes;
    const auto found = std::find_if(classes.begin(), classes.end(), [&](const check::Tolerance& t) {
        return t.number == sensor.tolerance_class;
    });
    if (found == classes.end()) throw std::logic_error("a rig's sensor is of no declared class");
    absolute_ = found->absolute;
    relative_ = found->relative;
    from_ = found->from;
    added_ = found->added;
}

} // namespace athanor::plant
