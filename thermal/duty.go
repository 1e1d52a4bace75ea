package thermal

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Activity is what a machine does during a part of its duty.
type Activity int

// Activities, in the words of IEC 60034-1 clause 4.2 (from memory).
const (
	Resting  Activity = iota // at rest and without current
	Starting                 // speeding up
	Loaded                   // at load, turning or holding
	NoLoad                   // turning without load
	Braking                  // slowing down electrically
)

// String names the activity.
func (a Activity) String() string {
	switch a {
	case Resting:
		return "at rest"
	case Starting:
		return "starting"
	case Loaded:
		return "loaded"
	case NoLoad:
		return "at no load"
	case Braking:
		return "braking electrically"
	}
	return fmt.Sprintf("activity %d", int(a))
}

// DutySegment is a part of a duty.
type DutySegment struct {
	Duration float64 // [s], > 0
	Activity Activity
	Torque   float64 // RMS over the segment [N·m], >= 0
	Speed    float64 // mean magnitude [rad/s], >= 0
}

// Duty is a sequence of segments that repeats for ever.
type Duty struct {
	Segments []DutySegment

	// NonPeriodic says that load and speed vary without a cycle, so that the
	// segments are only an example.
	NonPeriodic bool

	// TimeConstant is that of the machine [s], >= 0. 0: not known; then short-time
	// duty (S2) and discrete loads (S10) cannot be told from the periodic types.
	TimeConstant float64

	// StandstillCooling is how well the machine gives off heat while it stands,
	// relative to running [1], > 0 to 1; 0 stands for 1, as of a machine that
	// does not cool itself by its own fan.
	StandstillCooling float64
}

// DutyType is a duty type of IEC 60034-1, 1 for S1 to 10 for S10; 0: none of
// them.
type DutyType int

var dutyNames = [...]string{
	"none of S1 to S10",
	"S1, continuous",
	"S2, short-time",
	"S3, intermittent periodic",
	"S4, intermittent periodic with starting",
	"S5, intermittent periodic with electric braking",
	"S6, continuous-operation periodic",
	"S7, continuous-operation periodic with electric braking",
	"S8, continuous-operation periodic with related load and speed changes",
	"S9, non-periodic load and speed variations",
	"S10, discrete constant loads and speeds",
}

// String names the duty type.
func (t DutyType) String() string {
	if t < 0 || int(t) >= len(dutyNames) {
		return fmt.Sprintf("duty type %d", int(t))
	}
	return dutyNames[t]
}

// DutyClass is how a duty classifies.
type DutyClass struct {
	Type   DutyType
	Reason string
	Cycle  float64 // duration of the cycle [s]

	// CyclicDurationFactor is the part of the cycle under load, starting and
	// braking included [1]; with S6 the part that is loaded.
	CyclicDurationFactor float64

	// EquivalentTorque is the constant torque with the same mean copper loss
	// [N·m]: the RMS torque, time at standstill counted by StandstillCooling.
	EquivalentTorque float64
}

const (
	settledIn      = 4   // time constants after which a machine counts as settled, e^-4 = 2 %
	sameLoad       = .05 // relative difference of loads that count as one
	negligibleHeat = .05 // part of the copper loss below which starting and braking do not count
)

