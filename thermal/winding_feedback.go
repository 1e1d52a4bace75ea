package thermal

import (
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/internal/taylor"
)

// feedback is a [WindingNetwork] as a [taylor.System]. Its states are, for the
// nodes that store heat, how far each has moved from its start,
//
//	y[i]: C dy/dt = P - K (x0 + y)
//
// and how far it has moved per kelvin of difference in each start temperature,
// besides that kelvin itself,
//
//	D[i][c]: C dD/dt = ∂P/∂T (D + 1) - K (D + 1)
//
// Both grow from zero, so that a cycle which is short against the time constants
// loses no digits.
type feedback struct {
	r      *reduction
	all    *heating // at all nodes, and the copper loss last
	heat   *heating // at the nodes that store heat, copper apart
	copper [][]float64
	x0     []float64 // rise of the start over the reference
	vary   bool      // with D

	winding, magnet int     // in store; magnet -1 when it does not count
	zero            float64 // reference over the temperature at which the copper has no resistance
	at              float64 // the temperature that the copper loss holds for over that
	alpha           float64
	peak            float64 // of all heat curves [W]
	warmth          float64 // reference over the temperature of the torque constant

	piece                                  int
	demagged, reached                      bool
	maximum                                float64         // rise of the winding to stop at; [beyond] is out of all bounds
	start                                  []float64       // the states at the start of the step
	base                                   []taylor.Series // heat without copper
	p                                      []float64       // copper loss at the time at hand
	theta, u, v, gain, loss, slope, mslope taylor.Series
}

// outputs returns how many there are: the states, and the torque constant left
// when magnets count.
func (s *feedback) outputs() int {
	n := s.states()
	if s.magnet >= 0 {
		n++
	}
	return n
}

func (s *feedback) states() int {
	m := len(s.x0)
	if s.vary {
		return m + m*m
	}
	return m
}

// Resume implements [taylor.System].
func (s *feedback) Resume(t float64, _ []taylor.Series) bool {
	for s.piece < s.heat.pieces()-1 && t >= s.heat.breaks[s.piece+1] {
		s.piece++
	}
	return !s.demagged && !s.reached
}

// Expand implements [taylor.System].
func (s *feedback) Expand(t float64, x, y []taylor.Series) float64 {
	m := len(s.x0)
	from := t - s.heat.breaks[s.piece]
	reach := math.Inf(1)
	for a := range m {
		s.p = poly.Shift(s.p, s.heat.at(s.piece, a), from)
		s.base[a] = taylor.Series{}
		copy(s.base[a][:], s.p)
		reach = math.Min(reach, s.reach())
	}
	s.p = poly.Shift(s.p, s.copper[s.piece], from)
	reach = math.Min(reach, s.reach())
	n := s.states()
	// The series of the rises themselves, and of D + 1, while they are computed.
	for j := range n {
		s.start[j] = x[j][0]
	}
	for a := range m {
		x[a][0] += s.x0[a]
		if s.vary {
			x[m+a*m+a][0]++
		}
	}
	for k := range taylor.Order {
		s.copperCoef(x, k)
		for a := range m {
			more := s.base[a][k]
			if a == s.winding {
				more += s.loss[k]
			}
			s.extend(x[:m], a, k, more)
		}
		if !s.vary {
			continue
		}
		for c := range m {
			d := x[m+c*m : m+(c+1)*m]
			for a := range m {
				more := 0.0
				if a == s.winding {
					more = s.variation(d, k)
				}
				s.extend(d, a, k, more)
			}
		}
	}
	if s.magnet >= 0 {
		s.fillMagnet(x, taylor.Order)
		y[n] = s.u
	}
	for j := range n {
		x[j][0] = s.start[j]
	}
	copy(y[:n], x)
	return reach
}

