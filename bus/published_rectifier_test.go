package bus_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// constantLoad returns a constant power or current over time.
func constantLoad(t testing.TB, v, from, to float64) profile.Curve {
	t.Helper()
	c, err := profile.Constant(v, from, to)
	require.NoError(t, err)
	return c
}

// slice returns a part of a curve.
func slice(t testing.TB, c profile.Curve, from, to float64) profile.Curve {
	t.Helper()
	p, err := c.Slice(from, to)
	require.NoError(t, err)
	return p
}

// ripple settles a rectifier, or fails the test.
func ripple(t testing.TB, r bus.Rectifier, capacitance float64, load bus.SteadyLoad) *bus.Ripple {
	t.Helper()
	p, err := r.Settle(context.Background(), bus.Bank{Capacitance: capacitance, RatedVoltage: 1e3}, load)
	require.NoError(t, err)
	return p
}

// Reference waveform of a three-phase bridge on 400 V, 50 Hz with 60 µH in each
// line, 15 mF and 500 A constant current, from √2·400 V, in the window from 80 ms
// to 100 ms: example Electrical.Analog.Examples.Rectifier of the open Modelica
// Standard Library (commit b756f9de) with its public reference result (commit
// d6a2b9b2 of the results' repository), LOOKED UP. Tolerance 1e-3.
//
// The diodes there have 2 V threshold and 1 milliohm, which are ours, and leak
// 1 mS while they block. A leg with one diode conducting has the bus voltage over
// the other, one that rests has it over both in series: two legs of the first
// kind and one of the second take (2 + 1/2) 1 mS from the bus, 1.3 A. As a
// resistor across the bus the leakage thus is 400 ohm. Without it the line
// current is 1.3 A √(2/3) = 1.07 A too low, 2.5e-3.
func TestPublishedThreePhaseRectifier(t *testing.T) {
	r := bus.Rectifier{
		Kind: bus.ThreePhaseBridge, Voltage: 400, Frequency: 50,
		Inductance: 60e-6, DiodeThreshold: 2, DiodeResistance: 1e-3,
	}
	b := bus.Bus{Bank: bus.Bank{Capacitance: 15e-3, RatedVoltage: 700}}
	window := func(bleeder float64) (mean, highest, lowest, rms, peak float64) {
		b.Bleeder = bleeder
		res, err := b.SimulateRipple(context.Background(), r,
			bus.RippleLoad{Current: constantLoad(t, 500, 0, 0.1)}, bus.RippleState{Voltage: math.Sqrt2 * 400})
		require.NoError(t, err)
		require.False(t, res.Collapsed)
		v, line := slice(t, res.Voltage, 0.08, 0.1), slice(t, res.Lines[1], 0.08, 0.1)
		lo, hi := v.Extrema()
		near(t, 0, res.Energies.Residual, 1e-9*res.Energies.Throughput(), "energy book")
		return v.Mean(), hi.V, lo.V, line.RMS(), math.Abs(line.AbsMax().V)
	}
	mean, highest, lowest, rms, peak := window(1 / 2.5e-3)
	near(t, 524.829, mean, 1e-4*524.829, "mean")
	near(t, 533.882, highest, 1e-4*533.882, "highest")
	near(t, 516.798, lowest, 1e-4*516.798, "lowest")
	near(t, 17.084, highest-lowest, 1e-3*17.084, "ripple")
	near(t, 431.435, rms, 1e-4*431.435, "line RMS")
	near(t, 723.83, peak, 1e-4*723.83, "line peak")

	mean, highest, lowest, rms, peak = window(0)
	near(t, 524.829, mean, 1e-3*524.829, "mean without leakage")
	near(t, 17.084, highest-lowest, 1e-3*17.084, "ripple without leakage")
	near(t, 431.435-1.3*math.Sqrt(2./3), rms, 1e-3*431.435, "line RMS without leakage")
	near(t, 723.83, peak, 3e-3*723.83, "line peak without leakage")

	// The settled waveform, where the window above is not quite settled.
	p := ripple(t, r, 15e-3, bus.SteadyLoad{Current: 500, Resistance: 400})
	near(t, 524.829, p.Mean, 1e-4*524.829, "settled mean")
	near(t, 17.084, p.PeakToPeak, 1e-3*17.084, "settled ripple")
	near(t, 431.435, p.Secondary.RMS, 1e-4*431.435, "settled line RMS")
}

