package sizing_test

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// 10 kg with 60 N of static friction on a belt of 0.1 m radius, at 2 m/s² without limit of
// jerk: 10 kg · 2 m/s² + 60 N = 80 N, 8 N·m at the motor; while it moves the friction is
// 5 N and the torque 2.5 N·m.
func TestStartingTorque(t *testing.T) {
	a := assess(t, replaced(t, massLoad, `"load": { "mass": "10 kg", "coulomb": "5 N", "breakaway": "60 N" }`))
	require.InDelta(t, 8, find(t, a, "motors", "a", "starting motor torque").Value, 1e-9)
	require.InDelta(t, 2.5, find(t, a, "motors", "a", "peak motor torque").Value, 1e-9)
	// A load without static friction starts with no more than it runs with.
	b := assess(t, replaced(t, massLoad, `"load": { "mass": "10 kg", "coulomb": "5 N" }`))
	for _, s := range b.Sections {
		for _, c := range s.Checks {
			require.NotEqual(t, "starting motor torque", c.Name)
		}
	}
}
