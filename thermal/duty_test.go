package thermal_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// Duty types by what their definitions list.
func TestDutyTypes(t *testing.T) {
	seg := func(a thermal.Activity, d, torque, speed float64) thermal.DutySegment {
		return thermal.DutySegment{Duration: d, Activity: a, Torque: torque, Speed: speed}
	}
	load, rest := seg(thermal.Loaded, 6, 2, 100), seg(thermal.Resting, 4, 0, 0)
	start, brake := seg(thermal.Starting, 1, 4, 50), seg(thermal.Braking, 1, 3, 50)
	idle, other := seg(thermal.NoLoad, 4, .1, 100), seg(thermal.Loaded, 5, 3, 60)
	weak := seg(thermal.Starting, .1, 2, 50)
	sameSpeed := seg(thermal.Loaded, 5, 3, 100)
	for _, tc := range []struct {
		name string
		d    thermal.Duty
		want thermal.DutyType
		cdf  float64
	}{
		{"one load", thermal.Duty{Segments: []thermal.DutySegment{load}}, 1, 1},
		{"one load in pieces", thermal.Duty{Segments: []thermal.DutySegment{load, load}}, 1, 1},
		{"short time", thermal.Duty{Segments: []thermal.DutySegment{load, rest}, TimeConstant: 1}, 1, .6},
		{"short against a long rest", thermal.Duty{Segments: []thermal.DutySegment{load, seg(thermal.Resting, 50, 0, 0)}, TimeConstant: 10}, 2, 6. / 56},
		{"intermittent", thermal.Duty{Segments: []thermal.DutySegment{load, rest}}, 3, .6},
		{"intermittent, weak start", thermal.Duty{Segments: []thermal.DutySegment{weak, load, rest}}, 3, 6.1 / 10.1},
		{"with starting", thermal.Duty{Segments: []thermal.DutySegment{start, load, rest}}, 4, 7. / 11},
		{"with braking", thermal.Duty{Segments: []thermal.DutySegment{start, load, brake, rest}}, 5, 8. / 12},
		{"idling", thermal.Duty{Segments: []thermal.DutySegment{load, idle}}, 6, .6},
		{"idling, slow machine", thermal.Duty{Segments: []thermal.DutySegment{load, idle}, TimeConstant: 100}, 6, .6},
		{"start, load, brake", thermal.Duty{Segments: []thermal.DutySegment{start, load, brake}}, 7, 1},
		{"loads and speeds", thermal.Duty{Segments: []thermal.DutySegment{load, start, other, brake}}, 8, 1},
		{"no cycle", thermal.Duty{Segments: []thermal.DutySegment{load, rest}, NonPeriodic: true}, 9, .6},
		{"discrete loads", thermal.Duty{Segments: []thermal.DutySegment{load, other}, TimeConstant: 1}, 10, 1},
		{"rests and several loads", thermal.Duty{Segments: []thermal.DutySegment{load, other, rest}}, 0, 11. / 15},
		{"rests and idling", thermal.Duty{Segments: []thermal.DutySegment{load, idle, rest}}, 0, 10. / 14},
		{"loads at one speed", thermal.Duty{Segments: []thermal.DutySegment{load, sameSpeed}}, 0, 1},
		{"nothing", thermal.Duty{Segments: []thermal.DutySegment{rest}}, 0, 0},
	} {
		c, err := tc.d.Classify()
		if err != nil {
			t.Fatal(err)
		}
		if c.Type != tc.want || c.Reason == "" {
			t.Errorf("%s: %v (%s), want %v", tc.name, c.Type, c.Reason, tc.want)
		}
		within(t, tc.name+", duration factor", c.CyclicDurationFactor, tc.cdf, 1e-14)
	}
	// RMS by hand: (4·36/… ) with half the cooling at rest: √(2²·6/(6+2)).
	d := thermal.Duty{Segments: []thermal.DutySegment{load, rest}, StandstillCooling: .5}
	near(t, "equivalent torque", first(d.Classify()).EquivalentTorque, math.Sqrt(3), 1e-14)
}

// A move there and back again, from its curves.
func TestDutySegments(t *testing.T) {
	speed := ok[profile.Curve](t)(profile.NewCurve([]float64{0, 1, 3, 4, 6, 7, 9, 10, 12},
		[][]float64{{0, 50}, {50}, {50, -50}, {0}, {0, -50}, {-50}, {-50, 50}, {0}}))
	torque := blocks(t, [2]float64{5, 1}, [2]float64{1, 2}, [2]float64{-3, 1}, [2]float64{0, 2},
		[2]float64{-5, 1}, [2]float64{-.05, 2}, [2]float64{3, 1}, [2]float64{2, 2})
	got := ok[[]thermal.DutySegment](t)(thermal.DutySegments(torque, speed, .1))
	want := []thermal.DutySegment{
		{1, thermal.Starting, 5, 25}, {2, thermal.Loaded, 1, 50}, {1, thermal.Braking, 3, 25}, {2, thermal.Resting, 0, 0},
		{1, thermal.Starting, 5, 25}, {2, thermal.NoLoad, .05, 50}, {1, thermal.Braking, 3, 25}, {2, thermal.Loaded, 2, 0},
	}
	if d := cmp.Diff(want, big(got), cmpopts.EquateApprox(0, .1)); d != "" {
		t.Error(d)
	}
	total := 0.0
	for _, s := range got {
		total += s.Duration
	}
	near(t, "duration", total, 12, 1e-12)
	// The RMS torque is that of the curve.
	near(t, "RMS torque", ok[thermal.DutyClass](t)(thermal.Duty{Segments: got}.Classify()).EquivalentTorque, torque.RMS(), 1e-12)
}

