package crosscheck

import (
	"context"
	_ "embed"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

//go:embed rectify.py
var rectifyScript string

// Ripple is a rectifier with the bus behind it, of bank and bleeder alone: single
// phase, or three phases with inductance.
type Ripple struct {
	Name      string
	Rectifier bus.Rectifier
	Bus       bus.Bus
	Load      bus.RippleLoad
	Start     bus.RippleState
}

// Simulate runs the library.
func (c Ripple) Simulate() (*bus.RippleResult, error) {
	return c.Bus.SimulateRipple(context.Background(), c.Rectifier, c.Load, c.Start)
}

// Span returns the time of the load [s].
func (c Ripple) Span() (start, end float64) {
	if c.Load.Power.Pieces() > 0 {
		return c.Load.Power.Start(), c.Load.Power.End()
	}
	return c.Load.Current.Start(), c.Load.Current.End()
}

// Times returns n instants as [Circuit.Times] does.
func (c Ripple) Times(n int) []float64 {
	t0, t1 := c.Span()
	times := make([]float64, n)
	for k := range times {
		times[k] = t0 + (t1-t0)*(float64(k)+1/math.Phi)/float64(n)
	}
	return times
}

// PlainRipple is a rectifier in plain numbers, as rectify.py reads it.
type PlainRipple struct {
	Phases           int        `json:"phases"`
	Voltage          float64    `json:"voltage"`
	Frequency        float64    `json:"frequency"`
	Angle            float64    `json:"angle"`
	Resistance       float64    `json:"resistance"`
	Inductance       float64    `json:"inductance"`
	DiodeThreshold   float64    `json:"diodeThreshold"`
	DiodeResistance  float64    `json:"diodeResistance"`
	Capacitance      float64    `json:"capacitance"`
	SeriesResistance float64    `json:"seriesResistance"`
	Bleeder          float64    `json:"bleeder"` // [S]
	Start            float64    `json:"start"`
	Power            PlainCurve `json:"power"`
	Current          PlainCurve `json:"current"`
}

// RippleQuestion is what rectify.py is asked.
type RippleQuestion struct {
	Circuit  PlainRipple `json:"circuit"`
	Times    []float64   `json:"times"`
	Method   string      `json:"method"`
	Relative float64     `json:"rtol"`
}

// RippleAnswer is what it replies.
type RippleAnswer struct {
	Version     string      `json:"version"`
	Voltages    []float64   `json:"voltages"`    // of the bus at Times [V]
	Lines       [][]float64 `json:"lines"`       // currents of the lines [A]
	Conductions int         `json:"conductions"` // how often a line began to conduct
	Lowest      float64     `json:"lowest"`      // of the bus [V]
	Highest     float64     `json:"highest"`
	Peak        float64     `json:"peak"`  // of any line's current [A]
	RMS         float64     `json:"rms"`   // largest of the lines' [A]
	Mains       float64     `json:"mains"` // energy from the EMFs [J]
	Taken       float64     `json:"taken"` // by load and bleeder [J]
	End         float64     `json:"end"`   // voltage of the bank at the end [V]
}

// Question returns what rectify.py is to be asked about the circuit.
func (c Ripple) Question(times []float64) (RippleQuestion, error) {
	r, b := c.Rectifier, c.Bus
	p := PlainRipple{
		Phases: 1, Voltage: r.Voltage, Frequency: r.Frequency, Angle: c.Start.Angle,
		Resistance: r.Resistance, Inductance: r.Inductance, DiodeThreshold: r.DiodeThreshold, DiodeResistance: r.DiodeResistance,
		Capacitance: b.Bank.Capacitance, SeriesResistance: b.Bank.SeriesResistance, Start: c.Start.Voltage,
	}
	switch {
	case r.Kind == bus.ThreePhaseBridge && r.Inductance > 0:
		p.Phases = 3
	case r.Kind != bus.Bridge:
		return RippleQuestion{}, fmt.Errorf("%s: %v with %g H", c.Name, r.Kind, r.Inductance)
	}
	if b.Source != nil || len(b.Brakes) > 0 || b.Clamp != nil {
		return RippleQuestion{}, fmt.Errorf("%s: more on the bus than bank and bleeder", c.Name)
	}
	if b.Bleeder > 0 {
		p.Bleeder = 1 / b.Bleeder
	}
	curve := func(c profile.Curve) PlainCurve {
		if c.Pieces() == 0 {
			return PlainCurve{Breaks: []float64{}, Coefs: [][]float64{}}
		}
		return plainCurve(0, c)
	}
	p.Power, p.Current = curve(c.Load.Power), curve(c.Load.Current)
	return RippleQuestion{Circuit: p, Times: times, Method: DOP853, Relative: 1e-12}, nil
}

// Ask puts a question to scipy.
func (q RippleQuestion) Ask() (*RippleAnswer, error) {
	var a RippleAnswer
	if err := runPython(rectifyScript, q, &a); err != nil {
		return nil, err
	}
	return &a, nil
}

// What ngspice needs so as not to give up where a diode ceases to conduct behind
// an inductance. None of it shrinks with the step: it is what its answers differ by.
const (
	knee    = 1e-3 // width of the bend of a diode's characteristic [V]
	damping = 1e3  // resistance across the inductance of a line [ohm]
	snubber = 1e-8 // capacitance from every leg of the bridge to the negative pole [F]
)

// Netlist returns the circuit for ngspice, with steps not longer than step [s]:
// every diode is a current source of its own voltage u less the threshold,
// (u + √(u² + knee²))/(2 resistance), without inductance max(0, u)/resistance. The star point is tied to the negative pole
// through 1e9 ohm. It writes out.txt with time, voltage of the bank and currents
// of the lines. Node p is the bus, a0, a1 … the legs of the bridge.
func (c Ripple) Netlist(step float64) (string, error) {
	q, err := c.Question(nil)
	if err != nil {
		return "", err
	}
	p := q.Circuit
	if !(p.DiodeResistance > 0) {
		return "", fmt.Errorf("%s: diodes without resistance", c.Name)
	}
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("* %s: a rectifier and a DC bus, see internal/crosscheck", c.Name)
	// The trapezoidal rule would ring when an inductance ceases to carry current.
	line(".options method=gear maxord=2 reltol=1e-4 abstol=1e-9 vntol=1e-6 trtol=7 itl4=200")
	crest, legs := math.Sqrt2*p.Voltage, 2
	if p.Phases == 3 {
		crest, legs = math.Sqrt(2./3)*p.Voltage, 3
	}
	degrees := p.Angle * 180 / math.Pi
	bank := "p"
	if p.SeriesResistance > 0 {
		bank = "x"
		line("Rbank p x %s", num(p.SeriesResistance))
	}
	out := []string{"v(" + bank + ")"}
	line("Rstar n 0 1e9")
	for k := range legs {
		from := "n"
		if p.Phases == 3 || k == 0 {
			line("Vemf%d e%d n SIN(0 %s %s 0 0 %s)", k, k, num(crest), num(p.Frequency), num(degrees-120*float64(k)))
			from = fmt.Sprintf("e%d", k)
			out = append(out, fmt.Sprintf("i(Vline%d)", k))
		}
		line("Vline%d %s f%d 0", k, from, k)
		z := "f"
		if k == 1 && p.Phases == 1 { // the impedance of the loop is in the first leg
			line("Rline%d f%d a%d 1e-9", k, k, k)
		} else {
			if p.Inductance > 0 {
				line("Lline%d f%d g%d %s ic=0", k, k, k, num(p.Inductance))
				line("Rdamping%d f%d g%d %s", k, k, k, num(damping))
				z = "g"
			}
			line("Rline%d %s%d a%d %s", k, z, k, k, num(p.Resistance))
		}
		diode := func(name, from, to string) {
			if p.Inductance == 0 {
				line("B%s%d %s %s I=max(0,(v(%s,%s)-%s)/%s)", name, k, from, to, from, to, num(p.DiodeThreshold), num(p.DiodeResistance))
				return
			}
			x := fmt.Sprintf("(v(%s,%s)-%s)", from, to, num(p.DiodeThreshold))
			line("B%s%d %s %s I=(%s+sqrt(%s*%s+%s))/%s", name, k, from, to, x, x, x, num(knee*knee), num(2*p.DiodeResistance))
		}
		leg := fmt.Sprintf("a%d", k)
		if p.Inductance > 0 {
			line("Csnubber%d %s 0 %s", k, leg, num(snubber))
		}
		diode("upper", leg, "p")
		diode("lower", "0", leg)
	}
	line("Cbank %s 0 %s ic=%s", bank, num(p.Capacitance), num(p.Start))
	if p.Bleeder > 0 {
		line("Rbleeder p 0 %s", num(1/p.Bleeder))
	}
	for i, l := range []PlainCurve{p.Power, p.Current} {
		if len(l.Coefs) == 0 {
			continue
		}
		name := []string{"power", "current"}[i]
		over := []string{"/v(p)", ""}[i]
		line("%s", selector(name, l.Breaks))
		line("B%s p 0 I=(%s)%s", name, l.expression(name), over)
	}
	_, end := c.Span()
	resting := ""
	if p.Inductance > 0 {
		resting = restingLegs(p, legs, crest)
	}
	line(".ic v(p)=%s v(%s)=%s%s", num(p.Start), bank, num(p.Start), resting)
	line(".tran %s %s 0 %s uic", num(step), num(end), num(step))
	vectors := strings.Join(out, " ")
	line(".save %s\n.control\nset numdgt=15\nset wr_singlescale\nrun\nwrdata out.txt %s", vectors, vectors)
	line("rusage trantime tranpoints accept rejected traniter\nversion -s\n.endc\n.end")
	return b.String(), nil
}

// restingLegs returns initial voltages of star point and legs, midway between the
// poles of the bus, so that snubbers have nothing to charge at the start.
func restingLegs(p PlainRipple, legs int, crest float64) string {
	e := make([]float64, legs)
	for k := range e {
		if p.Phases == 3 || k == 0 {
			e[k] = crest * math.Sin(p.Angle-2*math.Pi/3*float64(k))
		}
	}
	n := (p.Start - slices.Max(e) - slices.Min(e)) / 2
	s := " v(n)=" + num(n)
	for k := range e {
		s += fmt.Sprintf(" v(a%d)=%s v(f%d)=%s", k, num(n+e[k]), k, num(n+e[k]))
		if p.Phases == 3 || k == 0 {
			s += fmt.Sprintf(" v(e%d)=%s", k, num(n+e[k]))
		}
	}
	return s
}

// Ripples returns the rectifiers that are compared. All are invented.
func Ripples() []Ripple {
	power := must(profile.NewCurve([]float64{0, 0.045, 0.08}, [][]float64{{300}, {900, -8000}}))
	current := must(profile.Constant(0.6, 0, 0.08))
	return []Ripple{
		{
			Name:      "bridge-resistive",
			Rectifier: bus.Rectifier{Kind: bus.Bridge, Voltage: 230, Frequency: 50, Resistance: 0.7, DiodeThreshold: 0.8, DiodeResistance: 0.02},
			Bus:       bus.Bus{Bank: bus.Bank{Capacitance: 0.0012, RatedVoltage: 450}, Bleeder: 47e3},
			Load:      bus.RippleLoad{Power: power, Current: current},
			Start:     bus.RippleState{Voltage: 318, Angle: 0.3},
		},
		{
			Name:      "bridge-inductive",
			Rectifier: bus.Rectifier{Kind: bus.Bridge, Voltage: 48, Frequency: 60, Resistance: 0.08, Inductance: 3e-4, DiodeThreshold: 0.7, DiodeResistance: 0.01},
			Bus:       bus.Bus{Bank: bus.Bank{Capacitance: 0.015, SeriesResistance: 0.012, RatedVoltage: 100}, Bleeder: 1e3},
			Load:      bus.RippleLoad{Power: power},
			Start:     bus.RippleState{Voltage: 64},
		},
		{
			Name:      "three-phase-bridge",
			Rectifier: bus.Rectifier{Kind: bus.ThreePhaseBridge, Voltage: 400, Frequency: 50, Resistance: 0.15, Inductance: 4e-4, DiodeThreshold: 0.9, DiodeResistance: 0.01},
			Bus:       bus.Bus{Bank: bus.Bank{Capacitance: 0.0009, SeriesResistance: 0.03, RatedVoltage: 800}, Bleeder: 22e3},
			Load:      bus.RippleLoad{Power: power.Scale(12)},
			Start:     bus.RippleState{Voltage: 545, Angle: 0.55},
		},
	}
}
