package main

import (
	"image/color"
	"math"
	"os"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	"example.com/headroom/bus/sizing"
)

// plotRows plots the lowest bus voltage against the number of stations.
func plotRows(path string, m *sizing.Machine, rows []row) error {
	p := plot.New()
	p.Title.Text = m.Name + ": lowest bus voltage by the number of stations"
	p.X.Label.Text, p.Y.Label.Text = "stations", "bus voltage [V]"
	p.X.Tick.Marker = wholeTicks{}
	p.Legend.Top, p.Legend.Left, p.Legend.Padding = false, true, vg.Points(3)
	p.Legend.XOffs = vg.Points(8)
	for _, s := range []struct {
		name   string
		of     func(row) float64
		color  color.RGBA
		dashes []vg.Length
		shape  draw.GlyphDrawer
	}{
		{"all begin together", func(r row) float64 { return r.together }, color.RGBA{R: 0x8a, G: 0x6d, B: 0x00, A: 255}, []vg.Length{2, 2}, draw.TriangleGlyph{}},
		{"worst line-up found", func(r row) float64 { return r.witness }, color.RGBA{R: 0xb8, G: 0x4a, B: 0x0f, A: 255}, []vg.Length{7, 3}, draw.CrossGlyph{}},
		{"bound, any phase", func(r row) float64 { return r.bound }, color.RGBA{R: 0x1b, G: 0x4f, B: 0x3a, A: 255}, nil, draw.CircleGlyph{}},
	} {
		var points plotter.XYs
		for _, r := range rows {
			if v := s.of(r); v > 0 {
				points = append(points, plotter.XY{X: float64(r.number), Y: v})
			}
		}
		if len(points) == 0 {
			continue
		}
		line, marks, err := plotter.NewLinePoints(points)
		if err != nil {
			return err
		}
		line.Color, line.Dashes, line.Width = s.color, s.dashes, vg.Points(1.2)
		marks.Color, marks.Shape, marks.Radius = s.color, s.shape, vg.Points(3)
		p.Add(line, marks)
		p.Legend.Add(s.name, line, marks)
	}
	grey := color.RGBA{R: 0x60, G: 0x60, B: 0x60, A: 255}
	limit, err := plotter.NewLine(plotter.XYs{{X: 0.5, Y: m.UnderVoltage}, {X: float64(len(rows)) + 0.5, Y: m.UnderVoltage}})
	if err != nil {
		return err
	}
	limit.Color, limit.Dashes = grey, []vg.Length{9, 2}
	p.Add(limit)
	p.Legend.Add("under-voltage trip", limit)
	p.Y.Min -= 4 // room for the legend

	c := vgsvg.New(20*vg.Centimeter, 12*vg.Centimeter)
	p.Draw(draw.New(c))
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if _, err := c.WriteTo(f); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// wholeTicks marks whole numbers.
type wholeTicks struct{}

// Ticks implements [plot.Ticker].
func (wholeTicks) Ticks(lo, hi float64) (ticks []plot.Tick) {
	for n := math.Ceil(lo); n <= hi; n++ {
		ticks = append(ticks, plot.Tick{Value: n, Label: strconv.Itoa(int(n))})
	}
	return ticks
}
