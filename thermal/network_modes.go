package thermal

import (
	"cmp"
	"math"
	"slices"

	"example.com/headroom/profile"
)

// modes is a network with its natural modes. With C the capacities and K the
// conductance matrix of the nodes that store heat, the scaled balance is
//
//	y = √C (T - reference):  dy/dt = -A y + P/√C,    A = K/√C√C, symmetric
//
// and with A = U Λ U' each q = U'y is one equation, dq/dt = -λ q + p.
type modes struct {
	*reduction
	decay []float64 // λ of each mode, slowest first [1/s]

	// shape is the rise of node i per unit of mode j, at i m + j, and as well
	// how much of mode j a unit of heat at node i feeds.
	shape   []float64
	feeding []float64 // of the modes by the boundaries
}

// newModes decomposes a checked network. A is factored as X X' by taking nodes
// out as in [Network.Steady], the fastest left first, and the columns of X are
// turned until they are orthogonal (one-sided Jacobi). Both keep the relative
// accuracy of the slowest mode, whatever the fastest: Demmel et al., "Computing
// the singular value decomposition with high relative accuracy", Linear Algebra
// Appl. 299 (1999) (from memory). An eigenvalue routine for dense symmetric
// matrices would lose a digit for each decade between them.
func newModes(n Network) (*modes, error) {
	r, err := newReduction(n)
	if err != nil {
		return nil, err
	}
	s, m := &modes{reduction: r}, r.mesh
	size := len(s.store)
	root := make([]float64, size)
	for a, i := range s.store {
		root[a] = math.Sqrt(n.Capacities[i])
	}
	parts := s.parts(m)
	x := make([]float64, size*size) // column k at k size
	var e elimination
	for k := range size {
		best, rate := -1, -1.0
		for a, i := range s.store {
			if !m.out[i] {
				if r := m.total(i) / n.Capacities[i]; r > rate || best < 0 {
					best, rate = a, r
				}
			}
		}
		d := math.Sqrt(m.eliminate(s.store[best], &e))
		col := x[k*size : (k+1)*size]
		for a, i := range s.store {
			col[a] = -e.w[k][i] * d / root[a]
		}
		col[best] = d / root[best]
	}
	turn(x, size)
	s.collect(x, root, parts)
	s.refine(&e)
	for i, a := range s.index {
		if a >= 0 {
			continue
		}
		for a, j := range s.store {
			for c := range size {
				s.shape[i*size+c] += s.share[i*size+a] * s.shape[j*size+c]
			}
		}
	}
	s.feeding = make([]float64, size)
	for a, i := range s.store {
		for c := range size {
			s.feeding[c] += s.inflow[a] * s.shape[i*size+c]
		}
	}
	var f profile.Faults
	needFinite(&f, "capacities", n.Capacities[s.store[0]], s.shape...)
	needFinite(&f, "capacities", n.Capacities[s.store[0]], s.decay...)
	if err := f.Err(); err != nil {
		return nil, err
	}
	return s, nil
}

// parts numbers the connected parts that the storing nodes of m fall into.
func (s *modes) parts(m *mesh) []int {
	part := make([]int, len(s.store))
	for a := range part {
		part[a] = a
	}
	for changed := true; changed; {
		changed = false
		for a, i := range s.store {
			for b, j := range s.store {
				if m.g[i*m.n+j] > 0 && part[b] > part[a] {
					part[b], changed = part[a], true
				}
			}
		}
	}
	return part
}

