package thermal_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// arg is one numeric input of a call: the path its faults carry, a good value,
// and values that must be refused besides NaN and -Inf.
type arg struct {
	path string
	good float64
	bad  []float64
}

var (
	inf      = math.Inf(1)
	positive = []float64{0, math.Copysign(0, -1), -1, -1e300, inf}
	nonNeg   = []float64{-1e-9, -1, -1e300, inf}
	finite   = []float64{inf}
	coldest  = []float64{-274, -1e300, inf}
	degrees  = []float64{-234.5, -300, -1e300, inf}
)

// call is one exported function as a function of numbers.
type call struct {
	name string
	args []arg
	do   func(v []float64) ([]float64, error)
}

func loading(l energy.Loading, err error) ([]float64, error) {
	return []float64{l.Value, l.Limit, l.Margin, l.Ratio}, err
}

// step is the curve of one block for .5 s and one of zero; it is empty when
// the value cannot be one of a curve.
func step(v float64) profile.Curve {
	c, _ := profile.NewCurve([]float64{0, .5, 2}, [][]float64{{v}, {0}})
	return c
}

var calls = []call{
	{"Ratio", []arg{{"conductor", 234.5, []float64{-1, .5, 1e10, inf}}, {"t", 100, degrees}, {"from", 20, degrees}},
		func(v []float64) ([]float64, error) {
			r, err := thermal.Conductor(v[0]).Ratio(v[1], v[2])
			return []float64{r}, err
		}},
	{"RMSLoading", []arg{{"load", 3, finite}, {"rating", 4, positive}},
		func(v []float64) ([]float64, error) { return loading(thermal.RMSLoading(step(v[0]), v[1])) }},
	{"Settled", []arg{
		{"thermalResistance", 1.5, positive}, {"max", 130, degrees}, {"conductor", 234.5, []float64{-1, .5, 1e10, inf}},
		{"heat.copper", 40, nonNeg}, {"heat.at", 20, degrees}, {"heat.other", 5, nonNeg}, {"ambient", 35, degrees}},
		func(v []float64) ([]float64, error) {
			s, err := thermal.Winding{ThermalResistance: v[0], Max: v[1], Conductor: thermal.Conductor(v[2])}.
				Settled(thermal.Heat{Copper: v[3], At: v[4], Other: v[5]}, v[6])
			return []float64{s.Temperature, s.Rise, s.CopperLoss, s.Margin, s.Gain}, err
		}},
	{"FromRating", []arg{
		{"torque", 3, positive}, {"constant.km", .5, positive}, {"constant.at", 20, degrees}, {"max", 130, degrees},
		{"ambient", 40, append(slices.Clone(degrees), 130, 131)}, {"other", 2, nonNeg}, {"conductor", 234.5, []float64{-1, .5, 1e10, inf}}},
		func(v []float64) ([]float64, error) {
			w, err := thermal.FromRating(thermal.Rating{Torque: v[0], Constant: thermal.MotorConstant{Km: v[1], At: v[2]},
				Max: v[3], Ambient: v[4], Other: v[5], Conductor: thermal.Conductor(v[6])})
			return []float64{w.ThermalResistance, w.Max}, err
		}},
	{"ContinuousTorque", []arg{
		{"thermalResistance", 1.5, positive}, {"max", 130, degrees}, {"constant.km", .5, positive}, {"constant.at", 20, degrees},
		{"ambient", 40, append(slices.Clone(degrees), 124, 131)}, {"other", 5, nonNeg}},
		func(v []float64) ([]float64, error) {
			m, err := thermal.Winding{ThermalResistance: v[0], Max: v[1]}.
				ContinuousTorque(thermal.MotorConstant{Km: v[2], At: v[3]}, v[4], v[5])
			return []float64{m}, err
		}},
	{"After", []arg{{"timeConstant", 60, positive}, {"rise", 50, finite}, {"start", 10, finite}, {"t", 30, nonNeg}},
		func(v []float64) ([]float64, error) {
			r, err := thermal.FirstOrder{TimeConstant: v[0], Rise: v[1]}.After(v[2], v[3])
			return []float64{r}, err
		}},
	{"TimeTo", []arg{{"timeConstant", 60, positive}, {"rise", 50, finite}, {"start", 10, finite}, {"target", 30, finite}},
		func(v []float64) ([]float64, error) {
			r, _, err := thermal.FirstOrder{TimeConstant: v[0], Rise: v[1]}.TimeTo(v[2], v[3])
			return []float64{r}, err
		}},
	{"FromReadings", []arg{{"interval", 60, positive}, {"first", 5, finite}, {"second", 20, finite},
		{"third", 30, append(slices.Clone(finite), 20, 19, 35, 60)}},
		func(v []float64) ([]float64, error) {
			o, err := thermal.FromReadings(v[0], v[1], v[2], v[3])
			return []float64{o.TimeConstant, o.Rise}, err
		}},
	{"Heated", []arg{{"capacity", 400, positive}, {"thermalResistance", .5, positive}, {"power", 100, nonNeg}},
		func(v []float64) ([]float64, error) {
			o, err := thermal.Body{Capacity: v[0], ThermalResistance: v[1]}.Heated(v[2])
			return []float64{o.TimeConstant, o.Rise}, err
		}},
	{"AdiabaticRise", []arg{{"energy", 100, nonNeg}, {"capacity", 400, positive}},
		func(v []float64) ([]float64, error) {
			r, err := thermal.AdiabaticRise(v[0], v[1])
			return []float64{r}, err
		}},
	{"SettleCycle", []arg{
		{"phases[0].duration", 10, nonNeg}, {"phases[0].response.timeConstant", 60, positive}, {"phases[0].response.rise", 90, finite},
		{"phases[1].duration", 20, nonNeg}, {"phases[1].response.timeConstant", 70, positive}, {"phases[1].response.rise", 15, finite}},
		func(v []float64) ([]float64, error) {
			s, err := thermal.SettleCycle([]thermal.Phase{
				{Duration: v[0], Response: thermal.FirstOrder{TimeConstant: v[1], Rise: v[2]}},
				{Duration: v[3], Response: thermal.FirstOrder{TimeConstant: v[4], Rise: v[5]}},
			})
			return []float64{s.Start, s.Lowest, s.Highest}, err
		}},
	{"TorqueFactor", []arg{{"on", 10, positive}, {"off", 20, []float64{-1e-9, -1}}, {"heating", 60, positive}, {"cooling", 70, positive}, {"constantLoss", .3, nonNeg}},
		func(v []float64) ([]float64, error) {
			k, err := thermal.Intermittent{On: v[0], Off: v[1], Heating: v[2], Cooling: v[3], ConstantLoss: v[4]}.TorqueFactor()
			return []float64{k}, err
		}},
	{"Average", []arg{{"continuous", 300, positive}, {"derating", .8, append(slices.Clone(positive), 1.001)}, {"pulse", 900, positive}, {"power", 200, []float64{-1, -1e300, inf}}},
		func(v []float64) ([]float64, error) {
			return loading(thermal.BrakeResistor{Continuous: v[0], Derating: v[1], Pulse: v[2]}.Average(step(v[3])))
		}},
	{"SingleStop", []arg{{"continuous", 300, positive}, {"derating", .8, append(slices.Clone(positive), 1.001)}, {"pulse", 900, positive}, {"energy", 200, nonNeg}},
		func(v []float64) ([]float64, error) {
			return loading(thermal.BrakeResistor{Continuous: v[0], Derating: v[1], Pulse: v[2]}.SingleStop(v[3]))
		}},
	{"AmbientFactor", []arg{{"max", 90, coldest}, {"from", 30, append(slices.Clone(coldest), 90)}, {"ambient", 45, append(slices.Clone(coldest), 90.1)}},
		func(v []float64) ([]float64, error) {
			r, err := thermal.AmbientFactor(v[0], v[1], v[2])
			return []float64{r}, err
		}},
	{"Conductor temperature", []arg{{"current", 12, finite}, {"current", 20, positive}, {"max", 70, degrees}, {"ambient", 40, append(slices.Clone(degrees), 70)}, {"timeConstant", 60, positive}},
		func(v []float64) ([]float64, error) {
			o, err := thermal.Ampacity{Current: v[1], Max: v[2], Ambient: v[3], TimeConstant: v[4]}.Response(v[0])
			return []float64{o.TimeConstant, o.Rise}, err
		}},
	{"Adiabatic", []arg{{"joule", 1e6, nonNeg}, {"section", 1e-5, positive}, {"initial", 70, degrees}},
		func(v []float64) ([]float64, error) {
			t, err := thermal.AdiabaticCopper.Final(v[0], v[1], v[2])
			return []float64{t}, err
		}},
	{"Section", []arg{{"joule", 1e6, nonNeg}, {"initial", 70, degrees}, {"final", 160, []float64{60, inf}}},
		func(v []float64) ([]float64, error) {
			s, err := thermal.AdiabaticCopper.Section(v[0], v[1], v[2])
			return []float64{s}, err
		}},
	{"LifeTenKelvin", []arg{{"rated", 1e7, positive}, {"ratedAt", 105, coldest}, {"at", 60, coldest}},
		func(v []float64) ([]float64, error) {
			l, err := thermal.LifeTenKelvin(v[0], v[1], v[2])
			return []float64{l}, err
		}},
	{"LifeArrhenius", []arg{{"rated", 1e7, positive}, {"ratedAt", 105, coldest}, {"activation", .9, positive}, {"at", 60, coldest}},
		func(v []float64) ([]float64, error) {
			l, err := thermal.LifeArrhenius(v[0], v[1], v[2], v[3])
			return []float64{l}, err
		}},
	{"Ageing", []arg{{"capacitanceLoss", .2, []float64{-.1, 1, inf}}, {"lossFactor", 2, []float64{.9, inf}}, {"capacitance", 1e-3, positive}, {"seriesResistance", .1, nonNeg}},
		func(v []float64) ([]float64, error) {
			c, r, err := thermal.Ageing{CapacitanceLoss: v[0], LossFactor: v[1]}.Apply(v[2], v[3])
			return []float64{c, r}, err
		}},
	{"Capacitor", []arg{{"thermalResistance", 5, positive}, {"ratedLife", 1e7, positive}, {"ratedCore", 110, coldest}, {"voltage", 300, nonNeg}, {"ripple[0].current", 5, nonNeg}, {"ripple[0].seriesResistance", .1, nonNeg}, {"ambient", 45, coldest}},
		func(v []float64) ([]float64, error) {
			s, err := thermal.Capacitor{ThermalResistance: v[0], Parallel: 2, Series: 1, RatedLife: v[1], RatedCore: v[2], Voltage: 450}.
				Settle([]thermal.Ripple{{Current: v[4], SeriesResistance: v[5]}}, v[3], v[6])
			return []float64{s.Heat, s.Bank, s.Core, s.Life}, err
		}},
	{"Cabinet", []arg{{"surface", 4, nonNeg}, {"coefficient", 5.5, nonNeg}, {"flow", .1, nonNeg}, {"altitude", 500, []float64{-501, 11001, inf}}, {"ambient", 30, []float64{-91, 201, inf}}, {"loads[0].power", 150, nonNeg}},
		func(v []float64) ([]float64, error) {
			b, err := thermal.Cabinet{Surface: v[0], Coefficient: v[1], Flow: v[2], Altitude: v[3], Ambient: v[4]}.Settle([]thermal.CabinetLoad{{Power: v[5]}})
			return []float64{b.Inside, b.Heat, b.BySurface, b.ByAir, b.Gain}, err
		}},
	{"Surface", []arg{{"width", 1, positive}, {"height", 2, positive}, {"depth", .5, positive}},
		func(v []float64) ([]float64, error) {
			a, err := thermal.Enclosure{Width: v[0], Height: v[1], Depth: v[2]}.Surface()
			return []float64{a}, err
		}},
	{"DriveHeat", []arg{{"standby", 10, nonNeg}, {"drop", 2, nonNeg}, {"resistance", .1, nonNeg}, {"outside", .5, []float64{-.1, 1.1, inf}}},
		func(v []float64) ([]float64, error) {
			l, err := thermal.DriveHeat{Standby: v[0], Drop: v[1], Resistance: v[2], Outside: v[3]}.Mean(step(3))
			return []float64{l.Total, l.Inside}, err
		}},
	{"Permitted", []arg{{"continuous", 10, positive}, {"time", 2, []float64{.5, inf}}},
		func(v []float64) ([]float64, error) {
			p, err := thermal.OverloadRating{Continuous: v[0], Points: []thermal.OverloadPoint{{Time: 1, Mean: 20}}}.Permitted(v[1])
			return []float64{p}, err
		}},
	{"TorqueDerating", []arg{{"ambient", 50, []float64{-21, 61, inf}}, {"altitude", 1500, []float64{-1, 4001, inf}}, {"constantLoss", .5, nonNeg}},
		func(v []float64) ([]float64, error) {
			k, err := thermal.ClassF.TorqueDerating(v[0], v[1], v[2])
			return []float64{k}, err
		}},
	{"Steady", []arg{{"capacities[0]", 4, nonNeg}, {"links[0].conductance", 2, positive}, {"boundaries[0].conductance", 1, positive}, {"boundaries[0].temperature", 20, append(slices.Clone(coldest), -300)}, {"heat[0]", 5, finite}},
		func(v []float64) ([]float64, error) {
			return thermal.Network{Capacities: []float64{v[0], 0}, Links: []thermal.Link{{A: 0, B: 1, Conductance: v[1]}}, Boundaries: []thermal.Boundary{{Node: 1, Conductance: v[2], Temperature: v[3]}}}.
				Steady([]float64{v[4], 0})
		}},
	{"Network continuous torque", []arg{{"windingCapacity", 200, positive}, {"frameCapacity", 2000, positive}, {"inner", .5, positive}, {"mounting", .8, positive}, {"ambient", 40, coldest}, {"magnetLoss", .001, nonNeg}, {"constant.km", .5, positive}},
		func(v []float64) ([]float64, error) {
			w, err := thermal.TwoNodeMotor{WindingCapacity: v[0], FrameCapacity: v[1], Inner: v[2], Mounting: v[3], Max: 130, MagnetLoss: v[5], MagnetsAtKm: 20}.In(v[4])
			var f profile.Faults
			f.Under("", err)
			f.Positive("constant.km", v[6], "N·m/√W")
			if err := f.Err(); err != nil {
				return []float64{0}, err
			}
			m, err := w.ContinuousTorque(thermal.MotorConstant{Km: v[6], At: 20}, nil)
			return []float64{m}, err
		}},
}

