package sizing

import (
	"fmt"
	"math"
	"strings"

	"example.com/headroom/energy"
)

// gap is something that was not checked, and on which axes.
type gap struct {
	what    string
	applies func(Axis, AxisResult) bool
}

// unchecked lists what no limit was held against, and why: a reader who sees that all
// limits are kept has to see which ones there were.
func (a *Assessment) unchecked() {
	gaps := []gap{
		{"voltage for the speed (inductance, pole pairs or the drive's modulationLimit not given)", func(x Axis, r AxisResult) bool { return r.Voltage == nil }},
		{"voltage for the speed (the bus has no lowest voltage)", func(x Axis, r AxisResult) bool { return r.Voltage != nil && math.IsInf(a.Bus.Lowest, 0) }},
		{"peak current (the drive's peakCurrent not given)", func(x Axis, r AxisResult) bool { return x.Drive.Drive.PeakCurrent == 0 }},
		{"RMS current (the drive's continuousCurrent not given)", func(x Axis, r AxisResult) bool { return x.Drive.Drive.ContinuousCurrent == 0 }},
		{"emergency stop (stopDecel not given)", func(x Axis, r AxisResult) bool { return x.StopDecel == 0 }},
		{"coupling (no rating given)", func(x Axis, r AxisResult) bool { return x.Ratings.Coupling == nil && !isDirect(x.Drive.Mechanism) }},
		{"joint of the first hub (not given)", func(x Axis, r AxisResult) bool { return x.Joint == nil && !isDirect(x.Drive.Mechanism) }},
		{"gear stages (a rating not given)", func(x Axis, r AxisResult) bool { return x.unratedStage() }},
		{"belt, screw, rack or what else moves the load (no rating given)", func(x Axis, r AxisResult) bool { return x.Ratings.Mechanism == nil && !isDirect(x.Drive.Mechanism) }},
		{"whirling and buckling (rod not given)", func(x Axis, r AxisResult) bool { return x.screw() && x.Rod == nil }},
		{"buckling (rod.buckling not given)", func(x Axis, r AxisResult) bool { return x.Rod != nil && x.Rod.Buckling.Length == 0 }},
	}
	gaps = append(gaps, a.stopGaps()...)
	gaps = append(gaps, a.uncheckedHeat()...)
	total := len(a.Machine.Axes)
	for _, g := range gaps {
		var names []string
		for _, st := range a.Stations {
			for _, ax := range st.Axes {
				if g.applies(a.Machine.axis(ax.Name), ax) {
					names = append(names, ax.Name)
				}
			}
		}
		switch n := len(names); {
		case n == 0:
		case n == total && n > 1:
			a.Unchecked = append(a.Unchecked, g.what+": every axis")
		case n > 12:
			a.Unchecked = append(a.Unchecked, fmt.Sprintf("%s: %s and %d more", g.what, strings.Join(names[:12], ", "), n-12))
		default:
			a.Unchecked = append(a.Unchecked, g.what+": "+strings.Join(names, ", "))
		}
	}
	if a.Machine.Stops == nil {
		a.Unchecked = append(a.Unchecked, "stops and loss of power: bus, coasting axes, wear of brakes (stops not given)")
	}
	for _, x := range []struct {
		missing bool
		what    string
	}{
		{!a.Machine.cabled(), "cables to the drives, their contacts and fuses (no cable given)"},
		{a.Machine.StartUp == nil, "start-up, homing together, a jammed axis (startUp not given)"},
		{a.Machine.Rail == nil, "auxiliary rail (rail not given)"},
	} {
		if x.missing {
			a.Unchecked = append(a.Unchecked, x.what)
		}
	}
	a.uncheckedMains()
	if len(a.Machine.Brakes) == 0 {
		a.Unchecked = append(a.Unchecked, "brake resistor (there is none)")
	}
}

// unratedStage reports whether a gear stage has no rating.
func (a Axis) unratedStage() bool {
	for i := range a.Drive.Stages {
		if i >= len(a.Ratings.Stages) || a.Ratings.Stages[i] == nil {
			return true
		}
	}
	return false
}

func (a Axis) screw() bool {
	_, ok := a.Drive.Mechanism.(energy.Screw)
	return ok
}
