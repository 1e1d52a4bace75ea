package main

import (
	"fmt"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/energy"
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
	gridColor   = color.RGBA{R: 0xdd, G: 0xdd, B: 0xdd, A: 255}
	levelDashes = [][]vg.Length{nil, {9, 2}, {1, 2}, {4, 2, 1, 2}, {12, 3, 2, 3, 2, 3}}
)

type line struct {
	name  string
	curve profile.Curve
}

type level struct {
	name  string
	value float64 // [V]
}

// panel is one diagram over time; the panels of a file share its time axis.
type panel struct {
	title, unit string // unit: what the vertical axis shows, with its unit
	lines       []line
	levels      []level
	zero        bool // zero belongs into the diagram, with a line of its own
}

// writePlots writes the plots of an assessment into a folder.
func writePlots(folder string, a *sizing.Assessment) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	if err := drawPanels(filepath.Join(folder, "voltage.svg"), voltagePanels(a)); err != nil {
		return err
	}
	direct := map[string]bool{}
	for _, ax := range a.Machine.Axes {
		_, direct[ax.Name] = ax.Drive.Mechanism.(energy.Direct)
	}
	for i, s := range a.Stations {
		power := panel{title: s.Name + ": power taken from the bus, hot copper, load as entered", unit: "power [W]", zero: true}
		torque := panel{title: s.Name + ": motor torque, hot copper, load as entered", unit: "torque [N·m]", zero: true}
		spread := false
		for _, ax := range s.Axes {
			power.lines = append(power.lines, line{ax.Name, ax.Hot.BusPower})
			name := ax.Name
			if direct[name] {
				name += ", force [N]"
			}
			torque.lines = append(torque.lines, line{name, ax.Hot.RatedTorque})
			spread = spread || len(ax.Ends) > 0
		}
		if spread {
			power.lines = append(power.lines, line{"together, most of any load", s.Hot})
		} else if len(s.Axes) > 1 {
			power.lines = append(power.lines, line{"together", s.Hot})
		}
		// Numbered, so that a station's name need not be a file's.
		if err := drawPanels(filepath.Join(folder, fmt.Sprintf("power-%d.svg", i+1)), []panel{power}); err != nil {
			return err
		}
		if err := drawPanels(filepath.Join(folder, fmt.Sprintf("torque-%d.svg", i+1)), []panel{torque}); err != nil {
			return err
		}
	}
	return nil
}

// voltagePanels shows how far the bus sags and how far it rises, each at its corner,
// with what it is held against.
func voltagePanels(a *sizing.Assessment) []panel {
	m := a.Machine
	sag := panel{
		title: "Sag: lowest supply, least capacitance, hot copper", unit: "bus voltage [V]",
		levels: []level{{"no load, lowest", m.Supply.Source.Low().NoLoadVoltage()}, {"under-voltage trip", m.UnderVoltage}},
	}
	if c := a.Bus.SagCycle; c != nil {
		sag.lines = append(sag.lines, line{"settled cycle", c.Voltage})
	} else if g := a.Bus.Guarantee.Sag; g.Exists {
		sag.lines = append(sag.lines, line{"worst windows lined up", g.Witness.Voltage})
		sag.levels = append(sag.levels, level{"bound, any phase", g.Voltage})
	}
	rise := panel{
		title: "Rise: highest supply, least capacitance, cold copper", unit: "bus voltage [V]",
		levels: []level{{"over-voltage trip", m.OverVoltage}, {"no load, highest", m.Supply.Source.High().NoLoadVoltage()}},
	}
	for _, b := range m.Brakes {
		rise.levels = append(rise.levels, level{"resistor on, highest", b.OnVoltage * (1 + b.ThresholdTolerance)}, level{"resistor off, lowest", b.OffVoltage * (1 - b.ThresholdTolerance)})
	}
	if c := a.Bus.RiseCycle; c != nil {
		rise.lines = append(rise.lines, line{"settled cycle", c.Voltage})
	} else if g := a.Bus.Guarantee.Rise; g.Exists {
		rise.lines = append(rise.lines, line{"worst windows lined up", g.Witness.Voltage})
		rise.levels = append(rise.levels, level{"bound, any phase", g.Voltage})
	}
	return []panel{rise, sag}
}

// Sizes of the drawing.
const (
	width, height = 24 * vg.Centimeter, 10 * vg.Centimeter // of a panel with its legend
	legendWidth   = 7 * vg.Centimeter
)

