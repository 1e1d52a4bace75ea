// Package thermal computes what gets hot in a servo axis and in its brake
// resistor, and compares it with what is permitted.
//
// [RMSLoading] holds a torque or current curve against a continuous rating.
// [Winding] gives the settled temperature of a motor winding, with the growth of
// its copper loss as it heats, and the continuous torque in another ambient.
// [FirstOrder], [Body], [SettleCycle] and [Intermittent] treat bodies with one
// temperature in time: heating, cooling, and duty types S2 and S3.
// [BrakeResistor] is checked for its mean power and for a single stop.
//
// # Conventions
//
// All quantities are float64 in SI units; times are in s. A temperature is in
// °C, a difference of temperatures (a rise over ambient, a margin) in K. Heat is
// positive when it flows into the body.
//
// Every model here has one node: one temperature per body. The mean loss of a
// cycle gives the mean temperature. It hides the peak within the cycle, and is
// a fair figure only when the cycle is short against the time constant of the
// body; for a winding that is the time constant of the copper against the
// frame, often below a minute, and not the much longer one of the whole motor
// (common practice, no source).
//
// Parameters are plain structs. Each method checks what it uses, and Validate
// reports all faults of one struct together. Bad input gives an error that joins
// one [*profile.InputError] for each fault. No function panics on bad input and
// none returns NaN or an infinity with a nil error. Values are not changed by
// any method and are safe for concurrent use.
//
// # Caution
//
// A calculated temperature does not replace a temperature sensor in the winding,
// the overload protection of the drive or a thermal cut-out on the resistor.
// Motor frames and brake resistors in normal use can burn skin and ignite what
// touches them. Choose clearances, guards and protective devices by the local
// codes, with people licensed to do so.
package thermal
