package profile

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// moving returns a move of 1 m/s that takes a step of speed up, at accel for
// ramp, in its middle, and ends at that speed with a little acceleration.
func moving(ramp, accel float64) Move {
	v := 1 + accel*ramp
	m := Move{speed: v + 1, accel: 1, to: 20 + ramp*(1+v)/2 + 10*v + 1.0/2}
	m.add(20, 0, 1, 0, 0)
	m.add(ramp, 20, 1, accel, 0)
	m.add(10, 20+ramp*(1+v)/2, v, 0, 0)
	m.add(1, 20+ramp*(1+v)/2+10*v, v, 1, 0)
	return m
}

// The speeds and the acceleration at the ends are slowed like all others.
func TestStretchMoveThatEndsMoving(t *testing.T) {
	m := moving(2, 0.5)
	s, err := m.Stretch(66)
	require.NoError(t, err)
	require.Equal(t, 66.0, s.Duration())
	require.Equal(t, State{0, 0.5, 0}, s.At(0))
	require.Equal(t, State{m.to, 1.5, 0.25}, s.At(66))
	require.Equal(t, State{Position: 20, Speed: 0.5, Accel: 0.125}, s.At(40))
	require.Equal(t, 0.25, s.accel)
	_, err = NewMotion(s.Motion().Position())
	require.NoError(t, err)
}

// A part in the middle that the stretched clock cannot tell leaves no gap: the
// stretch is refused.
func TestStretchRefusesAGapInTheMiddle(t *testing.T) {
	refused := 0
	for k := 1.0; k < 3; k += 0.07 {
		m := moving(0x1p-40, 0x1p40)
		s, err := m.Stretch(k * m.Duration())
		if err != nil {
			refused++
			continue
		}
		for i := 1; i < s.n; i++ {
			before := s.segment(i - 1)
			h := s.segment(i).t - before.t
			require.LessOrEqual(t, math.Abs(before.speed+h*before.accel-s.segment(i).speed), 1e-9*2)
		}
	}
	require.NotZero(t, refused)
}

// What moves cannot wait, and more segments than lie in one row are all kept.
func TestStretchOddMoves(t *testing.T) {
	_, err := (Move{speed: 1}).Stretch(2)
	require.Len(t, InputErrors(err), 1)
	_, err = (Move{accel: 1}).Stretch(2)
	require.Len(t, InputErrors(err), 1)

	const n = maxSegments + 3
	m := Move{to: n, speed: 1}
	for i := range n {
		m.add(1, float64(i), 1, 0, 0)
	}
	s, err := m.Stretch(2 * n)
	require.NoError(t, err)
	require.Equal(t, n, s.n)
	require.Equal(t, State{Position: n - 1, Speed: 0.5}, s.At(2*n-2))
	require.Equal(t, State{Position: n - 1, Speed: 1}, m.At(n-1), "the move itself is left alone")
}
