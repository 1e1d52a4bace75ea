// Package energy computes what one servo axis needs for a motion: torque, power
// and where every joule goes.
//
// An [Axis] is a load, a mechanism that moves it, gear stages, a motor and a
// drive. [Axis.Trace] follows a [profile.Motion] through them and returns speed,
// torque and powers as exact curves, and an energy [Book] whose entries add up.
//
// # Conventions
//
// All quantities are float64 in SI units, temperatures in °C. A linear axis has
// its load in m, m/s and N; a rotary axis in rad, rad/s and N·m. Where a comment
// says [N] for a linear axis, it says what holds for a rotary one beside it.
//
// Torque is positive in the direction of positive motion, and all shafts turn in
// the direction of the load: ratios are positive. Mechanical power is torque
// times speed, positive when motoring. Bus power is positive when taken from the
// DC bus and negative when returned to it.
//
// "Input" means the motor's side of a gear stage, "output" the load's side.
//
// # Equations
//
// With the load coordinate x, v = dx/dt and a = dv/dt, the force on the output of
// the mechanism is
//
//	F = M a + Fc sign(v) + b v + M g sin(incline) - A(x) + outside(x, t)
//
// (for a rotary load torque, inertia and no gravity term). A is the force of a
// [Counterbalance], whose counterweight also adds to M; the outside force is a constant, a
// [ForceTable] and a curve over time; Fc and b may differ between the directions. A
// [CrankSlider] carries F over to the angle of its crank by its varying ratio. Each stage, and the
// mechanism, which is a stage whose output moves in m, turns the torque tL at its
// output into the torque at its input:
//
//	t = J alpha + drag sign(w) + tL/(N ef)   if tL w > 0, the motor drives the load
//	t = J alpha + drag sign(w) + tL eb/N     if tL w < 0, the load drives the motor
//
// N is input speed over output speed, ef the forward and eb the back-driving
// efficiency, J, alpha and w belong to the input. What accelerates the load is
// part of tL and so passes through the efficiency. This is the textbook treatment
// of a geared system (Khurmi and Gupta, Theory of Machines, ch. 3); the tests hold
// it against that book's worked example.
//
// The motor adds its rotor and its own drag, and the drive its losses:
//
//	electromagnetic torque  t = shaft torque + drag(w)
//	bus power               P = t w + (t/Km)² + a|I| + b I² + standby,  I = t/Kt
//
// Km is torque per root of copper loss, see [Winding]. Power that the copper and
// the drive do not use up flows back into the bus; P is then negative.
//
// Speed, the output torque of each stage and the motor's torque are polynomials on
// each piece of a motion, so the instants at which their signs change are roots,
// and the curves are cut exactly there, as they are where the load passes a break of its
// force against position or time. Behind a crank torque is no polynomial and is interpolated to
// 1e-11, see [CrankSlider].
//
// # Standstill
//
// While an axis stands, it is held with the least torque that holds it. Friction
// that resists any motion helps to hold: the load's static friction, the drag of
// stages and mechanism, and the constant part of the motor's drag each reduce the
// torque towards zero, and every stage passes on tL eb/N with eb taken as 0 when
// negative, so that a self-locking stage needs no holding torque. How much of the
// friction really helps depends on how the axis came to rest: the torque to hold
// may be anything from this least value up to that of an axis without friction, and the
// axis stays with any torque below that which starts it: [Axis.Holding] gives them all.
// The torque that breaks away lasts no time and is not part of a [Trace]: [Axis.Starts]
// gives it for every start of a motion.
//
// At an instant at which the speed only passes through zero there is no
// standstill: the sign of the speed on either side holds.
//
// A load that can fall is not safe because the figures say that it stays: friction
// and self-locking give way to vibration, wear and oil, and the motor holds nothing
// once power is gone. Hanging loads need a brake or a mechanical lock rated for them;
// local codes and licensed practice decide.
//
// # Limits of the model
//
// Stiff shafts, no backlash, efficiencies that depend neither on speed nor on load
// (the drags stand for the part of a loss that does not grow with load), friction
// without stick-slip. Motions have pieces of degree 7 or less. Bad input gives an
// error that joins one [*profile.InputError] per fault; nothing panics, and no NaN
// or infinity is returned with a nil error.
package energy
