package sizing

import (
	"fmt"

	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// nodes is what the sheet of a motor says of winding and housing.
type nodes struct {
	inner, outer     float64 // thermal resistances [K/W]; outer 0: not given
	winding, housing float64 // heat capacities [J/K], or time constants [s]
	timed            [2]bool // which of these are time constants
}

// nodes reads winding and housing of a motor, by heat capacities or time constants.
func (r *reader) nodes(o *object) *nodes {
	if o == nil {
		return nil
	}
	n := &nodes{
		inner: r.positive(o, "windingToHousing", quantity.ThermalResistance, required),
		outer: r.positive(o, "housingToAmbient", quantity.ThermalResistance, notZero),
	}
	for i, x := range []struct {
		name string
		to   *float64
	}{{"winding", &n.winding}, {"housing", &n.housing}} {
		capacity := r.positive(o, x.name+"Capacity", quantity.ThermalCapacitance, notZero)
		constant := r.positive(o, x.name+"TimeConstant", quantity.Time, notZero)
		key := x.name + "Capacity"
		switch {
		case o.fields[key] == nil && o.fields[x.name+"TimeConstant"] == nil:
			r.faults.Add(profile.JoinPath(o.path, key), nil, "this field, or "+x.name+"TimeConstant")
		case o.fields[key] != nil && o.fields[x.name+"TimeConstant"] != nil:
			r.faults.Add(profile.JoinPath(o.path, key), o.fields[key].text(), "either this field, or "+x.name+"TimeConstant")
		}
		*x.to, n.timed[i] = capacity+constant, constant != 0
	}
	o.unread(&r.faults)
	return n
}

// positive reads a quantity that is above zero when it is there.
func (r *reader) positive(o *object, key string, kind quantity.Kind, n need) float64 {
	v := r.quantity(o, key, kind, n)
	if v < 0 || v == 0 && n == required && o != nil && o.fields[key] != nil {
		r.faults.Add(o.fields[key].path, o.fields[key].text(), "above zero")
	}
	return v
}

// mounted gives an axis the winding of its motor, as it is mounted there and at the altitude
// of the machine, and returns where its figures stand in the document. Time constants are
// those of each node by itself: τ = R C with the resistance of the motor's sheet.
func (r *reader) mounted(o *object, a *Axis, m motor, path, at string, altitude float64) origins {
	a.Winding = m.winding
	mounting := r.positive(o, "mounting", quantity.ThermalResistance, notZero)
	if mounting != 0 && m.nodes == nil {
		r.faults.Add(path+".mounting", o.fields["mounting"].text(), "none without the motor's thermal, which says how winding and housing belong together")
	}
	if r.faults.Err() != nil {
		return nil
	}
	thin := thinAir(altitude)
	n := m.nodes
	if n == nil {
		a.Winding.ThermalResistance /= thin
		return nil
	}
	sheet := n.outer
	if sheet == 0 {
		if sheet = m.winding.ThermalResistance - n.inner; !(sheet > 0) {
			r.faults.Add(at+".thermal.windingToHousing", n.inner, fmt.Sprintf("below the %.4g K/W from winding to ambient that follow from the continuous rating, or a housingToAmbient", m.winding.ThermalResistance))
			return nil
		}
	}
	outer := sheet
	if mounting != 0 {
		outer = mounting
	}
	// The permitted rise of the winding falls at altitude: as if all of its resistance grew,
	// and what conducts inside does not.
	outer = (n.inner+outer)/thin - n.inner
	t := &TwoNodes{WindingCapacity: n.winding, HousingCapacity: n.housing, WindingToHousing: n.inner, HousingToAmbient: outer}
	from := origins{}
	if n.timed[0] {
		t.WindingCapacity /= n.inner
		from = append(from, [2]string{path + ".motor.thermal.windingCapacity", at + ".thermal.windingTimeConstant"})
	}
	if n.timed[1] {
		t.HousingCapacity /= sheet
		from = append(from, [2]string{path + ".motor.thermal.housingCapacity", at + ".thermal.housingTimeConstant"})
	}
	switch {
	case mounting != 0:
		from = append(from, [2]string{path + ".motor.thermal.housingToAmbient", path + ".mounting"},
			[2]string{path + ".motor.winding.thermalResistance", path + ".mounting"})
	case n.outer == 0:
		from = append(from, [2]string{path + ".motor.thermal.housingToAmbient", at + ".thermal.windingToHousing"})
	}
	from = append(from, [2]string{path + ".motor.winding.thermalResistance", at + ".thermal.windingToHousing"})
	a.Nodes = t
	a.Winding.ThermalResistance = n.inner + outer
	return from
}

func (r *reader) ambientRating(o *object) *AmbientRating {
	if o == nil {
		return nil
	}
	t := r.ambientFields(o)
	o.unread(&r.faults)
	return t
}

// ambientFields reads what a part stands of the temperature around it; without fullUpTo its
// ratings hold up to the highest.
func (r *reader) ambientFields(o *object) *AmbientRating {
	t := &AmbientRating{
		Max:  r.quantity(o, "max", quantity.Temperature, required),
		Loss: r.quantity(o, "lossPerKelvin", quantity.TemperatureCoefficient, notZero),
	}
	t.FullUpTo = t.Max
	if v := r.quantity(o, "fullUpTo", quantity.Temperature, optional); o.fields["fullUpTo"] != nil {
		t.FullUpTo = v
	}
	return t
}

func (r *reader) supplyHeat(o *object, s *Supply) {
	to := r.object(o, "thermal", optional)
	if to == nil {
		return
	}
	s.Ambient = r.ambientFields(to)
	s.Standby = r.quantity(to, "standby", quantity.Power, optional)
	times, means := r.curve(to, "overload", quantity.Time, quantity.Power)
	for i := range times {
		s.Overload = append(s.Overload, thermal.OverloadPoint{Time: times[i], Mean: means[i]})
	}
	to.unread(&r.faults)
}

func (r *reader) resistorRating(o *object) ResistorRating {
	if o == nil {
		return ResistorRating{}
	}
	h := ResistorRating{
		NoPowerAt:    r.quantity(o, "noPowerAt", quantity.Temperature, notZero),
		TimeConstant: r.quantity(o, "timeConstant", quantity.Time, notZero),
	}
	h.RatedAmbient = r.quantity(o, "ratedAmbient", quantity.Temperature, optional)
	if (o.fields["ratedAmbient"] == nil) != (o.fields["noPowerAt"] == nil) {
		missing := "ratedAmbient"
		if o.fields[missing] != nil {
			missing = "noPowerAt"
		}
		r.faults.Add(profile.JoinPath(o.path, missing), nil, "both ratedAmbient and noPowerAt, or neither")
	}
	times, energies := r.curve(o, "pulses", quantity.Time, quantity.Energy)
	for i := range times {
		h.Pulses = append(h.Pulses, thermal.PulsePoint{Duration: times[i], Energy: energies[i]})
	}
	o.unread(&r.faults)
	return h
}

// curve reads a list of pairs, at least one.
func (r *reader) curve(o *object, key string, first, second quantity.Kind) (x, y []float64) {
	list := r.list(o, key, optional)
	if o.fields[key] != nil && len(list) == 0 {
		r.faults.Add(o.fields[key].path, o.fields[key].text(), fmt.Sprintf("a list of at least one point [%s, %s]", first, second))
	}
	for _, p := range list {
		pair, ok := p.value.([]*node)
		if !ok || len(pair) != 2 {
			r.faults.Add(p.path, p.text(), fmt.Sprintf("a point [%s, %s]", first, second))
			return nil, nil
		}
		x, y = append(x, r.quantityOf(pair[0], first)), append(y, r.quantityOf(pair[1], second))
	}
	return x, y
}

func (r *reader) capacitors(o *object) *Capacitors {
	if o == nil {
		return nil
	}
	c := &Capacitors{
		SwitchingRipple: r.quantity(o, "switchingRipple", quantity.Current, notZero),
		NeededLife:      r.quantity(o, "neededLife", quantity.Time, notZero),
	}
	c.ThermalResistance = r.quantity(o, "thermalResistance", quantity.ThermalResistance, required)
	c.Parallel = r.oneOrMore(o, "parallel")
	c.Series = r.oneOrMore(o, "series")
	c.RatedLife = r.quantity(o, "ratedLife", quantity.Time, required)
	c.RatedCore = r.quantity(o, "ratedCore", quantity.Temperature, required)
	c.Voltage = r.quantity(o, "voltage", quantity.Voltage, required)
	c.Rule.Activation = r.quantity(o, "activation", quantity.Ratio, notZero)
	c.Rule.VoltageExponent = r.quantity(o, "voltageExponent", quantity.Ratio, notZero)
	o.unread(&r.faults)
	return c
}

func (r *reader) ampacity(o *object) *Ampacity {
	if o == nil {
		return nil
	}
	a := &Ampacity{
		Method: thermal.InstallationMethod(r.choice(o, "method", optional,
			string(thermal.MethodB1), string(thermal.MethodB2), string(thermal.MethodC), string(thermal.MethodE))),
		Circuits:     r.oneOrMore(o, "circuits"),
		AboveAmbient: r.quantity(o, "aboveAmbient", quantity.TemperatureDifference, optional),
		TimeConstant: r.quantity(o, "timeConstant", quantity.Time, notZero),
	}
	if a.Method == "" {
		a.Method = thermal.MethodB2
	}
	o.unread(&r.faults)
	return a
}

// insides are the names of what may stand in a cabinet.
var insides = []string{"supply", "drives", "brake resistor", "bank", "rail supply"}

func (r *reader) cabinet(o *object) *Cabinet {
	if o == nil {
		return nil
	}
	c := &Cabinet{
		AboveAmbient:    r.quantity(o, "aboveAmbient", quantity.TemperatureDifference, optional),
		HeatSinkOutside: r.quantity(o, "heatSinkOutside", quantity.Fraction, optional),
		OtherHeat:       r.quantity(o, "otherHeat", quantity.Power, optional),
		Max:             r.quantity(o, "max", quantity.Temperature, notZero),
	}
	c.Surface = r.quantity(o, "surface", quantity.Area, notZero)
	c.Coefficient = r.quantity(o, "coefficient", quantity.HeatTransfer, notZero)
	c.Flow = r.quantity(o, "flow", quantity.VolumeFlow, notZero)
	e := &thermal.Enclosure{
		Width:      r.quantity(o, "width", quantity.Length, notZero),
		Height:     r.quantity(o, "height", quantity.Length, notZero),
		Depth:      r.quantity(o, "depth", quantity.Length, notZero),
		CoveredTop: r.flag(o, "coveredTop"),
	}
	if r.choice(o, "standing", optional, "free", "wall") == "wall" {
		e.Standing = thermal.Wall
	}
	sized := o.fields["width"] != nil || o.fields["height"] != nil || o.fields["depth"] != nil
	if sized {
		c.Enclosure = e
	}
	for i, name := range r.names(o, "inside") {
		switch name {
		case insides[0]:
			c.Inside.Supply = true
		case insides[1]:
			c.Inside.Drives = true
		case insides[2]:
			c.Inside.Resistor = true
		case insides[3]:
			c.Inside.Bank = true
		case insides[4]:
			c.Inside.RailSupply = true
		default:
			r.faults.Add(fmt.Sprintf("%s.inside[%d]", o.path, i), name, fmt.Sprintf("one of %q%s", insides, didYouMean(name, insides)))
		}
	}
	o.unread(&r.faults)
	return c
}
