package bus_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
)

// By hand: P/(η λ V), with √3 V for three phases; the RMS over a cycle is the root
// of the mean square.
func TestMainsDraw(t *testing.T) {
	one := bus.Mains{Phases: 1, Voltage: 230, Frequency: 50, Tolerance: 0.1}
	stage := bus.InputStage{Efficiency: 0.9, PowerFactor: 0.95, CrestFactor: 1.6}
	d, err := one.Draw(constantLoad(t, 1000, 0, 3), stage)
	require.NoError(t, err)
	near(t, 1000/(0.9*0.95*230), d.RMS, 1e-12, "RMS")
	near(t, 1.6*d.RMS, d.Peak, 1e-12, "peak")
	near(t, 1000/0.9, d.Real, 1e-9, "real")
	near(t, 1000/0.9/0.95, d.Apparent, 1e-9, "apparent")
	near(t, 0.95, d.PowerFactor, 1e-12, "power factor")

	low, err := one.Low().Draw(constantLoad(t, 1000, 0, 3), stage)
	require.NoError(t, err)
	near(t, d.RMS/0.9, low.RMS, 1e-12, "RMS at low line")

	// 2 kW for a quarter of the time, nothing for half, power returned else.
	d, err = one.Draw(steps(t, []float64{0, 1, 3, 4}, 2000, 0, -500), stage)
	require.NoError(t, err)
	near(t, 2000*math.Sqrt(0.25)/(0.9*0.95*230), d.RMS, 1e-12, "RMS of a cycle")
	near(t, 1.6*2000/(0.9*0.95*230), d.Peak, 1e-12, "peak of a cycle")
	near(t, 500/0.9, d.Real, 1e-9, "real of a cycle")
	near(t, 0.95/2, d.PowerFactor, 1e-12, "power factor of a cycle")

	three := bus.Mains{Phases: 3, Voltage: 400, Frequency: 50}
	d, err = three.Draw(constantLoad(t, 10e3, 0, 1), bus.InputStage{Efficiency: 1, PowerFactor: 1, CrestFactor: math.Sqrt2})
	require.NoError(t, err)
	near(t, 10e3/(math.Sqrt(3)*400), d.RMS, 1e-12, "three phases")

	// Nothing drawn, nothing divided by nothing.
	d, err = three.Draw(constantLoad(t, 0, 0, 1), stage)
	require.NoError(t, err)
	assert.Equal(t, bus.MainsDraw{}, d)
	_, err = three.Draw(constantLoad(t, 1e308, 0, 1), bus.InputStage{Efficiency: 1e-10, PowerFactor: 1, CrestFactor: 2})
	require.Error(t, err)
	_, err = bus.Mains{Phases: 2, Voltage: math.NaN()}.Draw(constantLoad(t, 0, 0, 1), bus.InputStage{})
	for _, path := range []string{"mains.phases", "mains.voltage", "mains.frequency", "input.efficiency", "input.powerFactor", "input.crestFactor"} {
		require.ErrorContains(t, err, path)
	}
}

// Invented transformer of 1 kVA, 230 V to 48 V, 6 % short-circuit voltage, 40 W in
// the copper and 15 W in the iron.
func transformer() bus.Transformer {
	return bus.Transformer{
		Mains:     bus.Mains{Phases: 1, Voltage: 230, Frequency: 50, Tolerance: 0.1},
		Secondary: 48, Rating: 1000, ShortCircuit: 0.06, CopperLoss: 40, NoLoadLoss: 15, MagnetisingRMS: 0.3,
	}
}

