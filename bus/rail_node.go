package bus

import "math"

// branch is a number of like consumers in one state of draw, each behind the
// resistance of its own cable.
type branch struct {
	n    float64 // how many, not always whole
	kind DrawKind
	draw float64 // P [W], I [A] or conductance [1/ohm], by kind
	r    float64 // [ohm]
}

// newBranch returns the branch of a draw given as power [W] at a voltage [V].
func newBranch(n float64, kind DrawKind, power, voltage, r float64) branch {
	b := branch{n, kind, power, r}
	switch kind {
	case CurrentDraw:
		b.draw = power / voltage
	case OhmicDraw:
		b.draw = power / voltage / voltage
	}
	return b
}

// at returns the voltage of one consumer, its current and the slope of the
// current over u, when the distribution point has u [V]. ok is false where it has
// no operating point.
func (b branch) at(u float64) (v, i, slope float64, ok bool) {
	switch {
	case b.draw == 0:
		return u, 0, 0, u >= 0
	case b.kind == PowerDraw:
		nose := 2 * math.Sqrt(b.r) * math.Sqrt(b.draw)
		if !(u > 0 && u >= nose) {
			return 0, 0, 0, false
		}
		root := math.Sqrt(u-nose) * math.Sqrt(u+nose)
		v = u/2 + root/2
		i = b.draw / v
		if b.r == 0 {
			return v, i, -i / v, true
		}
		// dv/du = (1 + u/root)/2, which is v/root.
		return v, i, -i / root, true
	case b.kind == CurrentDraw:
		v = u - b.r*b.draw
		return v, b.draw, 0, v >= 0
	}
	share := 1 / (1 + b.r*b.draw) // of u, at the consumer
	slope = b.draw * share
	return u * share, u * slope, slope, u >= 0
}

// least returns the lowest u at which the consumer has at least min [V].
func (b branch) least(min float64) float64 {
	switch {
	case b.draw == 0:
		return min
	case b.kind == PowerDraw:
		v := math.Max(min, math.Sqrt(b.r)*math.Sqrt(b.draw))
		if v == 0 {
			return 0
		}
		return v + b.r*(b.draw/v)
	case b.kind == CurrentDraw:
		return min + b.r*b.draw
	}
	return min * (1 + b.r*b.draw)
}

// total returns the current of all branches and its slope.
func total(branches []branch, u float64) (i, slope float64, ok bool) {
	for _, b := range branches {
		_, bi, bs, ok := b.at(u)
		if !ok {
			return 0, 0, false
		}
		i += b.n * bi
		slope += b.n * bs
	}
	return i, slope, true
}

// railNode returns the voltage of the distribution point behind the resistance feed
// [ohm] from vs [V], and the current: the largest root of
//
//	g(u) = vs - u - feed Σ i(u)
//
// Every i(u) is convex, so g is concave, and g(vs) <= 0: Newton's rule from vs comes
// down on the largest root without passing it. Where there is none it arrives
// where g no longer falls with u.
func railNode(branches []branch, vs, feed float64) (u, i float64, ok bool) {
	u = vs
	for range 500 {
		i, slope, ok := total(branches, u)
		if !ok || math.IsInf(i, 0) || math.IsNaN(i) {
			return 0, 0, false
		}
		g, down := vs-u-feed*i, -1-feed*slope
		if feed == 0 {
			return u, i, true
		}
		if !(down < 0) {
			return 0, 0, false
		}
		next := u - g/down
		if !(next > 0) {
			return 0, 0, false
		}
		if !(u-next > 1e-15*u) {
			return u, i, true
		}
		u = next
	}
	return 0, 0, false
}
