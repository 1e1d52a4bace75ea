package energy

import (
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// DriveLoading holds the current of a motion against the limits of the drive. A
// loading whose limit is not given is zero.
type DriveLoading struct {
	Continuous Loading // RMS of the current over the cycle [A]
	Peak       Loading // highest magnitude of the current [A]
	PeakAt     float64 // instant of the highest current [s], also when no limit is given
}

// Within reports whether all limits that are given are kept.
func (l DriveLoading) Within() bool { return l.Continuous.Within() && l.Peak.Within() }

// Current returns the current [A] of a trace in the unit of [Winding.Kt]:
//
//	I = electromagnetic torque/Kt
//
// positive where it drives forward. It is ampere RMS (of a sine of that size: at
// standstill one phase may carry √2 times as much for as long as the axis stands), or
// ampere of direct current. [profile.Curve.RMS] and [profile.Curve.AbsMax] give its
// figures. It is an error when the winding is invalid or the trace has no curves.
func (w Winding) Current(t Trace) (profile.Curve, error) {
	var f profile.Faults
	f.Under("winding", w.Validate())
	checkCurve(&f, "trace.torque", t.Torque)
	if err := f.Err(); err != nil {
		return profile.Curve{}, err
	}
	return t.Torque.Scale(1 / w.kt), nil
}

// Loading holds a trace against the drive's limits of current; w is the winding of
// the motor with which the trace was made. The RMS is that of the whole trace, which is
// one cycle, waits included. Power stages heat up within seconds and less: a cycle
// longer than the drive's own time for a peak needs the drive's own rule.
func (d Drive) Loading(w Winding, t Trace) (DriveLoading, error) {
	var f profile.Faults
	f.Under("drive", d.Validate())
	current, err := w.Current(t)
	f.Under("", err)
	if err := f.Err(); err != nil {
		return DriveLoading{}, err
	}
	peak := current.AbsMax()
	l := DriveLoading{
		Continuous: against(&f, "trace.torque", current.RMS(), d.ContinuousCurrent),
		Peak:       against(&f, "trace.torque", math.Abs(peak.V), d.PeakCurrent),
		PeakAt:     peak.T,
	}
	if err := f.Err(); err != nil {
		return DriveLoading{}, err
	}
	return l, nil
}

// checkCurve records a fault when a curve is empty or beyond what any machine has.
func checkCurve(f *profile.Faults, path string, c profile.Curve) {
	if c.Pieces() == 0 {
		f.Add(path, nil, "a curve of a motion that takes time")
		return
	}
	if v := beyond(c); v != 0 {
		f.Add(path, v, "magnitudes up to 1e+12")
	}
}

// beyond returns a value of the curve outside ±1e12, 0 when there is none. Most pieces
// are cleared by bounds, without a search for their extremes.
func beyond(c profile.Curve) float64 {
	for i := range c.Pieces() {
		t0, t1, p := c.Piece(i)
		if lo, hi := poly.Range(p, t1-t0); lo >= -largest && hi <= largest {
			continue
		}
		lo, _, hi, _ := poly.Extrema(p, 0, t1-t0)
		if v := math.Max(-lo, hi); !(v <= largest) {
			return v
		}
	}
	return 0
}
