#include "compiler/plant/sensor.hpp"

namespace athanor::plant {

SensorTolerance::SensorTolerance(const check::Model& model, const check::Sensor& sensor) {
    if (sensor.type >= model.thermocouples.size()) return;
    for (const check::Tolerance& t : model.thermocouples[sensor.type].classes)
        if (t.number == sensor.tolerance_class) {
            absolute_ = t.absolute;
            relative_ = t.relative;
            from_ = t.from;
            added_ = t.added;
        }
}

} // namespace athanor::plant
