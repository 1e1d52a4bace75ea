package bus

import (
	"math"
	"slices"
)

// segment is one piece of a current over voltage, of one element on the bus or
// of several added up: i = i0 - g v for v in [lo, hi], or, when upright, any
// current from imin to imax at the voltage lo = hi. Current is positive into the
// bus.
type segment struct {
	lo, hi     float64
	i0, g      float64
	upright    bool
	imin, imax float64

	limits bool   // the current of an element is at its limit
	over   bool   // the time that it bears this is limited
	part   []part // what each element of a sum does
}

// part is what one element does on a segment of the sum.
type part struct {
	i0, g   float64 // its current off an upright segment
	base, w float64 // on one: base, and the share w of what exceeds imin
	upright bool
	limits  bool // at its limit
	over    bool // above what it bears without limit of time
}

func (s segment) at(v float64) float64 { return s.i0 - s.g*v }

// add returns the sum of the elements' characteristics. Where several are
// upright at the same voltage they share in proportion to what each can give.
func add(elements [][]segment) []segment {
	if len(elements) == 1 {
		sum := slices.Clone(elements[0])
		for i, s := range sum {
			p := part{i0: s.i0, g: s.g, base: s.imin, upright: s.upright, limits: s.limits, over: s.over}
			if s.upright {
				p.w = 1
			}
			sum[i].part = []part{p}
		}
		return sum
	}
	borders := []float64{math.Inf(1)}
	for _, segs := range elements {
		for _, s := range segs {
			borders = append(borders, s.lo)
		}
	}
	slices.SortFunc(borders, func(a, b float64) int {
		switch {
		case a > b:
			return -1
		case a < b:
			return 1
		}
		return 0
	})
	borders = slices.Compact(borders)
	var sum []segment
	for b := 0; b+1 < len(borders); b++ {
		hi, lo := borders[b], borders[b+1]
		s := segment{lo: lo, hi: hi}
		for _, segs := range elements {
			i := slices.IndexFunc(segs, func(s segment) bool { return !s.upright && s.lo <= lo && s.hi >= hi })
			own := segs[i]
			s.i0 += own.i0
			s.g += own.g
			s.part = append(s.part, part{i0: own.i0, g: own.g, limits: own.limits, over: own.over})
		}
		sum = append(sum, s)
		if lo > 0 {
			sum = append(sum, uprights(elements, lo, s.part)...)
		}
	}
	return sum
}

// uprights returns the sums of what is upright at v, layer by layer.
func uprights(elements [][]segment, v float64, above []part) []segment {
	var sum []segment
	current := make([]float64, len(elements)) // of each element when the layer begins
	for k := range elements {
		current[k] = above[k].i0 - above[k].g*v
	}
	at := slices.Clone(above)
	for layer := 0; ; layer++ {
		s := segment{lo: v, hi: v, upright: true}
		any := false
		widths := make([]float64, len(elements))
		for k, segs := range elements {
			n := 0
			for _, own := range segs {
				if !own.upright || own.lo != v {
					continue
				}
				if n == layer {
					any = true
					widths[k] = own.imax - own.imin
					at[k] = part{upright: true, over: own.over}
				}
				n++
			}
		}
		if !any {
			return sum
		}
		total := 0.0
		for k := range elements {
			s.imin += current[k]
			total += widths[k]
		}
		s.imax = s.imin + total
		for k := range elements {
			p := at[k]
			p.base = current[k]
			if total > 0 {
				p.w = widths[k] / total
			}
			s.part = append(s.part, p)
			current[k] += widths[k]
		}
		sum = append(sum, s)
	}
}
