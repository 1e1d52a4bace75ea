package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// ratios are motor speed over joint speed, as published with the recordings,
// taken as magnitudes.
var ratios = [6]float64{256.857, 267.429, 252.333, 221.000, 239.619, 154.323}

// arm is the mechanical power of the six axes.
type arm struct {
	axes   [6]profile.Curve // [W]
	shared profile.Curve    // their sum [W]
}

func readArm(r io.Reader) (*arm, error) {
	in := csv.NewReader(r)
	header, err := in.Read()
	if err != nil {
		return nil, fmt.Errorf("header: %w", err)
	}
	column := map[string]int{}
	for i, name := range header {
		column[name] = i
	}
	names := []string{"t_s"}
	for k := range ratios {
		names = append(names, fmt.Sprintf("v%d_deg_s", k+1), fmt.Sprintf("tau%d_motor_Nm", k+1))
	}
	data := map[string][]float64{}
	for _, name := range names {
		if _, ok := column[name]; !ok {
			return nil, fmt.Errorf("column %s is missing", name)
		}
	}
	for {
		row, err := in.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		for _, name := range names {
			text := row[column[name]]
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				line, _ := in.FieldPos(column[name])
				return nil, fmt.Errorf("line %d, column %s: %q is not a number", line, name, text)
			}
			data[name] = append(data[name], v)
		}
	}
	a := &arm{}
	for k, ratio := range ratios {
		speed := data[names[1+2*k]]
		for i := range speed {
			speed[i] *= math.Pi / 180
		}
		log := energy.Log{Time: data["t_s"], Speed: speed, Torque: data[names[2+2*k]], Ratio: ratio}
		if a.axes[k], err = log.Power(); err != nil {
			return nil, fmt.Errorf("axis %d: %w", k+1, err)
		}
	}
	a.shared, err = profile.Sum(a.axes[:]...)
	return a, err
}
