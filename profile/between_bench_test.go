package profile_test

import (
	"testing"

	"example.com/headroom/profile"
)

// betweenCalls are motions that a control loop plans anew, each with all limits
// of hotLimits or others of their own.
var betweenCalls = []struct {
	name     string
	allocs   float64
	from, to profile.State
	lim      profile.Limits
}{
	{"Rest", 0, profile.State{}, profile.State{Position: 1}, hotLimits},
	{"RestShort", 0, profile.State{}, profile.State{Position: 0.05}, hotLimits},
	{"UnderWay", 0, profile.State{Speed: 0.4, Accel: 3}, profile.State{Position: 1}, hotLimits},
	{"UnderWayShort", 0, profile.State{Speed: 0.4, Accel: 3}, profile.State{Position: 0.2}, hotLimits},
	{"Braking", 0, profile.State{Speed: 0.8, Accel: -2}, profile.State{Position: 0.3}, hotLimits},
	{"OvershootAndReturn", 0, profile.State{Speed: 1.1}, profile.State{Position: 0.05}, hotLimits},
	{"ToSpeedAndAccel", 0, profile.State{Speed: 0.2, Accel: -1}, profile.State{Position: 0.5, Speed: 0.5, Accel: 2}, hotLimits},
	{"Dip", 0, profile.State{Speed: 0.5, Accel: 2}, profile.State{Position: 0.115, Speed: 0.8, Accel: 2}, hotLimits},
	{"Trapezoid", 0, profile.State{Speed: 0.4}, profile.State{Position: 1, Speed: 0.3}, profile.Limits{Speed: 1.2, Accel: 6, Decel: 4}},
	{"TooFast", 1, profile.State{Speed: 2, Accel: 3}, profile.State{Position: 1}, hotLimits},
}

func BenchmarkPlanBetween(b *testing.B) {
	for _, c := range betweenCalls {
		b.Run(c.name, func(b *testing.B) {
			if _, err := profile.PlanBetween(c.from, c.to, c.lim); err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for b.Loop() {
				sinkMove, _ = profile.PlanBetween(c.from, c.to, c.lim)
			}
		})
	}
}

func BenchmarkHalt(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		sinkMove, _ = profile.Halt(profile.State{Speed: 1, Accel: 3}, hotLimits)
	}
}

func TestPlanBetweenAllocatesNoMore(t *testing.T) {
	for _, c := range betweenCalls {
		got := testing.AllocsPerRun(100, func() { sinkMove, _ = profile.PlanBetween(c.from, c.to, c.lim) })
		if got > c.allocs {
			t.Errorf("%s allocates %v times per call, want at most %v", c.name, got, c.allocs)
		}
	}
	got := testing.AllocsPerRun(100, func() { sinkMove, _ = profile.Halt(profile.State{Speed: 1, Accel: 3}, hotLimits) })
	if got != 0 {
		t.Errorf("Halt allocates %v times per call, want 0", got)
	}
}