func TestTransformer(t *testing.T) {
	tr := transformer()
	r, l := tr.Impedance()
	near(t, 48*48/1000.*0.04, r, 1e-12, "resistance")
	near(t, 48*48/1000.*0.06, math.Hypot(r, 2*math.Pi*50*l), 1e-12, "impedance")
	rect, err := tr.Rectifier(bus.Bridge, 0.9, 0.005)
	require.NoError(t, err)
	bank := bus.Bank{Capacitance: 22e-3, RatedVoltage: 100}
	p, err := rect.Settle(context.Background(), bank, bus.SteadyLoad{Power: 500})
	require.NoError(t, err)
	near(t, 500+p.DiodeHeat+p.SourceHeat, p.Secondary.Real, 1e-7*500, "power balance")
	near(t, rect.Resistance*p.Secondary.RMS*p.Secondary.RMS, p.SourceHeat, 1e-9*p.SourceHeat, "copper loss")

	d := tr.Primary(p.Secondary)
	near(t, 515+p.DiodeHeat+p.SourceHeat, d.Real, 1e-4, "power from the mains")
	near(t, math.Hypot(p.Secondary.RMS*48/230, 0.3), d.RMS, 1e-12, "current from the mains")
	near(t, 230*d.RMS, d.Apparent, 1e-9, "apparent power from the mains")
	size := tr.Size(p.Secondary)
	near(t, 48*p.Secondary.RMS, size.Apparent, 1e-9, "size")
	near(t, p.SourceHeat, size.CopperLoss, 1e-9*p.SourceHeat, "copper loss by loading")
	// A capacitor-input rectifier needs more apparent than real power.
	assert.Greater(t, size.Apparent, 1.2*p.Secondary.Real)
	assert.Equal(t, p.Secondary.Peak, size.Crest)

	in := tr.PrimaryInrush(bus.Inrush{Peak: 230, I2t: 230 * 230, Highest: 70})
	near(t, 48, in.Peak, 1e-12, "inrush of the primary")
	near(t, 48*48, in.I2t, 1e-9, "I²t of the primary")
	assert.Equal(t, 70., in.Highest)

	// Over a machine cycle the RMS follows from the mean square: more than that of
	// the mean power.
	b := bus.Bus{Bank: bank}
	cycle := steps(t, []float64{0, 0.2, 1}, 1500, 100) // 380 W on average
	w, err := b.SimulateRipple(context.Background(), rect, bus.RippleLoad{Power: cycle}, p.Waveform.Start)
	require.NoError(t, err)
	steady, err := rect.Settle(context.Background(), bank, bus.SteadyLoad{Power: 380})
	require.NoError(t, err)
	assert.Greater(t, w.Mains.RMS, 1.3*steady.Secondary.RMS)

	_, err = tr.Rectifier(bus.ThreePhaseBridge, 0.9, 0)
	require.ErrorContains(t, err, "kind")
	_, err = tr.Rectifier(bus.HalfWave, 0.9, 0)
	require.ErrorContains(t, err, "saturates")
	tr.CopperLoss = 61
	require.ErrorContains(t, tr.Validate(), "copperLoss")
	tr.ShortCircuit = 0
	require.NoError(t, tr.Validate())
	_, l = tr.Impedance()
	assert.Zero(t, l)
	err = bus.Transformer{}.Validate()
	for _, path := range []string{"mains.phases", "secondary", "rating", "shortCircuit"} {
		require.ErrorContains(t, err, path)
	}
}

// A resistance between mains and an empty bank: peak V/R, C V²/2R burned in it over
// R; the exact waveform with a time constant of a hundredth of a period does so,
// and one of several periods stays below.
func TestInrushResistive(t *testing.T) {
	m := bus.Mains{Phases: 1, Voltage: 230, Frequency: 50, Tolerance: 0.1}
	crest := 230 * 1.1 * math.Sqrt2
	in, err := m.Inrush(100e-6, 2)
	require.NoError(t, err)
	near(t, crest/2, in.Peak, 1e-9, "peak")
	near(t, 100e-6*crest*crest/4, in.I2t, 1e-9, "I²t")

	for _, kind := range []bus.RectifierKind{bus.HalfWave, bus.Bridge, bus.ThreePhaseBridge} {
		r := bus.Rectifier{Kind: kind, Voltage: 230, Frequency: 50, Resistance: 1e-3, LineTolerance: 0.1}
		bank := bus.Bank{Capacitance: 80e-6, RatedVoltage: 400, ToleranceHigh: 0.25}
		exact, err := r.Inrush(context.Background(), bank, 2)
		require.NoError(t, err)
		near(t, in.Peak, exact.Peak, 2e-3*in.Peak, "peak by the waveform")
		assert.LessOrEqual(t, exact.I2t, in.I2t)
		near(t, in.I2t, exact.I2t, 0.02*in.I2t, "I²t by the waveform")
		near(t, in.Duration, exact.Duration, 0.2*in.Duration, "duration by the waveform")
		near(t, crest, exact.Highest, 1e-3*crest, "no overshoot")
		if kind != bus.ThreePhaseBridge {
			near(t, in.PeakAngle, exact.PeakAngle, 0.02, "angle")
		}

		limited, err := r.Inrush(context.Background(), bank, 1000) // 100 ms
		require.NoError(t, err)
		slow, err := m.Inrush(100e-6, 1000)
		require.NoError(t, err)
		near(t, slow.Peak, limited.Peak, 1e-3*slow.Peak, "peak with a limiter")
		assert.Less(t, limited.I2t, slow.I2t)
		assert.Greater(t, limited.Duration, slow.Duration)
	}
	_, err = m.Inrush(0, math.NaN())
	require.ErrorContains(t, err, "capacitance")
	require.ErrorContains(t, err, "limiter")
	_, err = m.Inrush(1e300, 1e-300)
	require.Error(t, err)
}