func good(c call) []float64 {
	v := make([]float64, len(c.args))
	for i, a := range c.args {
		v[i] = a.good
	}
	return v
}

// sound fails unless the call gives finite results, or zeros and an error of a
// known kind.
func sound(t *testing.T, c call, v []float64) {
	t.Helper()
	got, err := c.do(v)
	var runaway *thermal.RunawayError
	for _, g := range got {
		if math.IsNaN(g) || math.IsInf(g, 0) {
			t.Errorf("%s%v: result %v with error %v", c.name, v, got, err)
		}
		if err != nil && g != 0 {
			t.Errorf("%s%v: result %v besides error %v", c.name, v, got, err)
		}
	}
	var cabinet *thermal.CabinetRunawayError
	if err != nil && !errors.As(err, &runaway) && !errors.As(err, &cabinet) && len(profile.InputErrors(err)) == 0 {
		t.Errorf("%s%v: error %v is of an unknown kind", c.name, v, err)
	}
}

// Every input, one at a time, with each value outside its domain: the error
// names that input and no other, and carries the value.
func TestBadInput(t *testing.T) {
	for _, c := range calls {
		if _, err := c.do(good(c)); err != nil {
			t.Errorf("%s: the good call fails: %v", c.name, err)
		}
		for i, a := range c.args {
			for _, bad := range append([]float64{math.NaN(), math.Inf(-1)}, a.bad...) {
				v := good(c)
				v[i] = bad
				_, err := c.do(v)
				faults := profile.InputErrors(err)
				if len(faults) != 1 || faults[0].Path != a.path {
					t.Errorf("%s with %s = %g: error %v, want one at that path", c.name, a.path, bad, err)
					continue
				}
				if x, isNumber := faults[0].Value.(float64); isNumber && x != bad && !math.IsNaN(bad) {
					t.Errorf("%s with %s = %g: error carries %g", c.name, a.path, bad, x)
				}
				sound(t, c, v)
			}
		}
	}
}

