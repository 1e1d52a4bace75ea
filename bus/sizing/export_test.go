package sizing

import (
	"context"
	"strings"

	"example.com/headroom/bus"
)

// Asked is how the reader asked for a field of a document.
type Asked struct {
	Required bool
	As       string
}

// AskedFields reads a document and returns, by the path of every object in it, the
// fields that the reader asked for.
func AskedFields(doc string) (map[string]map[string]Asked, error) {
	var r reader
	root, err := parseTree(strings.NewReader(doc), &r.faults)
	if err != nil {
		return nil, err
	}
	r.machine(r.objectOf(root))
	all := map[string]map[string]Asked{}
	var walk func(n *node)
	walk = func(n *node) {
		if list, ok := n.value.([]*node); ok {
			for _, child := range list {
				walk(child)
			}
		}
		if o := n.object; o != nil {
			all[n.path] = map[string]Asked{}
			for key, a := range o.read {
				all[n.path][key] = Asked{a.need == required, a.as}
			}
			for _, child := range o.fields {
				walk(child)
			}
		}
	}
	walk(root)
	return all, r.faults.Err()
}

// InFull draws sample k of a study and simulates its bus with all curves.
func (m *Machine) InFull(seed uint64, k int) (*bus.NetworkResult, error) {
	v, err := m.variations(context.Background())
	if err != nil {
		return nil, err
	}
	n, loads, _, err := v.drawn(v.draw(seed, k))
	if err != nil {
		return nil, err
	}
	return n.Simulate(context.Background(), loads, bus.State{Voltage: n.Source.NoLoadVoltage()})
}

// RippleOfBank returns the RMS current into the bank [A].
func (a *Assessment) RippleOfBank() float64 {
	rms, _, _ := a.rippleOfBank()
	return rms
}
