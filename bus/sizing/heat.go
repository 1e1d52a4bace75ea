package sizing

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// HeatResult is how hot the parts of a machine get.
type HeatResult struct {
	Windings  map[string]*WindingResult    // by axis, of motors with two nodes
	Duties    map[string]thermal.DutyClass // by axis
	Cabinet   *CabinetResult               // nil: none is given
	Bank      *thermal.CapacitorState      // nil: its capacitors are not given
	Resistors []ResistorHeat               // of the brake resistors, in their order
	Overloads []WindowLoad                 // of the supply, one for each of its points
	Overload  *thermal.Overload            // of the supply, its worst window of any length; nil: not known
	Cables    map[string]CableHeat         // by axis, of cables with an ampacity
}

// AmbientRating is what a part stands of the temperature around it.
type AmbientRating struct {
	FullUpTo float64 // temperature up to which its ratings hold in full [°C]
	Loss     float64 // part of them lost with each kelvin above [1/K], >= 0
	Max      float64 // highest temperature around it [°C], >= FullUpTo
}

// share returns the share of the ratings that holds at a temperature [°C], 0 to 1.
func (r *AmbientRating) share(t float64) float64 {
	if r == nil || !(t > r.FullUpTo) {
		return 1
	}
	return math.Max(0, 1-r.Loss*(t-r.FullUpTo))
}

func (r *AmbientRating) validate(f *profile.Faults, path string) {
	if r == nil {
		return
	}
	ok := r.FullUpTo == r.Max || f.Within(path+".fullUpTo", r.FullUpTo, -60, 300, "°C")
	if f.Within(path+".max", r.Max, -60, 300, "°C") && ok && r.Max < r.FullUpTo {
		f.Add(path+".max", r.Max, fmt.Sprintf("at least fullUpTo, %g °C", r.FullUpTo))
	}
	f.Within(path+".lossPerKelvin", r.Loss, 0, 1, "1/K")
}

// heat finds out how hot everything gets.
func (a *Assessment) heat(ctx context.Context) error {
	r := &a.Heat
	r.Windings, r.Duties, r.Cables = map[string]*WindingResult{}, map[string]thermal.DutyClass{}, map[string]CableHeat{}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			axis := a.Machine.axis(ax.Name)
			if err := a.heatWinding(ctx, axis, ax); err != nil {
				return err
			}
			a.duty(axis, ax)
		}
	}
	a.heatBank()
	if err := a.heatResistors(ctx); err != nil {
		return err
	}
	if err := a.heatSupply(ctx); err != nil {
		return err
	}
	a.heatCables()
	return nil
}

// validateHeat checks what belongs to temperatures.
func (m Machine) validateHeat(f *profile.Faults) {
	f.Within("altitude", m.Altitude, -500, highest, "m")
	m.Cabinet.validate(f)
	m.Capacitors.validate(f)
	m.Supply.Ambient.validate(f, "supply.thermal")
	m.Supply.validateOverload(f)
	for i, b := range m.Brakes {
		b.validateHeat(f, fmt.Sprintf("brakes[%d].thermal", i))
	}
	for i, x := range m.Axes {
		path := fmt.Sprintf("axes[%d]", i)
		x.Nodes.validate(f, path+".motor.thermal", x.Winding)
		x.DriveAmbient.validate(f, path+".drive.thermal")
		if x.Cable != nil {
			x.Cable.validateAmpacity(f, path+".cable", m.AmbientHigh)
		}
	}
}

// settledAfter is how many time constants a part takes to come within 5 % of its settled
// rise, ln 20.
var settledAfter = math.Log(20)