// All inputs bad: all reported together.
func TestAllFaultsTogether(t *testing.T) {
	for _, c := range calls {
		v := make([]float64, len(c.args))
		for i := range v {
			v[i] = math.NaN()
		}
		_, err := c.do(v)
		if n := len(profile.InputErrors(err)); n != len(v) {
			t.Errorf("%s: %d faults for %d bad inputs: %v", c.name, n, len(v), err)
		}
	}
}

// Sizes at the edge of floating point, one or two at a time: a finite answer or
// an error.
func TestHugeAndTiny(t *testing.T) {
	extreme := []float64{math.MaxFloat64, 1e300, -1e300, 1e154, 1e-154, 1e-300, math.SmallestNonzeroFloat64, 0}
	for _, c := range calls {
		for i := range c.args {
			for k := range c.args {
				for _, x := range extreme {
					for _, y := range extreme {
						v := good(c)
						v[i], v[k] = x, y
						sound(t, c, v)
					}
				}
			}
		}
	}
}

func TestValidate(t *testing.T) {
	for _, tc := range []struct {
		value interface{ Validate() error }
		paths []string
	}{
		{thermal.Winding{}, []string{"thermalResistance"}},
		{thermal.Rating{}, []string{"torque", "constant.km", "ambient"}},
		{thermal.FirstOrder{}, []string{"timeConstant"}},
		{thermal.Body{}, []string{"capacity", "thermalResistance"}},
		{thermal.Intermittent{}, []string{"on", "heating", "cooling"}},
		{thermal.BrakeResistor{}, []string{"continuous", "derating", "pulse"}},
		{thermal.Winding{ThermalResistance: 1, Max: 130}, nil},
		{thermal.Rating{Torque: 1, Constant: thermal.MotorConstant{Km: 1, At: 20}, Max: 130, Ambient: 40}, nil},
		{thermal.FirstOrder{TimeConstant: 1}, nil},
		{thermal.Body{Capacity: 1, ThermalResistance: 1}, nil},
		{thermal.Intermittent{On: 1, Heating: 1, Cooling: 1, Off: inf}, nil},
		{thermal.BrakeResistor{Continuous: 1, Derating: 1, Pulse: 1}, nil},
	} {
		var got []string
		for _, e := range profile.InputErrors(tc.value.Validate()) {
			got = append(got, e.Path)
		}
		if !slices.Equal(got, tc.paths) {
			t.Errorf("%T zero or good: faults at %v, want %v", tc.value, got, tc.paths)
		}
	}
}

