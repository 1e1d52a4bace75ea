package energy_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/energy"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"
)

func body(t testing.TB, s energy.Shape) energy.RigidBody {
	t.Helper()
	b, err := s.Body()
	require.NoError(t, err)
	return b
}

func inertiaAbout(t testing.TB, b energy.RigidBody, x, y float64) float64 {
	t.Helper()
	j, err := b.InertiaAbout(x, y)
	require.NoError(t, err)
	return j
}

func integral(f func(float64) float64, lo, hi float64) float64 {
	return quad.Fixed(f, lo, hi, 200, nil, 0)
}

// TestShapesByIntegration integrates dm and r² dm over each shape.
func TestShapesByIntegration(t *testing.T) {
	const rho = 7850.0
	const tolerance = 1e-12 // of the quadrature

	// Shells of radius r.
	shells := func(length, inner, outer float64) (mass, inertia float64) {
		return integral(func(r float64) float64 { return rho * length * 2 * math.Pi * r }, inner, outer),
			integral(func(r float64) float64 { return rho * length * 2 * math.Pi * r * r * r }, inner, outer)
	}
	for _, bore := range []float64{0, 0.03, 0.0499} {
		m, j := shells(0.2, bore/2, 0.025)
		b := body(t, energy.Cylinder{Diameter: 0.05, Bore: bore, Length: 0.2, Density: rho})
		requireNear(t, m, b.Mass, tolerance, "mass of a cylinder")
		requireNear(t, j, b.Inertia, tolerance, "inertia of a cylinder")
		byMass := body(t, energy.Cylinder{Diameter: 0.05, Bore: bore, Mass: m})
		requireNear(t, j, byMass.Inertia, tolerance, "inertia of a cylinder of known mass")
	}

	// Strips of width dx.
	w, d, l := 0.3, 0.07, 0.05
	mass := integral(func(x float64) float64 { return rho * l * d }, -w/2, w/2)
	j := integral(func(x float64) float64 {
		return integral(func(y float64) float64 { return rho * l * (x*x + y*y) }, -d/2, d/2)
	}, -w/2, w/2)
	b := body(t, energy.Block{Width: w, Depth: d, Length: l, Density: rho})
	requireNear(t, mass, b.Mass, tolerance, "mass of a block")
	requireNear(t, j, b.Inertia, tolerance, "inertia of a block")
	requireNear(t, j, body(t, energy.Block{Width: w, Depth: d, Mass: mass}).Inertia, tolerance, "inertia of a block of known mass")

	// Discs of thickness dz.
	const r0 = 0.04
	mass = integral(func(z float64) float64 { return rho * math.Pi * (r0*r0 - z*z) }, -r0, r0)
	j = integral(func(z float64) float64 { return rho * math.Pi / 2 * math.Pow(r0*r0-z*z, 2) }, -r0, r0)
	b = body(t, energy.Sphere{Diameter: 2 * r0, Density: rho})
	requireNear(t, mass, b.Mass, tolerance, "mass of a sphere")
	requireNear(t, j, b.Inertia, tolerance, "inertia of a sphere")
	requireNear(t, j, body(t, energy.Sphere{Diameter: 2 * r0, Mass: mass}).Inertia, tolerance, "inertia of a sphere of known mass")
}

// TestScrewShaftByIntegration integrates over the profile of the thread, which fills
// a share of the lead that falls in a straight line from root to crest.
func TestScrewShaftByIntegration(t *testing.T) {
	const rho, length, root, major = 7850.0, 0.8, 0.0115, 0.016
	for _, tc := range []struct {
		name        string
		foot, crest float64 // share filled
		tolerance   float64
	}{
		{"square", 0.5, 0.5, 1e-12},
		{"narrow square", 0.3, 0.3, 1e-12},
		{"30° trapezoid", 0.634, 0.366, 2.7e-2}, // as documented
	} {
		t.Run(tc.name, func(t *testing.T) {
			fill := func(r float64) float64 {
				return tc.foot + (tc.crest-tc.foot)*(r-root/2)/((major-root)/2)
			}
			moment := func(power float64) float64 {
				ring := func(r float64) float64 { return rho * length * 2 * math.Pi * math.Pow(r, power) }
				return integral(ring, 0, root/2) + integral(func(r float64) float64 { return fill(r) * ring(r) }, root/2, major/2)
			}
			s := energy.ScrewShaft{MajorDiameter: major, RootDiameter: root, Land: fill((root + major) / 4), Length: length, Density: rho}
			b := body(t, s)
			requireNear(t, moment(1), b.Mass, tc.tolerance, "mass")
			requireNear(t, moment(3), b.Inertia, tc.tolerance, "inertia")
			s.Density, s.Length, s.Mass = 0, 0, b.Mass
			requireNear(t, b.Inertia, body(t, s).Inertia, 1e-14, "inertia with a known mass")
			upper := body(t, energy.Cylinder{Diameter: major, Length: length, Density: rho})
			lower := body(t, energy.Cylinder{Diameter: root, Length: length, Density: rho})
			require.Greater(t, upper.Inertia, b.Inertia)
			require.Less(t, lower.Inertia, b.Inertia)
		})
	}
}