// D. W. Hart, Power Electronics, McGraw-Hill 2011, example 3-9 and the full-wave
// example of chapter 4 (FROM MEMORY): 120 V, 60 Hz, 500 ohm, 100 µF, ideal
// diodes. The figures in brackets, held tighter, are own solutions of the
// book's equations: conduction from α to θ, discharge by e^(-t/RC) between.
//
// The book's mains have no impedance; here a loop of 0.01 ohm has a time constant
// of 1 µs with the bank, so that currents differ by about ω·1 µs = 4e-4 of their
// amplitude from the jump with which they begin in the book: there the peak is at
// the start of conduction, ωC √2 V cos α + V sin α/R, and comes a few µs later.
func TestPublishedSinglePhase(t *testing.T) {
	r := bus.Rectifier{Kind: bus.HalfWave, Voltage: 120, Frequency: 60, Resistance: 0.01}
	p := ripple(t, r, 100e-6, bus.SteadyLoad{Resistance: 500})
	near(t, 43, p.PeakToPeak, 0.5, "half wave: ripple")
	near(t, 43.13, p.PeakToPeak, 0.005, "half wave: ripple, own")
	near(t, 4.50, p.DiodePeak, 0.02, "half wave: diode peak")
	near(t, (93.04-48.23)/180*math.Pi, p.ConductionAngle, 1e-3, "half wave: conduction") // 0.8418 rad = 48.23°

	r.Kind = bus.Bridge
	p = ripple(t, r, 100e-6, bus.SteadyLoad{Resistance: 500})
	near(t, 22, p.PeakToPeak, 0.22, "full wave: ripple")
	near(t, 21.88, p.PeakToPeak, 0.005, "full wave: ripple, own")
	near(t, 3.44, p.DiodePeak, 0.02, "full wave: diode peak, own")
	near(t, 1.62-1.06, p.ConductionAngle, 0.01, "full wave: conduction")
}

// A. S. Sedra and K. C. Smith, Microelectronic Circuits, example 3.9, read in a
// transcription (LOOKED UP-2): half wave, crest 100 V, 60 Hz, 10 kilohm, 2 V of
// ripple: 83.3 µF, conduction 0.2 rad, diode 324 mA on average while it conducts
// and 638 mA at peak by the formulas for small ripple. The exact model gives
// 1.918 V, 0.196 rad up to the crest and 622 mA (own); conduction ends 1/ωRC after
// the crest.
func TestPublishedSmallRipple(t *testing.T) {
	r := bus.Rectifier{Kind: bus.HalfWave, Voltage: 100 / math.Sqrt2, Frequency: 60, Resistance: 0.001}
	near(t, 2, r.SmallRipple(83.3e-6, 100./10e3), 2e-3, "small ripple")
	p := ripple(t, r, 1e-2/(60*2), bus.SteadyLoad{Resistance: 10e3})
	near(t, 1.918, p.PeakToPeak, 1e-3, "ripple, own")
	near(t, 2, p.PeakToPeak, 0.05*2, "ripple")
	near(t, 0.196+1/(2*math.Pi*60*10e3*83.3e-6), p.ConductionAngle, 1e-3, "conduction, own")
	near(t, 0.2, p.ConductionAngle, 0.05*0.2, "conduction")
	near(t, 0.622, p.DiodePeak, 2e-3, "diode peak, own")
	near(t, 0.638, p.DiodePeak, 0.05*0.638, "diode peak")
	near(t, 0.324, p.DiodeMean*2*math.Pi/p.ConductionAngle, 0.05*0.324, "diode mean while conducting")
}

// D. A. Bell, Electronic Devices and Circuits, examples 3.3 to 3.5, p. 83 to 85,
// read in a transcription (LOOKED UP-2). 28 V at 200 ohm and 680 µF, 60 Hz half
// wave: 3.43 V by the simple formula. 20 V at 500 ohm with 10 % ripple: 310 µF by
// counting the discharge from the crest to the next conduction, 333 µF by the
// simple formula; the waveform with 310 µF has 10 % indeed.
func TestPublishedReservoir(t *testing.T) {
	r := bus.Rectifier{Kind: bus.HalfWave, Voltage: 1, Frequency: 60, Resistance: 0.1}
	near(t, 3.43, r.SmallRipple(680e-6, 28./200), 3.5e-3, "simple formula")
	near(t, 2, r.SmallRipple(333.3e-6, 20./500), 1e-3, "simple formula for 10 %")

	// 20 V is the mean: with 2 V of ripple the crest is about 21 V.
	r.Voltage = 21 / math.Sqrt2
	p := ripple(t, r, 310e-6, bus.SteadyLoad{Resistance: 500})
	near(t, 20, p.Mean, 0.1, "mean")
	// The book counts the load's current as constant: half the ripple off.
	near(t, 2, p.PeakToPeak, 0.05*2, "ripple")
}

