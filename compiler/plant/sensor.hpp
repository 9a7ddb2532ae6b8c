#pragma once
#include "compiler/check/model.hpp"
#include "compiler/physics/constants.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::plant {

/// Tolerance of a sensor in K at a true temperature in K, by its class.
class SensorTolerance {
public:
    SensorTolerance(const check::Model& model, const check::Sensor& sensor);
    double operator()(double temperature) const {
        const double t = temperature - physics::zero_celsius;
        return added_ ? absolute_ + relative_ * std::max(0.0, t - from_)
                      : std::max(absolute_, relative_ * std::abs(t));
    }

private:
    double absolute_ = 0, relative_ = 0, from_ = 0; // K, share, degC
    bool added_ = false;
};

} // namespace athanor::plant