// TestBodiesMadeOfParts: a body is the sum of the parts it is cut into.
func TestBodiesMadeOfParts(t *testing.T) {
	const rho = 2700
	same := func(want, got energy.RigidBody, what string) {
		t.Helper()
		requireNear(t, want.Mass, got.Mass, 1e-12, "mass of "+what)
		requireNear(t, want.Inertia, got.Inertia, 1e-12, "inertia of "+what)
		require.InDelta(t, want.X, got.X, 1e-15, what)
		require.InDelta(t, want.Y, got.Y, 1e-15, what)
	}
	// A tube and the core that it was drilled from.
	whole, err := energy.Assemble(
		energy.Part{Shape: energy.Cylinder{Diameter: 0.06, Bore: 0.025, Length: 0.1, Density: rho}},
		energy.Part{Shape: energy.Cylinder{Diameter: 0.025, Length: 0.1, Density: rho}})
	require.NoError(t, err)
	same(body(t, energy.Cylinder{Diameter: 0.06, Length: 0.1, Density: rho}), whole, "tube and core")

	// A bar sawn in three unequal pieces along its width, and in two along its depth.
	bar := body(t, energy.Block{Width: 0.6, Depth: 0.1, Length: 0.02, Density: rho})
	sawn, err := energy.Assemble(
		energy.Part{Shape: energy.Block{Width: 0.1, Depth: 0.1, Length: 0.02, Density: rho}, X: -0.25},
		energy.Part{Shape: energy.Block{Width: 0.2, Depth: 0.1, Length: 0.02, Density: rho}, X: -0.1},
		energy.Part{Shape: energy.Block{Width: 0.3, Depth: 0.1, Length: 0.02, Density: rho}, X: 0.15})
	require.NoError(t, err)
	same(bar, sawn, "bar along its width")
	sawn, err = energy.Assemble(
		energy.Part{Shape: energy.Block{Width: 0.6, Depth: 0.04, Length: 0.02, Density: rho}, Y: -0.03},
		energy.Part{Shape: energy.Block{Width: 0.6, Depth: 0.06, Length: 0.02, Density: rho}, Y: 0.02})
	require.NoError(t, err)
	same(bar, sawn, "bar along its depth")
}

// TestAssembliesOfPoints holds assemblies of random point masses, nested in two
// levels, against the plain sum of m r².
func TestAssembliesOfPoints(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		x, y := r.NormFloat64(), r.NormFloat64()
		var mass, want float64
		var groups []energy.Part
		for range 1 + r.IntN(4) {
			gx, gy := r.NormFloat64(), r.NormFloat64()
			var points []energy.Part
			for range 1 + r.IntN(5) {
				p := energy.Part{Shape: energy.RigidBody{Mass: r.Float64() + 0.01, X: r.NormFloat64()}, X: r.NormFloat64(), Y: r.NormFloat64()}
				b := p.Shape.(energy.RigidBody)
				mass += b.Mass
				want += b.Mass * (math.Pow(b.X+p.X+gx-x, 2) + math.Pow(p.Y+gy-y, 2))
				points = append(points, p)
			}
			group, err := energy.Assemble(points...)
			require.NoError(t, err)
			groups = append(groups, energy.Part{Shape: group, X: gx, Y: gy})
		}
		all, err := energy.Assemble(groups...)
		require.NoError(t, err)
		requireNear(t, mass, all.Mass, 1e-13, "mass")
		requireNear(t, want, inertiaAbout(t, all, x, y), 1e-12, "inertia about a point")
	}
}

func TestInertiaThroughTransmissions(t *testing.T) {
	// Equal kinetic energy at 100 rad/s of the driven shaft.
	const w, mass, d = 100.0, 0.8, 0.05
	j, err := energy.PitchLineInertia(mass, d)
	require.NoError(t, err)
	requireNear(t, mass*math.Pow(w*d/2, 2)/2, j*w*w/2, 1e-14, "energy of a belt")

	const idler = 3e-4
	j, err = energy.InertiaThroughRatio(idler, 0.12/0.05) // idler 120 mm, driven pulley 50 mm
	require.NoError(t, err)
	slow := w * 0.05 / 0.12
	requireNear(t, idler*slow*slow/2, j*w*w/2, 1e-14, "energy of an idler")
}
