package crosscheck

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// coarse is the step [s] at which a netlist has the tolerances below. All that is
// only nearly right in it shrinks with the square of the step, as does the error
// of the trapezoidal rule.
const coarse = 2e-4

const (
	regulation = 1e-4 // resistance of a regulated source, which cannot hold its set point exactly [ohm]
	tolerance  = 1e-7 // relative, of steps and of Newton's iteration
	// gain amplifies the voltage that controls a switch: ngspice shortens its steps
	// before a switch only until it may overshoot the threshold by 0.05 V.
	gain = 1e4
	// ramp is the time that a load takes to change from one piece to the next [s]: a
	// jump would fall between two steps. It does not shrink.
	ramp = 1e-9
)

// Netlist returns a circuit for ngspice, with a transient analysis whose steps
// are not longer than step [s]. Node b is the distribution point, x the bank
// behind its series resistance, u1, u2 … the ends of feeders. It writes out.txt
// with time, bank, ends, source current and the currents of brake resistors.
//
//   - Supplies are current sources of the bus voltage:  max(0, (E - v)/R),  and
//     min(limit, max(0, (set point - v)/regulation)).
//   - Loads are current sources P(time)/v. The number of the piece at hand is the
//     voltage of a piecewise-linear source, at whose corners ngspice puts time
//     points.
//   - Brake resistors are switches with hysteresis.
func (c Circuit) Netlist(step float64) (string, error) {
	p, err := c.Plain()
	if err != nil {
		return "", err
	}
	fine := step * step / (coarse * coarse)
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("* %s: a DC bus, see internal/crosscheck", c.Name)
	line(".options method=trap reltol=%g vntol=1e-9 abstol=1e-9 chgtol=1e-12 trtol=1 itl4=200", tolerance*fine)
	node := func(k int) string {
		if k == 0 {
			return "b"
		}
		return "u" + strconv.Itoa(k)
	}
	bank := "b"
	if p.SeriesResistance > 0 {
		bank = "x"
		line("Rbank b x %s", num(p.SeriesResistance))
	}
	line("Cbank %s 0 %s ic=%s", bank, num(p.Capacitance), num(p.Start))
	if p.Bleeder > 0 {
		line("Rbleeder b 0 %s", num(1/p.Bleeder))
	}
	out := []string{"v(" + bank + ")"}
	initial := []string{"v(b)=" + num(p.Start)}
	if bank != "b" {
		initial = append(initial, "v(x)="+num(p.Start))
	}
	for i, f := range p.Feeders {
		k := i + 1
		line("Rfeeder%d %s %s %s", k, node(f.Upstream), node(k), num(f.Resistance))
		line("Cfeeder%d %s 0 %s ic=%s", k, node(k), num(f.Capacitance), num(p.Start))
		out = append(out, "v("+node(k)+")")
		initial = append(initial, "v("+node(k)+")="+num(p.Start))
	}
	switch s := p.Source; s.Kind {
	case "resistive":
		line("Bsource 0 s I=max(0,(%s-v(b))/%s)", num(s.Voltage), num(s.Resistance))
	case "regulated":
		line("Bsource 0 s I=min(%s,max(0,(%s-v(b))/%s))", num(s.Current), num(s.Voltage), num(regulation*fine))
	}
	if p.Source.Kind != "none" {
		line("Vsource s b 0")
		out = append(out, "i(Vsource)")
		initial = append(initial, "v(s)="+num(p.Start))
	} else {
		line("Vsource 0 s 0") // measures nothing
		line("Rnone s 0 1")
		out = append(out, "i(Vsource)")
	}
	for i, r := range p.Brakes {
		line("Esense%d e%d 0 b 0 %g", i, i, gain/fine)
		line("Sbrake%d b r%d e%d 0 brake%d %s", i, i, i, i, onOff(r.Start))
		line("Vbrake%d r%d 0 0", i, i)
		line(".model brake%d sw(vt=%s vh=%s ron=%s roff=1e12)", i, num(gain/fine*(r.On+r.Off)/2), num(gain/fine*(r.On-r.Off)/2), num(r.Resistance))
		out = append(out, fmt.Sprintf("i(Vbrake%d)", i))
	}
	for i, l := range p.Loads {
		line("%s", selector(fmt.Sprintf("load%d", i), l.Breaks))
		line("Bload%d %s 0 I=(%s)/v(%s)", i, node(l.Node), l.expression(fmt.Sprintf("load%d", i)), node(l.Node))
	}
	for i, l := range p.Switched {
		line("%s", selector(fmt.Sprintf("switched%d", i), l.Breaks))
		line("Bswitched%d %s 0 I=(%s)*v(%s)", i, node(l.Node), l.expression(fmt.Sprintf("switched%d", i)), node(l.Node))
	}
	start, end := c.Span()
	if start != 0 {
		return "", fmt.Errorf("%s: starts at %g s, not at 0", c.Name, start)
	}
	line(".ic %s", strings.Join(initial, " "))
	line(".tran %s %s 0 %s uic", num(step), num(end), num(step))
	line(".save %s", strings.Join(out, " "))
	line(".control")
	line("set numdgt=15")
	line("set wr_singlescale")
	line("run")
	line("wrdata out.txt %s", strings.Join(out, " "))
	line("rusage trantime tranpoints accept rejected traniter")
	line("version -s")
	line(".endc")
	line(".end")
	return b.String(), nil
}

// selector returns a source whose voltage is the number of the piece at hand.
func selector(name string, breaks []float64) string {
	var b strings.Builder
	fmt.Fprintf(&b, "V%s %s 0 PWL(0 0", name, name)
	for i, t := range breaks[1 : len(breaks)-1] {
		fmt.Fprintf(&b, " %s %d %s %d", num(t), i, num(t+ramp), i+1)
	}
	last := len(breaks) - 2
	fmt.Fprintf(&b, " %s %d)", num(2*breaks[len(breaks)-1]), last)
	return b.String()
}

// expression returns the curve as an expression of time and of the selector.
func (l PlainCurve) expression(name string) string {
	s := ""
	for i := len(l.Coefs) - 1; i >= 0; i-- {
		p := polynomial(l.Breaks[i], l.Coefs[i])
		if i == len(l.Coefs)-1 {
			s = p
			continue
		}
		s = fmt.Sprintf("v(%s)<%g?%s:(%s)", name, float64(i)+0.5, p, s)
	}
	return s
}

func polynomial(t0 float64, coefs []float64) string {
	s := ""
	for _, k := range slices.Backward(coefs) {
		if s == "" {
			s = "(" + num(k) + ")"
			continue
		}
		s = fmt.Sprintf("(%s+(time-%s)*%s)", num(k), num(t0), s)
	}
	return s
}

func num(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

func onOff(on bool) string {
	if on {
		return "on"
	}
	return "off"
}
