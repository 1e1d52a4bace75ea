package profile_test

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

func TestInputErrorText(t *testing.T) {
	for _, tc := range []struct {
		err  profile.InputError
		want string
	}{
		{profile.InputError{Path: "load.mass", Value: -1.0, Want: "finite and > 0 kg"}, "load.mass = -1: want finite and > 0 kg"},
		{profile.InputError{Path: "load.mass", Value: "12 apples", Want: "a mass"}, `load.mass = "12 apples": want a mass`},
		{profile.InputError{Path: "load.mass", Want: "a mass"}, "load.mass = missing: want a mass"},
		{profile.InputError{Path: "stages", Value: 3, Want: "at most 2"}, "stages = 3: want at most 2"},
		{profile.InputError{Value: nan, Want: "finite"}, "NaN: want finite"},
	} {
		require.EqualError(t, &tc.err, tc.want)
	}
}

func TestFaultChecks(t *testing.T) {
	for _, tc := range []struct {
		name  string
		check func(f *profile.Faults, v float64) bool
		good  []float64
		bad   []float64
		want  string
	}{
		{"Positive", func(f *profile.Faults, v float64) bool { return f.Positive("x", v, "kg") },
			[]float64{5e-324, 1e300}, []float64{0, -1, inf, -inf, nan}, "finite and > 0 kg"},
		{"NonNegative", func(f *profile.Faults, v float64) bool { return f.NonNegative("x", v, "kg") },
			[]float64{0, 1e300}, []float64{-1, inf, -inf, nan}, "finite and >= 0 kg"},
		{"Finite", func(f *profile.Faults, v float64) bool { return f.Finite("x", v, "") },
			[]float64{0, -1e300}, []float64{inf, -inf, nan}, "finite"},
		{"Within", func(f *profile.Faults, v float64) bool { return f.Within("x", v, -1, 2, "A") },
			[]float64{-1, 0, 2}, []float64{-1.1, 2.1, inf, -inf, nan}, "from -1 to 2 A"},
	} {
		for _, v := range tc.good {
			var f profile.Faults
			require.True(t, tc.check(&f, v), "%s(%g)", tc.name, v)
			require.NoError(t, f.Err())
		}
		for _, v := range tc.bad {
			var f profile.Faults
			require.False(t, tc.check(&f, v), "%s(%g)", tc.name, v)
			in := profile.InputErrors(f.Err())
			require.Len(t, in, 1)
			require.Equal(t, "x", in[0].Path)
			require.Equal(t, tc.want, in[0].Want)
		}
	}
}

func TestFaultsCollect(t *testing.T) {
	var f profile.Faults
	f.Positive("b", -1, "m")
	f.Finite("a", inf, "m")
	f.Positive("c", 1, "m")
	err := fmt.Errorf("the machine: %w", f.Err())
	require.Equal(t, []string{"b", "a"}, paths(err), "in the order found, through a wrapping")
	var in *profile.InputError
	require.True(t, errors.As(err, &in))
	require.Nil(t, profile.InputErrors(nil))
	require.Nil(t, profile.InputErrors(errors.New("other")))
}

func TestFaultsUnder(t *testing.T) {
	var inner profile.Faults
	inner.Positive("mass", -1, "kg")
	inner.Positive("[1].ratio", -1, "")
	inner.Positive("", -1, "")
	other := errors.New("broken")
	var f profile.Faults
	f.Under("unused", nil)
	f.Under("axes[2].load", errors.Join(inner.Err(), other))
	f.Under("stages", fmt.Errorf("wrapped: %w", inner.Err()))
	err := f.Err()
	require.Equal(t, []string{"axes[2].load.mass", "axes[2].load[1].ratio", "axes[2].load", "stages.mass", "stages[1].ratio", "stages"}, paths(err))
	require.ErrorIs(t, err, other)
	require.ErrorContains(t, err, "axes[2].load: broken")
	require.Equal(t, []string{"mass", "[1].ratio", ""}, paths(inner.Err()), "the inner faults are left alone")
}

func TestJoinPath(t *testing.T) {
	for _, tc := range [][3]string{
		{"a", "b", "a.b"}, {"", "b", "b"}, {"a", "", "a"}, {"a", "[3]", "a[3]"}, {"", "[3].b", "[3].b"}, {"", "", ""},
	} {
		require.Equal(t, tc[2], profile.JoinPath(tc[0], tc[1]))
	}
}
