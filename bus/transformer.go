package bus

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Transformer feeds a rectifier from the mains. Its figures are those of a data
// sheet; three-phase transformers are taken as symmetrical and by their line
// quantities, whatever the connection of the windings. (Between windings in star
// and delta the waveform of the current differs on the two sides, its RMS hardly;
// the peaks given for the primary are those of like connections.)
type Transformer struct {
	Mains          Mains   // at the primary
	Secondary      float64 // no-load RMS at the nominal mains, between lines for three phases [V], > 0
	Rating         float64 // apparent power [VA], > 0
	ShortCircuit   float64 // short-circuit voltage over rated voltage, 0 to below 1; > 0 unless CopperLoss is
	CopperLoss     float64 // at rated current, all windings together [W], >= 0
	NoLoadLoss     float64 // in the iron [W], >= 0
	MagnetisingRMS float64 // no-load current in a line of the primary [A], >= 0
}

// Validate returns nil, or an error that joins the faults of the fields.
func (t Transformer) Validate() error {
	var f profile.Faults
	f.Under("mains", t.Mains.Validate())
	f.Positive("secondary", t.Secondary, "V")
	rated := f.Positive("rating", t.Rating, "VA")
	short := t.ShortCircuit >= 0 && t.ShortCircuit < 1
	if !short {
		f.Add("shortCircuit", t.ShortCircuit, "from 0 to below 1")
	}
	if f.NonNegative("copperLoss", t.CopperLoss, "W") && rated && short && t.ShortCircuit > 0 && !(t.CopperLoss <= t.ShortCircuit*t.Rating*(1+1e-9)) {
		f.Add("copperLoss", t.CopperLoss, fmt.Sprintf("at most %g W, which a short-circuit voltage of %g allows", t.ShortCircuit*t.Rating, t.ShortCircuit))
	}
	if t.ShortCircuit == 0 && t.CopperLoss == 0 {
		f.Add("shortCircuit", t.ShortCircuit, "> 0, or a copperLoss: one of them gives the impedance")
	}
	f.NonNegative("noLoadLoss", t.NoLoadLoss, "W")
	f.NonNegative("magnetisingRMS", t.MagnetisingRMS, "A")
	return f.Err()
}

// Impedance returns the short-circuit resistance [ohm] and inductance [H] of the
// transformer at its secondary, of each line where there are three:
//
//	Z = uk V²/S,   R = (Pcu/S) V²/S,   ωL = √(Z² - R²)
//
// from the short-circuit test (any text on electrical machines). Copper losses
// are those at working temperature; cold, R is about a fifth lower, which counts
// for inrush. A copper loss without a short-circuit voltage is resistance alone.
func (t Transformer) Impedance() (resistance, inductance float64) {
	base := t.Secondary * t.Secondary / t.Rating
	r := t.CopperLoss / t.Rating
	x := 0.0
	if t.ShortCircuit > r {
		x = math.Sqrt((t.ShortCircuit - r) * (t.ShortCircuit + r))
	}
	return r * base, x * base / (2 * math.Pi * t.Mains.Frequency)
}

// Rectifier returns the rectifier of a kind on the secondary, with the impedance
// of the transformer; that of the mains ahead of it is left out.
func (t Transformer) Rectifier(kind RectifierKind, threshold, resistance float64) (Rectifier, error) {
	var f profile.Faults
	f.Under("transformer", t.Validate())
	if t.Mains.Phases != kind.phases() && f.Err() == nil {
		f.Add("kind", kind.String(), fmt.Sprintf("a rectifier for %d phase(s)", t.Mains.Phases))
	}
	if err := f.Err(); err != nil {
		return Rectifier{}, err
	}
	r := Rectifier{
		Kind: kind, Voltage: t.Secondary, Frequency: t.Mains.Frequency,
		DiodeThreshold: threshold, DiodeResistance: resistance, LineTolerance: t.Mains.Tolerance,
	}
	r.Resistance, r.Inductance = t.Impedance()
	return r, r.Validate()
}

// Primary returns what the mains deliver when the secondary draws the given: the
// current transformed by the ratio of the no-load voltages, the power with the
// losses in the iron. Copper losses are in the real power of the secondary
// already, which is that of the EMF. The magnetising current is added to the RMS
// as a sum of squares, as if it were at right angles to the rest, and to the peak
// in full.
//
// Direct current that a half-wave rectifier draws is not transformed: it
// saturates the core. Use the figures of that connection without a transformer.
func (t Transformer) Primary(secondary MainsDraw) MainsDraw {
	ratio := t.Secondary / t.Mains.Voltage
	d := MainsDraw{
		RMS:  math.Hypot(secondary.RMS*ratio, t.MagnetisingRMS),
		Peak: secondary.Peak*ratio + math.Sqrt2*t.MagnetisingRMS,
		Real: secondary.Real + t.NoLoadLoss,
	}
	return t.Mains.complete(d)
}

// TransformerSize is what a transformer for a rectifier has to bear.
type TransformerSize struct {
	Apparent   float64 // rating to buy: no-load voltage times RMS current of the secondary [VA]
	RMS, Crest float64 // current in a line of the secondary [A]
	CopperLoss float64 // at that RMS, of the given transformer [W]
	Loading    float64 // Apparent over the rating of the given transformer [1]
}

// Size returns the rating needed for what the secondary draws, over a whole
// machine cycle by its RMS ([RippleResult.Mains]) or under a steady load
// ([Ripple.Secondary]). The windings are heated by the RMS of the peaky current,
// so that the rating exceeds the power by the inverse of the power factor. For
// cycles that last minutes the RMS is no fair figure: the hottest minutes count.
func (t Transformer) Size(secondary MainsDraw) TransformerSize {
	s := TransformerSize{RMS: secondary.RMS, Crest: secondary.Peak}
	s.Apparent = apparentPower(t.Mains.Phases, t.Secondary, secondary.RMS)
	s.Loading = s.Apparent / t.Rating
	s.CopperLoss = t.CopperLoss * s.Loading * s.Loading
	return s
}
