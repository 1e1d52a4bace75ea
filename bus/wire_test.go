package bus_test

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

const mm2 = 1e-6

// flexible returns a flexible wire of so many mm².
func flexible(t testing.TB, section float64) bus.Wire {
	t.Helper()
	w, err := bus.StandardWire(section*mm2, bus.Flexible)
	require.NoError(t, err)
	return w
}

// Resistance per 1000 ft at 20 °C and diameter in inches, as printed by
// HyperPhysics, Georgia State University, hbase/Tables/wirega.html, after Floyd,
// Electric Circuit Fundamentals (LOOKED UP).
func TestPublishedGauges(t *testing.T) {
	const foot, inch = 0.3048, 0.0254
	for _, tc := range []struct {
		awg               int
		ohms, inches      float64
		ohmsRel, inchsRel float64 // four and five printed digits
	}{
		{22, 16.14, .02535, 3e-4, 3e-4}, {20, 10.15, .03196, 3e-4, 3e-4}, {18, 6.385, .0403, 3e-4, 3e-4}, {16, 4.016, .05082, 3e-4, 3e-4},
		{14, 2.525, .06408, 3e-4, 3e-4}, {12, 1.588, .0808, 3e-4, 3e-4}, {10, .9989, .10189, 3e-4, 3e-4}, {8, .6282, .12849, 3e-4, 3e-4},
	} {
		w, err := bus.GaugeWire(tc.awg)
		require.NoError(t, err)
		near(t, tc.ohms, w.Resistance*1000*foot, tc.ohms*tc.ohmsRel, fmt.Sprintf("ohm per 1000 ft of AWG %d", tc.awg))
		near(t, tc.inches, math.Sqrt(w.Section*4/math.Pi)/inch, tc.inches*tc.inchsRel, fmt.Sprintf("diameter of AWG %d", tc.awg))
	}
	// By definition 4/0 is 0.46 inch and 36 is 0.005 inch.
	w, err := bus.GaugeWire(-3)
	require.NoError(t, err)
	near(t, 0.46*inch, math.Sqrt(w.Section*4/math.Pi), 1e-15, "4/0")
	w, err = bus.GaugeWire(36)
	require.NoError(t, err)
	near(t, 0.005*inch, math.Sqrt(w.Section*4/math.Pi), 1e-17, "36")
}

// IEC 60228:2004, tables 2 and 3, plain copper, read in secondary places
// (LOOKED UP-2).
func TestPublishedStandardWires(t *testing.T) {
	sections := []float64{.5, .75, 1, 1.5, 2.5, 4, 6, 10, 16}
	for class, ohms := range map[bus.WireClass][]float64{
		bus.Flexible: {39.0, 26.0, 19.5, 13.3, 7.98, 4.95, 3.30, 1.91, 1.21},
		bus.Stranded: {36.0, 24.5, 18.1, 12.1, 7.41, 4.61, 3.08, 1.83, 1.15},
	} {
		for i, s := range sections {
			w, err := bus.StandardWire(s*mm2, class)
			require.NoError(t, err)
			near(t, ohms[i]/1000, w.Resistance, 1e-15, fmt.Sprintf("class %d, %g mm²", class, s))
		}
	}
}

// The values from memory: each is a limit, so it lies above copper of full
// conductivity and the nominal section, and by less than a fifth; a larger
// section has less resistance.
func TestStandardWiresArePlausible(t *testing.T) {
	for _, class := range []bus.WireClass{bus.Solid, bus.Stranded, bus.Flexible} {
		before := math.Inf(1)
		for _, s := range []float64{.5, .75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120} {
			w, err := bus.StandardWire(s*mm2, class)
			require.NoError(t, err)
			over := w.Resistance * w.Section / 1.7241e-8
			require.True(t, over > 1.03 && over < 1.2, "class %d, %g mm²: %g", class, s, over)
			require.Less(t, w.Resistance, before)
			before = w.Resistance
		}
	}
}

// Own figures from the two above: 10 m out and back at 2 A in 0.75 mm² lose 1.04 V
// at 20 °C, 4.33 % of 24 V. At 70 °C it is (234.5+70)/254.5 times as much, 5.18 %:
// beyond the guidance.
func TestCableDrop(t *testing.T) {
	c := bus.Cable{Wire: flexible(t, 0.75), Parallel: 1, Length: 10, Temperature: 20}
	drop, err := c.Drop(2)
	require.NoError(t, err)
	near(t, 1.04, drop, 1e-12, "drop at 20 °C")
	require.Less(t, drop, bus.GuidanceDrop*24)
	c.Temperature = 70
	drop, err = c.Drop(2)
	require.NoError(t, err)
	near(t, 1.04*304.5/254.5, drop, 1e-12, "drop at 70 °C")
	require.Greater(t, drop, bus.GuidanceDrop*24)
	loss, err := c.Loss(2)
	require.NoError(t, err)
	near(t, 2*drop, loss, 1e-12, "loss")

	// Four wires each way and 30 milliohm of terminals: 0.52/4 + 0.03 ohm.
	c.Temperature, c.Parallel, c.Terminals = 20, 4, 0.03
	r, err := c.LoopResistance()
	require.NoError(t, err)
	near(t, 0.16, r, 1e-12, "resistance")
}