// big drops the slivers next to standstill.
func big(s []thermal.DutySegment) (out []thermal.DutySegment) {
	for _, x := range s {
		if x.Duration > .01 {
			out = append(out, x)
		}
	}
	return out
}

func TestDeratingIdentities(t *testing.T) {
	for _, c := range []thermal.WindingClass{thermal.ClassA, thermal.ClassE, thermal.ClassB, thermal.ClassF, thermal.ClassH} {
		near(t, "rated", ok[float64](t)(c.TorqueDerating(40, 1000, .5)), 1, 1e-15)
		near(t, "colder", ok[float64](t)(c.TorqueDerating(10, 0, 0)), 1, 1e-15)
		r := ok[float64](t)(c.RiseLimit(50, 2000, false)) / ok[float64](t)(c.RiseLimit(40, 0, false))
		k := ok[float64](t)(c.TorqueDerating(50, 2000, .3))
		near(t, "loss at the derated torque", (k*k+.3)/1.3, r, 1e-13)
	}
}

func TestDutyBadInput(t *testing.T) {
	seg := []thermal.DutySegment{{Duration: 1, Activity: thermal.Loaded, Torque: 1}}
	c := blocks(t, [2]float64{1, 1})
	for path, err := range map[string]error{
		"segments":             second(thermal.Duty{}.Classify()),
		"segments[0].duration": second(thermal.Duty{Segments: []thermal.DutySegment{{}}}.Classify()),
		"segments[0].activity": second(thermal.Duty{Segments: []thermal.DutySegment{{Duration: 1, Activity: 9}}}.Classify()),
		"segments[0].torque":   second(thermal.Duty{Segments: []thermal.DutySegment{{Duration: 1, Torque: math.NaN()}}}.Classify()),
		"timeConstant":         second(thermal.Duty{Segments: seg, TimeConstant: -1}.Classify()),
		"standstillCooling":    second(thermal.Duty{Segments: seg, StandstillCooling: 2}.Classify()),
		"torque":               second(thermal.DutySegments(profile.Curve{}, c, 0)),
		"noLoad":               second(thermal.DutySegments(c, c, -1)),
		"curves[1]":            second(thermal.DutySegments(c, blocks(t, [2]float64{1, 2}), 0)),
		"class":                second(thermal.WindingClass(7).RiseLimit(40, 0, false)),
		"ambient":              second(thermal.ClassB.RiseLimit(math.NaN(), 0, false)),
		"altitude":             second(thermal.ClassB.RiseLimit(40, 9000, false)),
		"constantLoss":         second(thermal.ClassB.TorqueDerating(60, 4000, 5)),
	} {
		if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != path {
			t.Errorf("%s: %v", path, err)
		}
	}
}

// Any cycle: segments that add up, and a class.
func FuzzDuty(f *testing.F) {
	f.Add(5., 1., -3., 50., 0., 1., 2., .1)
	f.Add(0., 0., 0., 0., 0., 1., 1e9, 0.)
	f.Fuzz(func(t *testing.T, q0, q1, q2, v0, v1, t1, t2, noLoad float64) {
		torque, err := profile.NewCurve([]float64{0, t1, t1 + t2}, [][]float64{{q0, q1}, {q2}})
		if err != nil {
			return
		}
		speed, err := profile.NewCurve([]float64{0, t1, t1 + t2}, [][]float64{{v0, v1}, {v1, -v0}})
		if err != nil {
			return
		}
		s, err := thermal.DutySegments(torque, speed, noLoad)
		if err != nil {
			if len(profile.InputErrors(err)) == 0 {
				t.Fatalf("unknown kind: %v", err)
			}
			return
		}
		sum := 0.0
		for _, x := range s {
			sum += x.Duration
		}
		if !(math.Abs(sum-torque.Duration()) <= 1e-9*torque.Duration()) {
			t.Fatalf("segments of %g s for a cycle of %g s", sum, torque.Duration())
		}
		c, err := thermal.Duty{Segments: s}.Classify()
		if err != nil {
			if len(profile.InputErrors(err)) == 0 {
				t.Fatalf("unknown kind: %v", err)
			}
			return
		}
		if !(c.CyclicDurationFactor >= 0 && c.CyclicDurationFactor <= 1 && c.EquivalentTorque >= 0 && c.EquivalentTorque <= math.MaxFloat64) {
			t.Fatalf("%+v", c)
		}
	})
}
