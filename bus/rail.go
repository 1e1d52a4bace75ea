package bus

import (
	"fmt"

	"example.com/headroom/profile"
)

// Rail is the auxiliary low-voltage rail of a machine, 24 V and the like: the
// supply of controllers, logic of drives, sensors, valves and holding brakes.
//
// Every consumer hangs on its own cable at one distribution point, which the feed
// connects to the supply:
//
//	u = Vs - Rfeed Σ i            voltage of the distribution point
//	v = u - R i                   voltage of one consumer behind its cable
//	i = P/v, I or v/Rc            by its kind
//
// A constant-power consumer behind a resistance has v² - u v + R P = 0 and works
// at the larger root; below u = 2 √(R P) it has none, and the voltage collapses.
//
// Common practice, no source: the logic of drives and encoders stays powered when
// the power of the bus is removed for safety, so that position is not lost and
// faults can be read. The rail may be fed from the mains, or from the bus by a
// converter: then a dip of the mains leaves it running for as long as the bus
// lasts, and longer while axes brake into the bus, see [Bank.RideThrough]. A rail
// fed from the bus alone is lost when the bus is removed.
//
// Holding brakes that need power to release fall when the rail browns out, on
// moving axes too; a brake that holds a vertical load must not depend on the rail
// staying up, nor a person on that brake alone. Local codes and licensed practice
// decide.
type Rail struct {
	Supply       RailSupply
	Capacitance  float64 // across the rail, at the supply [F], >= 0
	Feed         *Cable  // from the supply to the distribution point; nil: none
	Consumers    []RailConsumer
	Simultaneity float64 // share of the pull-in draw above holding, of consumers without schedule, that falls together [1], above 0 to 1; 0: 1, all of it. At least the largest single one. Not with groups
	Period       float64 // of the cycle that schedules refer to [s]; 0: there are no schedules
}

// RailSupply feeds the rail. It holds its voltage up to its current; what a
// supply does beyond is not in the model.
type RailSupply struct {
	Voltage      float64 // nominal [V], > 0
	Tolerance    float64 // fraction by which it may differ, 0 to below 1
	RatedCurrent float64 // continuous, in the ambient of the machine [A]; 0: not chosen yet
	BoostCurrent float64 // for BoostTime, then to rest as the maker says [A], >= RatedCurrent; 0: none
	BoostTime    float64 // [s], > 0 with BoostCurrent
	Efficiency   float64 // output over input power [1], above 0 to 1

	// What it runs on when the mains dips: one of the two, or neither.
	HoldUpTime float64      // at rated current and lowest mains [s]; 0: not given
	Store      *SupplyStore // nil: not given
}

// SupplyStore is the capacitor on the primary side of a supply or converter.
type SupplyStore struct {
	Capacitance float64 // [F], > 0
	From        float64 // voltage when the mains goes, the lowest [V], > To
	To          float64 // lowest voltage from which the supply still holds the rail [V], > 0
}

// DrawKind says how the draw of a consumer follows its voltage.
type DrawKind int

// Kinds of draw.
const (
	// PowerDraw is a consumer with a converter inside, as logic and fieldbus
	// nodes: the lower the voltage, the more current.
	PowerDraw DrawKind = iota
	// CurrentDraw is a consumer with a linear regulator or a current source
	// inside, as many sensors and loops.
	CurrentDraw
	// OhmicDraw is a coil or heater, as valves, contactors and brakes: power goes with
	// the square of the voltage. Its draw is that of the cold coil, which at 0 °C is
	// 8.5 % above that at 20 °C; a coil hot from service takes less and pulls in
	// with less force, so that its minimum voltage is that of the hot coil.
	OhmicDraw
)

