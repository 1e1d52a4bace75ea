// Package sizing assesses a whole machine: several servo axes, grouped into
// stations, on one DC bus.
//
// [Parse] reads a [Machine] from its JSON document, [Assess] computes what its
// motors, supply, bank, brake resistor and windings have to carry and compares
// that with their limits, and the [Assessment] writes itself as text or JSON.
//
// # Stations
//
// The axes of a station run one common cycle of steps; a step ends when its
// slowest move and its dwell have ended. Different stations are not locked to
// each other: their cycles may line up in any way, and the figures of the bus
// hold for every way (see [bus.Bus.AnyPhase]). A station may stand idle between two cycles for
// any time and wait after the steps that let it, unless it is strict. A machine with one
// strict station has only one way, and its settled cycle is computed instead, unless its load
// or what drains the bus has a spread.
//
// [Machine.Carries] finds how many of a station one bus carries, [Machine.Split] how
// stations share several. Where a controller keeps the start delays of stations, a [Lock]
// finds good ones; the machine is held against the bounds all the same. [Machine.Sample] and
// [Machine.Sensitivities] say how often what happens within the tolerances, and why. A
// document may ask for all of these.
//
// # Corners
//
// Each figure is taken at the corner that is worst for it:
//
//	sag, supply, heat   lowest set point or line, least capacitance, hot copper,
//	                    resistances and thresholds low
//	rise                highest set point or line, least capacitance, cold copper,
//	                    resistances and thresholds high
//	brake resistor      cold copper; on threshold high, off threshold low, most
//	                    capacitance; the resistance that is worse
//	stop, rise          as for rise, from the highest voltage of normal running
//	stop, mains gone    as for sag, from the lowest voltage of normal running
//	coasting, brakes    friction low, payload at the worse end, cold magnets
//	temperatures        highest ambient, the end of the load's spread that makes it hottest,
//	                    highest mean powers, bank at the end of its life
//	stored energy,      highest voltage, most capacitance, bleeder high
//	discharge
//
// Hot copper is the winding's settled mean temperature in the highest ambient,
// cold copper the lowest ambient. Where friction or payload have a spread, every axis
// is followed with its load as entered and at each combination of the ends; a figure is
// that of the worst and names it ([Figure.Corner]). The bus is computed with the most,
// for rise with the least, that an axis takes at any of them at every instant.
//
// What no limit was held against is in [Assessment].Unchecked.
//
// # The document
//
// Its fields are described by a JSON Schema, examples/assess/machine.schema.json, that
// the tests hold against the reader.
//
// The assessment is a calculation. It does not replace measurement on the
// machine, protective devices, local codes or licensed practice.
package sizing
