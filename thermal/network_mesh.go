package thermal

import "math"

const maxFinite = math.MaxFloat64

// mesh is a network as a dense table of conductances, over one reference
// temperature. Nodes are taken out of it one by one.
type mesh struct {
	n         int
	reference float64   // [°C]
	g         []float64 // conductance between nodes i and j at i n + j [W/K]
	ground    []float64 // of each node to the reference [W/K]
	inflow    []float64 // heat that the boundaries bring into each node while it is at the reference [W]
	out       []bool    // nodes that were taken out
}

func newMesh(n Network) *mesh {
	k := len(n.Capacities)
	buf := make([]float64, k*k+2*k)
	m := &mesh{n: k, g: buf[:k*k], ground: buf[k*k : k*k+k], inflow: buf[k*k+k:], out: make([]bool, k)}
	if len(n.Boundaries) > 0 {
		m.reference = n.Boundaries[0].Temperature
	}
	for _, l := range n.Links {
		m.g[l.A*k+l.B] += l.Conductance
		m.g[l.B*k+l.A] += l.Conductance
	}
	for _, b := range n.Boundaries {
		m.ground[b.Node] += b.Conductance
		m.inflow[b.Node] += b.Conductance * (b.Temperature - m.reference)
	}
	return m
}

// total is the sum of all conductances of node i to what is left.
func (m *mesh) total(i int) float64 {
	d := m.ground[i]
	for j, g := range m.g[i*m.n : (i+1)*m.n] {
		if !m.out[j] && j != i {
			d += g
		}
	}
	return d
}

// eliminate takes node i out and records in e how. It returns the sum of the
// node's conductances; one with none is only marked.
func (m *mesh) eliminate(i int, e *elimination) float64 {
	d := m.total(i)
	w := make([]float64, m.n)
	m.out[i] = true
	if d > 0 {
		for j, g := range m.g[i*m.n : (i+1)*m.n] {
			if !m.out[j] {
				w[j] = g / d
			}
		}
		for a := range m.n {
			if w[a] == 0 {
				continue
			}
			m.ground[a] += w[a] * m.ground[i]
			for b := range m.n {
				if b != a && w[b] != 0 {
					m.g[a*m.n+b] += w[a] * m.g[i*m.n+b]
				}
			}
		}
	}
	e.nodes, e.d, e.w = append(e.nodes, i), append(e.d, d), append(e.w, w)
	return d
}

// elimination records the nodes taken out of a mesh.
type elimination struct {
	nodes []int
	d     []float64   // sum of the conductances of the node when it was taken out
	w     [][]float64 // share of each remaining node in d
}

// distribute passes the heat at nodes taken out on to the nodes that are left.
// What each had to pass on stays recorded at it.
func (e *elimination) distribute(heat []float64) {
	for k, i := range e.nodes {
		for j, w := range e.w[k] {
			if w != 0 {
				heat[j] += w * heat[i]
			}
		}
	}
}

// restore turns the heat of each node taken out into its temperature rise; x
// holds the rise of the others.
func (e *elimination) restore(x []float64) {
	for k := len(e.nodes) - 1; k >= 0; k-- {
		t := x[e.nodes[k]] / e.d[k]
		for j, w := range e.w[k] {
			if w != 0 {
				t += w * x[j]
			}
		}
		x[e.nodes[k]] = t
	}
}
