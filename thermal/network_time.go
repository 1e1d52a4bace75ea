package thermal

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// maxFollowed bounds the cycles that TimeTo computes one by one.
const maxFollowed = 20000

// TimeTo returns the time [s] until a node first reaches the limit [°C], from
// either side, when the cycle of heat [W] is repeated for ever from the start
// temperatures [°C]. A single constant piece is constant heat. reached is false,
// and the time 0, when that never happens. A node without heat capacity that
// jumps across the limit reaches it then.
//
// The course is the settled cycle plus modes that die away. Cycles, however
// many, in which bounds on these two show that the limit is not reached are
// passed over at once; the others are followed one by one.
func (n Network) TimeTo(ctx context.Context, start []float64, heat []profile.Curve, node int, limit float64) (t float64, reached bool, err error) {
	var f profile.Faults
	s, h := n.prepare(&f, heat)
	n.checkStart(&f, start)
	n.checkNode(&f, "node", node)
	checkTemperature(&f, "limit", limit)
	if f.Err() == nil {
		n.checkGrounded(&f)
	}
	if err := f.Err(); err != nil {
		return 0, false, err
	}
	q := s.settle(h)
	settled, err := s.course(ctx, append([]float64(nil), q...), h)
	if err != nil {
		return 0, false, err
	}
	lowest, highest := settled.Temperatures[node].Extrema()
	away := s.project(start)
	for j := range away {
		away[j] -= q[j]
	}
	r := fading{s.decay, make([]float64, len(away))}
	for j, x := range away {
		r.size[j] = x * s.shape[node*len(away)+j]
	}
	cycle := h.breaks[h.pieces()] - h.breaks[0]
	slack := 1e-12 * (math.Abs(limit-s.reference) + math.Abs(highest.V) + math.Abs(lowest.V))

	first := settled.Temperatures[node].At(h.breaks[0]) + r.sum(0)
	if math.Abs(first-limit) <= slack {
		return 0, true, nil
	}
	below := first < limit
	hits := func(a, b float64) bool { // may the limit be reached from time a to time b?
		lo, hi := r.bounds(a, b)
		if below {
			return highest.V+hi >= limit-slack
		}
		return lowest.V+lo <= limit+slack
	}
	followed := 0
	for k, block := 0.0, 1.0; k < 1e15; {
		if err := ctx.Err(); err != nil {
			return 0, false, err
		}
		if !hits(k*cycle, math.Inf(1)) {
			return 0, false, nil
		}
		if !hits(k*cycle, (k+block)*cycle) {
			k += block
			block *= 2
			continue
		}
		if block > 1 {
			block = math.Max(1, math.Floor(block/4))
			continue
		}
		if followed++; followed > maxFollowed {
			f.Add("limit", limit, fmt.Sprintf("a limit that the node passes by more than rounding: it was not told within %d cycles", maxFollowed))
			return 0, false, f.Err()
		}
		x := make([]float64, len(q))
		for j := range x {
			x[j] = q[j] + away[j]*math.Exp(-s.decay[j]*k*cycle)
		}
		c, err := s.course(ctx, x, h)
		if err != nil {
			return 0, false, err
		}
		if at, ok := reaches(c.Temperatures[node], limit, below); ok {
			return k*cycle + at - h.breaks[0], true, nil
		}
		k++
	}
	return 0, false, nil
}

// reaches returns the first time at which the curve is at the limit or beyond.
func reaches(c profile.Curve, limit float64, below bool) (float64, bool) {
	if v := c.At(c.Start()); below && v >= limit || !below && v <= limit {
		return c.Start(), true
	}
	if t := c.Crossings(nil, limit); len(t) > 0 {
		return t[0], true
	}
	return 0, false
}

// fading is a sum of terms size[j] e^(-decay[j] t).
type fading struct{ decay, size []float64 }

func (r fading) sum(t float64) float64 {
	v := 0.0
	for j, c := range r.size {
		v += c * math.Exp(-r.decay[j]*t)
	}
	return v
}

// bounds encloses the sum for times from a to b: terms > 0 fall, others rise.
func (r fading) bounds(a, b float64) (lo, hi float64) {
	for j, c := range r.size {
		early, late := c*math.Exp(-r.decay[j]*a), c*math.Exp(-r.decay[j]*b)
		lo += math.Min(early, late)
		hi += math.Max(early, late)
	}
	return lo, hi
}
