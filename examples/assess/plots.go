package main

import (
	"fmt"
	"image/color"
	"os"
	"path/filepath"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/profile"
)

// palette tells lines apart by colour and dash, also in print.
var palette = []struct {
	color  color.RGBA
	dashes []vg.Length
}{
	{color.RGBA{R: 0x1b, G: 0x4f, B: 0x3a, A: 255}, nil},
	{color.RGBA{R: 0xb8, G: 0x4a, B: 0x0f, A: 255}, nil},
	{color.RGBA{R: 0x5a, G: 0x3d, B: 0x7a, A: 255}, []vg.Length{7, 3}},
	{color.RGBA{R: 0x8a, G: 0x6d, B: 0x00, A: 255}, []vg.Length{2, 2}},
	{color.RGBA{R: 0x24, G: 0x6a, B: 0x8c, A: 255}, []vg.Length{7, 3, 2, 3}},
	{color.RGBA{R: 0x8c, G: 0x1f, B: 0x4b, A: 255}, []vg.Length{3, 1}},
}

// Levels are grey and told apart by their dashes.
var (
	limitColor  = color.RGBA{R: 0x60, G: 0x60, B: 0x60, A: 255}
	levelDashes = [][]vg.Length{nil, {9, 2}, {1, 2}, {4, 2, 1, 2}}
)

type line struct {
	name  string
	curve profile.Curve
}

type level struct {
	name  string
	value float64
}

// writePlots writes the plots of an assessment into a folder.
func writePlots(folder string, a *sizing.Assessment) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	if err := voltagePlot(folder, a); err != nil {
		return err
	}
	for i, s := range a.Stations {
		var power, torque []line
		for _, ax := range s.Axes {
			power = append(power, line{ax.Name, ax.Hot.BusPower})
			torque = append(torque, line{ax.Name, ax.Hot.RatedTorque})
		}
		if len(s.Axes) > 1 {
			power = append(power, line{"together", s.Hot})
		}
		// Numbered, so that a station's name need not be a file's.
		name := fmt.Sprintf("power-%d.svg", i+1)
		if err := draw(filepath.Join(folder, name), "Power taken from the bus: "+s.Name, "power [W]", power, nil); err != nil {
			return err
		}
		name = fmt.Sprintf("torque-%d.svg", i+1)
		if err := draw(filepath.Join(folder, name), "Shaft torque of the motors: "+s.Name, "torque [N·m]", torque, nil); err != nil {
			return err
		}
	}
	return nil
}

// voltagePlot draws the worst sag and the worst rise that were found, with the
// limits and the bounds.
func voltagePlot(folder string, a *sizing.Assessment) error {
	m := a.Machine
	var lines []line
	levels := []level{{"over-voltage trip", m.OverVoltage}, {"under-voltage trip", m.UnderVoltage}}
	if c := a.Bus.SagCycle; c != nil {
		lines = append(lines, line{"settled, low supply", c.Voltage})
	} else if g := a.Bus.Guarantee.Sag; g.Exists {
		lines = append(lines, line{"worst sag found", g.Witness.Voltage})
		levels = append(levels, level{"sag bound, any phase", g.Voltage})
	}
	if c := a.Bus.RiseCycle; c != nil {
		lines = append(lines, line{"settled, high supply", c.Voltage})
	} else if g := a.Bus.Guarantee.Rise; g.Exists {
		lines = append(lines, line{"worst rise found", g.Witness.Voltage})
		levels = append(levels, level{"rise bound, any phase", g.Voltage})
	}
	return draw(filepath.Join(folder, "voltage.svg"), "Bus voltage", "voltage [V]", lines, levels)
}

func draw(path, title, yLabel string, lines []line, levels []level) error {
	p := plot.New()
	p.Title.Text = title
	p.X.Label.Text = "time [s]"
	p.Y.Label.Text = yLabel
	p.Add(plotter.NewGrid())
	p.Legend.Top = true
	p.Legend.Left = true
	start, end := 0.0, 0.0
	for i, l := range lines {
		if l.curve.Pieces() == 0 {
			continue
		}
		style := palette[i%len(palette)]
		pl, err := plotter.NewLine(points(l.curve))
		if err != nil {
			return err
		}
		pl.Color, pl.Dashes, pl.Width = style.color, style.dashes, vg.Points(1.2)
		p.Add(pl)
		p.Legend.Add(l.name, pl)
		end = max(end, l.curve.End())
	}
	for i, l := range levels {
		pl, err := plotter.NewLine(plotter.XYs{{X: start, Y: l.value}, {X: end, Y: l.value}})
		if err != nil {
			return err
		}
		pl.Color, pl.Width, pl.Dashes = limitColor, vg.Points(1), levelDashes[i%len(levelDashes)]
		p.Add(pl)
		p.Legend.Add(fmt.Sprintf("%s, %.1f V", l.name, l.value), pl)
	}
	// Room for the legend above the lines.
	p.Y.Max += 0.07 * float64(len(lines)+len(levels)) * (p.Y.Max - p.Y.Min)
	return p.Save(20*vg.Centimeter, 11*vg.Centimeter, path)
}

// points samples a curve for drawing, keeping its jumps.
func points(c profile.Curve) plotter.XYs {
	var xys plotter.XYs
	span := c.Duration()
	for i := range c.Pieces() {
		t0, t1, _ := c.Piece(i)
		n := 2 + int(400*(t1-t0)/span)
		for k := 0; k <= n; k++ {
			t := t0 + (t1-t0)*float64(k)/float64(n)
			if k == n {
				t = t1 - 1e-9*(t1-t0) // the value before a jump
			}
			xys = append(xys, plotter.XY{X: t, Y: c.At(t)})
		}
	}
	return xys
}
