package sizing

import (
	"fmt"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
)

// asked reads what the document asks for besides the assessment.
func (r *reader) asked(o *object, m *Machine) {
	for _, n := range r.list(o, "howMany", optional) {
		ho := r.objectOf(n)
		m.HowMany = append(m.HowMany, Copies{r.text(ho, "station", required), r.count(ho, "upTo", required)})
		ho.unread(&r.faults)
	}
	m.Share = r.flag(o, "split")
	m.AnyPhase = r.anyPhase(r.object(o, "anyPhase", optional))
	m.Lock = r.lock(r.object(o, "lock", optional))
	m.Study = r.study(r.object(o, "study", optional))
	m.Rank = r.flag(o, "sensitivities")
}

func (r *reader) anyPhase(o *object) *AnyPhase {
	if o == nil {
		return nil
	}
	x := &AnyPhase{}
	for _, n := range r.list(o, "windows", optional) {
		x.Windows = append(x.Windows, r.quantityOf(n, quantity.Time))
	}
	if e := r.object(o, "exact", optional); e != nil {
		x.Exact = &Exact{
			Horizon:   r.quantity(e, "horizon", quantity.Time, notZero),
			Tolerance: r.quantity(e, "tolerance", quantity.Voltage, notZero),
		}
		e.unread(&r.faults)
	}
	o.unread(&r.faults)
	return x
}

// aims are those of a document's lock.
var aims = map[string]bus.Aim{
	"least sag": bus.LeastSag, "least rise": bus.LeastRise, "least peak power": bus.LeastPeak, "least resistor energy": bus.LeastResistor,
}

func (r *reader) lock(o *object) *Lock {
	if o == nil {
		return nil
	}
	l := &Lock{Aim: aims[r.choice(o, "aim", required, sortedKeys(aims)...)], Every: r.quantity(o, "every", quantity.Time, notZero)}
	o.unread(&r.faults)
	return l
}

// startDelay reads the range of the start delay of a station.
func (r *reader) startDelay(o *object) *StartDelay {
	if o == nil {
		return nil
	}
	d := &StartDelay{Earliest: r.quantity(o, "earliest", quantity.Time, optional), Latest: r.quantity(o, "latest", quantity.Time, required)}
	o.unread(&r.faults)
	return d
}

// unusedDelays records start delays that no lock chooses.
func (r *reader) unusedDelays(m *Machine) {
	for i, s := range m.Stations {
		if s.StartDelay != nil && m.Lock == nil {
			r.faults.Add(fmt.Sprintf("stations[%d].startDelay", i), "given", "none without a lock of the machine")
		}
	}
}

func (r *reader) study(o *object) *Study {
	if o == nil {
		return nil
	}
	s := &Study{Count: r.count(o, "samples", required)}
	seed := r.count(o, "seed", required)
	if seed < 0 {
		r.faults.Add(o.path+".seed", seed, "a whole number from 0")
	}
	s.Seed = uint64(max(0, seed))
	o.unread(&r.faults)
	return s
}