// M. H. Rashid, Power Electronics, example 3.12 (FROM MEMORY): 120 V, 60 Hz, full
// wave, 500 ohm, ripple factor 5 %: 126.2 µF and 158.49 V. The formulas take the
// ripple for a triangle discharged over the whole half period, so that the
// waveform has less of it and a higher mean.
func TestPublishedRippleFactor(t *testing.T) {
	r := bus.Rectifier{Kind: bus.Bridge, Voltage: 120, Frequency: 60, Resistance: 0.01}
	crest := 120 * math.Sqrt2
	// RF = 1/(√2 (4 f R C - 1)) and Vdc = crest - crest/(4 f R C).
	x := 4 * 60 * 500 * 126.2e-6
	near(t, 0.05, 1/(math.Sqrt2*(x-1)), 1e-4, "ripple factor by the formula")
	near(t, 158.49, crest-crest/x, 0.02, "mean by the formula")

	p := ripple(t, r, 126.2e-6, bus.SteadyLoad{Resistance: 500})
	ac := math.Sqrt(math.Pow(p.Waveform.Voltage.RMS(), 2) - p.Mean*p.Mean)
	near(t, 158.49, p.Mean, 0.02*158.49, "mean")
	assert.Greater(t, p.Mean, 158.49)
	assert.Less(t, ac/p.Mean, 0.05)
	assert.Greater(t, ac/p.Mean, 0.03)
}

// A. E. Fitzgerald and others, Electric Machinery, example 10.9, p. 537, read in a
// transcription (LOOKED UP-2): 460 V between lines, three-phase bridge, 68 ohm, no
// capacitor: 621 V and 9.1 A on average. Ideal factors of a bridge, any text on
// power electronics (FROM MEMORY): three phases 3√2/π = 1.3505, one phase 2√2/π =
// 0.9003 of the RMS voltage.
//
// Here a bank of 10 µF, too small to hold the voltage between the crests, and a
// source of 0.05 ohm per line stand for none of either. What the resistance takes,
// 0.1/68 of the voltage, is added back. The single-phase voltage falls to 0 faster
// than any bank, hence a smaller one.
func TestPublishedWithoutCapacitor(t *testing.T) {
	r := bus.Rectifier{Kind: bus.ThreePhaseBridge, Voltage: 460, Frequency: 60, Resistance: 0.05}
	p := ripple(t, r, 10e-6, bus.SteadyLoad{Resistance: 68})
	mean := p.Mean * (1 + 0.1/68)
	near(t, 621, mean, 1e-3*621, "mean")
	near(t, 9.1, mean/68, 5e-3*9.1, "current")
	near(t, 3*math.Sqrt2/math.Pi*460, mean, 2e-4*621, "ideal")
	near(t, math.Sqrt2*460, p.Highest*(1+0.1/68), 1e-4*621, "crest")
	near(t, math.Sqrt2*460*math.Cos(math.Pi/6), p.Lowest*(1+0.1/68), 2e-3*621, "valley")

	one := bus.Rectifier{Kind: bus.Bridge, Voltage: 100, Frequency: 50, Resistance: 0.5}
	p = ripple(t, one, 1e-6, bus.SteadyLoad{Resistance: 100})
	near(t, 90.03, p.Mean*(1+0.5/100), 2e-3*90.03, "single phase")
	near(t, 141.42, one.NoLoadVoltage(), 0.01, "single-phase crest")
}

// The limit of an infinite bank: tan γ - γ = π Rs/(2R) for the full wave and π Rs/R
// for the half wave, Vdc/crest = cos γ, Ipeak/Idc = (1 - cos γ)/((Rs/R) cos γ). The
// equation is that of O. H. Schade, Proc. IRE 31(7), 1943, figures 3 to 7 (FROM
// MEMORY); the figures are own solutions of it.
func TestSchadeLimit(t *testing.T) {
	for _, c := range []struct {
		kind          bus.RectifierKind
		share         float64 // Rs/R
		voltage, peak float64
	}{
		{bus.Bridge, 0.001, 0.9861, 14.11}, {bus.Bridge, 0.01, 0.9376, 6.65},
		{bus.Bridge, 0.05, 0.8322, 4.03}, {bus.Bridge, 0.1, 0.7518, 3.30},
		{bus.HalfWave, 0.001, 0.9780, 0}, {bus.HalfWave, 0.01, 0.9035, 0},
		{bus.HalfWave, 0.05, 0.7518, 0}, {bus.HalfWave, 0.1, 0.6455, 0},
	} {
		r := bus.Rectifier{Kind: c.kind, Voltage: 230, Frequency: 50, Resistance: 100 * c.share}
		crest := math.Sqrt2 * 230
		// ωCR = 31 000: the ripple is of the order of its inverse.
		p := ripple(t, r, 1, bus.SteadyLoad{Resistance: 100})
		near(t, c.voltage, p.Mean/crest, 1e-4, "mean of the waveform over crest")
		if c.peak > 0 {
			near(t, c.peak, p.DiodePeak/p.RectifiedMean, 1e-3*c.peak, "peak over mean")
		}
		// The averaged rectifier, within its 1e-3.
		a, err := r.Averaged(context.Background())
		require.NoError(t, err)
		v := crest * c.voltage
		lo, hi := a.Current(v+1e-3*crest), a.Current(v-1e-3*crest)
		if !(lo <= v/100 && v/100 <= hi) {
			t.Errorf("%v Rs/R %g: averaged current at %g V ± 1e-3 of the crest is %g A to %g A, want %g A", c.kind, c.share, v, lo, hi, v/100)
		}
	}
}
