// Package bus computes the voltage of a DC bus that several servo axes share:
// how far it sags when they draw together, how far it rises when they brake
// together, what the source and the brake resistor then carry, and bounds on
// all of these that hold however the cycles of unsynchronised stations line up.
//
// # Model
//
// One bank with series resistance Rs, one or several supplies, a bleeder, brake
// resistors switched with hysteresis and delay, a linear clamp, and loads P(t) that
// take their power whatever the voltage. A [Network] has besides feeders, each a
// resistance R to the place k of a drive with a capacitor C, in star or in chain, and
// loads G(t) of given conductance:
//
//	Cbank dVc/dt = i                   current into the bank
//	V = Vc + Rs i                      voltage of the distribution point
//	i = iSource(V) - iClamp(V) - V/Rbleed - [on] V/Rbrake - P/V - G V - Σ I
//	I = (V - u)/R                      current in a feeder
//	C du/dt = I - P/u - G u - Σ I'     over the feeders that go on from there
//
// Source and clamp are piecewise linear in V; at its set point a regulated supply
// holds V and delivers what is taken. Places without a capacitor follow the balance
// of currents at once. Of its solutions the one with the highest voltages counts, the
// only stable one; where it ends the bus jumps to a lower part of the source's
// characteristic or collapses. Between switching events this is one smooth system of
// differential equations, integrated by Taylor steps (internal/taylor); the results
// are [profile.Curve]s again.
//
// # Memory
//
// A [SwitchMode] supply may shut down after some time at its limit or when its output
// is driven too high, start again after a pause, and have a peak that is used up and
// comes back; drives may trip and be released ([Bus.TripsRelease]). Clocks and modes
// are part of [State], so that a simulation can carry on where another ended. The
// bounds for any phase are refused, by name, where such a supply could be missing, and
// do not count on a timed peak.
//
// # What is lumped
//
// A capacitor that follows its cable within [ShortestFeeder] is counted as part of the
// bank, behind its series resistance, and the end of the feeder follows at once. The
// bounds for any phase count all capacitors as part of the bank, with allowances for
// what that leaves out; see [Network.AnyPhase].
//
// # Conventions
//
// SI units: V, A, W, J, F, s. Load power is positive when taken from the bus and
// negative when returned to it. Source current is positive out of the source, and
// negative only while a [Battery] is charged.
//
// # Any phase
//
// [Bus.AnyPhase] bounds the voltage for stations that nobody keeps in step: each a
// [Cycle] that repeats with pauses, strictly, or happens once. [Bus.Averages] bounds what
// source and resistors then carry over windows of time.
//
// # Limits of the model
//
// A load keeps its power at any voltage: below the voltage an axis needs, and without
// TripsRelease above or below the limits at which drives trip, the computed voltage
// says by how much the limit is missed and not what the machine would then do.
// Inductance of cables and windings, mains ripple, the time that a regulated supply
// takes to react, in-rush and the warming of resistances are not in the model.
//
// Capacitor banks store lethal energy and stay charged after power is removed;
// brake resistors get hot enough to burn and to ignite. The figures are for
// design. Local codes and licensed practice decide.
package bus
