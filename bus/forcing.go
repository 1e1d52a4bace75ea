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
}

func newForcing(load profile.Curve) forcing {
	if load.Pieces() == 0 {
		return forcing{}
	}
	return forcing{load: load, peak: math.Abs(load.AbsMax().V)}
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
	for f.piece < f.load.Pieces()-1 {
		if _, t1, _ := f.load.Piece(f.piece); t < t1 {
			break
		}
		f.piece++
	}
}

// power returns the load [W] just after t.
func (f *forcing) power(t float64) float64 {
	f.seek(t)
	t0, _, coefs := f.load.Piece(f.piece)
	return poly.Eval(coefs, t-t0)
}

// expand fills p with the series of the load at time t, and returns for how
// long it is the load within [Tolerance] of its peak: terms beyond the order of
// the series are left out.
func (f *forcing) expand(t float64, p *taylor.Series) (reach float64) {
	f.seek(t)
	t0, _, coefs := f.load.Piece(f.piece)
	for len(coefs) > len(p) && coefs[len(coefs)-1] == 0 {
		coefs = coefs[:len(coefs)-1]
	}
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
