package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Inrush is the current that charges an empty bank when the mains are switched
// on, at the worst moment.
//
// The core of a transformer that is switched on near a zero of the voltage
// saturates besides, and then draws several to some ten times its rated crest
// for a few periods whatever is behind it (common practice, no source). That is
// not in these figures: ask for it with the transformer.
type Inrush struct {
	Peak      float64 // highest current of a line [A]
	PeakAngle float64 // phase of line 1 at switching on that leads to it [rad]
	I2t       float64 // ∫ i² dt of a line until the bank is charged, of several lines the largest [A² s]
	I2tAngle  float64 // phase that leads to it [rad]
	Highest   float64 // voltage that the bus reaches: inductance carries it above the crest [V]
	Duration  float64 // until the bank is within 5 % of the no-load voltage [s]
}

// Inrush returns the inrush of a rectifier with a bank [F] behind a limiting
// resistance [ohm], as at the input of a regulated supply or of a drive, at the
// highest mains and switched on at the crest, with nothing else in the circuit:
//
//	peak   √2 V/R
//	I²t    C (√2 V)²/(2 R)      half the square of the charge's voltage is burned in R
//	time   R C ln 20
//
// (charging of a capacitor, any circuit text). The peak is exact, the others are
// as long as R C is short against a period. Longer, I²t is less than this: the
// charge is taken at a voltage below the crest. The time is then longer. A
// thermistor counts with its cold resistance, and hot, after a short pause,
// hardly limits at all.
func (m Mains) Inrush(capacitance, limiter float64) (Inrush, error) {
	var f profile.Faults
	f.Under("mains", m.Validate())
	f.Positive("capacitance", capacitance, "F")
	f.Positive("limiter", limiter, "ohm")
	if err := f.Err(); err != nil {
		return Inrush{}, err
	}
	crest := math.Sqrt2 * m.High().Voltage
	in := Inrush{
		Peak: crest / limiter, PeakAngle: math.Pi / 2,
		I2t: capacitance * crest / limiter * crest / 2, I2tAngle: math.Pi / 2,
		Highest: crest, Duration: limiter * capacitance * math.Log(20),
	}
	if m.Phases == 3 { // the voltage between lines 1 and 2 leads that of line 1 by 30°
		in.PeakAngle, in.I2tAngle = math.Pi/3, math.Pi/3
	}
	if !(in.Peak+in.I2t+in.Duration <= math.MaxFloat64) {
		f.Add("limiter", limiter, "a current within the range of float64")
	}
	return in, f.Err()
}

const (
	inrushAngles  = 36    // tried before the search
	inrushPeriods = 3     // simulated at each
	inrushEnough  = 1e-4  // of I²t that may be left when the bank counts as charged
	inrushMost    = 5_000 // periods until then
)

// Inrush computes the inrush of a rectifier into an empty bank by its waveform, at
// the highest line and the bank's highest capacitance, with a limiting
// resistance between rectifier and bank [ohm], 0 for none. Give the resistance of
// a cold winding. Inductance is left out where its time constant with the limiter
// is below 1e-4 of a period. The moment of switching on is sought on 36 phases and narrowed
// down between the neighbours of the worst, for the peak and for I²t each.
//
// It returns an error that joins the faults of the input, or one that wraps the
// context's error, [ErrBudget] (the bank is not charged after 5000 periods, or
// the steps run out) or [ErrRange].
func (r Rectifier) Inrush(ctx context.Context, bank Bank, limiter float64) (Inrush, error) {
	var f profile.Faults
	f.Under("rectifier", r.Validate())
	f.Under("bank", bank.Validate())
	f.NonNegative("limiter", limiter, "ohm")
	if err := f.Err(); err != nil {
		return Inrush{}, err
	}
	r, bank = r.High(), bank.High()
	bank.SeriesResistance += limiter
	if res, ind := r.loop(); res > 0 && ind < shortestInductance/r.Frequency*(res+bank.SeriesResistance) {
		r.Inductance = 0 // as for a rectifier with so much resistance of its own
	}
	c := charging{ctx: ctx, r: r, bus: Bus{Bank: bank}}
	width := 2 * math.Pi / float64(r.Kind.pulses())
	peak := func(in charged) float64 { return in.peak }
	square := func(in charged) float64 { return in.squares() }
	atPeak := c.worst(width, peak)
	atI2t := c.worst(width, square)
	a := c.complete(atPeak)
	b := a
	if atI2t != atPeak {
		b = c.complete(atI2t)
	}
	if c.err != nil {
		return Inrush{}, fmt.Errorf("inrush: %w", c.err)
	}
	if b.peak > a.peak {
		atPeak = atI2t
	}
	if a.squares() > b.squares() {
		atI2t = atPeak
	}
	return Inrush{
		Peak: math.Max(a.peak, b.peak), PeakAngle: atPeak,
		I2t: math.Max(a.squares(), b.squares()), I2tAngle: atI2t,
		Highest: math.Max(a.highest, b.highest), Duration: math.Max(a.duration, b.duration),
	}, nil
}

