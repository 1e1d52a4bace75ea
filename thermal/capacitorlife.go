package thermal

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Boltzmann is the Boltzmann constant [eV/K] (SI 2019, exact: 1.380649e-23 J/K
// over 1.602176634e-19 C).
const Boltzmann = 8.617333262e-5

// LifeTenKelvin returns the life [s] at a temperature by the 10 K rule, from the
// life [s] that is rated at another [°C]: it doubles with every 10 K less.
//
//	L = L0 2^((T0-T)/10)
//
// A rule of the trade for aluminium electrolytic capacitors, fair between 40 °C
// and the rated temperature. Below 40 °C makers count no more than at 40 °C
// (common practice, no source), which is left to the caller.
func LifeTenKelvin(rated, ratedAt, at float64) (float64, error) {
	return life(profile.Faults{}, rated, ratedAt, at, func(t0, t float64) float64 { return math.Exp2((t0 - t) / 10) })
}

// LifeArrhenius returns the same by the law of Arrhenius with an activation energy
// [eV], > 0:
//
//	L = L0 exp( Ea/k (1/T - 1/T0) )        T in K
//
// It is the 10 K rule between 95 and 105 °C for .83 eV, between 45 and 55 °C for
// .62 eV.
func LifeArrhenius(rated, ratedAt, activation, at float64) (float64, error) {
	var f profile.Faults
	f.Positive("activation", activation, "eV")
	return life(f, rated, ratedAt, at, func(t0, t float64) float64 {
		return math.Exp(activation / Boltzmann * (1/(t+freezing) - 1/(t0+freezing)))
	})
}

func life(f profile.Faults, rated, ratedAt, at float64, factor func(t0, t float64) float64) (float64, error) {
	f.Positive("rated", rated, "s")
	for _, t := range []struct {
		path string
		v    float64
	}{{"ratedAt", ratedAt}, {"at", at}} {
		if checkTemperature(&f, t.path, t.v) && t.v == absoluteZero {
			f.Add(t.path, t.v, fmt.Sprintf("> %g °C", absoluteZero))
		}
	}
	if err := f.Err(); err != nil {
		return 0, err
	}
	l := rated * factor(ratedAt, at)
	needFinite(&f, "at", at, l)
	if err := f.Err(); err != nil {
		return 0, err
	}
	return l, nil
}

// LifeRule is the law by which the life of a capacitor follows its temperature.
type LifeRule struct {
	// Activation is the activation energy of the law of Arrhenius [eV], > 0; 0
	// stands for the 10 K rule.
	Activation float64

	// VoltageExponent multiplies the life by (rated voltage / voltage)^n; 0:
	// voltage is not counted. n from 2 to 5 is in use (common practice, no
	// source).
	VoltageExponent float64
}

// String names the rule.
func (r LifeRule) String() string {
	name := "10 K rule"
	if r.Activation > 0 {
		name = fmt.Sprintf("Arrhenius, %g eV", r.Activation)
	}
	if r.VoltageExponent > 0 {
		return fmt.Sprintf("%s, voltage to the power %g", name, r.VoltageExponent)
	}
	return name + ", voltage not counted"
}

// Capacitor is the thermal side of the capacitors of a bank, all alike. The zero
// value is invalid.
type Capacitor struct {
	ThermalResistance float64 // from the core of one to its surroundings [K/W], > 0
	Parallel          int     // strings side by side that share the ripple current evenly, >= 1
	Series            int     // capacitors in each string that share the voltage evenly, >= 1

	RatedLife float64 // of the endurance rating [s], > 0
	RatedCore float64 // core temperature of that rating: its ambient plus its rise by rated ripple, if it includes that [°C]
	Voltage   float64 // rated voltage of one [V], > 0

	Rule LifeRule
}

// Ripple is a part of the ripple current of a bank at one frequency.
type Ripple struct {
	Current          float64 // RMS, of the whole bank [A], >= 0
	SeriesResistance float64 // of one capacitor at that frequency, warm [Ω], >= 0
}

// CapacitorState is what the ripple makes of a bank.
type CapacitorState struct {
	Heat float64 // of one capacitor [W]
	Bank float64 // of all: what the cabinet gets [W]
	Core float64 // core temperature [°C]
	Life float64 // [s], by Rule
	Rule string  // the rule that Life follows
}

// Settle returns the state in an ambient [°C] at the voltage [V], >= 0, of the
// bank. Ripple currents of different frequencies add as heat,
//
//	P = Σ I² R        Tcore = Tambient + Rth P
//
// The life is an estimate that ranks choices, not a promise.
func (c Capacitor) Settle(ripple []Ripple, voltage, ambient float64) (CapacitorState, error) {
	var f profile.Faults
	c.check(&f)
	for i, r := range ripple {
		f.NonNegative(fmt.Sprintf("ripple[%d].current", i), r.Current, "A")
		f.NonNegative(fmt.Sprintf("ripple[%d].seriesResistance", i), r.SeriesResistance, "Ω")
	}
	f.NonNegative("voltage", voltage, "V")
	checkTemperature(&f, "ambient", ambient)
	if err := f.Err(); err != nil {
		return CapacitorState{}, err
	}
	s := CapacitorState{Rule: c.Rule.String()}
	for _, r := range ripple {
		i := r.Current / float64(c.Parallel)
		s.Heat += i * i * r.SeriesResistance
	}
	s.Bank = s.Heat * float64(c.Parallel) * float64(c.Series)
	s.Core = ambient + c.ThermalResistance*s.Heat
	needFinite(&f, "ripple", s.Heat, s.Heat, s.Bank, s.Core)
	if err := f.Err(); err != nil {
		return CapacitorState{}, err
	}
	var err error
	if c.Rule.Activation > 0 {
		s.Life, err = LifeArrhenius(c.RatedLife, c.RatedCore, c.Rule.Activation, s.Core)
	} else {
		s.Life, err = LifeTenKelvin(c.RatedLife, c.RatedCore, s.Core)
	}
	if err != nil {
		f.Add("ambient", ambient, "a temperature at which the life is finite")
		return CapacitorState{}, f.Err()
	}
	if n := c.Rule.VoltageExponent; n > 0 {
		each := voltage / float64(c.Series)
		if !(each > 0) {
			f.Add("voltage", voltage, "> 0 V, as the life counts it")
			return CapacitorState{}, f.Err()
		}
		s.Life *= math.Pow(c.Voltage/each, n)
		needFinite(&f, "voltage", voltage, s.Life)
		if err := f.Err(); err != nil {
			return CapacitorState{}, err
		}
	}
	return s, nil
}

// Validate returns nil, or an error with every field outside its domain.
func (c Capacitor) Validate() error {
	var f profile.Faults
	c.check(&f)
	return f.Err()
}

func (c Capacitor) check(f *profile.Faults) {
	f.Positive("thermalResistance", c.ThermalResistance, "K/W")
	for _, n := range []struct {
		path string
		v    int
	}{{"parallel", c.Parallel}, {"series", c.Series}} {
		if n.v < 1 {
			f.Add(n.path, n.v, "at least 1")
		}
	}
	f.Positive("ratedLife", c.RatedLife, "s")
	checkTemperature(f, "ratedCore", c.RatedCore)
	f.Positive("voltage", c.Voltage, "V")
	f.NonNegative("rule.activation", c.Rule.Activation, "eV")
	f.NonNegative("rule.voltageExponent", c.Rule.VoltageExponent, "")
}