// drawPanels writes panels, one below the other, as an SVG file.
func drawPanels(path string, panels []panel) error {
	end := 0.0
	for _, p := range panels {
		for _, l := range p.lines {
			if l.curve.Pieces() > 0 {
				end = max(end, l.curve.End())
			}
		}
	}
	column := make([][]*plot.Plot, len(panels))
	legends := make([]plot.Legend, len(panels))
	for i, p := range panels {
		drawn, legend, err := p.plot(end)
		if err != nil {
			return err
		}
		column[i], legends[i] = []*plot.Plot{drawn}, legend
	}
	c := vgsvg.New(width, height*vg.Length(len(panels)))
	all := draw.New(c)
	tiles := draw.Tiles{Rows: len(panels), Cols: 1, PadY: 6 * vg.Millimeter, PadTop: 3 * vg.Millimeter, PadBottom: 2 * vg.Millimeter, PadLeft: 2 * vg.Millimeter, PadRight: 2 * vg.Millimeter}
	canvases := plot.Align(column, tiles, draw.Crop(all, 0, -legendWidth, 0, 0))
	for i := range panels {
		column[i][0].Draw(canvases[i][0])
		at := canvases[i][0]
		at.Min.X, at.Max.X = at.Max.X+3*vg.Millimeter, all.Max.X
		at.Max.Y -= 8 * vg.Millimeter // below the title
		legends[i].Draw(at)
	}
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	if _, err := c.WriteTo(file); err != nil {
		file.Close()
		return err
	}
	return file.Close()
}

// plot draws a panel over the time from 0 to end [s]; its legend stands beside it.
func (d panel) plot(end float64) (*plot.Plot, plot.Legend, error) {
	p, legend := plot.New(), plot.NewLegend()
	legend.Top, legend.Left, legend.YPosition = true, true, draw.PosCenter
	legend.Padding, legend.TextStyle.Font.Size = vg.Millimeter, vg.Points(10)
	p.Title.Text, p.X.Label.Text, p.Y.Label.Text = d.title, "time [s]", d.unit
	p.Title.Padding = 2 * vg.Millimeter
	p.X.Tick.Marker, p.Y.Tick.Marker = roundTicks{}, roundTicks{}
	grid := plotter.NewGrid()
	grid.Horizontal.Color, grid.Vertical.Color = gridColor, gridColor
	p.Add(grid)
	add := func(xys plotter.XYs, name string, c color.Color, width vg.Length, dashes []vg.Length) error {
		l, err := plotter.NewLine(xys)
		if err != nil {
			return err
		}
		l.Color, l.Width, l.Dashes = c, width, dashes
		p.Add(l)
		if name != "" {
			legend.Add(name, l)
		}
		return nil
	}
	across := func(y float64) plotter.XYs { return plotter.XYs{{X: 0, Y: y}, {X: end, Y: y}} }
	if d.zero {
		if err := add(across(0), "", color.Black, vg.Points(0.7), nil); err != nil {
			return nil, legend, err
		}
	}
	for i, l := range d.lines {
		if l.curve.Pieces() == 0 {
			continue
		}
		style := palette[i%len(palette)]
		if err := add(points(l.curve), l.name, style.color, vg.Points(1.2), style.dashes); err != nil {
			return nil, legend, err
		}
	}
	for i, l := range d.levels {
		if err := add(across(l.value), fmt.Sprintf("%s, %.1f V", l.name, l.value), limitColor, vg.Points(1), levelDashes[i%len(levelDashes)]); err != nil {
			return nil, legend, err
		}
	}
	if span := p.Y.Max - p.Y.Min; span > 0 {
		p.Y.Min, p.Y.Max = p.Y.Min-0.06*span, p.Y.Max+0.06*span
	}
	if end > 0 {
		p.X.Min, p.X.Max = 0, end
	}
	return p, legend, nil
}

// roundTicks sets ticks at whole multiples of 1, 2 or 5 times a power of ten, so that
// zero has one wherever it is in sight.
type roundTicks struct{}

// Ticks implements plot.Ticker.
func (roundTicks) Ticks(lowest, highest float64) []plot.Tick {
	const most = 8
	step := math.Pow10(int(math.Floor(math.Log10((highest - lowest) / most))))
	for _, k := range []float64{1, 2, 5, 10} {
		if (highest-lowest)/(k*step) <= most {
			step *= k
			break
		}
	}
	decimals := max(0, -int(math.Floor(math.Log10(step*1.0001))))
	var ticks []plot.Tick
	for n := math.Ceil(lowest/step - 1e-9); n*step <= highest+1e-9*step && len(ticks) < 4*most; n++ {
		label := strconv.FormatFloat(n*step+0, 'f', decimals, 64)
		if decimals > 6 || math.Abs(n*step) >= 1e6 {
			label = strconv.FormatFloat(n*step+0, 'g', 4, 64)
		}
		ticks = append(ticks, plot.Tick{Value: n * step, Label: label})
	}
	return ticks
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