// charging is the search for the worst inrush. The first error is kept.
type charging struct {
	ctx context.Context
	r   Rectifier
	bus Bus
	err error
}

// charged is what one charging from some phase comes to.
type charged struct {
	peak     float64
	i2t      [3]float64 // of each line [A² s]
	highest  float64
	duration float64 // 0: not yet charged
	end      RippleState
}

func (c charged) squares() float64 { return math.Max(c.i2t[0], math.Max(c.i2t[1], c.i2t[2])) }

// charge goes on with a charging for some periods.
func (c *charging) charge(from charged, at, periods float64) charged {
	if c.err != nil {
		return from
	}
	none, err := profile.Constant(0, at/c.r.Frequency, (at+periods)/c.r.Frequency)
	if err != nil {
		c.err = err
		return from
	}
	w, err := c.bus.SimulateRipple(c.ctx, c.r, RippleLoad{Power: none}, from.end)
	if err != nil {
		c.err = err
		return from
	}
	for j, l := range w.Lines {
		rms := l.RMS()
		from.i2t[j] += rms * rms * l.Duration()
		from.peak = math.Max(from.peak, math.Abs(l.AbsMax().V))
	}
	from.highest = math.Max(from.highest, w.Highest.V)
	if goal := 0.95 * c.r.NoLoadVoltage(); from.duration == 0 && w.End.Voltage >= goal {
		from.duration = w.Voltage.End()
		bank := w.BankCurrent.Scale(1 / c.bus.Bank.Capacitance).Antiderivative(w.Start.Voltage)
		if t := bank.Crossings(nil, goal); len(t) > 0 {
			from.duration = t[0]
		}
	}
	from.end = w.End
	return from
}

func (c *charging) try(angle float64) charged {
	return c.charge(charged{end: RippleState{Angle: angle}}, 0, inrushPeriods)
}

// worst returns the phase in [0, width) that makes a figure largest.
func (c *charging) worst(width float64, figure func(charged) float64) float64 {
	best, most := 0.0, math.Inf(-1)
	for k := range inrushAngles {
		a := width * float64(k) / inrushAngles
		if v := figure(c.try(a)); v > most {
			best, most = a, v
		}
	}
	// Golden section between the neighbours of the worst.
	const ratio = 0.6180339887498949
	lo, hi := best-width/inrushAngles, best+width/inrushAngles
	x, y := hi-ratio*(hi-lo), lo+ratio*(hi-lo)
	fx, fy := figure(c.try(x)), figure(c.try(y))
	for hi-lo > 1e-4*width && c.err == nil {
		if fx > fy {
			hi, y, fy = y, x, fx
			x = hi - ratio*(hi-lo)
			fx = figure(c.try(x))
		} else {
			lo, x, fx = x, y, fy
			y = lo + ratio*(hi-lo)
			fy = figure(c.try(y))
		}
	}
	if a := (lo + hi) / 2; figure(c.try(a)) > most {
		best = math.Mod(a+width, width)
	}
	return best
}

// complete follows the charging from a phase to its end.
func (c *charging) complete(angle float64) charged {
	now := c.try(angle)
	done := float64(inrushPeriods)
	for step := done; c.err == nil; step = math.Min(2*step, mostPeriods/2) {
		if done > inrushMost {
			c.err = fmt.Errorf("%w: the bank is at %.4g V after %d periods", ErrBudget, now.end.Voltage, inrushMost)
			break
		}
		before := now.squares()
		now = c.charge(now, done, step)
		done += step
		if now.squares()-before <= inrushEnough*now.squares() && now.duration > 0 {
			break
		}
	}
	return now
}
