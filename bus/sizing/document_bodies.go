package sizing

import (
	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
)

// inertia reads a moment of inertia: as a quantity, or as a list of bodies of
// simple geometry that turn together about one axis.
func (r *reader) inertia(o *object, key string, n need) float64 {
	c := r.field(o, key, n, quantity.Inertia.String())
	if c == nil {
		return 0
	}
	list, ok := c.value.([]*node)
	if !ok {
		return r.quantityOf(c, quantity.Inertia)
	}
	var parts []energy.Part
	for _, n := range list {
		bo := r.objectOf(n)
		parts = append(parts, energy.Part{
			Shape: r.shape(bo),
			X:     r.quantity(bo, "x", quantity.Length, optional),
			Y:     r.quantity(bo, "y", quantity.Length, optional),
		})
		bo.unread(&r.faults)
	}
	if r.faults.Err() != nil {
		return 0
	}
	body, err := energy.Assemble(parts...)
	if err != nil {
		r.faults.Under(c.path, err)
		return 0
	}
	j, err := body.InertiaAbout(0, 0)
	r.faults.Under(c.path, err)
	return j
}

// shape reads a body of simple geometry, of a mass or a density.
func (r *reader) shape(o *object) energy.Shape {
	length := func(key string, n need) float64 { return r.quantity(o, key, quantity.Length, n) }
	mass := r.quantity(o, "mass", quantity.Mass, notZero)
	kind, density := r.choice(o, "shape", required, "cylinder", "block", "sphere", "screw", "point"), 0.0
	if kind != "point" {
		density = r.quantity(o, "density", quantity.Density, notZero)
	}
	switch kind {
	case "cylinder":
		return energy.Cylinder{Diameter: length("diameter", required), Bore: length("bore", optional), Length: length("length", notZero), Mass: mass, Density: density}
	case "block":
		return energy.Block{Width: length("width", required), Depth: length("depth", required), Length: length("length", notZero), Mass: mass, Density: density}
	case "sphere":
		return energy.Sphere{Diameter: length("diameter", required), Mass: mass, Density: density}
	case "screw":
		return energy.ScrewShaft{
			MajorDiameter: length("majorDiameter", required), RootDiameter: length("rootDiameter", required),
			Land: r.quantity(o, "land", quantity.Ratio, required), Length: length("length", notZero), Mass: mass, Density: density,
		}
	case "point":
		return energy.RigidBody{Mass: mass}
	}
	return energy.RigidBody{}
}
