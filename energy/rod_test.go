package energy_test

import (
	"fmt"
	"math"
	"testing"

	"example.com/headroom/energy"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

var allEnds = []energy.Ends{energy.PinnedPinned, energy.FixedPinned, energy.FixedFixed, energy.FixedFree}

// bisect returns the root of f between lo and hi, where its sign changes once.
func bisect(t testing.TB, f func(float64) float64, lo, hi float64) float64 {
	t.Helper()
	require.Negative(t, f(lo)*f(hi))
	for range 200 {
		if mid := (lo + hi) / 2; f(lo)*f(mid) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// unitRod has a speed and a load that are the square of the number for its ends:
// E = 1, density = 1, √(I/A) = Diameter/4, so speed = λ² Diameter/(4 Length²).
func unitRod(ends energy.Ends) energy.Rod {
	return energy.Rod{Diameter: 0.04, Length: 1, Ends: ends, Elasticity: 1}
}

// TestRodRoots solves the characteristic equations of the uniform beam and column.
func TestRodRoots(t *testing.T) {
	for _, tc := range []struct {
		ends            energy.Ends
		whirl, buckling func(float64) float64
		wlo, whi        float64
		blo, bhi        float64
	}{
		{energy.PinnedPinned, math.Sin, math.Sin, 2, 4, 2, 4},
		{energy.FixedPinned,
			func(x float64) float64 { return math.Sin(x)*math.Cosh(x) - math.Cos(x)*math.Sinh(x) },
			func(x float64) float64 { return math.Sin(x) - x*math.Cos(x) }, 3, 5, 3, 5},
		{energy.FixedFixed, func(x float64) float64 { return math.Cos(x)*math.Cosh(x) - 1 },
			func(x float64) float64 { return math.Sin(x / 2) }, 3, 5, 5, 7},
		{energy.FixedFree, func(x float64) float64 { return math.Cos(x)*math.Cosh(x) + 1 },
			math.Cos, 1, 3, 1, 3},
	} {
		t.Run(tc.ends.String(), func(t *testing.T) {
			rod := unitRod(tc.ends)
			speed, err := rod.CriticalSpeed(1)
			require.NoError(t, err)
			requireNear(t, bisect(t, tc.whirl, tc.wlo, tc.whi), math.Sqrt(speed*4/rod.Diameter), 1e-14, "whirl")
			b, err := rod.BucklingLoad(0.1)
			require.NoError(t, err)
			require.True(t, b.Euler)
			inertia := math.Pi / 64 * math.Pow(rod.Diameter, 4)
			requireNear(t, bisect(t, tc.buckling, tc.blo, tc.bhi), math.Sqrt(b.Load/inertia), 1e-14, "buckling")
		})
	}
}

// beam assembles the matrices of a rod cut into n elements with cubic deflection:
// stiffness, mass and the geometric stiffness of a unit compression.
func beam(r energy.Rod, density float64, n int) (stiff, mass, geometric *mat.Dense) {
	area := math.Pi / 4 * (r.Diameter*r.Diameter - r.Bore*r.Bore)
	ei := r.Elasticity * math.Pi / 64 * (math.Pow(r.Diameter, 4) - math.Pow(r.Bore, 4))
	h := r.Length / float64(n)
	k := [4][4]float64{{12, 6 * h, -12, 6 * h}, {6 * h, 4 * h * h, -6 * h, 2 * h * h}, {-12, -6 * h, 12, -6 * h}, {6 * h, 2 * h * h, -6 * h, 4 * h * h}}
	m := [4][4]float64{{156, 22 * h, 54, -13 * h}, {22 * h, 4 * h * h, 13 * h, -3 * h * h}, {54, 13 * h, 156, -22 * h}, {-13 * h, -3 * h * h, -22 * h, 4 * h * h}}
	g := [4][4]float64{{36, 3 * h, -36, 3 * h}, {3 * h, 4 * h * h, -3 * h, -h * h}, {-36, -3 * h, 36, -3 * h}, {3 * h, -h * h, -3 * h, 4 * h * h}}

	gone := map[int]bool{0: true} // held coordinates: 2 i deflection, 2 i + 1 slope
	last := 2 * n
	switch r.Ends {
	case energy.PinnedPinned:
		gone[last] = true
	case energy.FixedPinned:
		gone[1], gone[last] = true, true
	case energy.FixedFixed:
		gone[1], gone[last], gone[last+1] = true, true, true
	case energy.FixedFree:
		gone[1] = true
	}
	index, size := map[int]int{}, 0
	for i := range last + 2 {
		if !gone[i] {
			index[i] = size
			size++
		}
	}
	stiff, mass, geometric = mat.NewDense(size, size, nil), mat.NewDense(size, size, nil), mat.NewDense(size, size, nil)
	for e := range n {
		for i := range 4 {
			for j := range 4 {
				a, b := 2*e+i, 2*e+j
				if gone[a] || gone[b] {
					continue
				}
				add := func(to *mat.Dense, v float64) { to.Set(index[a], index[b], to.At(index[a], index[b])+v) }
				add(stiff, ei/(h*h*h)*k[i][j])
				add(mass, density*area*h/420*m[i][j])
				add(geometric, 1/(30*h)*g[i][j])
			}
		}
	}
	return stiff, mass, geometric
}

// lowest returns the smallest x with det(stiff - x other) = 0.
func lowest(t testing.TB, stiff, other *mat.Dense) float64 {
	t.Helper()
	var product mat.Dense
	require.NoError(t, product.Solve(stiff, other))
	var eigen mat.Eigen
	require.True(t, eigen.Factorize(&product, mat.EigenNone))
	most := 0.0
	for _, v := range eigen.Values(nil) {
		most = math.Max(most, real(v))
	}
	return 1 / most
}

// TestRodsByFiniteElements holds speed and load against a beam of 24 elements, which
// knows nothing of the characteristic equations.
func TestRodsByFiniteElements(t *testing.T) {
	const density = 7850
	for _, ends := range allEnds {
		for _, bore := range []float64{0, 0.008} {
			t.Run(fmt.Sprintf("%v, bore %g", ends, bore), func(t *testing.T) {
				rod := energy.Rod{Diameter: 0.0138, Bore: bore, Length: 0.9, Ends: ends, Elasticity: 206e9}
				stiff, mass, geometric := beam(rod, density, 24)
				speed, err := rod.CriticalSpeed(density)
				require.NoError(t, err)
				requireNear(t, math.Sqrt(lowest(t, stiff, mass)), speed, 1e-5, "critical speed")
				b, err := rod.BucklingLoad(1e9)
				require.NoError(t, err)
				require.True(t, b.Euler)
				requireNear(t, lowest(t, stiff, geometric), b.Load, 1e-5, "buckling load")
			})
		}
	}
}

// TestBucklingMeets: Euler's curve and Johnson's parabola meet at half the yield
// stress with one slope, the load never rises with the length, and it starts at yield.
func TestBucklingMeets(t *testing.T) {
	const yield, elasticity = 350e6, 206e9
	load := func(length float64) energy.Buckling {
		b, err := energy.Rod{Diameter: 0.02, Bore: 0.01, Length: length, Ends: energy.PinnedPinned, Elasticity: elasticity}.BucklingLoad(yield)
		require.NoError(t, err)
		return b
	}
	area := math.Pi / 4 * (0.02*0.02 - 0.01*0.01)
	transition := load(1).TransitionAt
	requireNear(t, math.Sqrt(2*math.Pi*math.Pi*elasticity/yield), transition, 1e-14, "transition")
	gyration := math.Sqrt((0.02*0.02 + 0.01*0.01) / 16)
	at := transition * gyration
	below, above := load(at*(1-1e-6)), load(at*(1+1e-6))
	require.False(t, below.Euler)
	require.True(t, above.Euler)
	requireNear(t, yield*area/2, below.Load, 3e-6, "load below the transition")
	requireNear(t, yield*area/2, above.Load, 3e-6, "load above the transition")
	slope := func(length, step float64) float64 { return (load(length+step).Load - load(length).Load) / step }
	requireNear(t, slope(at, -1e-5*at), slope(at, 1e-5*at), 1e-4, "slope")
	requireNear(t, yield*area, load(0.02).Load, 2e-2, "load of a short rod")
	last := math.Inf(1)
	for l := 0.02; l < 3; l *= 1.1 {
		require.Less(t, load(l).Load, last)
		last = load(l).Load
	}
}