// RailConsumer is one consumer, or several that are alike. Off it draws nothing;
// what draws something all the time is always on.
//
// A holding brake with economiser draws PullIn for PullInTime, then Holding; one
// without has no PullIn. Draws are given as power at a voltage for every kind; a
// current there is power over voltage.
type RailConsumer struct {
	Name  string
	Count int // >= 1
	Kind  DrawKind

	Voltage    float64 // at which the draws hold [V]; 0: nominal voltage of the supply
	Holding    float64 // draw of one: standing, or energised and past pull-in [W], >= 0
	PullIn     float64 // draw of one while it pulls in or starts [W], >= Holding; 0: as Holding
	PullInTime float64 // [s], > 0 with PullIn

	MinVoltage float64 // lowest at its terminals at which it works [V]; 0: none
	MaxVoltage float64 // highest it bears [V]; 0: none

	Cable *Cable // of each one, from the distribution point; nil: none

	// Without schedule it may switch on at any time.
	Group      string  // consumers of different groups never pull in at the same time; "" may with any
	Duty       float64 // share of the time it is on, for the mean [1]; 0: all the time
	Switchings float64 // pull-ins per second, for the mean [1/s], >= 0

	// Schedule: when it is on in every cycle, ascending.
	On []RailSpan
}

// RailSpan is a stretch of time within a cycle, from From [s] to To [s]. A span that
// runs on into the next cycle has To beyond the period.
type RailSpan struct{ From, To float64 }

// Sizes of a rail, so that every answer comes soon.
const (
	mostConsumers = 100
	mostSpans     = 100
)

// Low returns the lowest voltage of the supply [V].
func (s RailSupply) Low() float64 { return s.Voltage * (1 - s.Tolerance) }

// High returns the highest voltage of the supply [V].
func (s RailSupply) High() float64 { return s.Voltage * (1 + s.Tolerance) }

// Validate returns nil, or an error that joins the faults of the fields.
func (s RailSupply) Validate() error {
	var f profile.Faults
	f.Positive("voltage", s.Voltage, "V")
	checkTolerance(&f, "tolerance", s.Tolerance)
	f.NonNegative("ratedCurrent", s.RatedCurrent, "A")
	if f.NonNegative("boostCurrent", s.BoostCurrent, "A") && s.BoostCurrent > 0 {
		if !(s.BoostCurrent >= s.RatedCurrent && s.RatedCurrent > 0) {
			f.Add("boostCurrent", s.BoostCurrent, "0, or at least ratedCurrent, which must be given")
		}
		f.Positive("boostTime", s.BoostTime, "s")
	} else if s.BoostTime != 0 {
		f.Add("boostTime", s.BoostTime, "0 without boostCurrent")
	}
	if !(s.Efficiency > 0 && s.Efficiency <= 1) {
		f.Add("efficiency", s.Efficiency, "> 0 and <= 1")
	}
	if f.NonNegative("holdUpTime", s.HoldUpTime, "s") && s.HoldUpTime > 0 {
		if s.RatedCurrent == 0 {
			f.Add("holdUpTime", s.HoldUpTime, "0 without ratedCurrent, at which it holds")
		}
		if s.Store != nil {
			f.Add("holdUpTime", s.HoldUpTime, "0 with a store: one of the two")
		}
	}
	if s.Store != nil {
		f.Under("store", s.Store.validate())
	}
	return f.Err()
}

func (s SupplyStore) validate() error {
	var f profile.Faults
	f.Positive("capacitance", s.Capacitance, "F")
	checkFall(&f, s.From, s.To)
	return f.Err()
}

// checkFall checks two voltages, the second below the first.
func checkFall(f *profile.Faults, from, to float64) bool {
	ok := f.Positive("from", from, "V")
	if !f.Positive("to", to, "V") || !ok {
		return false
	}
	if !(to < from) {
		f.Add("to", to, fmt.Sprintf("below from, %g V", from))
		return false
	}
	return true
}

