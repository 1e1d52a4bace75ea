package sizing

import (
	"fmt"
	"math"
	"strings"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// assumptions collects what the figures rest on.
func (a *Assessment) assumptions() {
	m := a.Machine
	add := func(format string, args ...any) { a.Assumptions = append(a.Assumptions, fmt.Sprintf(format, args...)) }
	if a.exact() {
		add("One station: the bus is computed for its settled cycle.")
	} else {
		if len(a.Stations) == 1 {
			add("One station, whose load or thresholds have a spread: the bus is bounded for all of it.")
		} else {
			apart := ""
			if m.Lock != nil {
				apart = " Only the figures under locked stations take them to keep their start delays."
			}
			add("Stations are not locked to each other: their cycles line up in any way.%s", apart)
		}
	}
	a.pauseAssumption()
	add("Payload and friction as entered and, where a spread is given, at its ends; efficiencies as entered; copper from the lowest ambient to its settled temperature; capacitance, supply voltage, thresholds, brake resistor and bleeder over their tolerances.")
	add("Back-driving efficiency, where it is not given, is 2 - 1/forward for every stage and mechanism: the friction torque is then the same in both directions. The mass of a belt is moved without the belt's losses.")
	add("Copper resistance grows as (234.5 + T)/(234.5 + T0), T in °C (annealed copper, NBS Handbook 100, number from memory). The thermal resistance of a winding follows from the motor's continuous rating: the copper loss of that torque and of the motor's own drag, at the winding's highest temperature.")
	a.heatAssumptions()
	a.helpAtRest()
	add("Axes keep their power at any bus voltage.")
	if !a.exact() {
		mean := "The mean power is a bound: what axes return is not deducted"
		if m.Bleeder > 0 {
			mean += ", and the bleeder takes its power at the highest no-load voltage"
		}
		if m.Bank.SeriesResistance > 0 {
			mean += "; what the bank's series resistance can burn is in it"
		}
		add("%s.", mean)
	}
	if len(m.Brakes) > 0 {
		add("Sag and rise are found with the least capacitance; stored energy, discharge and the energy of one burst in the resistor with the most.")
	}
	if a.hasRod() {
		add("Critical speed of a screw: bending of a uniform beam (Blevins, Formulas for Natural Frequency and Mode Shape, table 8-1, from memory). Buckling: Euler's load for slender rods, Johnson's parabola for stocky ones (Shigley, Mechanical Engineering Design, from memory).")
	}
	if a.hasClamp() {
		add("Clamped hubs: friction under even pressure all round, T = π/2 µ p d² l (any handbook of machine elements; formula as in Roloff and Matek, Maschinenelemente, from memory). A loose bore carries up to 36 %% less.")
	}
	if m.Supply.Rectified != nil {
		add("The rectifier is at sinusoidal, balanced mains; recovery of its diodes and saturation of the transformer are left out. Over cycles it is taken by its average, and its ripple is added.")
	}
	a.stopAssumptions()
	if m.cabled() {
		add("Cables have resistance and no inductance. A drive's capacitor that follows its cable within 50 µs counts as part of the bank; the sag and the rise of a drive go with the highest currents of all drives on its cable at once.")
	} else {
		add("One bank at one point: no cables, no separate capacitors behind them.")
	}
}

// pauseAssumption says which stations are taken to pause, and which never to.
func (a *Assessment) pauseAssumption() {
	var strict, pausing, waiting []string
	for _, st := range a.Stations {
		switch {
		case len(st.Pauses) == 0:
			strict = append(strict, st.Name)
		case len(st.Pauses) > 1:
			waiting = append(waiting, st.Name)
			fallthrough
		default:
			pausing = append(pausing, st.Name)
		}
	}
	var parts []string
	if len(strict) > 0 {
		parts = append(parts, "begins the next cycle when one ends, and never waits: "+strings.Join(strict, ", "))
	}
	if len(pausing) > 0 {
		parts = append(parts, "may stand idle between two cycles for any time: "+strings.Join(pausing, ", "))
	}
	if len(waiting) > 0 {
		parts = append(parts, "may wait after the steps that let it: "+strings.Join(waiting, ", "))
	}
	a.Assumptions = append(a.Assumptions, "What a station does after its cycle: "+strings.Join(parts, "; ")+". While it stands still its axes rest at their places.")
}

// helpAtRest says what friction does for an axis that rests.
func (a *Assessment) helpAtRest() {
	text := "At standstill an axis is held by the least torque that holds it: friction helps."
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			word, amount, _ := a.Machine.axis(ax.Name).exerted()
			with, without := ax.Hot.RatedTorque.RMS(), ax.UnaidedRMS
			if math.Abs(without-with) > 5e-4*math.Max(with, without) {
				text += fmt.Sprintf(" If it did not, the RMS motor %s of %q would be %s instead of %s (%+.0f %%).", word, ax.Name, show(without, amount), show(with, amount), 100*(without/with-1))
			}
		}
	}
	a.Assumptions = append(a.Assumptions, text)
}

// unaided returns the RMS that the motor torque would have if the axis, while it rests,
// were held without any friction. Simpson's rule is exact here: torque and force are
// straight lines in time on every piece.
func unaided(axis energy.Axis, steps []energy.Step, torque profile.Curve) (float64, error) {
	if torque.Duration() == 0 {
		return 0, nil
	}
	rms := torque.RMS()
	sum := rms * rms * torque.Duration()
	step, start := 0, 0.0
	for i := range torque.Pieces() {
		t0, t1, _ := torque.Piece(i)
		for mid := t0 + (t1-t0)/2; step < len(steps)-1 && mid >= start+steps[step].Motion.Duration(); step++ {
			start += steps[step].Motion.Duration()
		}
		s := steps[step].Motion
		if s.Speed().At(t0+(t1-t0)/4-start) != 0 || s.Speed().At(t0+(t1-t0)/2-start) != 0 {
			continue
		}
		axis.Load = steps[step].Load
		var h energy.Holding
		for k, x := range [...]struct{ at, weight float64 }{{1e-9, 1. / 6}, {0.5, 4. / 6}, {1 - 1e-9, 1. / 6}} {
			t := t0 + x.at*(t1-t0)
			if k == 0 || axis.Load.ExternalByTime.Pieces() > 0 { // at rest nothing else changes it
				var err error
				if h, err = axis.Holding(s.Position().At(t-start), t-start); err != nil {
					return 0, err
				}
			}
			held := torque.At(t)
			sum += x.weight * (t1 - t0) * (h.Free*h.Free - held*held)
		}
	}
	return math.Sqrt(math.Max(0, sum/torque.Duration())), nil
}

func (a *Assessment) hasRod() bool {
	for _, x := range a.Machine.Axes {
		if x.Rod != nil {
			return true
		}
	}
	return false
}

func (a *Assessment) hasClamp() bool {
	for _, x := range a.Machine.Axes {
		if x.Joint != nil {
			if _, ok := x.Joint.Joint.(energy.ClampHub); ok {
				return true
			}
		}
	}
	return false
}
