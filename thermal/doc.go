// Package thermal computes what gets hot in a servo axis, its supply and its
// cabinet, and compares it with what is permitted.
//
// Bodies and networks. [FirstOrder], [Body], [SettleCycle] and [Intermittent]
// treat bodies with one temperature. [Network] has any number of nodes, and gives
// the course of all temperatures under any heat, the settled cycle directly, and
// the time to a limit.
//
// Motors. [RMSLoading] holds a torque or current curve against a continuous
// rating. [Winding] gives the settled mean temperature of a winding, with the
// growth of its copper loss as it heats. [WindingNetwork] follows it through the
// cycle, magnets included: peak, runaway, continuous torque, overload time.
// [TwoNodeMotor] is one of usual data. [Duty] classifies a cycle as duty type S1 to
// S10, [WindingClass] has rise limits and derating.
//
// Around them. [BrakeResistor], [PulseRating] and [OverloadRating] hold resistors
// and supplies against their ratings; [DriveHeat] is what drives give off, and
// [Cabinet] how hot it gets where they stand. [Capacitor] gives ripple heating and
// life, [Ageing] what becomes of it. [Ampacity], [AmpacityTable] and [Adiabatic]
// treat conductors.
//
// Measured records. [FitOneNode], [FitTwoNodes] and [FitPair] find time constants,
// capacities and resistances with standard errors, or refuse.
//
// # Conventions
//
// All quantities are float64 in SI units; times are in s. A temperature is in
// °C, a difference of temperatures (a rise over ambient, a margin) in K. Heat is
// positive when it flows into the body.
//
// The models with one node take the mean loss of a cycle for its mean
// temperature. That hides the peak within the cycle, and is a fair figure only
// when the cycle is short against the time constant of the body; for a winding
// that is the time constant of the copper against the frame, often below a
// minute, and not the much longer one of the whole motor (common practice, no
// source).
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