// Validate returns nil, or an error that joins the faults of the fields.
func (r Rail) Validate() error {
	var f profile.Faults
	f.Under("supply", r.Supply.Validate())
	f.NonNegative("capacitance", r.Capacitance, "F")
	checkCable(&f, "feed", r.Feed)
	f.Within("simultaneity", r.Simultaneity, 0, 1, "")
	period := f.NonNegative("period", r.Period, "s")
	if n := len(r.Consumers); n < 1 || n > mostConsumers {
		f.Add("consumers", n, fmt.Sprintf("from 1 to %d", mostConsumers))
		return f.Err()
	}
	spans, grouped := 0, false
	for i, c := range r.Consumers {
		f.Under(fmt.Sprintf("consumers[%d]", i), c.validate(r.Period, period))
		spans += len(c.On)
		grouped = grouped || c.Group != ""
	}
	if spans > mostSpans {
		f.Add("consumers", spans, fmt.Sprintf("at most %d scheduled spans in all", mostSpans))
	}
	if grouped && r.Simultaneity > 0 && r.Simultaneity < 1 {
		f.Add("simultaneity", r.Simultaneity, "0 or 1 with groups: one of the two")
	}
	return f.Err()
}

// checkCable records the faults of a cable that is there.
func checkCable(f *profile.Faults, path string, c *Cable) {
	if c == nil {
		return
	}
	_, err := c.LoopResistance()
	f.Under(path, err)
}

func (c RailConsumer) validate(period float64, knownPeriod bool) error {
	var f profile.Faults
	if c.Count < 1 || c.Count > 1e6 {
		f.Add("count", c.Count, "from 1 to 1e6")
	}
	if c.Kind < PowerDraw || c.Kind > OhmicDraw {
		f.Add("kind", int(c.Kind), "constant power, constant current or ohmic")
	}
	f.NonNegative("voltage", c.Voltage, "V")
	f.NonNegative("holding", c.Holding, "W")
	if f.NonNegative("pullIn", c.PullIn, "W") && c.PullIn > 0 {
		if c.PullIn < c.Holding {
			f.Add("pullIn", c.PullIn, "0, or at least holding")
		}
		if f.Positive("pullInTime", c.PullInTime, "s") && period > 0 && !(c.PullInTime <= period) {
			f.Add("pullInTime", c.PullInTime, "at most the period")
		}
	} else if c.PullInTime != 0 {
		f.Add("pullInTime", c.PullInTime, "0 without pullIn")
	}
	f.NonNegative("minVoltage", c.MinVoltage, "V")
	if f.NonNegative("maxVoltage", c.MaxVoltage, "V") && c.MaxVoltage > 0 && !(c.MaxVoltage > c.MinVoltage) {
		f.Add("maxVoltage", c.MaxVoltage, "0, or above minVoltage")
	}
	checkCable(&f, "cable", c.Cable)
	f.Within("duty", c.Duty, 0, 1, "")
	if f.NonNegative("switchings", c.Switchings, "1/s") && c.Switchings > 0 && !(c.Switchings*c.PullInTime <= c.onShare()*(1+1e-9)) {
		f.Add("switchings", c.Switchings, "so few that the pull-ins fit into the duty")
	}
	if len(c.On) > 0 && knownPeriod {
		c.checkSchedule(&f, period)
	}
	return f.Err()
}

func (c RailConsumer) checkSchedule(f *profile.Faults, period float64) {
	if period == 0 {
		f.Add("on", len(c.On), "no spans without a period")
		return
	}
	if c.Duty != 0 || c.Switchings != 0 || c.Group != "" {
		f.Add("on", len(c.On), "no spans beside duty, switchings or group: the schedule says it all")
	}
	for i, s := range c.On {
		path := fmt.Sprintf("on[%d].", i)
		from := 0.0
		if i > 0 {
			from = c.On[i-1].To
		}
		to := c.On[0].From + period // where the next cycle's first one begins
		if !(s.From >= from && s.From < period) {
			f.Add(path+"from", s.From, fmt.Sprintf("from %g s, after the span before, to below the period of %g s", from, period))
		}
		if !(s.To > s.From && s.To <= to) {
			f.Add(path+"to", s.To, fmt.Sprintf("above from, and at most %g s, where the first span comes again", to))
		}
	}
}

// onShare returns the share of time that a consumer without schedule is on.
func (c RailConsumer) onShare() float64 {
	if c.Duty == 0 {
		return 1
	}
	return c.Duty
}
