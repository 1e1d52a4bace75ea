package bus

import (
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// forcing gives the Taylor series of a load at one instant after another.
type forcing struct {
	load  profile.Curve
	piece int     // at hand
	peak  float64 // of the load, in magnitude [W]
	wide  []float64

	seen     int       // the piece that was looked up, counted from 1
	coefs    []float64 // of that, without zeros at their end
	from, to float64   // when it starts and ends [s]
}

func newForcing(load profile.Curve) forcing {
	if load.Pieces() == 0 {
		return forcing{}
	}
	var e extent
	for i := range load.Pieces() {
		t0, t1, p := load.Piece(i)
		e.add(p, t1-t0)
	}
	return forcing{load: load, peak: math.Max(-e.lowest, e.highest)}
}

func (f *forcing) empty() bool { return f.load.Pieces() == 0 }

// breaks returns the times at which the load may jump, its ends included.
func (f *forcing) breaks() []float64 {
	b := make([]float64, 0, f.load.Pieces()+1)
	b = append(b, f.load.Start())
	for i := range f.load.Pieces() {
		_, t1, _ := f.load.Piece(i)
		b = append(b, t1)
	}
	return b
}

// seek moves to the piece of load that holds just after t, never back.
func (f *forcing) seek(t float64) {
	if f.seen == f.piece+1 && (t < f.to || f.seen == f.load.Pieces()) {
		return
	}
	for f.from, f.to, f.coefs = f.load.Piece(f.piece); f.piece < f.load.Pieces()-1 && !(t < f.to); {
		f.piece++
		f.from, f.to, f.coefs = f.load.Piece(f.piece)
	}
	f.seen = f.piece + 1
	for n := len(f.coefs); n > 1 && f.coefs[n-1] == 0; n-- {
		f.coefs = f.coefs[:n-1]
	}
}

// power returns the load [W] just after t.
func (f *forcing) power(t float64) float64 {
	f.seek(t)
	return poly.Eval(f.coefs, t-f.from)
}

// expand fills p with the series of the load at time t, and returns for how
// long it is the load within [Tolerance] of its peak: terms beyond the order of
// the series are left out.
func (f *forcing) expand(t float64, p *taylor.Series) (reach float64) {
	f.seek(t)
	t0, coefs := f.from, f.coefs
	reach = math.Inf(1)
	if len(coefs) <= len(p) {
		poly.Shift(p[:len(coefs)], coefs, t-t0)
		clear(p[len(coefs):])
		return reach
	}
	f.wide = poly.Shift(f.wide, coefs, t-t0)
	copy(p[:], f.wide)
	allowed := Tolerance * f.peak / float64(len(coefs))
	for k := len(p); k < len(f.wide); k++ {
		if a := math.Abs(f.wide[k]); a > 0 {
			reach = math.Min(reach, math.Pow(allowed/a, 1/float64(k)))
		}
	}
	return reach
}

// ahead returns, once the load was expanded at t, how long it goes on as the polynomial
// that it is there, and the degree of that.
func (f *forcing) ahead(t float64) (left float64, degree int) { return f.to - t, len(f.coefs) - 1 }
