package sizing

import (
	"fmt"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// Cable leads the bus to the drive of an axis.
type Cable struct {
	bus.Cable
	Conductor string         // what its wire is, for the report
	From      string         // axis from whose drive it goes on; "": from the distribution point
	Connector *bus.Connector // through which it is plugged; nil: none, or not examined
	Fuse      *bus.Fuse      // at its beginning; nil: none, or not examined
	Ampacity  *Ampacity      // how it lies; nil: the temperature of its conductors is not examined

	gauge bool // Conductor is an American wire gauge
}

// resistance returns that of the cable with its contacts, go and return [ohm].
func (c Cable) resistance() (float64, error) {
	run, err := c.plugged()
	if err != nil {
		return 0, err
	}
	return run.LoopResistance()
}

// plugged returns the cable with the resistance of its connector among that of its
// terminals.
func (c Cable) plugged() (bus.Cable, error) {
	if c.Connector != nil {
		r, err := c.Connector.LoopResistance()
		if err != nil {
			return c.Cable, err
		}
		c.Terminals += r
	}
	return c.Cable, nil
}

func (m Machine) validateCables(f *profile.Faults, index map[string]int) {
	for i, a := range m.Axes {
		path := fmt.Sprintf("axes[%d].cable", i)
		f.NonNegative(fmt.Sprintf("axes[%d].linkCapacitance", i), a.LinkCapacitance, "F")
		if a.Cable == nil {
			continue
		}
		f.Under(path, a.Cable.Cable.Validate())
		if c := a.Cable.Connector; c != nil {
			f.Under(path+".connector", c.Validate())
		}
		if u := a.Cable.Fuse; u != nil {
			f.Under(path+".fuse", u.Validate())
		}
		if from := a.Cable.From; from != "" {
			k, known := index[from]
			switch {
			case !known:
				f.Add(path+".from", from, "the name of another axis")
			case k == i:
				f.Add(path+".from", from, "an axis other than itself")
			case m.Axes[k].Cable == nil:
				f.Add(path+".from", from, "an axis that has a cable itself")
			case m.loops(i, index):
				f.Add(path+".from", from, "an axis that is not fed through this one")
			}
		}
	}
}

// loops reports whether the cables that lead to axis i never begin at the distribution
// point.
func (m Machine) loops(i int, index map[string]int) bool {
	for range len(m.Axes) {
		c := m.Axes[i].Cable
		if c == nil || c.From == "" {
			return false
		}
		k, known := index[c.From]
		if !known {
			return false
		}
		i = k
	}
	return true
}

// cabled reports whether any drive is fed through a cable.
func (m Machine) cabled() bool {
	for _, a := range m.Axes {
		if a.Cable != nil {
			return true
		}
	}
	return false
}

// network returns the bus at a corner with the cables to the drives, and the number of
// each axis's feeder, 0 at the distribution point. Drives without a cable add their
// capacitors to the bank.
func (m Machine) network(c corner) (bus.Network, map[string]int, error) {
	n := bus.Network{Bus: m.bus(c)}
	number := map[string]int{}
	var add func(a Axis) error
	add = func(a Axis) error {
		if _, done := number[a.Name]; done {
			return nil
		}
		if a.Cable == nil {
			number[a.Name] = 0
			return nil
		}
		if from := a.Cable.From; from != "" {
			if err := add(m.axis(from)); err != nil {
				return err
			}
		}
		r, err := a.Cable.resistance()
		if err != nil {
			return err
		}
		n.Feeders = append(n.Feeders, bus.Feeder{Name: a.Name, Upstream: number[a.Cable.From], Resistance: r, Capacitance: a.LinkCapacitance})
		number[a.Name] = len(n.Feeders)
		return nil
	}
	for _, a := range m.Axes {
		if err := add(a); err != nil {
			return n, nil, err
		}
	}
	return n, number, nil
}

// cableDrops returns for every axis the sum, over the cables on the way to its drive, of
// resistance times the sum of the given values of the axes beyond: of currents [A] the
// drops [V], of powers [W] what over the lowest voltage of the drives bounds them.
func (m Machine) cableDrops(of map[string]float64) (map[string]float64, error) {
	n, number, err := m.network(nominal)
	if err != nil {
		return nil, err
	}
	beyond := make([]float64, len(n.Feeders)+1) // through each feeder; 0 is the distribution point
	for name, k := range number {
		beyond[k] += of[name]
	}
	for k := len(n.Feeders); k > 0; k-- { // a feeder comes after those that lead to it
		beyond[n.Feeders[k-1].Upstream] += beyond[k]
	}
	drop := make([]float64, len(beyond))
	for k := 1; k < len(beyond); k++ {
		f := n.Feeders[k-1]
		drop[k] = drop[f.Upstream] + f.Resistance*beyond[k]
	}
	drops := map[string]float64{}
	for name, k := range number {
		drops[name] = drop[k]
	}
	return drops, nil
}

// links returns the bank with the capacitors of the drives that have no cable.
func (m Machine) links() bus.Bank {
	b := m.Bank
	for _, a := range m.Axes {
		if a.Cable == nil {
			b.Capacitance += a.LinkCapacitance
		}
	}
	return b
}

// allLinks returns the bank with the capacitors of all drives.
func (m Machine) allLinks() bus.Bank {
	b := m.Bank
	for _, a := range m.Axes {
		b.Capacitance += a.LinkCapacitance
	}
	return b
}
