package sizing

import (
	"fmt"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
)

func (r *reader) cable(o *object) *Cable {
	if o == nil {
		return nil
	}
	c := &Cable{From: r.text(o, "from", optional)}
	c.Wire, c.Conductor = r.wire(o)
	c.gauge = o.fields["gauge"] != nil
	c.Ampacity = r.ampacity(r.object(o, "ampacity", optional))
	c.Length = r.quantity(o, "length", quantity.Length, required)
	c.Parallel = r.oneOrMore(o, "parallel")
	c.Temperature = r.quantity(o, "temperature", quantity.Temperature, required)
	c.Terminals = r.quantity(o, "terminals", quantity.Resistance, optional)
	if co := r.object(o, "connector", optional); co != nil {
		c.Connector = &bus.Connector{
			RatedCurrent:      r.quantity(co, "ratedCurrent", quantity.Current, required),
			PeakCurrent:       r.quantity(co, "peakCurrent", quantity.Current, notZero),
			Contacts:          r.oneOrMore(co, "contacts"),
			Sharing:           r.quantity(co, "sharing", quantity.Fraction, notZero),
			ContactResistance: r.quantity(co, "contactResistance", quantity.Resistance, optional),
		}
		co.unread(&r.faults)
	}
	if fo := r.object(o, "fuse", optional); fo != nil {
		c.Fuse = &bus.Fuse{
			RatedCurrent:     r.quantity(fo, "ratedCurrent", quantity.Current, required),
			Derating:         r.quantity(fo, "derating", quantity.Fraction, notZero),
			MeltingI2t:       r.quantity(fo, "meltingI2t", quantity.SquareCurrentTime, required),
			ClearingI2t:      r.quantity(fo, "clearingI2t", quantity.SquareCurrentTime, required),
			RatedVoltage:     r.quantity(fo, "ratedVoltage", quantity.Voltage, required),
			BreakingCapacity: r.quantity(fo, "breakingCapacity", quantity.Current, required),
			PulseShare:       r.quantity(fo, "pulseShare", quantity.Fraction, notZero),
		}
		if c.Fuse.Derating == 0 {
			c.Fuse.Derating = 1
		}
		fo.unread(&r.faults)
	}
	o.unread(&r.faults)
	return c
}

// oneOrMore reads a whole number, 1 when it is not there.
func (r *reader) oneOrMore(o *object, key string) int {
	if n := r.count(o, key, notZero); n != 0 || o.fields[key] != nil {
		return n
	}
	return 1
}

// wire reads the conductor of a cable, by cross-section or by gauge.
func (r *reader) wire(o *object) (w bus.Wire, name string) {
	section := r.quantity(o, "section", quantity.Area, notZero)
	gauge := r.field(o, "gauge", optional, "number")
	class := bus.Flexible
	if r.choice(o, "stranding", optional, "flexible", "solid") == "solid" {
		class = bus.Stranded
	}
	var err error
	path := "section"
	switch {
	case section != 0 && gauge != nil:
		r.faults.Add(o.path+".gauge", gauge.text(), "either section or gauge")
	case gauge != nil:
		path = "gauge"
		n := r.count(o, "gauge", optional)
		name = fmt.Sprintf("gauge %d", n)
		w, err = bus.GaugeWire(n)
	case o != nil && o.fields["section"] == nil:
		r.faults.Add(o.path+".section", nil, "a section, or a gauge")
	case section != 0:
		name = show(section, quantity.Area)
		w, err = bus.StandardWire(section, class)
	}
	for _, e := range profile.InputErrors(err) {
		r.faults.Add(profile.JoinPath(o.path, path), e.Value, e.Want)
	}
	return w, name
}
