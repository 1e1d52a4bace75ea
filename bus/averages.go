package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Averages bounds powers averaged over windows, however the stations line up and
// wait.
type Averages struct {
	Source   []float64 // mean power of the source in any window of each length [W]
	Resistor []float64 // of all that burns returned energy together [W]
}

// Averages bounds the power of the source, and that of the brake resistors, averaged
// over any window of each of the lengths [s] given. Very short ones give the peak.
// The guarantee is that of [Bus.AnyPhase] for the same bus and stations.
//
// Source. While the source conducts, its power is V i = dW/dt + P + V²/Rbleed + Rs i²;
// while it does not, the bank falls by no more than what is drawn and lost. Summed up
// over a window that ends when the source conducts for the last time,
//
//	E(L) <= W(highest at which it conducts) - W(lowest) + Σ D⁺_k(L) + (V0²/Rbleed + Rs i²) L
//
// with the envelopes D⁺ of the positive parts of the stations' powers: how much of the
// returned energy they can use depends on phase. It is net of what a battery takes
// back, and never more than the source can deliver at all.
//
// Resistor. While a resistor is on, above its off threshold and so above the
// source's no-load voltage, all energy comes from the bank and from the axes, and to
// come on again the bus must be lifted from there by what they return:
//
//	E(L) <= W(highest) - W(lowest off threshold) + Σ D⁻_k(L)
//
// of those that can come on at all. Nor more than V²/R at the highest voltage; that alone is given for resistors that
// switch late, and where the bank's series resistance is such that the bank can be below
// the no-load voltage when a resistor goes off. Without bounds on the voltage they are
// +Inf, unless the source limits itself.
func (b Bus) Averages(ctx context.Context, stations, returning []Cycle, g *Guarantee, windows []float64) (*Averages, error) {
	if err := b.checkStations(stations); err != nil {
		return nil, err
	}
	if returning == nil {
		returning = stations
	} else if err := checkReturning(stations, returning); err != nil {
		return nil, err
	}
	var f profile.Faults
	if g == nil {
		f.Add("guarantee", nil, "that of the same bus and stations")
	}
	for i, l := range windows {
		f.Positive(fmt.Sprintf("windows[%d]", i), l, "s")
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	takes, err := line{adverse: 1}.weighted(ctx, stations, 1)
	if err != nil {
		return nil, err
	}
	gives, err := line{adverse: 1}.weighted(ctx, returning, -1)
	if err != nil {
		return nil, err
	}
	d := peaks(stations).or(peaks(returning))
	a := &Averages{}
	for _, l := range windows {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		a.Source = append(a.Source, b.sourceIn(l, inWindow(takes, l), d, g))
		a.Resistor = append(a.Resistor, b.burnedIn(l, inWindow(gives, l), d, g))
	}
	return a, nil
}

// inWindow returns the sum of the envelopes for one length.
func inWindow(es []*envelope, length float64) float64 {
	sum := 0.0
	for _, e := range es {
		over, _ := e.worst(length)
		sum += over + e.mean*length
	}
	return sum
}

func (b Bus) sourceIn(length, drawn float64, d demand, g *Guarantee) float64 {
	source := b.Source.High()
	most := source.strongest()
	if !g.Sag.Exists {
		return most
	}
	top, low := source.NoLoadVoltage(), g.Sag.Voltage
	rs, bleed := b.Bank.SeriesResistance, b.bleederCurrent(top)
	out, in := d.drawn/low+bleed, source.Current(low)+d.returned/low
	bank := b.Bank.High()
	lift := bank.Energy(top+rs*out) - bank.Energy(math.Max(0, low-rs*in))
	loss := top*bleed + rs*math.Max(out, in)*math.Max(out, in)
	return math.Min(most, (lift+b.late()+drawn)/length+loss)
}

func (b Bus) burnedIn(length, returned float64, d demand, g *Guarantee) float64 {
	if len(b.Brakes) == 0 && b.Clamp == nil {
		return 0
	}
	if !g.Rise.Exists {
		return math.Inf(1)
	}
	most, off, late := 0.0, math.Inf(1), false
	for _, r := range b.Brakes {
		if g.Rise.Voltage < r.OnVoltage {
			continue
		}
		most += g.Rise.Voltage * g.Rise.Voltage / r.Resistance
		off = math.Min(off, r.OffVoltage)
		late = late || r.Delay > 0
	}
	if b.Clamp != nil && g.Rise.Voltage > b.Clamp.Voltage {
		most += g.Rise.Voltage * b.Clamp.Current(g.Rise.Voltage)
		off = math.Min(off, b.Clamp.Voltage)
	}
	if most == 0 {
		return 0
	}
	rs, top := b.Bank.SeriesResistance, b.Source.High().NoLoadVoltage()
	least := off - rs*d.returned/off // of the bank when a resistor goes off
	if late || b.margin > 0 || !(least >= top) {
		return most
	}
	bank := b.Bank.High()
	highest := g.Rise.Voltage + rs*(d.drawn/off+b.bleederCurrent(off)) + rs*most/off
	return math.Min(most, (bank.Energy(highest)-bank.Energy(least)+returned)/length)
}
