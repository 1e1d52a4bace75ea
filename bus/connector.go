package bus

import (
	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// DefaultSharing is the share of their joint rating that contacts in parallel
// bear when nothing else is given, because current does not divide evenly among
// them: 0.8 (common practice, no source).
const DefaultSharing = 0.8

// Connector is one plug and socket of a two-wire connection: each pole on one
// contact or on several in parallel. The zero value is invalid.
//
// Contacts must not be parted under load: direct current does not pass through
// zero, and the arc stands.
type Connector struct {
	RatedCurrent      float64 // that one contact may carry continuously [A], > 0; with as many contacts loaded, the wire and the ambient of the machine
	PeakCurrent       float64 // that one contact may carry for the length of the peaks [A], >= RatedCurrent; 0: not known, RatedCurrent is held against the peak as well, on the safe side
	Contacts          int     // in parallel on each pole, >= 1
	Sharing           float64 // share of their joint rating that they bear [1], above 0 to 1; 0: DefaultSharing, or 1 for a single contact
	ContactResistance float64 // of one mated contact [ohm], >= 0; the highest it may reach in service
}

// Validate returns nil, or an error that joins the faults of the fields.
func (c Connector) Validate() error {
	var f profile.Faults
	rated := f.Positive("ratedCurrent", c.RatedCurrent, "A")
	if f.NonNegative("peakCurrent", c.PeakCurrent, "A") && rated && c.PeakCurrent > 0 && !(c.PeakCurrent >= c.RatedCurrent) {
		f.Add("peakCurrent", c.PeakCurrent, "0, or at least ratedCurrent")
	}
	if c.Contacts < 1 {
		f.Add("contacts", c.Contacts, "1 or more")
	}
	f.Within("sharing", c.Sharing, 0, 1, "")
	f.NonNegative("contactResistance", c.ContactResistance, "ohm")
	return f.Err()
}

// LoopResistance returns the resistance of both poles together [ohm], 2 Rc/n: the
// terminals of a [Cable], or part of them.
func (c Connector) LoopResistance() (float64, error) {
	if err := c.Validate(); err != nil {
		return 0, err
	}
	r := 2 * (c.ContactResistance / float64(c.Contacts))
	var f profile.Faults
	needFinite(&f, "contactResistance", c.ContactResistance, r)
	return r, f.Err()
}

// ConnectorLoading is a current held against the rating of a connector.
type ConnectorLoading struct {
	Continuous energy.Loading // RMS current of a pole [A] against rated current · contacts · sharing
	Peak       energy.Loading // peak current of a pole [A] against peak current · contacts · sharing
	Loss       float64        // in both poles together, at the RMS current [W]
}

// Within reports whether both ratings are kept.
func (l ConnectorLoading) Within() bool { return l.Continuous.Within() && l.Peak.Within() }

// Loading holds the RMS and the peak of a current [A], magnitudes, against the
// rating. peak is at least rms.
func (c Connector) Loading(rms, peak float64) (ConnectorLoading, error) {
	var f profile.Faults
	r, err := c.LoopResistance()
	f.Under("", err)
	if f.NonNegative("rms", rms, "A") && f.NonNegative("peak", peak, "A") && !(peak >= rms) {
		f.Add("peak", peak, "at least rms")
	}
	if err := f.Err(); err != nil {
		return ConnectorLoading{}, err
	}
	n, sharing := float64(c.Contacts), c.Sharing
	switch {
	case sharing > 0:
	case c.Contacts == 1:
		sharing = 1
	default:
		sharing = DefaultSharing
	}
	highest := c.PeakCurrent
	if highest == 0 {
		highest = c.RatedCurrent
	}
	var l ConnectorLoading
	l.Continuous, err = energy.NewLoading(rms, n*c.RatedCurrent, sharing)
	f.Under("rms", err)
	l.Peak, err = energy.NewLoading(peak, n*highest, sharing)
	f.Under("peak", err)
	l.Loss = rms * rms * r
	needFinite(&f, "rms", rms, l.Loss)
	if err := f.Err(); err != nil {
		return ConnectorLoading{}, err
	}
	return l, nil
}
