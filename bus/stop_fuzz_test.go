package bus_test

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// FuzzStops: no panic and no hang; every figure without an error is finite and not negative; the
// simulated bus stays within the bounds of the stop that was simulated.
func FuzzStops(f *testing.F) {
	f.Add(1e-3, 0., 0.2, 0.2, 100., 0., 0., 0., 70., 100., 0.02, -100., 200., 0.01, 5.)
	f.Add(1e-3, 0.1, 0., 0., 100., 10., 120., 115., 70., 100., 0.02, 100., -2000., 0.1, 0.)
	f.Add(2e-3, 0., 0.1, 0.1, 560., 50., 700., 680., 400., 560., 0.2, -1e4, 1e3, 0.1, 50.)
	f.Add(1e300, 1e300, 0., 0., 1e300, 1e300, 1e300, 1e299, 1e300, 1e300, 1e300, 1e300, -1e300, 1e300, 1e300)
	f.Add(1e-12, 0., 0., 0., 1e-9, 0., 0., 0., 1e-12, 1e-9, 1e-9, 1e-3, 1e-3, 1e-9, 0.)
	f.Fuzz(func(t *testing.T, c, rs, low, high, volts, brake, on, off, under, from, h1, p1, p2, h2, rest float64) {
		b := bus.Bus{Bank: bus.Bank{Capacitance: c, SeriesResistance: rs, RatedVoltage: volts, ToleranceLow: low, ToleranceHigh: high},
			UnderVoltage: under, Bleeder: 100 * brake}
		if brake > 0 {
			b.Brakes = []bus.BrakeResistor{{Resistance: brake, OnVoltage: on, OffVoltage: off}}
		}
		power, err := profile.NewCurve([]float64{0, h1, h1 + h2}, [][]float64{{p1}, {p2}})
		if err != nil {
			return
		}
		s := bus.StationStop{MostReturned: power, MostDrawn: power, Duration: power.Duration(), Rest: rest,
			PeakReturned: math.Max(0, math.Max(-p1, -p2)), PeakDrawn: math.Max(0, math.Max(p1, p2))}
		e1, e2 := p1*h1, p2*(power.Duration()-h1)
		s.Drawn, s.Returned = math.Max(0, math.Max(e1, e1+e2)), math.Max(0, math.Max(-e1, -e1-e2))
		s.DrawnWithin, s.ReturnedWithin = math.Max(s.Drawn, e2), math.Max(s.Returned, -e2)
		ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
		defer cancel()
		finite := func(what any, values ...float64) {
			for _, v := range values {
				if !(v >= 0 && v <= math.MaxFloat64) {
					t.Fatalf("%+v", what)
				}
			}
		}
		if r, err := b.StopRise(ctx, []bus.StationStop{s}, from); err == nil {
			finite(r, r.Voltage, r.Resistor)
			if !r.Result.Collapsed && !(r.Result.Highest.V <= r.Voltage*(1+1e-6)) {
				t.Errorf("%g V above the bound of %g V", r.Result.Highest.V, r.Voltage)
			}
		} else if errors.Is(err, context.DeadlineExceeded) {
			t.Skip("slow")
		}
		if r, err := b.StopSag(ctx, []bus.StationStop{s}, from); err == nil {
			finite(r, r.Voltage)
			if !r.Result.Collapsed && !(r.Result.Lowest.V >= r.Voltage*(1-1e-6)) {
				t.Errorf("%g V below the bound of %g V", r.Result.Lowest.V, r.Voltage)
			}
		}
		if r, err := b.HoldUp(ctx, []profile.Curve{power}, from); err == nil {
			finite(r, r.Time)
		}
		if r, err := b.Discharge(bus.MachineDischarge, bus.Standby{Power: rest, Voltage: under}, from, volts); err == nil {
			finite(r, r.Time, r.WithStandby, r.Charge, r.Energy, r.MostBleeder, r.BleederPower)
		}
	})
}
