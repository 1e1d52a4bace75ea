// Package bus computes the voltage of a DC bus that several servo axes share:
// how far it sags when they draw together, how far it rises when they brake
// together, what the source and the brake resistor then carry, and bounds on
// all of these that hold however the cycles of unsynchronised stations line up.
//
// # Model
//
// One bank with series resistance Rs, a source behind a blocking diode, a
// bleeder, a brake resistor switched with hysteresis, and loads P(t) that take
// their power whatever the voltage:
//
//	C dVc/dt = i                       current into the bank
//	V = Vc + Rs i                      voltage of the bus
//	i = iSource(V) - V/Rbleed - [on] V/Rbrake - P(t)/V
//
// The source's current is piecewise linear in V, so that with iSource = i0 - g V
// and G = g + 1/Rbleed + [on]/Rbrake the bus voltage is the larger root of
//
//	(1 + Rs G) V² - (Vc + Rs i0) V + Rs P = 0
//
// and V = Vc without series resistance. Between switching events this is one
// smooth differential equation, integrated by Taylor steps (internal/taylor);
// the result is a [profile.Curve] again.
//
// # Conventions
//
// SI units: V, A, W, J, F, s. Load power is positive when taken from the bus and
// negative when returned to it. Source current is positive out of the source
// and never negative.
//
// # Any phase
//
// [Bus.AnyPhase] bounds the voltage for stations that nobody keeps in step: each a
// [Cycle] that repeats with pauses, strictly, or happens once. [Bus.Averages] bounds what
// source and resistors then carry over windows of time.
//
// # Limits of the model
//
// A load keeps its power at any voltage: below the voltage an axis needs, and
// above or below the limits at which real drives trip, the computed voltage
// says by how much the limit is missed and not what the machine would then do.
// Cables, mains ripple, brake delay and supplies that fold back or latch are
// not in the model.
//
// Capacitor banks store lethal energy and stay charged after power is removed;
// brake resistors get hot enough to burn and to ignite. The figures are for
// design. Local codes and licensed practice decide.
package bus
