package bus

import (
	"math"

	"example.com/headroom/profile"
)

// Short is a short circuit across the bus, at the end of a cable: what the bank
// delivers into it. The source adds what it can deliver; that is not in these
// figures, and comes on top.
//
// The bank at first voltage V in series with L and R, the short closed at t = 0:
//
//	L di/dt + R i + (1/C) ∫ i dt = V        i(0) = 0
//	α = R/2L,  ω0² = 1/(L C),  ω² = |ω0² - α²|
//	i = (V/L) e^(-αt) s(t),   s = sin(ωt)/ω for α < ω0,  t for α = ω0,  sinh(ωt)/ω for α > ω0
//	peak  V √(C/L) e^(-α t*)  at  t* = atan(ω/α)/ω,  1/α,  ln((α+ω)/(α-ω))/2ω
//
// and without L: i = (V/R) e^(-t/RC), at its peak at once. In every case the
// whole energy ends as heat, so that
//
//	½ C V² = R ∫ i² dt      I²t = C V²/(2R)
//
// (series RLC circuit, any circuit text). Where the current rings, the voltage
// of the bank would reverse; the freewheeling diodes of the drives then carry the
// current past the bank, so that beyond the first quarter the true current
// differs while the energy is the same.
//
// Such a short delivers kiloamperes, melts tools and throws metal. A protective
// device in this path must be rated for direct current, at this voltage and this
// prospective current and for the time constant L/R; one rated for alternating
// current alone may not break it. Local codes and licensed practice decide.
type Short struct {
	Voltage     float64 // of the bank when the short closes [V], > 0; the highest of the bus
	Capacitance float64 // [F], > 0; that of [Bank.High]
	Resistance  float64 // of the whole loop: bank, cable, connectors [ohm], > 0; the lowest, cold
	Inductance  float64 // of the whole loop [H], >= 0; 0 puts the peak on the safe side
}

// Short returns a short circuit of the bank charged to voltage [V] at the end
// of a path of resistance [ohm] and inductance [H]. Use it on [Bank.High].
func (b Bank) Short(voltage, resistance, inductance float64) Short {
	return Short{Voltage: voltage, Capacitance: b.Capacitance, Resistance: b.SeriesResistance + resistance, Inductance: inductance}
}

// Validate returns nil, or an error that joins the faults of the fields.
func (s Short) Validate() error {
	var f profile.Faults
	f.Positive("voltage", s.Voltage, "V")
	f.Positive("capacitance", s.Capacitance, "F")
	f.Positive("resistance", s.Resistance, "ohm")
	f.NonNegative("inductance", s.Inductance, "H")
	return f.Err()
}

// ShortFigures is what the bank delivers into a short circuit until it is empty.
type ShortFigures struct {
	Peak         float64 // highest current, prospective [A]
	PeakTime     float64 // when it is reached [s]
	I2t          float64 // ∫ i² dt until the bank is empty [A²s]
	Energy       float64 // of the bank [J]
	TimeConstant float64 // R C, of the decay [s]
	RiseConstant float64 // L/R, of the rise [s]
	Damping      float64 // α/ω0 = (R/2) √(C/L); below 1 the current rings; 0 without inductance, where it does not
}

// loop is the series circuit by its rates [1/s].
type loop struct {
	alpha, omega0, omega float64 // omega² = |omega0² - alpha²|
	over                 bool    // alpha > omega0
}

func (s Short) loop() loop {
	l := loop{alpha: s.Resistance / s.Inductance / 2, omega0: 1 / math.Sqrt(s.Inductance) / math.Sqrt(s.Capacitance)}
	// (ω0-α)(ω0+α) keeps its digits near the critical case.
	d := l.omega0 - l.alpha
	l.omega, l.over = math.Sqrt(math.Abs(d))*math.Sqrt(l.omega0+l.alpha), d < 0
	return l
}

// slow returns α - ω of the overdamped loop, ω0²/(α+ω).
func (l loop) slow() float64 { return l.omega0 * (l.omega0 / (l.alpha + l.omega)) }

