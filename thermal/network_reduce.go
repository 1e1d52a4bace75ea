package thermal

import (
	"fmt"

	"example.com/headroom/profile"
)

// reduction is a network with the nodes that store no heat taken out. Such a
// node r has, over the reference, the rise
//
//	Σ share[r][a] (rise of store[a]) + Σ rest[r][i] (heat at node i)
//
// and passes heat on to the others by the same shares (reciprocity).
type reduction struct {
	net       Network
	reference float64   // [°C]
	store     []int     // nodes that store heat
	index     []int     // of each node in store; -1 for the others
	mesh      *mesh     // with the others taken out
	share     []float64 // of node i in store[a], at i m + a, for nodes without capacity; unit rows for the others
	restHeat  []float64 // rise of node r per heat at node i, at r n + i; zero where r stores heat
	inflow    []float64 // into store[a] from the boundaries [W]
	restIn    []float64 // rise of node r from the boundaries
}

func newReduction(n Network) (*reduction, error) {
	k := len(n.Capacities)
	r := &reduction{net: n, index: make([]int, k)}
	var f profile.Faults
	for i, c := range n.Capacities {
		r.index[i] = -1
		if c > 0 {
			r.index[i] = len(r.store)
			r.store = append(r.store, i)
		}
	}
	if len(r.store) == 0 {
		f.Add("capacities", n.Capacities, "at least one node with heat capacity > 0 J/K")
		return nil, f.Err()
	}
	m := len(r.store)
	r.mesh = newMesh(n)
	r.reference = r.mesh.reference
	r.share, r.inflow = make([]float64, k*m), make([]float64, m)
	for a, i := range r.store {
		r.share[i*m+a] = 1
		r.inflow[a] = r.mesh.inflow[i]
	}
	if m == k {
		return r, nil
	}
	var e elimination
	for i, a := range r.index {
		if a < 0 && !(r.mesh.eliminate(i, &e) > 0) {
			f.Add(fmt.Sprintf("capacities[%d]", i), 0., "> 0 J/K, or a path of links to a node with heat capacity or to a boundary")
		}
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	r.restHeat, r.restIn = make([]float64, k*k), make([]float64, k)
	t := make([]float64, k)
	for i, a := range r.index {
		if a >= 0 {
			continue
		}
		clear(t)
		t[i] = 1
		e.distribute(t)
		for a, j := range r.store {
			r.share[i*m+a] = t[j]
			r.inflow[a] += t[j] * r.mesh.inflow[i]
			t[j] = 0
		}
		e.restore(t)
		for j, a := range r.index {
			if a < 0 {
				r.restHeat[j*k+i] = t[j]
				r.restIn[j] += t[j] * r.mesh.inflow[i]
			}
		}
	}
	return r, nil
}
