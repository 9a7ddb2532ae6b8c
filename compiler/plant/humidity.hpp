#pragma once

/// Moisture: Sonntag's saturation pressures (Meteorol. Z. N. F. 3 (1994) 51), over water from 0 degC up, over
/// ice below; valid from -100 to 100 degC. Above 100 degC the formula is carried on as it stands.
namespace athanor::plant {

/// Pa at a temperature in K.
double saturation_pressure(double temperature);
/// K at which a vapour pressure in Pa saturates: the dew point, or the frost point below 0 degC. 0 for dry gas.
double dew_point(double vapour_pressure);

} // namespace athanor::plant
