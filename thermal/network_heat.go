package thermal

import (
	"cmp"
	"fmt"
	"slices"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// maxHeatDegree bounds the pieces of heat curves, so that the temperatures that
// follow from them stay within what a [profile.Curve] takes.
const maxHeatDegree = 30

// heating is the heat at every node over common pieces of time.
type heating struct {
	breaks []float64 // [s]
	width  int       // coefficients per piece
	nodes  int
	coefs  []float64 // of node i on piece k at (k nodes + i) width [W/s^j]
}

func (h *heating) pieces() int { return len(h.breaks) - 1 }

func (h *heating) at(piece, node int) []float64 {
	k := (piece*h.nodes + node) * h.width
	return h.coefs[k : k+h.width]
}

// sameTime is how far apart, relative to the latest time, two breaks may be and
// still be one.
const sameTime = 1e-12

// newHeating cuts the heat curves at each other's breaks. Empty ones stand for
// no heat; the others need one common domain.
func newHeating(f *profile.Faults, path string, heat []profile.Curve, nodes int) *heating {
	if len(heat) != nodes {
		f.Add(path, fmt.Sprintf("%d curves", len(heat)), fmt.Sprintf("one for each of the %d nodes, empty where there is no heat", nodes))
		return nil
	}
	h := &heating{nodes: nodes, width: 1}
	first := -1
	for i, c := range heat {
		if c.Pieces() == 0 {
			continue
		}
		if first < 0 {
			first = i
		}
		gap := sameTime * max(abs(c.Start()), abs(c.End()))
		if abs(c.Start()-heat[first].Start()) > gap || abs(c.End()-heat[first].End()) > gap {
			f.Add(fmt.Sprintf("%s[%d]", path, i), fmt.Sprintf("from %g to %g s", c.Start(), c.End()),
				fmt.Sprintf("the domain of the other curves, from %g to %g s", heat[first].Start(), heat[first].End()))
		}
		for k := range c.Pieces() {
			t0, _, p := c.Piece(k)
			for len(p) > h.width && p[len(p)-1] == 0 {
				p = p[:len(p)-1]
			}
			h.width = max(h.width, len(p))
			h.breaks = append(h.breaks, t0)
		}
	}
	if first < 0 {
		f.Add(path, "no duration", "a curve of at least one piece at some node")
		return nil
	}
	if h.width > maxHeatDegree+1 {
		f.Add(path, fmt.Sprintf("pieces of degree %d", h.width-1), fmt.Sprintf("at most %d", maxHeatDegree))
	}
	if f.Err() != nil {
		return nil
	}
	start, end := heat[first].Start(), heat[first].End()
	gap := sameTime * max(abs(start), abs(end))
	h.breaks = append(h.breaks, end)
	h.breaks = distinct(append(h.breaks, start), gap)
	h.coefs = make([]float64, h.pieces()*nodes*h.width)
	for i, c := range heat {
		if c.Pieces() == 0 {
			continue
		}
		at := 0
		for k := range h.pieces() {
			middle := h.breaks[k] + (h.breaks[k+1]-h.breaks[k])/2
			for at < c.Pieces()-1 {
				if _, t1, _ := c.Piece(at); middle < t1 {
					break
				}
				at++
			}
			t0, _, p := c.Piece(at)
			p = p[:min(len(p), h.width)]
			dst := h.at(k, i)
			if s := h.breaks[k] - t0; abs(s) > gap {
				poly.Shift(dst[:len(p)], p, s)
			} else {
				copy(dst, p)
			}
		}
	}
	return h
}

func abs(x float64) float64 { return max(x, -x) }

// distinct sorts times and drops those within gap of the one before.
func distinct(t []float64, gap float64) []float64 {
	slices.SortFunc(t, cmp.Compare[float64])
	out := t[:1]
	last := t[len(t)-1]
	for _, x := range t[1:] {
		if x-out[len(out)-1] > gap && (last-x > gap || x == last) {
			out = append(out, x)
		}
	}
	if len(out) == 1 || out[len(out)-1] != last {
		out = append(out, last)
	}
	return out
}
