package bus

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Overload is what a regulated supply does at its current limit.
type Overload int

// Kinds of overload behaviour.
const (
	ConstantCurrent Overload = iota // delivers the limit at whatever lower voltage results
	Foldback                        // delivers less the lower the voltage, down to FoldbackCurrent into a short circuit
	Hiccup                          // after Endurance at the limit it shuts down for Pause, then starts again
	Latch                           // after Endurance at the limit it shuts down until its mains is switched off and on
)

// SwitchMode is a regulated source: it holds its set point up to a current limit,
// and there does what Overload says.
//
// A supply may bear more than its limit for a time: up to PeakCurrent, until it
// has been above CurrentLimit for PeakTime in all. What was used of that time
// comes back at the rate PeakTime/PeakRecovery while the current is within
// CurrentLimit; once used up, the limit is CurrentLimit until all has come back.
// (Common practice, no source: makers define this differently.)
//
// Energy that axes return lifts the bus above the set point. A supply with its
// own over-voltage shutdown then goes off, and is missing when the axes draw
// again, unless a diode in its output keeps the bus from it.
type SwitchMode struct {
	Voltage      float64 // set point [V], > 0
	Tolerance    float64 // fraction by which the set point may differ, 0 to below 1
	CurrentLimit float64 // [A], > 0

	Overload        Overload
	FoldbackCurrent float64 // with [Foldback]: into a short circuit [A], >= 0, below CurrentLimit
	Endurance       float64 // with [Hiccup] and [Latch]: time at the limit until it shuts down [s], > 0
	Pause           float64 // with [Hiccup]: until it starts again [s], > 0

	PeakCurrent  float64 // limit for a time [A], above CurrentLimit; 0: none
	PeakTime     float64 // how long [s], > 0 with PeakCurrent
	PeakRecovery float64 // until it is available in full again [s], > 0 with PeakCurrent

	OverVoltage      float64 // its output, driven above this, shuts it down [V], above the highest set point; 0: never
	OverVoltagePause float64 // until it starts again [s]; 0: it stays off until its mains is switched off and on

	DiodeDrop float64 // forward drop of a blocking diode in its output [V]; 0: no diode
}

// Validate implements [Source].
func (s SwitchMode) Validate() error {
	var f profile.Faults
	volts := f.Positive("voltage", s.Voltage, "V")
	amps := f.Positive("currentLimit", s.CurrentLimit, "A")
	checkTolerance(&f, "tolerance", s.Tolerance)
	if s.Overload < ConstantCurrent || s.Overload > Latch {
		f.Add("overload", int(s.Overload), "one of the kinds of overload behaviour")
	}
	switch {
	case s.Overload == Foldback:
		if f.NonNegative("foldbackCurrent", s.FoldbackCurrent, "A") && amps && !(s.FoldbackCurrent < s.CurrentLimit) {
			f.Add("foldbackCurrent", s.FoldbackCurrent, fmt.Sprintf("below currentLimit, %g A", s.CurrentLimit))
		}
	case s.FoldbackCurrent != 0:
		f.Add("foldbackCurrent", s.FoldbackCurrent, "0, or the overload behaviour of folding back")
	}
	shuts := s.Overload == Hiccup || s.Overload == Latch
	onlyWith := func(path string, v float64, wanted bool, why string) {
		switch {
		case wanted:
			f.Positive(path, v, "s")
		case v != 0:
			f.Add(path, v, "0, or "+why)
		}
	}
	onlyWith("endurance", s.Endurance, shuts, "an overload behaviour that shuts down")
	onlyWith("pause", s.Pause, s.Overload == Hiccup, "the overload behaviour of shutting down for a time")
	peak := s.PeakCurrent != 0
	if peak && f.Positive("peakCurrent", s.PeakCurrent, "A") && amps && !(s.PeakCurrent > s.CurrentLimit) {
		f.Add("peakCurrent", s.PeakCurrent, fmt.Sprintf("above currentLimit, %g A", s.CurrentLimit))
	}
	if peak && s.Overload == Foldback {
		f.Add("peakCurrent", s.PeakCurrent, "0 with an output that folds back")
	}
	onlyWith("peakTime", s.PeakTime, peak, "a peakCurrent")
	onlyWith("peakRecovery", s.PeakRecovery, peak, "a peakCurrent")
	if f.NonNegative("overVoltage", s.OverVoltage, "V") && s.OverVoltage > 0 && volts && !(s.OverVoltage > s.Voltage*(1+s.Tolerance)) {
		f.Add("overVoltage", s.OverVoltage, fmt.Sprintf("above the highest set point, %g V", s.Voltage*(1+s.Tolerance)))
	}
	if f.NonNegative("overVoltagePause", s.OverVoltagePause, "s") && s.OverVoltagePause > 0 && s.OverVoltage == 0 {
		f.Add("overVoltagePause", s.OverVoltagePause, "0, or an overVoltage")
	}
	if f.NonNegative("diodeDrop", s.DiodeDrop, "V") && s.DiodeDrop > 0 && volts && !(s.DiodeDrop < s.Voltage*(1-s.Tolerance)/2) {
		f.Add("diodeDrop", s.DiodeDrop, "less than half the set point")
	}
	return f.Err()
}

// Low implements [Source].
func (s SwitchMode) Low() Source { return s.at(1 - s.Tolerance) }

// High implements [Source]. A blocking diode is taken without its drop, which
// vanishes with the current.
func (s SwitchMode) High() Source {
	blocks := s.DiodeDrop > 0
	s.DiodeDrop = 0
	h := s.at(1 + s.Tolerance)
	if blocks {
		h.OverVoltage = 0
	}
	return h
}

func (s SwitchMode) at(k float64) SwitchMode {
	s.Voltage *= k
	s.Tolerance = 0
	return s
}

// NoLoadVoltage implements [Source].
func (s SwitchMode) NoLoadVoltage() float64 { return s.Voltage - s.DiodeDrop }

// Current implements [Source]: a peak that is limited in time is not counted on.
func (s SwitchMode) Current(v float64) float64 {
	if v > s.NoLoadVoltage() {
		return 0
	}
	if s.Overload == Foldback {
		return s.FoldbackCurrent + (s.CurrentLimit-s.FoldbackCurrent)*v/s.NoLoadVoltage()
	}
	return s.CurrentLimit
}

func (s SwitchMode) strongest() float64 {
	return s.NoLoadVoltage() * math.Max(s.CurrentLimit, s.PeakCurrent)
}

// characteristic implements [Source]: with what is available without limit of
// time.
func (s SwitchMode) characteristic() []segment { return s.output(false) }

// output returns the characteristic, with or without the timed peak.
func (s SwitchMode) output(peak bool) []segment {
	v := s.NoLoadVoltage()
	segs := []segment{
		{lo: v, hi: math.Inf(1)},
		{lo: v, hi: v, upright: true, imax: s.CurrentLimit},
	}
	last := segment{lo: 0, hi: v, i0: s.CurrentLimit, limits: true}
	switch {
	case s.Overload == Foldback:
		last.i0, last.g = s.FoldbackCurrent, -(s.CurrentLimit-s.FoldbackCurrent)/v
	case peak && s.PeakCurrent > 0:
		segs = append(segs, segment{lo: v, hi: v, upright: true, imin: s.CurrentLimit, imax: s.PeakCurrent, over: true})
		last.i0, last.over = s.PeakCurrent, true
	}
	return append(segs, last)
}