// extend computes coefficient k+1 of the rise of store[a] from coefficients k of all, of
// which more is that of the heat put into it.
func (s *feedback) extend(x []taylor.Series, a, k int, more float64) {
	i, mesh := s.r.store[a], s.r.mesh
	row := mesh.g[i*mesh.n : (i+1)*mesh.n]
	rise := x[a][k]
	flow := more - mesh.ground[i]*rise
	for b, j := range s.r.store {
		if b != a {
			flow += row[j] * (x[b][k] - rise)
		}
	}
	x[a][k+1] = flow / (float64(k+1) * s.r.net.Capacities[i])
}

// reach returns for how long the terms of p beyond the order of the series can
// be left out.
func (s *feedback) reach() float64 {
	h := math.Inf(1)
	for k := taylor.Order; k < len(s.p); k++ {
		if a := math.Abs(s.p[k]); a > 0 {
			h = math.Min(h, math.Pow(1e-15*s.peak/a, 1/float64(k)))
		}
	}
	return h
}

// copperCoef computes coefficient k of the copper loss, of its slope against the
// temperature of the winding, and of that against the temperature of the
// magnets.
func (s *feedback) copperCoef(x []taylor.Series, k int) {
	s.theta[k] = x[s.winding][k]
	if k == 0 {
		s.theta[0] += s.zero
	}
	if s.magnet < 0 {
		s.slope[k] = 0
		if k < len(s.p) {
			s.slope[k] = s.p[k] / s.at
		}
		v := 0.0
		for i := range min(k+1, len(s.p)) {
			v += s.slope[i] * s.theta[k-i]
		}
		s.loss[k] = v
		return
	}
	s.fillMagnet(x, k)
	one := 0.0
	if k == 0 {
		one = 1
	}
	s.v[k] = one // 1/u
	for i := 1; i <= k; i++ {
		s.v[k] -= s.u[i] * s.v[k-i]
	}
	s.v[k] /= s.u[0]
	s.gain[k] = taylor.ProductCoef(&s.v, &s.v, k)
	slope := 0.0
	for i := range min(k+1, len(s.p)) {
		slope += s.p[i] / s.at * s.gain[k-i]
	}
	s.slope[k] = slope
	s.loss[k] = taylor.ProductCoef(&s.slope, &s.theta, k)
	s.mslope[k] = 2 * s.alpha * taylor.ProductCoef(&s.loss, &s.v, k)
}

func (s *feedback) fillMagnet(x []taylor.Series, k int) {
	s.u[k] = -s.alpha * x[s.magnet][k]
	if k == 0 {
		s.u[0] = 1 - s.alpha*(x[s.magnet][0]+s.warmth)
	}
}

// variation is coefficient k of the copper loss that column d of D + 1 adds.
func (s *feedback) variation(d []taylor.Series, k int) float64 {
	if s.magnet >= 0 {
		return taylor.ProductCoef(&s.slope, &d[s.winding], k) + taylor.ProductCoef(&s.mslope, &d[s.magnet], k)
	}
	v := 0.0 // the slope is a short polynomial
	for i := range min(k+1, len(s.p)) {
		v += s.slope[i] * d[s.winding][k-i]
	}
	return v
}

// leastConstant is the part of the torque constant below which the magnets
// count as gone.
const leastConstant = 1e-3

const (
	tagMagnets = iota
	tagMaximum
)

// beyond is a temperature rise [K] of the winding at which it counts as out of
// all bounds.
const beyond = 1e6

// Guards implements [taylor.System].
func (s *feedback) Guards(dst []taylor.Guard) []taylor.Guard {
	if s.magnet >= 0 {
		dst = append(dst, taylor.Guard{Output: s.states(), Level: leastConstant, Noise: 1e-14, Tag: tagMagnets})
	}
	return append(dst, taylor.Guard{Output: s.winding, Level: s.maximum - s.x0[s.winding], Rising: true, Tag: tagMaximum})
}

// Fire implements [taylor.System].
func (s *feedback) Fire(_ float64, g taylor.Guard, _ []taylor.Series) bool {
	switch g.Tag {
	case tagMagnets:
		s.demagged = true
	case tagMaximum:
		s.reached = true
	}
	return false
}
