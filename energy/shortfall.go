package energy

import (
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// VoltageMargin holds the voltage that a motor needs against the bus voltage that is
// there. All voltages are of the bus, see [Voltage.LowestBus].
type VoltageMargin struct {
	At         float64     // instant of the lowest margin [s]
	Speed      float64     // of the motor then [rad/s]
	Bus        float64     // bus voltage then [V]
	Needed     float64     // bus voltage needed then [V]
	Margin     float64     // Bus - Needed [V], the lowest of the trace; negative: the motor cannot follow
	Shortfalls []Shortfall // all the times at which the bus voltage is too low
}

// Shortfall is a stretch of time during which the bus voltage is lower than needed.
type Shortfall struct {
	From, To float64 // [s]
	At       float64 // instant at which most is missing [s]
	Missing  float64 // bus voltage that is missing then [V], > 0
	Speed    float64 // of the motor then [rad/s]
}

// Margin holds the voltage needed against a bus voltage [V], positive at all times,
// that covers the time of the trace. For a constant one make it with
// [profile.Constant]. Where the bus voltage itself depends on what the axis draws,
// the margin says whether the axis really could draw that: after a shortfall it did
// not move as planned, and neither curve holds any more.
//
// Instants and margins are exact to rounding: shortfalls begin and end at roots of
// the polynomial |v|² - (bus/√3 · modulation limit)², and the lowest margin is found
// by lowering a level until no instant is left below it. The bus voltage may have a
// degree of at most 20 on each piece.
func (v Voltage) Margin(bus profile.Curve, d Drive) (VoltageMargin, error) {
	c, err := v.busPerVolt(d)
	var f profile.Faults
	f.Under("", err)
	checkSupply(&f, "bus", bus)
	if err := f.Err(); err != nil {
		return VoltageMargin{}, err
	}
	curves, err := align(v.Squared.Scale(c*c), bus, v.speed)
	if err != nil {
		f.Add("bus", err.Error(), "a voltage over the time of the trace")
		return VoltageMargin{}, f.Err()
	}
	spans := make([]supplied, curves[0].Pieces())
	for i := range spans {
		t0, t1, need := curves[0].Piece(i)
		_, _, have := curves[1].Piece(i)
		_, _, speed := curves[2].Piece(i)
		spans[i] = supplied{need[:degree(need)+1], have[:degree(have)+1], speed, t0, 0, t1 - t0}
	}
	out := worst(spans)
	if out.Margin < 0 {
		out.Shortfalls = shortfalls(spans, 1e-12*v.Squared.Duration())
	}
	return out, nil
}

const maxBusDegree = 20

// checkSupply records a fault unless a bus voltage is positive at all times and its
// square a polynomial that can be worked with.
func checkSupply(f *profile.Faults, path string, c profile.Curve) {
	var own profile.Faults
	if checkCurve(&own, path, c); own.Err() != nil {
		f.Under("", own.Err())
		return
	}
	for i := range c.Pieces() {
		t0, t1, p := c.Piece(i)
		if d := degree(p); d > maxBusDegree {
			f.Add(path, d, "pieces of degree 20 at most")
			return
		}
		for _, x := range p {
			if !(math.Abs(x) <= 1e150) {
				f.Add(path, x, "coefficients whose squares float64 can hold")
				return
			}
		}
		if lo, _ := poly.Range(p, t1-t0); lo >= smallest {
			continue
		}
		if lo, _, _, _ := poly.Extrema(p, 0, t1-t0); !(lo >= smallest) {
			f.Add(path, lo, "a voltage > 0 at all times")
			return
		}
	}
}

// align returns the curves cut at the same instants.
func align(curves ...profile.Curve) ([]profile.Curve, error) {
	out := make([]profile.Curve, len(curves))
	parts := make([]profile.Curve, len(curves))
	for i := range curves {
		for k, c := range curves {
			if k != i {
				c = c.Scale(0)
			}
			parts[k] = c
		}
		var err error
		if out[i], err = profile.Sum(parts...); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// supplied is a span of time with the square of the bus voltage needed, the bus
// voltage there is and the speed, as polynomials in the time since t0.
type supplied struct {
	need, have, speed []float64
	t0, lo, hi        float64
}

// margin returns the margin at the time x since t0.
func (s supplied) margin(x float64) float64 {
	return poly.Eval(s.have, x) - root(poly.Eval(s.need, x))
}

// excess returns need - (have - level)²: where it is positive, the margin is below
// the level, as long as have > level.
func (s supplied) excess(dst, buf []float64, level float64) (excess, scratch []float64) {
	buf = append(buf[:0], s.have...)
	buf[0] -= level
	dst = poly.Mul(dst, buf, buf)
	dst = poly.Scale(dst, dst, -1)
	return poly.Add(dst, dst, s.need), buf
}

// worst returns the lowest margin on the spans. From the lowest of some instants
// it goes down: where the excess over the level is highest, there is a lower margin,
// which is the next level. It starts with the instant of the lowest bus voltage of
// every span that counts among others, so that the level is never above the bus
// voltage there. The
// highest excess falls to zero like in Newton's method, and never rises.
func worst(spans []supplied) VoltageMargin {
	level, scale, at, found := math.Inf(1), 0.0, 0, 0.0
	lower := func(i int, x float64) bool {
		m := spans[i].margin(x)
		scale = math.Max(scale, math.Abs(poly.Eval(spans[i].have, x)))
		if m < level {
			level, at, found = m, i, x
			return true
		}
		return false
	}
	for i, s := range spans {
		lower(i, s.lo)
		lower(i, s.hi)
	}
	// Spans that by their bounds stay above the level are out of it.
	var live []int
	for i, s := range spans {
		have, _ := poly.Range(s.have, s.hi)
		if _, need := poly.Range(s.need, s.hi); have-root(need) >= level {
			continue
		}
		_, atLow, _, _ := poly.Extrema(s.have, s.lo, s.hi)
		lower(i, atLow)
		live = append(live, i)
	}
	var excess, buf []float64
	for range 100 {
		before, most, top, topAt := level, 0.0, -1, 0.0
		n := 0
		for _, i := range live {
			s := spans[i]
			excess, buf = s.excess(excess, buf, level)
			if _, hi := poly.Range(excess, s.hi); hi <= 0 {
				continue
			}
			_, _, e, x := poly.Extrema(excess, s.lo, s.hi)
			if e <= 0 {
				continue // nor will there be at a lower level
			}
			live[n] = i
			n++
			if top < 0 || e > most {
				most, top, topAt = e, i, x
			}
		}
		live = live[:n]
		if top < 0 || !lower(top, topAt) || before-level <= 1e-14*scale {
			break
		}
	}
	s := spans[at]
	t := math.Min(s.t0+found, s.t0+s.hi)
	have := poly.Eval(s.have, found)
	return VoltageMargin{At: t, Speed: poly.Eval(s.speed, found), Bus: have, Needed: have - level, Margin: level}
}

// shortfalls returns the times at which the margin is negative; gaps up to sliver [s]
// do not part them.
func shortfalls(spans []supplied, sliver float64) []Shortfall {
	var out []Shortfall
	var parts []supplied // of the shortfall at hand
	end := 0.0
	flush := func() {
		if len(parts) == 0 {
			return
		}
		first, w := parts[0], worst(parts)
		if w.Margin < 0 { // else it is rounding
			out = append(out, Shortfall{From: first.t0 + first.lo, To: end, At: w.At, Missing: -w.Margin, Speed: w.Speed})
		}
		parts = parts[:0]
	}
	var excess, buf, cuts []float64
	for _, s := range spans {
		excess, buf = s.excess(excess, buf, 0)
		if _, hi := poly.Range(excess, s.hi); hi <= 0 {
			continue
		}
		cuts = append(poly.Roots(cuts, excess, s.lo, s.hi), s.hi)
		from := s.lo
		for _, to := range cuts {
			if to > from && poly.Eval(excess, from/2+to/2) > 0 {
				part := s
				part.lo, part.hi = from, to
				if len(parts) > 0 && s.t0+from > end+sliver {
					flush()
				}
				parts = append(parts, part)
				end = s.t0 + to
			}
			from = to
		}
	}
	flush()
	return out
}