// collect reads the modes off the orthogonal columns x.
func (s *modes) collect(x, root []float64, parts []int) {
	n := len(root)
	order := make([]int, n)
	length := make([]float64, n)
	for k := range order {
		order[k] = k
		length[k] = norm(x[k*n : (k+1)*n])
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(length[a], length[b]) })
	s.decay = make([]float64, n)
	s.shape = make([]float64, len(s.index)*n)
	// A part without boundary keeps its heat: one mode of no decay, in which
	// all of it has one temperature.
	var isolated []int
	for k := range order {
		if length[k] == 0 {
			isolated = append(isolated, k)
		}
	}
	if len(isolated) > 0 {
		grounded := make(map[int]bool)
		for i, ok := range s.net.grounded() {
			if a := s.index[i]; a >= 0 && ok {
				grounded[parts[a]] = true
			}
		}
		k := 0
		for p := range n {
			if parts[p] == p && !grounded[p] && k < len(isolated) {
				col := x[isolated[k]*n : (isolated[k]+1)*n]
				for a := range n {
					if parts[a] == p {
						col[a] = root[a]
					}
				}
				k++
			}
		}
	}
	for j, k := range order {
		col := x[k*n : (k+1)*n]
		s.decay[j] = length[k] * length[k]
		unit := norm(col)
		for a, i := range s.store {
			s.shape[i*n+j] = col[a] / unit / root[a]
		}
	}
}

// refine computes the shape of each mode anew at the nodes that are fast beside
// it, from that at the others: such nodes follow them, with λ C v as their heat.
// A node of little capacity would otherwise have the rounding errors of a large
// one, enlarged by the root of the ratio of capacities. e is how the storing
// nodes were taken out, the fastest first.
func (s *modes) refine(e *elimination) {
	const fast = 16 // how many times the rate of the mode counts as fast
	n := len(s.decay)
	v, heat := make([]float64, len(s.index)), make([]float64, len(s.index))
	for j, lambda := range s.decay {
		part := elimination{nodes: e.nodes, d: e.d, w: e.w}
		for k, i := range e.nodes {
			if !(e.d[k] >= fast*lambda*s.net.Capacities[i]) || e.d[k] == 0 {
				part = elimination{e.nodes[:k], e.d[:k], e.w[:k]}
				break
			}
		}
		if len(part.nodes) == 0 || len(part.nodes) == n {
			continue
		}
		clear(heat)
		for _, i := range s.store {
			v[i] = s.shape[i*n+j]
		}
		for _, i := range part.nodes {
			heat[i] = lambda * s.net.Capacities[i] * v[i]
		}
		part.distribute(heat)
		for _, i := range part.nodes {
			v[i] = heat[i]
		}
		part.restore(v)
		for _, i := range s.store {
			s.shape[i*n+j] = v[i]
		}
	}
}

// turn rotates pairs of the n columns of x until all are orthogonal.
func turn(x []float64, n int) {
	const sweeps = 60 // it takes below ten
	tiny := 0x1p-52 * float64(n)
	for range sweeps {
		quiet := true
		for p := range n - 1 {
			a := x[p*n : (p+1)*n]
			for q := p + 1; q < n; q++ {
				b := x[q*n : (q+1)*n]
				na, nb := norm(a), norm(b)
				if na == 0 || nb == 0 {
					continue
				}
				c := 0.0 // cosine of the angle between the columns
				for i, v := range a {
					c += (v / na) * (b[i] / nb)
				}
				if !(math.Abs(c) > tiny) {
					continue
				}
				quiet = false
				zeta := (nb/na - na/nb) / (2 * c)
				t := math.Copysign(1/(math.Abs(zeta)+math.Hypot(1, zeta)), zeta)
				cs := 1 / math.Hypot(1, t)
				sn := cs * t
				for i, v := range a {
					a[i], b[i] = cs*v-sn*b[i], sn*v+cs*b[i]
				}
			}
		}
		if quiet {
			return
		}
	}
}

// norm is the length of a vector, without overflow.
func norm(v []float64) float64 {
	top := 0.0
	for _, x := range v {
		top = math.Max(top, math.Abs(x))
	}
	if top == 0 || math.IsInf(top, 0) {
		return top
	}
	s := 0.0
	for _, x := range v {
		x /= top
		s += x * x
	}
	return top * math.Sqrt(s)
}
