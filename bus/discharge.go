package bus

import (
	"math"

	"example.com/headroom/profile"
)

// DischargeRule is what a code asks of capacitors after the supply is cut off.
type DischargeRule struct {
	Voltage float64 // to which the bus has to fall [V], > 0
	Time    float64 // within which [s], > 0
	Charge  float64 // up to which stored charge it does not matter [C], >= 0
}

// Rules of the trade, as examples. Which one applies, in which edition, and what is to be
// done where it cannot be kept (a warning that names the waiting time, covers, a
// switch) is for the local codes and licensed practice to say. Covers and plugs whose
// bare pins can be touched have shorter times.
var (
	// IEC 60204-1, 6.2.4 (LOOKED UP-2, in a translation; edition not stated): 60 V within 5 s,
	// not for 60 µC or less. NFPA 79-2024, 6.5.1 has the same (LOOKED UP-2).
	MachineDischarge = DischargeRule{60, 5, 60e-6}
	// IEC 61800-5-1:2007, 4.3.11 (FROM MEMORY, unconfirmed): the capacitors of a drive, 60 V
	// within 5 s, not for 50 µC or less.
	DriveDischarge = DischargeRule{60, 5, 50e-6}
	// NEC 460.6: power capacitors of the lower voltage class, 50 V within one minute (LOOKED
	// UP-2; five minutes above, FROM MEMORY).
	CapacitorDischarge = DischargeRule{50, 60, 0}
)

// Validate returns nil, or an error that joins the faults of the fields.
func (r DischargeRule) Validate() error {
	var f profile.Faults
	f.Positive("voltage", r.Voltage, "V")
	f.Positive("time", r.Time, "s")
	f.NonNegative("charge", r.Charge, "C")
	return f.Err()
}

// Standby is a power that the loads go on to draw after the supply is cut off.
type Standby struct {
	Power   float64 // [W], >= 0
	Voltage float64 // down to which they draw it [V], >= 0
}

// Discharge is how the bank runs down after the supply is cut off.
type Discharge struct {
	Time        float64 // until the voltage of the rule, by the bleeder alone [s]; 0 when Endless
	Endless     bool    // without a bleeder nothing is sure to discharge the bank
	Within      bool    // whether the rule is kept by the bleeder alone, or does not apply
	Exempt      bool    // whether the stored charge is so small that the rule does not apply
	Charge      float64 // that is stored at the start [C]
	Energy      float64 // that is stored at the start [J]
	WithStandby float64 // the time with the loads' standby besides [s]; 0 when they never get there

	// MostBleeder is the highest resistance that keeps the rule [ohm]; 0 when the bus is
	// below the voltage of the rule already, or its own series resistance is too much.
	MostBleeder      float64
	MostBleederPower float64 // that it takes at the voltage of normal running, always [W]
	BleederPower     float64 // that the bleeder that there is takes then [W]
}

// Discharge holds the discharge of the bank against a rule, from the highest voltage at
// which a drive trips, from [V], and with the highest capacitance. running is the
// highest voltage of normal running [V], at which the bleeder takes its power always: the
// price of the rule, and what it has to be rated for.
//
//	t = (R + Rs) C ln(from/V)          by the bleeder alone, [Bus.DischargeTime]
//	R <= t/(C ln(from/V)) - Rs         for the time of the rule
//	t = R C/2 ln((from² + P R)/(V² + P R))    with a constant power P besides
//	t = C (from² - V²)/(2 P)                  without a bleeder
//
// The last two leave Rs out and follow from C/2 d(V²)/dt = -V²/R - P (own derivation).
// The rule may not count on standby: it ends when logic fails or a fuse blows, and so
// WithStandby is for information alone. The charge is taken at the start, C·from, to the
// safe side.
//
// A bank that should be discharged may not be: bleeders fail open. Measure before you
// touch; local codes and licensed practice decide.
func (b Bus) Discharge(rule DischargeRule, standby Standby, from, running float64) (Discharge, error) {
	var f profile.Faults
	f.Under("bus", b.Validate())
	f.Under("rule", rule.Validate())
	f.NonNegative("standby.power", standby.Power, "W")
	f.NonNegative("standby.voltage", standby.Voltage, "V")
	f.Positive("from", from, "V")
	f.Positive("running", running, "V")
	if err := f.Err(); err != nil {
		return Discharge{}, err
	}
	b.Bank = b.Bank.High()
	c := b.Bank.Capacitance
	d := Discharge{Charge: c * from, Energy: b.Bank.Energy(from)}
	d.Exempt = d.Charge <= rule.Charge
	d.Time = b.DischargeTime(from, rule.Voltage)
	if math.IsInf(d.Time, 1) {
		d.Time, d.Endless = 0, true
	}
	d.Within = d.Exempt || !d.Endless && d.Time <= rule.Time
	d.WithStandby = b.standbyTime(standby, from, rule.Voltage)
	if from > rule.Voltage {
		d.MostBleeder = math.Max(0, rule.Time/(c*math.Log(from/rule.Voltage))-b.Bank.SeriesResistance)
	}
	if d.MostBleeder > 0 {
		d.MostBleederPower = running * running / d.MostBleeder
	}
	if b.Bleeder > 0 {
		d.BleederPower = running * running / b.Bleeder
	}
	if sum := d.Time + d.WithStandby + d.Charge + d.Energy + d.MostBleeder + d.MostBleederPower + d.BleederPower; math.IsNaN(sum) || math.IsInf(sum, 0) {
		f.Add("from", from, "a voltage that leaves times and energies finite")
		return Discharge{}, f.Err()
	}
	return d, nil
}

// standbyTime returns the time to discharge to v with standby, 0 when that never happens.
func (b Bus) standbyTime(s Standby, from, v float64) float64 {
	if !(from > v) {
		return 0
	}
	until := math.Min(from, math.Max(v, s.Voltage))
	r, c := b.Bleeder, b.Bank.Capacitance
	t := 0.0
	switch {
	case s.Power > 0 && r > 0:
		// ln((from² + P R)/(until² + P R))
		t = r * c / 2 * math.Log1p((from-until)*(from+until)/(until*until+s.Power*r))
	case s.Power > 0:
		t = c * (from - until) * (from + until) / (2 * s.Power)
	default:
		until = from
	}
	if until > v {
		if r == 0 {
			return 0
		}
		t += b.DischargeTime(until, v)
	}
	return t
}
