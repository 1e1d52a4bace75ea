// Package profile describes quantities that change with time, and the motions
// of an axis, exactly: as polynomial pieces.
//
// [Curve] is a function of time made of polynomial pieces. A move with constant
// jerk per segment is a cubic per piece; torque, power and losses are products
// of such pieces. So integrals, means, RMS values, extrema and level crossings
// are closed form (antiderivatives and roots), with no time step and no
// sampling.
//
// [Plan] gives the time-optimal move between two positions at rest, [PlanBetween]
// that between any two states, [Halt] the shortest way to a stop, [Dwell] a wait, and [Sequence] joins them into a [Motion]. [NewMotion] takes any other
// position curve without jumps and kinks. A [Law] is the shape of a move of given
// duration: shares of acceleration and deceleration ([Shares]), least loss and the
// polynomial and harmonic laws of cams. [Synchronise] lets several axes end
// together, [Line] leads them along a straight line.
//
// # Conventions
//
// All quantities are float64 in SI units. A linear axis moves in m, a rotary
// axis in rad; where a unit is written [m] it is [rad] for a rotary axis. Time
// is in s.
//
// Values are immutable after construction and safe for concurrent use.
//
// Bad input gives an error that joins one [*InputError] per fault, each with
// the path of the field. No function panics on bad input and none returns NaN
// with a nil error. Methods without an error, such as [Curve.Scale] and
// [Curve.Integral], follow float64: a factor that is not finite, or a result
// beyond 1.8e308, gives ±Inf or NaN there.
package profile