// Classify finds the duty type of IEC 60034-1 clause 4.2 (names read in a public
// companion standard, definitions from memory) that a duty is.
//
// Starting and braking count where they bring more than 5 % of the copper loss,
// which is taken to go with the square of torque. Loads within 5 % of each other
// in torque and speed are one. Segments of four time constants settle. A cycle
// with rests and several loads is none of the types; so is what mixes rest and
// no load: use its curves with a heat network instead.
func (d Duty) Classify() (DutyClass, error) {
	var f profile.Faults
	d.check(&f)
	if err := f.Err(); err != nil {
		return DutyClass{}, err
	}
	var c DutyClass
	var times, heats [Braking + 1]float64
	var loads []DutySegment
	cooling := d.StandstillCooling
	if cooling == 0 {
		cooling = 1
	}
	heat, cooled := 0.0, 0.0
	eachSettles := true
	for _, s := range d.Segments {
		c.Cycle += s.Duration
		times[s.Activity] += s.Duration
		heats[s.Activity] += s.Torque * s.Torque * s.Duration
		heat += s.Torque * s.Torque * s.Duration
		if s.Speed == 0 {
			cooled += s.Duration * cooling
		} else {
			cooled += s.Duration
		}
		if s.Activity == Loaded || s.Activity == NoLoad || s.Activity == Resting {
			eachSettles = eachSettles && d.TimeConstant > 0 && s.Duration >= settledIn*d.TimeConstant
		}
		if s.Activity == Loaded {
			if !known(loads, s) {
				loads = append(loads, s)
			}
		}
	}
	c.EquivalentTorque = math.Sqrt(heat / cooled)
	needFinite(&f, "segments", float64(len(d.Segments)), c.Cycle, c.EquivalentTorque)
	if err := f.Err(); err != nil {
		return DutyClass{}, err
	}
	c.CyclicDurationFactor = 1 - times[Resting]/c.Cycle
	starts, brakes := heats[Starting] > negligibleHeat*heat, heats[Braking] > negligibleHeat*heat
	rests, idles := times[Resting] > 0, times[NoLoad] > 0
	switch {
	case d.NonPeriodic:
		c.Type, c.Reason = 9, "load and speed vary without a cycle"
	case len(loads) == 0 && !starts && !brakes:
		c.Reason = "nothing is loaded"
	case eachSettles && len(loads) > 1:
		c.Type, c.Reason = 10, "several constant loads, each long enough to settle"
	case eachSettles && len(loads) == 1 && rests:
		c.Type, c.Reason = 1, "the load lasts until the machine is settled; the rest only relieves it"
	case rests && len(loads) == 1 && !idles && d.TimeConstant > 0 && times[Resting] >= settledIn*d.TimeConstant:
		c.Type, c.Reason = 2, "the rest is long enough to cool down, the load too short to settle"
	case rests && len(loads) <= 1 && !idles:
		switch {
		case brakes:
			c.Type, c.Reason = 5, "with rests, and electric braking that counts"
		case starts:
			c.Type, c.Reason = 4, "with rests, and starting that counts"
		default:
			c.Type, c.Reason = 3, "with rests; starting and braking do not count"
		}
	case rests:
		c.Reason = "with rests, no type has several loads or running at no load"
	case len(loads) > 1 && differ(loads) && !idles:
		c.Type, c.Reason = 8, "without rests, several loads at different speeds"
	case len(loads) == 1 && idles && !starts && !brakes:
		c.Type, c.Reason = 6, "without rests, one load and running at no load"
		c.CyclicDurationFactor = times[Loaded] / c.Cycle
	case len(loads) <= 1 && brakes && !idles:
		c.Type, c.Reason = 7, "without rests, one load with starting and electric braking that count"
	case len(loads) == 1 && !idles && !starts && !brakes:
		c.Type, c.Reason = 1, "one load without an end"
	default:
		c.Reason = "without rests, its loads, starts and no load fit no type together"
	}
	return c, nil
}

// known reports whether a load is among those seen.
func known(loads []DutySegment, s DutySegment) bool {
	for _, l := range loads {
		if close := func(a, b float64) bool { return math.Abs(a-b) <= sameLoad*math.Max(a, b) }; close(l.Torque, s.Torque) && close(l.Speed, s.Speed) {
			return true
		}
	}
	return false
}

// differ reports whether the speeds of loads differ.
func differ(loads []DutySegment) bool {
	for _, l := range loads[1:] {
		if math.Abs(l.Speed-loads[0].Speed) > sameLoad*math.Max(l.Speed, loads[0].Speed) {
			return true
		}
	}
	return false
}

// Validate returns nil, or an error with every field outside its domain.
func (d Duty) Validate() error {
	var f profile.Faults
	d.check(&f)
	return f.Err()
}