func TestEmptyInputs(t *testing.T) {
	for name, err := range map[string]error{
		"load":   second(thermal.RMSLoading(profile.Curve{}, 1)),
		"power":  second(thermal.BrakeResistor{Continuous: 1, Derating: 1, Pulse: 1}.Average(profile.Curve{})),
		"phases": second(thermal.SettleCycle(nil)),
	} {
		if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != name {
			t.Errorf("empty %s: %v", name, err)
		}
	}
}

// Times that are nothing beside the time constant settle nowhere.
func TestNegligibleTimes(t *testing.T) {
	for _, d := range []float64{0, 1e-320, 1e-101} {
		err := second(thermal.SettleCycle([]thermal.Phase{{Duration: d, Response: thermal.FirstOrder{TimeConstant: 1, Rise: 1}}}))
		if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != "phases" {
			t.Errorf("cycle of %g s: %v", d, err)
		}
	}
	err := second(thermal.Intermittent{On: 1e-101, Off: 1, Heating: 1, Cooling: 1}.TorqueFactor())
	if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != "on" {
		t.Errorf("on for 1e-101 s: %v", err)
	}
}

// Results that overflow from inputs that are each in their domain.
func TestOverflow(t *testing.T) {
	err := second(thermal.Copper.Ratio(1e308, math.Nextafter(-234.5, 0)))
	if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != "t" {
		t.Errorf("ratio: %v", err)
	}
	err = second(thermal.RMSLoading(step(1e200), 1e-200))
	if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != "load" {
		t.Errorf("ratio to the rating: %v", err)
	}
	o := thermal.FirstOrder{TimeConstant: 1, Rise: math.MaxFloat64}
	for x := 0.; x < 5; x += .001 { // rounding may carry a mean of the largest numbers beyond them
		if rise, err := o.After(math.MaxFloat64, x); err == nil && !(rise <= math.MaxFloat64) {
			t.Fatalf("After(%g) = %g", x, rise)
		}
	}
}

func second[T any](_ T, err error) error { return err }

// The messages of faults that combine several inputs.
func TestMessages(t *testing.T) {
	w := thermal.Winding{ThermalResistance: 2, Max: 130}
	_, err := w.ContinuousTorque(thermal.MotorConstant{Km: 1, At: 20}, 121, 5)
	want := "ambient = 121: want at most 120 °C, where the other heat alone brings the winding to max = 130 °C"
	if fmt.Sprint(err) != want {
		t.Errorf("got %v\nwant %s", err, want)
	}
	_, err = thermal.FromReadings(60, 0, 10, 25)
	want = "third = 25: want a step from second in the direction of that from first to second, which is 10 K, and smaller"
	if fmt.Sprint(err) != want {
		t.Errorf("got %v\nwant %s", err, want)
	}
}
