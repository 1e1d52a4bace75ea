// Package crosscheck holds package bus against two general-purpose programs that
// share nothing with it: scipy, which integrates the differential equations of a
// circuit, and ngspice, which is given the circuit itself as a netlist and forms
// its equations on its own. It supports tests and the program examples/referee,
// and is no part of the library.
//
// Both programs are written from the same [Circuit] that the library simulates:
//
//   - ode.py reads it as JSON. Its unknowns are the voltages of the capacitors;
//     the voltage of the distribution point follows from the balance of currents
//     by Newton's method; every element's energy is one more unknown. Between
//     switchings scipy.integrate.solve_ivp integrates, a terminal event ends the
//     stretch, and the next begins in the new mode. With the method "extended" an
//     extrapolated midpoint rule in 80-bit arithmetic takes its place, as the
//     reference for both.
//   - race.py is the same for one plain bus, with everything left out that costs
//     time: for the comparison of speed alone.
//   - [Netlist] writes a transient analysis: behavioural sources for supplies and
//     for loads of constant power, switches with hysteresis for brake resistors.
//
// Where the programs are missing, tests compare with the answers in testdata,
// which stand beside the input that led to them and the version of the program.
// Debian packages: ngspice, python3-scipy.
package crosscheck
