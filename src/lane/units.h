// Units of the trade, exact by definition. SI is used inside the program; these stand at its edges.
#pragma once

namespace hookline::lane {

inline constexpr double kMetresPerInch = 0.0254;
inline constexpr double kMetresPerFoot = 0.3048;
inline constexpr double kMetresPerSecondPerMph = 0.44704;
inline constexpr double kPi = 3.14159265358979323846;
inline constexpr double kStandardGravity = 9.80665;  // m/s^2

constexpr double MetresFromInches(double in) { return in * kMetresPerInch; }
constexpr double MetresFromFeet(double ft) { return ft * kMetresPerFoot; }
constexpr double InchesFromMetres(double m) { return m / kMetresPerInch; }
constexpr double FeetFromMetres(double m) { return m / kMetresPerFoot; }
constexpr double MphFromMetresPerSecond(double v) { return v / kMetresPerSecondPerMph; }
constexpr double MetresPerSecondFromMph(double v) { return v * kMetresPerSecondPerMph; }
constexpr double DegreesFromRadians(double r) { return r * 180.0 / kPi; }
constexpr double RadiansFromDegrees(double d) { return d * kPi / 180.0; }

}  // namespace hookline::lane