// Inductance and bank alone, much faster than the mains: a half wave of their
// oscillation with the crest V √(C/L), I²t = Î² π √(LC)/2, that leaves the bank at
// twice the voltage (any circuit text).
func TestInrushOscillates(t *testing.T) {
	r := bus.Rectifier{Kind: bus.Bridge, Voltage: 100, Frequency: 50, Inductance: 1e-4}
	bank := bus.Bank{Capacitance: 1e-6, RatedVoltage: 400}
	in, err := r.Inrush(context.Background(), bank, 0)
	require.NoError(t, err)
	crest := 100 * math.Sqrt2
	peak := crest * math.Sqrt(1e-6/1e-4)
	near(t, peak, in.Peak, 1e-3*peak, "peak")
	near(t, 2*crest, in.Highest, 1e-3*crest, "voltage")
	near(t, peak*peak*math.Pi*1e-5/2, in.I2t, 2e-3*in.I2t, "I²t")
	near(t, math.Pi/2, in.PeakAngle, 0.03, "angle")
}

// No phase at switching on is worse than the one found.
func TestInrushWorstAngle(t *testing.T) {
	tr := transformer()
	cold := tr
	cold.CopperLoss *= 0.8
	for _, kind := range []bus.RectifierKind{bus.Bridge, bus.ThreePhaseBridge} {
		cold.Mains.Phases = map[bus.RectifierKind]int{bus.Bridge: 1, bus.ThreePhaseBridge: 3}[kind]
		r, err := cold.Rectifier(kind, 0.9, 0.002)
		require.NoError(t, err)
		bank := bus.Bank{Capacitance: 22e-3, RatedVoltage: 100, ToleranceHigh: 0.2}
		in, err := r.Inrush(context.Background(), bank, 0)
		require.NoError(t, err)
		limited, err := r.Inrush(context.Background(), bank, 1)
		require.NoError(t, err)
		assert.Less(t, limited.Peak, in.Peak)
		assert.Less(t, limited.I2t, in.I2t)
		most, square := 0.0, 0.0
		for k := range 100 {
			b := bus.Bus{Bank: bank.High()}
			w, err := b.SimulateRipple(context.Background(), r.High(), bus.RippleLoad{Power: constantLoad(t, 0, 0, 0.4)},
				bus.RippleState{Angle: 2 * math.Pi * (float64(k) + 0.3) / 100})
			require.NoError(t, err)
			for _, l := range w.Lines {
				most = math.Max(most, math.Abs(l.AbsMax().V))
				square = math.Max(square, l.RMS()*l.RMS()*0.4)
			}
		}
		assert.LessOrEqual(t, most, in.Peak*(1+1e-6), kind)
		assert.LessOrEqual(t, square, in.I2t*(1+1e-3), kind)
		near(t, in.Peak, most, 5e-3*most, "peak")
		near(t, in.I2t, square, 5e-3*square, "I²t")
	}
}

func TestMainsFuse(t *testing.T) {
	f, err := bus.MainsDraw{RMS: 8}.Fuse(bus.Inrush{Peak: 100, I2t: 55})
	require.NoError(t, err)
	near(t, 10, f.Rating, 1e-12, "125 %")
	assert.Equal(t, 55., f.MeltingI2t)
	near(t, 70.71, f.TripAbove, 0.01, "instantaneous trip")
	assert.Contains(t, f.Caution, "local codes")
	assert.Contains(t, f.Caution, "selectivity")
	_, err = bus.MainsDraw{RMS: math.NaN()}.Fuse(bus.Inrush{Peak: math.Inf(1), I2t: -1})
	for _, path := range []string{"draw.rms", "inrush.peak", "inrush.i2t"} {
		require.ErrorContains(t, err, path)
	}
}
