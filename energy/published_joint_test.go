package energy_test

import (
	"testing"

	"example.com/headroom/energy"
	"github.com/stretchr/testify/require"
)

// Published values; the words for their status are those of published_test.go.

func TestPublishedKeyLength(t *testing.T) {
	// Wentzell, Machine Design, Ex. 15.1 p. 332, [F] LOOKED UP-2: 5 hp at 1750 rpm (180 lb·in), shaft 1/2 in,
	// key 1/8 in square, half of it in the shaft; Su 61 ksi, Sy 51 ksi, safety 2.5, strength in
	// shear half of Su. Length 0.47 in by shear, 0.56 in by bearing. The capacity grows with the
	// length, so the length follows from that of a key of one inch.
	const ksi = 1000 * pound / (inch * inch)
	k := energy.ParallelKey{
		ShaftDiameter:   0.5 * inch,
		Section:         energy.KeySection{Width: inch / 8, Height: inch / 8, ShaftDepth: inch / 16},
		EffectiveLength: inch,
		Pressure:        51 * ksi / 2.5,
		Shear:           0.5 * 61 * ksi / 2.5,
	}
	shear, err := k.ShearCapacity()
	require.NoError(t, err)
	bearing, err := k.BearingCapacity()
	require.NoError(t, err)
	const torque = 180 * pound * inch
	requireNear(t, 0.47, torque/shear, 1e-2, "length by shear [in]")
	requireNear(t, 0.56, torque/bearing, 1e-2, "length by bearing [in]")
}

func TestPublishedKeySections(t *testing.T) {
	// DIN 6885-1, shaft above and up to, b, h, t1, t2 [mm]. LOOKED UP-2: two tables that agree.
	for _, row := range [][6]float64{
		{12, 17, 5, 5, 3.0, 2.3},
		{17, 22, 6, 6, 3.5, 2.8},
		{22, 30, 8, 7, 4.0, 3.3},
		{30, 38, 10, 8, 5.0, 3.3},
		{38, 44, 12, 8, 5.0, 3.3},
		{44, 50, 14, 9, 5.5, 3.8},
		{50, 58, 16, 10, 6.0, 4.3},
	} {
		for _, d := range []float64{row[0] + 0.01, (row[0] + row[1]) / 2, row[1]} {
			s, err := energy.StandardKey(d * 1e-3)
			require.NoError(t, err)
			require.InDelta(t, row[2]*1e-3, s.Width, 1e-12, "b at %g mm", d)
			require.InDelta(t, row[3]*1e-3, s.Height, 1e-12, "h at %g mm", d)
			require.InDelta(t, row[4]*1e-3, s.ShaftDepth, 1e-12, "t1 at %g mm", d)
			require.InDelta(t, row[5]*1e-3, s.HubDepth, 1e-12, "t2 at %g mm", d)
		}
	}
}

// TestJointCapacities is no outside check: the figures were worked out apart from
// this code, by the same textbook formulas.
func TestJointCapacities(t *testing.T) {
	section, err := energy.StandardKey(0.025)
	require.NoError(t, err)
	key := energy.ParallelKey{ShaftDiameter: 0.025, Section: section, EffectiveLength: 0.032, Pressure: 100e6, Shear: 60e6}
	requireNear(t, 120, capacity(t, key), 1e-4, "key 8x7x32 on 25 mm")
	shear, err := key.ShearCapacity()
	require.NoError(t, err)
	requireNear(t, 192, shear, 1e-4, "the same, shear")
	requireNear(t, 188.5, capacity(t, energy.BondedJoint{Diameter: 0.02, Length: 0.02, Shear: 15e6}), 1e-4, "bonded joint")
	requireNear(t, 75.4, capacity(t, energy.ClampHub{Diameter: 0.02, Length: 0.02, Friction: 0.12, Pressure: 50e6}), 1e-4, "clamp hub")
}
