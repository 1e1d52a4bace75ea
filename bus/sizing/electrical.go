package sizing

import (
	"example.com/headroom/energy"
)

// electrical holds the axis against the limits of motor and drive and finds the
// voltage that its motor needs. Weak, hot magnets ask for more current, strong, cold
// ones induce more voltage; copper may be hot while magnets are still cold. So the
// voltage is looked at with either, and the higher one counts.
func (r *LoadResult) electrical(hot energy.Axis, coldest float64) error {
	var err error
	if r.Motor, err = hot.Motor.Loading(r.Hot); err != nil {
		return err
	}
	if r.Drive, err = hot.Drive.Loading(hot.Motor.Winding, r.Hot); err != nil {
		return err
	}
	w := hot.Motor.Winding
	if w.InductanceLineToLine() == 0 || w.Sinusoidal() && w.PolePairs() == 0 || hot.Drive.ModulationLimit == 0 {
		return nil
	}
	r.motors = []energy.Motor{hot.Motor}
	if _, known := w.MagnetTemperature(); known {
		cold := hot.Motor
		if cold.Winding, err = withMagnets(w, coldest); err != nil {
			return err
		}
		r.motors = append(r.motors, cold)
	}
	for _, m := range r.motors {
		v, err := m.Voltage(r.Hot)
		if err != nil {
			return err
		}
		if r.Voltage == nil || v.Peak().V > r.Voltage.Peak().V {
			r.Voltage = &v
		}
	}
	return nil
}
