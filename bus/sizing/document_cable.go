package sizing

import (
	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
)

func (r *reader) cable(o *object) *Cable {
	if o == nil {
		return nil
	}
	c := &Cable{From: r.text(o, "from", optional)}
	c.Wire = r.wire(o)
	c.Length = r.quantity(o, "length", quantity.Length, required)
	c.Parallel = r.count(o, "parallel", notZero)
	c.Temperature = r.quantity(o, "temperature", quantity.Temperature, required)
	c.Ends = r.quantity(o, "terminals", quantity.Resistance, optional)
	if co := r.object(o, "contacts", optional); co != nil {
		c.Contacts = &bus.Contacts{
			Rated:      r.quantity(co, "rated", quantity.Current, required),
			Parallel:   r.count(co, "parallel", notZero),
			Share:      r.quantity(co, "share", quantity.Ratio, notZero),
			Resistance: r.quantity(co, "resistance", quantity.Resistance, optional),
		}
		co.unread(&r.faults)
	}
	o.unread(&r.faults)
	return c
}

// wire reads the conductor of a cable, by cross-section or by gauge.
func (r *reader) wire(o *object) bus.Wire {
	section := r.quantity(o, "section", quantity.Area, notZero)
	gauge := r.field(o, "gauge", optional, "number")
	stranding := bus.Flexible
	if r.choice(o, "stranding", optional, "flexible", "solid") == "solid" {
		stranding = bus.Solid
	}
	var w bus.Wire
	var err error
	path := "section"
	switch {
	case section != 0 && gauge != nil:
		r.faults.Add(o.path+".gauge", gauge.text(), "either section or gauge")
	case gauge != nil:
		path = "gauge"
		w, err = bus.GaugeWire(r.count(o, "gauge", optional))
	case o != nil && o.fields["section"] == nil:
		r.faults.Add(o.path+".section", nil, "a section, or a gauge")
	case section != 0:
		w, err = bus.MetricWire(section, stranding)
	}
	for _, e := range profile.InputErrors(err) {
		r.faults.Add(profile.JoinPath(o.path, path), e.Value, e.Want)
	}
	return w
}
