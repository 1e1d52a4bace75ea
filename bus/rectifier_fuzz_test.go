package bus_test

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"example.com/headroom/bus"
)

func (n *numbers) rectifier() bus.Rectifier {
	r := bus.Rectifier{Kind: bus.RectifierKind(n.byte()%4 + n.byte()/250), Voltage: n.next(), Frequency: n.next()}
	kinds := n.byte()
	if kinds&1 > 0 {
		r.Resistance = n.next()
	}
	if kinds&2 > 0 {
		r.Inductance = n.next()
	}
	if kinds&4 > 0 {
		r.DiodeThreshold = n.next()
	}
	if kinds&8 > 0 {
		r.DiodeResistance = n.next()
	}
	if kinds&16 > 0 {
		r.LineTolerance = n.next()
	}
	return r
}

// Whatever rectifier, bus and load: the simulation ends soon with a finite result
// whose book closes, or with an error that callers can tell; so do the settled
// waveform, the average and the inrush.
func FuzzRectifier(f *testing.F) {
	f.Add([]byte{})
	// Bridge, 100 V, 50 Hz, 0.2 ohm, 10 mF.
	f.Add([]byte{2, 0, 0, 178, 215, 50, 1, 0, 109, 0, 76, 0, 178, 0, 0, 0, 0, 215, 0, 0, 130, 1, 0, 200, 0, 0, 178, 0})
	// Three-phase bridge with inductance and threshold.
	f.Add([]byte{3, 0, 0, 190, 215, 60, 7, 0, 100, 0, 50, 0, 120, 0, 76, 0, 178, 1, 0, 70, 0, 0, 215, 0, 0, 130, 1, 0, 200, 0, 0, 190, 0})
	f.Fuzz(func(t *testing.T, data []byte) {
		n := &numbers{data}
		r := n.rectifier()
		b := n.bus()
		b.Source = nil
		var load bus.RippleLoad
		kinds := n.byte()
		var err error
		if kinds&1 == 0 {
			if load.Power, err = n.curve(); err != nil {
				return
			}
		}
		if kinds&2 > 0 {
			if load.Current, err = n.curve(); err != nil {
				return
			}
		}
		start := bus.RippleState{Voltage: n.next(), Angle: n.next()}
		ctx, cancel := context.WithTimeout(context.Background(), time.Second)
		defer cancel()
		fail := func(what string, err error) {
			var over *bus.OverloadError
			if err != nil && !known(err) && !errors.As(err, &over) {
				t.Fatalf("%s: %v\n%+v\n%+v", what, err, r, b)
			}
		}
		res, err := b.SimulateRippleWithin(ctx, r, load, start, 2000)
		fail("simulation", err)
		if err == nil {
			e := res.Energies
			for _, v := range []float64{e.Mains, e.Source, e.Diodes, e.Residual, res.Lowest.V, res.Highest.V, res.Mains.RMS, res.Mains.Peak, res.Mains.PowerFactor, res.End.Voltage} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("not finite: %+v\n%+v\n%+v", res, r, b)
				}
			}
			// What the bank stores, what a short circuit would take, and times, are
			// known to rounding only.
			v := math.Max(res.Highest.V, math.Sqrt2*r.Voltage)
			z := math.Hypot(r.Resistance+r.DiodeResistance, 2*math.Pi*r.Frequency*r.Inductance)
			scale := b.Bank.Energy(v) + v*v/z*res.Voltage.Duration()
			late := math.Max(math.Abs(res.Voltage.Start()), math.Abs(res.Voltage.End()))
			power := math.Abs(load.Power.AbsMax().V) + v*math.Abs(load.Current.AbsMax().V)
			if b.Bleeder > 0 {
				power += v * v / b.Bleeder
			}
			for _, k := range b.Brakes {
				power += v * v / k.Resistance
			}
			if !(math.Abs(e.Residual) <= 1e-9*e.Throughput()+1e-12*scale+1e-15*late*power) {
				t.Fatalf("residual %g of %g: %+v\n%+v\n%+v", e.Residual, e.Throughput(), e, r, b)
			}
		}
		if r.Validate() != nil {
			return
		}
		p, err := r.Settle(ctx, b.Bank, bus.SteadyLoad{Power: n.next(), Current: n.next()})
		fail("settled", err)
		if err == nil {
			if !(p.Mean >= p.Lowest*(1-1e-12) && p.Mean <= p.Highest*(1+1e-12) && p.Secondary.PowerFactor <= 1+1e-9) {
				t.Fatalf("%+v\n%+v\n%+v", p, r, b)
			}
		}
		if n.byte()%8 == 0 {
			a, err := r.Averaged(ctx)
			fail("average", err)
			if err == nil && !(a.Current(0) >= a.Current(a.NoLoadVoltage()/2) && a.Current(0) <= 1e8) {
				t.Fatalf("average %g A, %g A: %+v", a.Current(0), a.Current(a.NoLoadVoltage()/2), r)
			}
		}
	})
}
