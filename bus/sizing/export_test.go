package sizing

import (
	"context"
	"strings"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
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

// AxisPower is what an axis of a sample takes from the bus, and how hot its winding gets.
type AxisPower struct {
	Name        string
	Bus         profile.Curve // [W]
	Temperature float64       // [°C]
}

// AxisPowers draws sample k of a study and returns what its axes take, as the sample has
// it and by tracing every axis with cold copper, then at the temperature that follows.
func (m *Machine) AxisPowers(seed uint64, k int) (sampled, traced []AxisPower, err error) {
	v, err := m.variations(context.Background())
	if err != nil {
		return nil, nil, err
	}
	draws, _ := v.draw(seed, k)
	ambient := m.AmbientLow + (draws[ambientInput]+1)/2*(m.AmbientHigh-m.AmbientLow)
	for _, s := range v.stations {
		for _, a := range s.axes {
			power, temperature, err := a.power(draws, ambient)
			if err != nil {
				return nil, nil, err
			}
			sampled = append(sampled, AxisPower{a.axis.Name, power, temperature})
			c := loadCorner{1, 1}
			if a.friction >= 0 {
				c.friction += draws[a.friction] * a.axis.FrictionSpread
			}
			if a.payload >= 0 {
				c.payload += draws[a.payload] * a.axis.PayloadSpread
			}
			steps := c.applied(a.axis, a.steps)
			cold, _, err := a.cold.TraceSteps(steps)
			if err != nil {
				return nil, nil, err
			}
			var r AxisResult
			heat := thermal.Heat{At: m.AmbientLow, Copper: cold.CopperLoss.Mean(), Other: cold.Book.MotorDrag / cold.BusPower.Duration()}
			if temperature, err = r.settle(a.axis, a.cold, heat, ambient); err != nil {
				return nil, nil, err
			}
			hot, err := a.axis.Drive.AtWinding(temperature)
			if err != nil {
				return nil, nil, err
			}
			if hot.Motor.Winding, err = withMagnets(hot.Motor.Winding, temperature); err != nil {
				return nil, nil, err
			}
			trace, _, err := hot.TraceSteps(steps)
			if err != nil {
				return nil, nil, err
			}
			traced = append(traced, AxisPower{a.axis.Name, trace.BusPower, temperature})
		}
	}
	return sampled, traced, nil
}

// MostReturned is mostReturned.
func MostReturned(c profile.Curve) float64 { return mostReturned(c) }
