package bus

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// section is a rectifier under a steady load, followed from one pulse to the
// next. Its waveform repeats after a period of the mains; where there are several
// pulses in one, every pulse is like the one before it with the lines exchanged,
// so that a fixed point of one pulse is the settled state.
type section struct {
	rectifier Rectifier
	bus       Bus
	load      RippleLoad // over a pulse
	held      bool       // the bus voltage does not change
	pulse     float64    // [s]
	most      int        // steps

	jacobian *mat.Dense // of the map, where it was last computed
}

// newSection returns a section; without a load the voltage is held.
func newSection(r Rectifier, b Bus, load *SteadyLoad) (*section, error) {
	s := &section{rectifier: r, bus: b, held: load == nil, pulse: 1 / (r.Frequency * float64(r.Kind.pulses())), most: 10_000}
	if s.held {
		s.bus = Bus{Bank: Bank{Capacitance: math.Inf(1)}}
	}
	power := 0.0
	if load != nil {
		power = load.Power
		if load.Resistance > 0 {
			s.bus.Bleeder = load.Resistance
		}
		if load.Current != 0 {
			c, err := profile.Constant(load.Current, 0, s.pulse)
			if err != nil {
				return nil, err
			}
			s.load.Current = c
		}
	}
	c, err := profile.Constant(power, 0, s.pulse)
	s.load.Power = c
	return s, err
}

var errCollapsed = errors.New("the bus collapses")

// next returns the states one pulse after x, with the lines exchanged. With keep
// outputs it returns the solution, too.
func (s *section) next(ctx context.Context, x [rectStates]float64, keep int) ([rectStates]float64, *taylor.Solution, error) {
	c := newRectifierCircuit(s.rectifier, s.bus, 0, 0)
	c.power, c.draw = newForcing(s.load.Power), newForcing(s.load.Current)
	c.conductAs(x[:])
	sol, err := taylor.Solve(ctx, taylor.Problem{
		System: c, X0: x[:], Breaks: []float64{0, s.pulse}, Scale: c.scales(), Tol: Tolerance, MaxSteps: s.most, Keep: keep,
	})
	if err != nil {
		return x, nil, err
	}
	if c.collapsed {
		return x, nil, errCollapsed
	}
	v, a, b := sol.X[0], sol.X[1], sol.X[2]
	switch s.rectifier.Kind {
	case Bridge:
		a = -a
	case ThreePhaseBridge:
		// sin(x+60°) = -sin(x-120°): line 1 does now what line 2 did with its sign
		// changed, line 2 what line 3 did.
		a, b = a+b, -a
	}
	return [rectStates]float64{v, a, b}, sol, nil
}

// free returns the numbers of the states that are sought.
func (s *section) free() []int {
	var n []int
	if !s.held {
		n = append(n, rectStateBank)
	}
	if s.rectifier.Inductance > 0 {
		n = append(n, rectStateLines)
		if s.rectifier.Kind == ThreePhaseBridge {
			n = append(n, rectStateLines+1)
		}
	}
	return n
}

// errNoFixedPoint means that none was found.
var errNoFixedPoint = fmt.Errorf("%w: no settled state was found", ErrBudget)

// fixed seeks the fixed point by Newton's method with differences for the
// derivatives, from x. A step that does not bring it nearer is shortened, and in
// the end replaced by following the pulse.
func (s *section) fixed(ctx context.Context, x [rectStates]float64) ([rectStates]float64, error) {
	free := s.free()
	n := len(free)
	if n == 0 {
		return x, nil
	}
	unit := [rectStates]float64{s.rectifier.crest()}
	unit[1] = s.rectifier.crest() / s.rectifier.impedance() / 100
	unit[2] = unit[1]
	residual := func(x [rectStates]float64) (g []float64, size float64, to [rectStates]float64, err error) {
		to, _, err = s.next(ctx, x, 0)
		g = make([]float64, n)
		for k, j := range free {
			g[k] = (to[j] - x[j]) / unit[j]
			size = math.Max(size, math.Abs(g[k]))
		}
		return g, size, to, err
	}
	g, size, to, err := residual(x)
	if err != nil {
		return x, err
	}
	s.jacobian = mat.NewDense(n, n, nil)
	// A large bank hardly changes in a pulse wherever it stands: what Newton's step
	// still asks for counts, too.
	const difference, good, near = 1e-6, 1e-10, 1e-9
	enough := 1e-13
	if s.held {
		enough = 1e-10
	}
	for range 60 {
		if s.held && size <= enough { // the derivatives are not asked for
			return x, nil
		}
		for k, j := range free {
			y := x
			d := difference * unit[j]
			if y[j] > 0 { // towards zero, where less can go wrong
				d = -d
			}
			y[j] += d
			at, _, err := s.next(ctx, y, 0)
			if err != nil {
				return x, err
			}
			for m, i := range free {
				s.jacobian.Set(m, k, (at[i]-to[i])/unit[i]/(d/unit[j]))
			}
		}
		a := mat.DenseCopyOf(s.jacobian)
		for k := range n {
			a.Set(k, k, a.At(k, k)-1)
		}
		step := mat.NewVecDense(n, nil)
		solvable := step.SolveVec(a, mat.NewVecDense(n, g)) == nil
		most := 0.0
		for k := range n {
			most = math.Max(most, math.Abs(step.AtVec(k)))
		}
		if size <= enough && most <= near {
			return x, nil
		}
		found := false
		if solvable && most < math.MaxFloat64 {
			share := 1.0
			if free[0] == rectStateBank { // not farther at once
				share = math.Min(1, 0.2/math.Abs(step.AtVec(0)))
			}
			for range 8 {
				y := x
				for k, j := range free {
					y[j] -= share * step.AtVec(k) * unit[j]
				}
				if !(y[0] >= 0) {
					share /= 4
					continue
				}
				gy, sy, ty, err := residual(y)
				if err != nil && !errors.Is(err, errCollapsed) {
					return x, err
				}
				if err == nil && sy < size {
					x, g, size, to, found = y, gy, sy, ty, true
					break
				}
				share /= 4
			}
		}
		if found {
			continue
		}
		if size <= good { // as near as rounding lets it
			return x, nil
		}
		x = to
		if g, size, to, err = residual(x); err != nil {
			return x, err
		}
	}
	return x, errNoFixedPoint
}

// stable reports whether a disturbance of the fixed point found last dies away.
func (s *section) stable() bool {
	if s.jacobian == nil {
		return true
	}
	var e mat.Eigen
	if !e.Factorize(s.jacobian, mat.EigenNone) {
		return false
	}
	for _, l := range e.Values(nil) {
		if !(math.Hypot(real(l), imag(l)) < 1+1e-6) { // what differences can tell
			return false
		}
	}
	return true
}

// heldCurrent returns the mean current into a bus held at v, followed from the
// states x, and the states of the settled waveform.
func (r Rectifier) heldCurrent(ctx context.Context, v float64, x [rectStates]float64) (float64, [rectStates]float64, error) {
	s, err := newSection(r, Bus{}, nil)
	if err != nil {
		return 0, x, err
	}
	x[0] = v
	if x, err = s.fixed(ctx, x); err != nil {
		return 0, x, err
	}
	_, sol, err := s.next(ctx, x, rectSum+1)
	if err != nil {
		return 0, x, err
	}
	q := 0.0
	for i := range len(sol.Breaks) - 1 {
		q += integral((*taylor.Series)(sol.Piece(i, rectSum)), sol.Breaks[i+1]-sol.Breaks[i])
	}
	return q / s.pulse, x, nil
}
