package thermal

import (
	"fmt"

	"example.com/headroom/profile"
)

// Network is a heat network: nodes with one temperature each, conductances
// between them, and conductances to surroundings whose temperatures are fixed.
// Its heat balance at node i, with the heat P given off there [W], is
//
//	C[i] dT[i]/dt = P[i] - Σ G (T[i] - T[j])
//
// where the sum runs over the links and the boundaries of the node: the lumped
// method of any text on heat transfer. A node without heat capacity takes on, at
// every instant, the temperature at which as much heat arrives as leaves. The
// zero value is invalid.
type Network struct {
	Capacities []float64  // heat capacity of each node, mass times specific heat [J/K], >= 0
	Links      []Link     // between nodes; several between the same two add up
	Boundaries []Boundary // to the surroundings
}

// Link conducts heat between two nodes.
type Link struct {
	A, B        int     // nodes, indices into Capacities, not the same
	Conductance float64 // 1/(thermal resistance) [W/K], > 0
}

// Boundary conducts heat from a node to surroundings of fixed temperature.
type Boundary struct {
	Node        int     // index into Capacities
	Conductance float64 // 1/(thermal resistance), h A for a surface [W/K], > 0
	Temperature float64 // of the surroundings [°C]
}

// absoluteZero is the temperature [°C] that nothing is colder than.
const absoluteZero = -273.15

// Validate returns nil, or an error with every field outside its domain. Nodes
// without a path to a boundary are in order; [Network.Run] can follow them, and
// what asks for a settled state refuses them.
func (n Network) Validate() error {
	var f profile.Faults
	n.check(&f)
	return f.Err()
}

func (n Network) check(f *profile.Faults) {
	if len(n.Capacities) == 0 {
		f.Add("capacities", nil, "at least one node")
	}
	for i, c := range n.Capacities {
		if !(c >= 0) || c > maxFinite {
			f.NonNegative(fmt.Sprintf("capacities[%d]", i), c, "J/K")
		}
	}
	for i, l := range n.Links {
		if n.has(l.A) && n.has(l.B) && l.A != l.B && l.Conductance > 0 && l.Conductance <= maxFinite {
			continue
		}
		var g profile.Faults
		n.checkNode(&g, "a", l.A)
		n.checkNode(&g, "b", l.B)
		if l.A == l.B {
			g.Add("b", l.B, "another node than a")
		}
		g.Positive("conductance", l.Conductance, "W/K")
		f.Under(fmt.Sprintf("links[%d]", i), g.Err())
	}
	for i, b := range n.Boundaries {
		if n.has(b.Node) && b.Conductance > 0 && b.Conductance <= maxFinite && b.Temperature >= absoluteZero && b.Temperature <= maxFinite {
			continue
		}
		var g profile.Faults
		n.checkNode(&g, "node", b.Node)
		g.Positive("conductance", b.Conductance, "W/K")
		checkTemperature(&g, "temperature", b.Temperature)
		f.Under(fmt.Sprintf("boundaries[%d]", i), g.Err())
	}
}

func (n Network) has(node int) bool { return node >= 0 && node < len(n.Capacities) }

func (n Network) checkNode(f *profile.Faults, path string, node int) {
	if !n.has(node) {
		f.Add(path, node, fmt.Sprintf("a node, from 0 to %d", len(n.Capacities)-1))
	}
}

// checkTemperature records a fault unless t is a temperature [°C].
func checkTemperature(f *profile.Faults, path string, t float64) bool {
	if t >= absoluteZero && t <= maxFinite {
		return true
	}
	f.Add(path, t, fmt.Sprintf("finite and >= %g °C", absoluteZero))
	return false
}

// checkGrounded records a fault for every node that has no path to a boundary.
func (n Network) checkGrounded(f *profile.Faults) {
	for i, ok := range n.grounded() {
		if !ok {
			f.Add(fmt.Sprintf("capacities[%d]", i), n.Capacities[i], "a node with a path of links to a boundary: without one it never settles")
		}
	}
}

// grounded reports for each node whether a path of links leads to a boundary.
func (n Network) grounded() []bool {
	ok := make([]bool, len(n.Capacities))
	for _, b := range n.Boundaries {
		ok[b.Node] = true
	}
	for changed := true; changed; {
		changed = false
		for _, l := range n.Links {
			if ok[l.A] != ok[l.B] {
				ok[l.A], ok[l.B], changed = true, true, true
			}
		}
	}
	return ok
}

// Steady returns the temperature of each node [°C] once the network has settled
// under constant heat [W], one value for each node. Heat may be negative, as a
// cold plate takes it away. Every node needs a path to a boundary.
//
// The balance is solved by taking out one node after another and joining its
// neighbours by G1 G2/ΣG instead (star and mesh). That only adds, multiplies and
// divides positive numbers, so conductances of very different size do no harm.
func (n Network) Steady(heat []float64) ([]float64, error) {
	var f profile.Faults
	n.check(&f)
	if len(heat) != len(n.Capacities) {
		f.Add("heat", fmt.Sprintf("%d values", len(heat)), fmt.Sprintf("one for each of the %d nodes", len(n.Capacities)))
	}
	for i, p := range heat {
		f.Finite(fmt.Sprintf("heat[%d]", i), p, "W")
	}
	if f.Err() == nil {
		n.checkGrounded(&f)
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	m, e := newMesh(n), elimination{}
	rise := make([]float64, m.n)
	for i := range rise {
		rise[i] = heat[i] + m.inflow[i]
	}
	for i := range rise {
		m.eliminate(i, &e)
	}
	e.distribute(rise)
	e.restore(rise)
	for i := range rise {
		rise[i] += m.reference
		if !(rise[i] <= maxFinite && rise[i] >= absoluteZero) {
			f.Add(fmt.Sprintf("heat[%d]", i), heat[i], fmt.Sprintf("heat that leaves all nodes at temperatures from %g °C; node %d would be at %g °C", absoluteZero, i, rise[i]))
		}
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	return rise, nil
}
