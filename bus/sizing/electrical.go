package sizing

import (
	"example.com/headroom/energy"
)

// electrical holds the axis against the limits of motor and drive and finds the
// voltage that its motor needs.
func (r *AxisResult) electrical(hot energy.Axis) error {
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
	v, err := hot.Motor.Voltage(r.Hot)
	if err != nil {
		return err
	}
	r.Voltage = &v
	return nil
}
