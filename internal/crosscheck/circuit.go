package crosscheck

import (
	"context"
	"fmt"
	"math"
	"slices"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// Circuit is what library, scipy and ngspice are each given. Of sources it may
// have a [bus.Resistive] or a [bus.SwitchMode] of constant current, without
// tolerance; brake resistors without delay; no feeder short enough to be lumped.
type Circuit struct {
	Name    string // of files in testdata
	Network bus.Network
	Loads   []profile.Curve // as for [bus.Network.Simulate]
	Start   bus.State
}

// Simulate runs the library.
func (c Circuit) Simulate() (*bus.NetworkResult, error) {
	return c.Network.Simulate(context.Background(), c.Loads, c.Start)
}

// Span returns the time that the circuit runs for [s].
func (c Circuit) Span() (start, end float64) {
	for _, l := range c.Loads {
		if l.Pieces() > 0 {
			return l.Start(), l.End()
		}
	}
	return math.NaN(), math.NaN()
}

// Times returns n instants, evenly spread, none of them at a round fraction of
// the span, where loads jump.
func (c Circuit) Times(n int) []float64 {
	t0, t1 := c.Span()
	times := make([]float64, n)
	for k := range times {
		times[k] = t0 + (t1-t0)*(float64(k)+1/math.Phi)/float64(n)
	}
	return times
}

// Plain is a circuit in plain numbers, as ode.py and race.py read it.
type Plain struct {
	Capacitance      float64       `json:"capacitance"`
	SeriesResistance float64       `json:"seriesResistance"`
	Start            float64       `json:"start"`
	Bleeder          float64       `json:"bleeder"` // [S]
	Source           PlainSource   `json:"source"`
	Brakes           []PlainBrake  `json:"brakes"`
	Feeders          []PlainFeeder `json:"feeders"`
	Loads            []PlainCurve  `json:"loads"`    // power [W], of node 0 first
	Switched         []PlainCurve  `json:"switched"` // conductance [S]
}

// PlainSource is a source: "none", "resistive" with voltage and resistance, or
// "regulated" with voltage and current.
type PlainSource struct {
	Kind       string  `json:"kind"`
	Voltage    float64 `json:"voltage"`
	Resistance float64 `json:"resistance"`
	Current    float64 `json:"current"`
}

// PlainBrake is a brake resistor.
type PlainBrake struct {
	Resistance float64 `json:"resistance"`
	On         float64 `json:"on"`
	Off        float64 `json:"off"`
	Start      bool    `json:"start"`
}

// PlainFeeder is a feeder; its end is the node of its number, from 1.
type PlainFeeder struct {
	Upstream    int     `json:"upstream"`
	Resistance  float64 `json:"resistance"`
	Capacitance float64 `json:"capacitance"`
}

// PlainCurve is a curve at a node: piece i from Breaks[i] on is the polynomial of
// Coefs[i], ascending, in the time since then.
type PlainCurve struct {
	Node   int         `json:"node"`
	Breaks []float64   `json:"breaks"`
	Coefs  [][]float64 `json:"coefs"`
}

func plainCurve(node int, c profile.Curve) PlainCurve {
	p := PlainCurve{Node: node, Breaks: []float64{c.Start()}}
	for i := range c.Pieces() {
		_, t1, k := c.Piece(i)
		p.Breaks = append(p.Breaks, t1)
		p.Coefs = append(p.Coefs, slices.Clone(k))
	}
	return p
}

// Plain returns the circuit in plain numbers, or an error if it holds what the
// programs are not written for.
func (c Circuit) Plain() (Plain, error) {
	n := c.Network
	p := Plain{
		Capacitance: n.Bank.Capacitance, SeriesResistance: n.Bank.SeriesResistance, Start: c.Start.Voltage,
		Brakes: []PlainBrake{}, Feeders: []PlainFeeder{}, Switched: []PlainCurve{},
	}
	if n.Bleeder > 0 {
		p.Bleeder = 1 / n.Bleeder
	}
	switch s := n.Source.(type) {
	case nil:
		p.Source.Kind = "none"
	case bus.Resistive:
		p.Source = PlainSource{Kind: "resistive", Voltage: s.OpenCircuit, Resistance: s.Resistance}
	case bus.SwitchMode:
		if s != (bus.SwitchMode{Voltage: s.Voltage, CurrentLimit: s.CurrentLimit}) {
			return p, fmt.Errorf("%s: a regulated source with more than set point and limit", c.Name)
		}
		p.Source = PlainSource{Kind: "regulated", Voltage: s.Voltage, Current: s.CurrentLimit}
	default:
		return p, fmt.Errorf("%s: a source of kind %T", c.Name, s)
	}
	for i, r := range n.Brakes {
		if r.Delay > 0 {
			return p, fmt.Errorf("%s: a brake resistor with delay", c.Name)
		}
		p.Brakes = append(p.Brakes, PlainBrake{r.Resistance, r.OnVoltage, r.OffVoltage, i == 0 && c.Start.BrakeOn})
	}
	if n.Clamp != nil || n.TripsRelease {
		return p, fmt.Errorf("%s: a clamp, or trips that switch axes off", c.Name)
	}
	for _, f := range n.Feeders {
		if f.Resistance*f.Capacitance < bus.ShortestFeeder {
			return p, fmt.Errorf("%s: a feeder that is lumped", c.Name)
		}
		p.Feeders = append(p.Feeders, PlainFeeder{f.Upstream, f.Resistance, f.Capacitance})
	}
	for k, l := range c.Loads {
		if l.Pieces() > 0 {
			p.Loads = append(p.Loads, plainCurve(k, l))
		}
	}
	for _, s := range n.Switched {
		p.Switched = append(p.Switched, plainCurve(s.Feeder, s.Conductance))
	}
	return p, nil
}
