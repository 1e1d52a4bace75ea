package energy

import (
	"fmt"
	"strings"

	"example.com/headroom/profile"
)

// Log is torque and speed as recorded at the same instants, of one shaft or of two
// that a gear joins.
type Log struct {
	Time   []float64 // instants [s], strictly increasing, at least 2
	Torque []float64 // torque at each instant [N·m], positive in the direction of positive speed
	Speed  []float64 // speed at each instant [rad/s]
	Ratio  float64   // speed of the shaft with the torque over the recorded speed, > 0; 1 for the same shaft
}

// Validate returns nil, or an error that joins one fault for every value outside its
// range.
func (l Log) Validate() error {
	_, _, err := l.curves()
	return err
}

// Power returns the mechanical power [W] of the shaft with the torque, positive when
// it motors:
//
//	P = torque × Ratio × speed
//
// Torque and speed are taken to run straight between the instants, so the power is
// quadratic there and not the straight line between its values.
func (l Log) Power() (profile.Curve, error) {
	torque, speed, err := l.curves()
	if err != nil {
		return profile.Curve{}, err
	}
	p, err := profile.Product(torque, speed.Scale(l.Ratio))
	if err != nil {
		var f profile.Faults
		f.Add("torque", "a power beyond the range of numbers", "a finite product with speed")
		return profile.Curve{}, f.Err()
	}
	return p, nil
}

func (l Log) curves() (torque, speed profile.Curve, err error) {
	var f profile.Faults
	if len(l.Time) < 2 {
		f.Add("time", fmt.Sprintf("%d instants", len(l.Time)), "at least 2")
	} else {
		_, err := profile.Samples(l.Time, l.Time)
		rename(&f, err, "t", "time")
	}
	torque = l.channel(&f, "torque", l.Torque)
	speed = l.channel(&f, "speed", l.Speed)
	checkPositive(&f, "ratio", l.Ratio, "")
	return torque, speed, f.Err()
}

// channel makes a curve of one recorded quantity and records its faults under its
// name, those of the times apart.
func (l Log) channel(f *profile.Faults, name string, y []float64) profile.Curve {
	if len(y) != len(l.Time) {
		f.Add(name, fmt.Sprintf("%d values", len(y)), fmt.Sprintf("%d, as many as instants", len(l.Time)))
		return profile.Curve{}
	}
	c, err := profile.Samples(l.Time, y)
	rename(f, err, "y", name)
	return c
}

// rename records those input errors in err whose path starts with from, below to.
func rename(f *profile.Faults, err error, from, to string) {
	for _, e := range profile.InputErrors(err) {
		if rest, ok := strings.CutPrefix(e.Path, from); ok {
			f.Add(to+rest, e.Value, e.Want)
		}
	}
}