// critical reports whether ω is too small to tell from none.
func (l loop) critical() bool { return l.omega <= 1e-9*l.omega0 }

// peakTime returns when the current is highest.
func (l loop) peakTime() float64 {
	switch {
	case l.critical():
		return 1 / l.alpha
	case l.over:
		return math.Log((l.alpha+l.omega)/l.slow()) / (2 * l.omega)
	}
	return math.Atan2(l.omega, l.alpha) / l.omega
}

// waves returns e^(-αt) s(t) [s] and e^(-αt) (c(t) + α s(t)) [1], where c is the
// cosine that belongs to s: the shapes of current and voltage.
func (l loop) waves(t float64) (current, voltage float64) {
	switch {
	case l.critical():
		e := math.Exp(-l.alpha * t)
		return t * e, (1 + l.alpha*t) * e
	case l.over:
		// With a = α-ω and b = α+ω: (e^-at - e^-bt)/2ω and (b e^-at - a e^-bt)/2ω.
		a := l.slow()
		ea := math.Exp(-a * t)
		current = ea * -math.Expm1(-2*l.omega*t) / (2 * l.omega) // b - a = 2ω
		return current, ea + a*current
	}
	e := math.Exp(-l.alpha * t)
	sin, cos := math.Sincos(l.omega * t)
	return e * sin / l.omega, e * (cos + l.alpha*sin/l.omega)
}

// Figures returns what the bank delivers until it is empty.
func (s Short) Figures() (ShortFigures, error) {
	if err := s.Validate(); err != nil {
		return ShortFigures{}, err
	}
	v, c, r := s.Voltage, s.Capacitance, s.Resistance
	g := ShortFigures{
		Peak: v / r, I2t: c * v / 2 * (v / r), Energy: c * v / 2 * v, TimeConstant: r * c, RiseConstant: s.Inductance / r,
	}
	if s.Inductance > 0 {
		l := s.loop()
		g.PeakTime, g.Damping = l.peakTime(), l.alpha/l.omega0
		g.Peak = v * math.Sqrt(c/s.Inductance) * math.Exp(-l.alpha*g.PeakTime)
		if !(g.Damping < 1e6) { // e^(-αt*) = ω0/2α to 1e-12 and better: the peak is V/R
			g.Peak = v / r
		}
	}
	var f profile.Faults
	needFinite(&f, "voltage", v, g.Peak, g.PeakTime, g.I2t, g.Energy, g.TimeConstant, g.RiseConstant, g.Damping)
	if err := f.Err(); err != nil {
		return ShortFigures{}, err
	}
	return g, nil
}

// At returns the current at time t [s] >= 0 [A], and the I²t that has passed by
// then [A²s], from the balance of energy: what the bank has lost and the loop
// does not hold,
//
//	R ∫ i² dt = ½ C V² - ½ C v² - ½ L i²
//
// Rounding in it is 1e-15 of the whole I²t.
func (s Short) At(t float64) (current, i2t float64, err error) {
	if err := s.Validate(); err != nil {
		return 0, 0, err
	}
	var f profile.Faults
	f.NonNegative("t", t, "s")
	if err := f.Err(); err != nil {
		return 0, 0, err
	}
	v, c, r := s.Voltage, s.Capacitance, s.Resistance
	if s.Inductance == 0 {
		rate := 1 / r / c
		current = v / r * math.Exp(-rate*t)
		i2t = -math.Expm1(-2*rate*t) * (c * v / 2 * (v / r))
	} else {
		i, u := s.loop().waves(t)
		current = v / s.Inductance * i
		held := u*u + current/v*current/v*(s.Inductance/c)
		i2t = max(0, 1-held) * (c * v / 2 * (v / r))
	}
	needFinite(&f, "voltage", v, current, i2t)
	if err := f.Err(); err != nil {
		return 0, 0, err
	}
	return current, i2t, nil
}
