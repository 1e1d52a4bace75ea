package energy

import (
	"fmt"
	"math"
	"strings"

	"example.com/headroom/profile"
)

// Step is a motion together with the load that the axis has meanwhile.
type Step struct {
	Motion profile.Motion
	Load   Load // takes the place of the axis's own; its ExternalByTime counts from the start of the step
}

// TraceSteps follows one step after another: a gripper that is empty on one way, a pallet
// that grows, a press force that belongs to one move. It returns the trace of all of them,
// curves joined and books added, and the book of each step. The motions must join as
// [profile.Sequence] asks.
//
// What resists acceleration, mass or inertia with the counterweight, may change only
// while the axis rests: picking up a mass at speed is an impact, which needs an energy
// that no torque curve shows, and is refused. Frictions and forces may change at any time.
//
// Potential in the book counts what each load gained while it was on the axis: a
// cycle that lifts 10 kg and comes down empty has raised the potential energy of those
// 10 kg.
func (a Axis) TraceSteps(steps []Step) (Trace, []Book, error) {
	noise, err := checkJoined(steps)
	if err != nil {
		return Trace{}, nil, err
	}
	var p pass
	traces, books := make([]Trace, len(steps)), make([]Book, len(steps))
	err = a.traceEach(&p, len(steps), func(i int) Step { return steps[i] }, noise, func(i int, t Trace) {
		traces[i], books[i] = t, t.Book
		p.room = room{tails: p.tails} // the next one gets memory of its own
	})
	if err != nil {
		return Trace{}, nil, err
	}
	t, err := join(traces)
	if err != nil {
		return Trace{}, nil, err
	}
	return t, books, nil
}

// checkJoined returns an error unless the motions of the steps join, and the speed that
// counts as nothing among them.
func checkJoined(steps []Step) (noise float64, err error) {
	motions := make([]profile.Motion, len(steps))
	fastest := 0.0
	for i, s := range steps {
		motions[i] = s.Motion
		fastest = math.Max(fastest, math.Abs(s.Motion.Speed().AbsMax().V))
	}
	var f profile.Faults
	for _, e := range profile.InputErrors(profile.CheckSequence(motions...)) {
		f.Add(strings.Replace(e.Path, "motions", "steps", 1)+".motion", e.Value, e.Want)
	}
	return relative * fastest, f.Err()
}

// traceEach traces every step of n, whose motions join, and hands over what it finds.
func (a Axis) traceEach(p *pass, n int, step func(i int) Step, noise float64, found func(i int, t Trace)) error {
	var f profile.Faults
	var last Load // of the step before that took time
	began := false
	for i := range n {
		s := step(i)
		if s.Motion.Duration() > 0 {
			before, now, speed := last.inert(), s.Load.inert(), s.Motion.Start().Speed
			if began && before != now && !(math.Abs(speed) <= noise) {
				f.Add(fmt.Sprintf("steps[%d].load", i), fmt.Sprintf("%g after %g kg or kg·m² at a speed of %g", now, before, speed), "a change of mass or inertia at rest")
			}
			last, began = s.Load, true
		}
		a.Load = s.Load
		var t Trace
		if err := p.follow(&a, s.Motion, &t); err != nil {
			f.Under(fmt.Sprintf("steps[%d]", i), err)
			continue
		}
		found(i, t)
	}
	return f.Err()
}

// join returns the traces one after another as one.
func join(traces []Trace) (Trace, error) {
	var t Trace
	gather := func(of func(*Trace) *profile.Curve) {
		c := make([]profile.Curve, len(traces))
		for i := range traces {
			c[i] = *of(&traces[i])
		}
		*of(&t) = profile.Concat(c...)
	}
	gather(func(t *Trace) *profile.Curve { return &t.Speed })
	gather(func(t *Trace) *profile.Curve { return &t.Torque })
	gather(func(t *Trace) *profile.Curve { return &t.RatedTorque })
	gather(func(t *Trace) *profile.Curve { return &t.ShaftPower })
	gather(func(t *Trace) *profile.Curve { return &t.CopperLoss })
	gather(func(t *Trace) *profile.Curve { return &t.BusPower })
	for i := range traces {
		t.Book = t.Book.Add(traces[i].Book)
	}
	if s := t.Book.Throughput() + t.Book.Recovery.Offered + t.Book.Recovery.Generated; math.IsInf(s, 0) || math.IsNaN(s) {
		return Trace{}, motionFault("energies beyond the range of numbers", "a sequence that leaves them finite")
	}
	return t, nil
}
