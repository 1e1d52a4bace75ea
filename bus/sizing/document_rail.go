package sizing

import (
	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
)

func (r *reader) rail(o *object) *Rail {
	if o == nil {
		return nil
	}
	rail := &Rail{
		Dip:     r.quantity(o, "mainsDip", quantity.Time, notZero),
		FromBus: r.flag(o, "fromBus"),
	}
	rail.Supply = r.railSupply(r.object(o, "supply", required))
	rail.Capacitance = r.quantity(o, "capacitance", quantity.Capacitance, notZero)
	rail.Simultaneity = r.quantity(o, "simultaneity", quantity.Fraction, notZero)
	rail.Period = r.quantity(o, "period", quantity.Time, notZero)
	rail.Feed = r.plainCable(r.object(o, "feed", optional))
	for _, n := range r.list(o, "consumers", required) {
		rail.Consumers = append(rail.Consumers, r.consumer(r.objectOf(n)))
	}
	o.unread(&r.faults)
	return rail
}

func (r *reader) railSupply(o *object) bus.RailSupply {
	s := bus.RailSupply{
		Voltage:      r.quantity(o, "voltage", quantity.Voltage, required),
		Tolerance:    r.quantity(o, "tolerance", quantity.Fraction, required),
		RatedCurrent: r.quantity(o, "ratedCurrent", quantity.Current, notZero),
		BoostCurrent: r.quantity(o, "boostCurrent", quantity.Current, notZero),
		BoostTime:    r.quantity(o, "boostTime", quantity.Time, notZero),
		Efficiency:   r.quantity(o, "efficiency", quantity.Fraction, required),
		HoldUpTime:   r.quantity(o, "holdUpTime", quantity.Time, notZero),
	}
	if so := r.object(o, "store", optional); so != nil {
		s.Store = &bus.SupplyStore{
			Capacitance: r.quantity(so, "capacitance", quantity.Capacitance, required),
			From:        r.quantity(so, "from", quantity.Voltage, required),
			To:          r.quantity(so, "to", quantity.Voltage, required),
		}
		so.unread(&r.faults)
	}
	o.unread(&r.faults)
	return s
}

func (r *reader) consumer(o *object) bus.RailConsumer {
	c := bus.RailConsumer{Name: r.text(o, "name", required), Count: 1}
	if o != nil && o.fields["count"] != nil {
		c.Count = r.count(o, "count", optional)
	} else {
		r.field(o, "count", optional, "number")
	}
	switch r.choice(o, "kind", required, "constant power", "constant current", "resistance") {
	case "constant current":
		c.Kind = bus.CurrentDraw
	case "resistance":
		c.Kind = bus.OhmicDraw
	}
	c.Voltage = r.quantity(o, "voltage", quantity.Voltage, notZero)
	c.Holding = r.quantity(o, "holding", quantity.Power, required)
	c.PullIn = r.quantity(o, "pullIn", quantity.Power, notZero)
	c.PullInTime = r.quantity(o, "pullInTime", quantity.Time, notZero)
	c.MinVoltage = r.quantity(o, "minVoltage", quantity.Voltage, notZero)
	c.MaxVoltage = r.quantity(o, "maxVoltage", quantity.Voltage, notZero)
	c.Group = r.text(o, "group", optional)
	c.Duty = r.quantity(o, "duty", quantity.Fraction, notZero)
	c.Switchings = r.quantity(o, "switchings", quantity.Frequency, notZero)
	c.Cable = r.plainCable(r.object(o, "cable", optional))
	for _, n := range r.list(o, "on", optional) {
		if pair, ok := n.value.([]*node); ok && len(pair) == 2 {
			c.On = append(c.On, bus.RailSpan{From: r.quantityOf(pair[0], quantity.Time), To: r.quantityOf(pair[1], quantity.Time)})
		} else {
			r.faults.Add(n.path, n.text(), "a pair of times, [from, to]")
		}
	}
	o.unread(&r.faults)
	return c
}

// plainCable reads a cable without what belongs to drives.
func (r *reader) plainCable(o *object) *bus.Cable {
	if o == nil {
		return nil
	}
	c := &bus.Cable{}
	c.Wire, _ = r.wire(o)
	c.Length = r.quantity(o, "length", quantity.Length, required)
	c.Parallel = r.oneOrMore(o, "parallel")
	c.Temperature = r.quantity(o, "temperature", quantity.Temperature, required)
	c.Terminals = r.quantity(o, "terminals", quantity.Resistance, optional)
	o.unread(&r.faults)
	return c
}