// 10 m, 2 A, 20 °C: 40 m·A · r <= drop. 0.75 mm² has 26 ohm/km, so 1.04 V; one
// step less drop asks for the next section.
func TestWithSmallest(t *testing.T) {
	c := bus.Cable{Parallel: 1, Length: 10, Temperature: 20}
	for _, tc := range []struct {
		drop, section float64
		class         bus.WireClass
	}{{2, .5, 5}, {1.0401, .75, 5}, {1.0399, 1, 5}, {0.98001, .75, 2}, {0.97, 1, 1}, {0.00645, 120, 5}} {
		got, err := c.WithSmallest(tc.class, 2, tc.drop)
		require.NoError(t, err)
		near(t, tc.section*mm2, got.Wire.Section, 1e-15, fmt.Sprintf("section for %g V", tc.drop))
	}
	_, err := c.WithSmallest(bus.Flexible, 2, 0.006)
	require.ErrorContains(t, err, "at least 0.00644 V")
	c.Terminals = 1
	_, err = c.WithSmallest(bus.Flexible, 2, 1.9)
	require.Equal(t, []string{"drop"}, paths(err), "the terminals alone lose 2 V")
}

func TestWireBadInput(t *testing.T) {
	for _, awg := range []int{-4, 41, math.MaxInt, math.MinInt} {
		_, err := bus.GaugeWire(awg)
		require.Equal(t, []string{"awg"}, paths(err))
	}
	for _, s := range []float64{nan, inf, -inf, 0, -1, 1e300, 5e-324, 0.75, 0.8e-6} {
		_, err := bus.StandardWire(s, bus.Flexible)
		require.Equal(t, []string{"section"}, paths(err), "%g", s)
	}
	_, err := bus.StandardWire(0.8e-6, bus.Flexible)
	require.ErrorContains(t, err, "0.5 0.75 1 1.5")
	_, err = bus.StandardWire(1e-6, 3)
	require.Equal(t, []string{"class"}, paths(err))

	good := bus.Cable{Wire: flexible(t, 1), Parallel: 1, Length: 10, Temperature: 20}
	for _, tc := range []struct {
		path   string
		values []float64
		set    func(c *bus.Cable, v float64)
	}{
		{"wire.section", []float64{nan, inf, 0, -1}, func(c *bus.Cable, v float64) { c.Wire.Section = v }},
		{"wire.resistance", []float64{nan, inf, 0, -1}, func(c *bus.Cable, v float64) { c.Wire.Resistance = v }},
		{"parallel", []float64{0, -1}, func(c *bus.Cable, v float64) { c.Parallel = int(v) }},
		{"length", []float64{nan, inf, -1}, func(c *bus.Cable, v float64) { c.Length = v }},
		{"temperature", []float64{nan, inf, -inf, -101, 301}, func(c *bus.Cable, v float64) { c.Temperature = v }},
		{"terminals", []float64{nan, inf, -1}, func(c *bus.Cable, v float64) { c.Terminals = v }},
	} {
		for _, v := range tc.values {
			c := good
			tc.set(&c, v)
			_, err := c.LoopResistance()
			require.Equal(t, []string{tc.path}, paths(err), "%g", v)
			_, err = c.Drop(1)
			require.Equal(t, []string{tc.path}, paths(err))
			if tc.path[:4] != "wire" {
				_, err = c.WithSmallest(bus.Flexible, 1, 1)
				require.Equal(t, []string{tc.path}, paths(err))
			}
		}
	}
	for _, v := range []float64{nan, inf, -1} {
		_, err = good.Loss(v)
		require.Equal(t, []string{"current"}, paths(err))
		_, err = good.WithSmallest(0, v, v)
		require.Equal(t, []string{"class", "current", "drop"}, paths(err))
	}
	_, err = good.Loss(1e300)
	require.Equal(t, []string{"current"}, paths(err))
	good.Length = 1e308
	good.Wire.Resistance = 1e10
	_, err = good.LoopResistance()
	var in *profile.InputError
	require.True(t, errors.As(err, &in))
	require.Equal(t, "length", in.Path)
}

// The drop of a sensor cable, and the section that keeps it to the guidance. All
// figures are invented.
func ExampleCable_WithSmallest() {
	c := bus.Cable{Parallel: 1, Length: 18, Temperature: 60, Terminals: 0.02}
	c, err := c.WithSmallest(bus.Flexible, 2.5, bus.GuidanceDrop*24)
	check(err)
	drop, err := c.Drop(2.5)
	check(err)
	fmt.Println(strconv.FormatFloat(c.Wire.Section/1e-6, 'g', 4, 64), "mm²")
	fmt.Printf("%.2f V of 24 V lost\n", drop)
	// Output:
	// 2.5 mm²
	// 0.88 V of 24 V lost
}