func (d Duty) check(f *profile.Faults) {
	if len(d.Segments) == 0 {
		f.Add("segments", nil, "at least one segment")
	}
	for i, s := range d.Segments {
		path := fmt.Sprintf("segments[%d]", i)
		f.Positive(path+".duration", s.Duration, "s")
		if s.Activity < Resting || s.Activity > Braking {
			f.Add(path+".activity", int(s.Activity), "Resting, Starting, Loaded, NoLoad or Braking")
		}
		f.NonNegative(path+".torque", s.Torque, "N·m")
		f.NonNegative(path+".speed", s.Speed, "rad/s")
	}
	f.NonNegative("timeConstant", d.TimeConstant, "s")
	if d.StandstillCooling != 0 && !(d.StandstillCooling > 0 && d.StandstillCooling <= 1) {
		f.Add("standstillCooling", d.StandstillCooling, "> 0 and <= 1, or 0 for 1")
	}
}

// standing is the part of the highest speed below which a machine stands.
const standing = 1e-3

// DutySegments cuts a cycle of electromagnetic torque [N·m] and speed [rad/s]
// into segments, at the times at which either passes zero or the speed turns:
//
//	at rest      standing, torque up to noLoad
//	braking      torque against the speed, more than noLoad
//	starting     torque with the speed, which grows
//	at no load   turning with torque up to noLoad
//	loaded       the rest, holding a load at standstill included
//
// noLoad [N·m], >= 0, is the torque up to which the machine counts as without
// load: its drag. Neighbours of one activity and load are joined.
func DutySegments(torque, speed profile.Curve, noLoad float64) ([]DutySegment, error) {
	var f profile.Faults
	checkCurve(&f, "torque", torque)
	checkCurve(&f, "speed", speed)
	f.NonNegative("noLoad", noLoad, "N·m")
	if err := f.Err(); err != nil {
		return nil, err
	}
	h := newHeating(&f, "curves", []profile.Curve{torque, speed}, 2)
	if err := f.Err(); err != nil {
		return nil, err
	}
	accel := speed.Derivative()
	limit := standing * math.Abs(speed.AbsMax().V)
	cuts := append([]float64(nil), h.breaks...)
	var x []float64
	for _, level := range []float64{-noLoad, noLoad} {
		x = torque.Crossings(x, level)
		cuts = append(cuts, x...)
	}
	for _, level := range []float64{-limit, limit} {
		x = speed.Crossings(x, level)
		cuts = append(cuts, x...)
	}
	cuts = append(cuts, accel.Crossings(x, 0)...)
	cuts = distinct(cuts, sameTime*math.Max(math.Abs(torque.Start()), math.Abs(torque.End())))
	top := math.Abs(torque.AbsMax().V)
	var out []DutySegment
	for i := range len(cuts) - 1 {
		t0, t1 := cuts[i], cuts[i+1]
		m := t0 + (t1-t0)/2
		v, q, a := speed.At(m), torque.At(m), accel.At(m)
		s := DutySegment{Duration: t1 - t0}
		if part, err := torque.Slice(t0, math.Min(t1, torque.End())); err == nil {
			s.Torque = part.RMS()
		}
		loaded := math.Abs(q) > noLoad
		switch {
		case math.Abs(v) <= limit && !loaded:
			s.Activity = Resting
		case math.Abs(v) <= limit:
			s.Activity = Loaded
		case loaded && q*v < 0:
			s.Activity = Braking
		case loaded && v*a > 0:
			s.Activity = Starting
		case loaded:
			s.Activity = Loaded
		default:
			s.Activity = NoLoad
		}
		if math.Abs(v) > limit {
			s.Speed = math.Abs(speed.IntegralBetween(t0, t1)) / (t1 - t0)
		}
		if n := len(out); n > 0 {
			p := &out[n-1]
			same := p.Activity == s.Activity
			if same && s.Activity == Loaded {
				same = math.Abs(p.Torque-s.Torque) <= sameLoad*top && math.Abs(p.Speed-s.Speed) <= sameLoad*limit/standing
			}
			if same {
				d := p.Duration + s.Duration
				p.Torque = math.Sqrt((p.Torque*p.Torque*p.Duration + s.Torque*s.Torque*s.Duration) / d)
				p.Speed = (p.Speed*p.Duration + s.Speed*s.Duration) / d
				p.Duration = d
				continue
			}
		}
		out = append(out, s)
	}
	for i, s := range out {
		needFinite(&f, fmt.Sprintf("segments[%d]", i), s.Duration, s.Torque, s.Speed)
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	return out, nil
}
