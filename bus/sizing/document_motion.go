package sizing

import (
	"fmt"

	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
)

func (r *reader) station(o *object, axes map[string]energy.Mechanism) Station {
	s := Station{Name: r.text(o, "name", required), Parts: r.quantity(o, "partsPerCycle", quantity.Ratio, notZero), Strict: r.flag(o, "strictlyPeriodic")}
	s.StartDelay = r.startDelay(r.object(o, "startDelay", optional))
	for _, n := range r.list(o, "axes", required) {
		name, ok := n.value.(string)
		if !ok {
			r.faults.Add(n.path, n.text(), "the name of an axis")
		}
		s.Axes = append(s.Axes, name)
	}
	moves := func(o *object, key string) map[string]float64 {
		return eachAxis(r, o, key, axes, func(n *node, m energy.Mechanism) float64 {
			return r.quantityOf(n, unitsOf(turns(m)).length)
		})
	}
	for _, n := range r.list(o, "steps", required) {
		so := r.objectOf(n)
		s.Steps = append(s.Steps, Step{
			Name: r.text(so, "name", optional), To: moves(so, "to"), By: moves(so, "by"),
			Dwell:    r.quantity(so, "dwell", quantity.Time, optional),
			Duration: r.quantity(so, "duration", quantity.Time, notZero),
			Path:     r.path(so),
			MayWait:  r.flag(so, "mayWait"),
			On:       r.names(so, "on"),
			Off:      r.names(so, "off"),
			Payload:  r.payload(so, axes),
			Force:    r.forces(so, axes),
		})
		so.unread(&r.faults)
	}
	o.unread(&r.faults)
	return s
}

// payload reads what axes carry from a step on.
func (r *reader) payload(o *object, axes map[string]energy.Mechanism) map[string]float64 {
	return eachAxis(r, o, "payload", axes, func(n *node, m energy.Mechanism) float64 {
		if turnsLoad(m) {
			return r.quantityOf(n, quantity.Inertia)
		}
		return r.quantityOf(n, quantity.Mass)
	})
}

// forces reads forces against time: for each axis a list of points [time, force].
func (r *reader) forces(o *object, axes map[string]energy.Mechanism) map[string]profile.Curve {
	return eachAxis(r, o, "force", axes, func(n *node, m energy.Mechanism) profile.Curve {
		t, y := r.points(n, quantity.Time, unitsOf(turnsLoad(m)).force)
		if t == nil {
			return profile.Curve{}
		}
		c, err := profile.Samples(t, y)
		for _, e := range profile.InputErrors(err) {
			r.faults.Add(n.path, e.Error(), "times that increase")
		}
		return c
	})
}

// eachAxis reads an object whose keys are names of axes.
func eachAxis[T any](r *reader, o *object, key string, axes map[string]energy.Mechanism, read func(n *node, m energy.Mechanism) T) map[string]T {
	values := r.object(o, key, optional)
	if values == nil {
		return nil
	}
	out := map[string]T{}
	for _, name := range values.keys {
		n := r.field(values, name, required, "")
		m, known := axes[name]
		if !known {
			r.faults.Add(n.path, name, "the name of an axis"+didYouMean(name, sortedKeys(axes)))
			continue
		}
		out[name] = read(n, m)
	}
	return out
}

// points reads a list of pairs of quantities, at least two.
func (r *reader) points(n *node, first, second quantity.Kind) (x, y []float64) {
	if n == nil {
		return nil, nil
	}
	list, ok := n.value.([]*node)
	if !ok || len(list) < 2 {
		r.faults.Add(n.path, n.text(), fmt.Sprintf("a list of at least two points [%s, %s]", first, second))
		return nil, nil
	}
	for _, p := range list {
		pair, ok := p.value.([]*node)
		if !ok || len(pair) != 2 {
			r.faults.Add(p.path, p.text(), fmt.Sprintf("a point [%s, %s]", first, second))
			return nil, nil
		}
		x = append(x, r.quantityOf(pair[0], first))
		y = append(y, r.quantityOf(pair[1], second))
	}
	return x, y
}

// path reads how the moves of a step belong together.
func (r *reader) path(o *object) Path {
	switch r.choice(o, "path", optional, "independent", "together", "straight") {
	case "together":
		return Together
	case "straight":
		return Straight
	}
	return Independent
}

// law reads the law by which an axis moves, nil for the fastest.
func (r *reader) law(o *object) *profile.Law {
	if o == nil {
		return nil
	}
	defer o.unread(&r.faults)
	var l profile.Law
	switch r.choice(o, "kind", required, "fastest", "shares", "least loss", "3-4-5", "4-5-6-7", "harmonic", "cycloidal") {
	case "shares":
		shares := profile.Shares{
			Accel:         r.quantity(o, "accel", quantity.Fraction, required),
			Decel:         r.quantity(o, "decel", quantity.Fraction, required),
			AccelRounding: r.quantity(o, "accelRounding", quantity.Fraction, optional),
			DecelRounding: r.quantity(o, "decelRounding", quantity.Fraction, optional),
		}
		var err error
		if l, err = shares.Law(); err != nil {
			r.faults.Under(o.path, err)
			return nil
		}
	case "least loss":
		l = profile.LeastLoss()
	case "3-4-5":
		l = profile.Polynomial345()
	case "4-5-6-7":
		l = profile.Polynomial4567()
	case "harmonic":
		l = profile.SimpleHarmonic()
	case "cycloidal":
		l = profile.Cycloidal()
	default:
		return nil
	}
	return &l
}
