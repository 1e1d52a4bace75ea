package poly

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/big"
	"slices"
	"testing"
)

// decode turns bytes into coefficients of one of four kinds: small integers;
// products of factors with small rational roots; floats of sizes 1e±200; any
// floats at all.
func decode(kind uint8, data []byte) []float64 {
	const most = 25
	var c []float64
	switch kind % 4 {
	case 0:
		for _, v := range data[:min(len(data), most)] {
			c = append(c, float64(int8(v)))
		}
	case 1:
		c = []float64{1}
		for _, v := range data[:min(len(data), 8)] {
			root := float64(int8(v)) / 32
			for range 1 + v&1 + v&2 {
				c = Mul(nil, c, []float64{-root, 1})
			}
		}
	default:
		for ; len(data) >= 8 && len(c) < most; data = data[8:] {
			c = append(c, math.Float64frombits(binary.LittleEndian.Uint64(data)))
		}
		if kind%4 == 2 {
			for i, v := range c {
				c[i] = moderate(v)
			}
		}
	}
	return c
}

// moderate brings any float64 to a size of 1e±200, or 0.
func moderate(v float64) float64 {
	if v == 0 || v-v != 0 {
		return 0
	}
	f, e := math.Frexp(v)
	return math.Ldexp(f, e%664)
}

func seedCorpus(f *testing.F) {
	raw := func(c ...float64) []byte {
		var b []byte
		for _, v := range c {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
		return b
	}
	f.Add(uint8(0), []byte{1, 254, 1}, 0.0, 2.0)
	f.Add(uint8(0), []byte{255, 0, 0, 0, 1}, -1e200, 1e200)
	f.Add(uint8(1), []byte{16, 17, 18, 19}, -1.0, 1.0)
	f.Add(uint8(1), []byte{3, 3, 7}, 0.0, 0.25)
	f.Add(uint8(1), []byte{32, 32}, 1.0, 1.0)
	f.Add(uint8(2), raw(chebyshev(12)...), -1.0, 1.0)
	f.Add(uint8(2), raw(-1e-200, 0, 1e200), 0.0, 1.0)
	f.Add(uint8(2), raw(1e150, -1e150, 1), -1e180, 1e180)
	f.Add(uint8(2), raw(0, 1e-200, 1e190), -1.0, 1.0)
	f.Add(uint8(1), []byte("x\"ccOOB\a"), 1.0, 2.25)                    // p' is zero within rounding nearly all along
	f.Add(uint8(1), []byte{88, 79, 7, 79, 66, 34, 66, 99}, 1.0/3, 6.75) // p dips below zero between two turns of which one is lost in rounding
	f.Add(uint8(3), raw(-5e-324, 5e-324), 0.0, 2.0)
	f.Add(uint8(3), raw(-math.MaxFloat64, math.MaxFloat64, 1), -math.MaxFloat64, math.MaxFloat64)
	f.Add(uint8(3), raw(math.Inf(1), 1), 0.0, 1.0)
	f.Add(uint8(3), raw(1, math.NaN()), 0.0, math.Inf(1))
}

func FuzzRoots(f *testing.F) {
	seedCorpus(f)
	f.Fuzz(func(t *testing.T, kind uint8, data []byte, a, b float64) {
		c := decode(kind, data)
		in := slices.Clone(c)
		if kind%4 < 3 {
			a, b = moderate(a), moderate(b)
		}
		if a > b {
			a, b = b, a
		}
		roots := Roots(nil, c, a, b)
		if !equal(c, in) {
			t.Fatalf("input changed from %v to %v", in, c)
		}
		if len(roots) > max(0, len(c)-1) {
			t.Fatalf("%d roots of %d coefficients", len(roots), len(c))
		}
		for i, r := range roots {
			if !(r >= a && r <= b) || r-r != 0 || r == 0 && math.Signbit(r) || i > 0 && !(r > roots[i-1]) {
				t.Fatalf("%v on [%v, %v]: %v", c, a, b, roots)
			}
		}
		if kind%4 < 3 && a <= b {
			if err := checkBig(c, a, b, roots); err != nil {
				t.Fatalf("%v on [%v, %v]: %v", c, a, b, err)
			}
		}
	})
}

// checkBig is scanSigns, and the size of p at the roots, where powers may leave
// the range of float64: p is evaluated with 120 bits and exponents without end.
func checkBig(c []float64, a, b float64, roots []float64) error {
	n := len(c)
	for n > 0 && c[n-1] == 0 {
		n--
	}
	c = c[:n]
	if n == 0 {
		return nil
	}
	slack := new(big.Float).SetFloat64(noise(n))
	num := func(x float64) *big.Float { return new(big.Float).SetPrec(120).SetFloat64(x) }
	eval := func(x float64) (v, bound *big.Float) {
		v, bound = num(0), num(0)
		xb, xa := num(x), num(math.Abs(x))
		for i := n - 1; i >= 0; i-- {
			v.Add(v.Mul(v, xb), num(c[i]))
			bound.Add(bound.Mul(bound, xa), num(math.Abs(c[i])))
		}
		return v, bound.Mul(bound, slack)
	}
	for _, r := range roots {
		if math.Abs(r) < 0x1p-1022 {
			continue // denormal numbers lie wider apart than rounding
		}
		v, bound := eval(r)
		// Half as much again, for the rounding of Eval and that of r itself.
		bound.Mul(bound, num(1.5))
		if v.Abs(v).Cmp(bound) > 0 {
			return fmt.Errorf("p(%v) = %.3g, rounding %.3g", r, v, bound)
		}
	}
	x := between(a, b, 60)
	for e := -660; e < 664; e += 15 {
		for _, y := range []float64{math.Ldexp(1, e), math.Ldexp(-1, e)} {
			if y >= a && y <= b {
				x = append(x, y)
			}
		}
	}
	for _, r := range roots {
		for _, d := range []float64{1e-12, 1e-6, 1e-2} {
			x = append(x, clamp(r-d*math.Abs(r), a, b), clamp(r+d*math.Abs(r), a, b))
		}
	}
	slices.Sort(x)
	last, lastX := 0, a
	for _, x := range x {
		if x != 0 && math.Abs(x) < 0x1p-1022 {
			continue
		}
		v, bound := eval(x)
		// The same again: certain even if Eval takes all its rounding.
		bound.Mul(bound, num(1.5))
		if new(big.Float).Abs(v).Cmp(bound) <= 0 {
			continue
		}
		if s := v.Sign(); last != 0 && s != last {
			i, _ := slices.BinarySearch(roots, lastX)
			if i == len(roots) || roots[i] > x {
				return fmt.Errorf("p changes sign from %v to %v, no root between in %v", lastX, x, roots)
			}
		}
		last, lastX = v.Sign(), x
	}
	return nil
}

func FuzzExtrema(f *testing.F) {
	seedCorpus(f)
	f.Fuzz(func(t *testing.T, kind uint8, data []byte, a, b float64) {
		c := decode(kind, data)
		if kind%4 < 2 {
			a, b = math.Remainder(moderate(a), 8), math.Remainder(moderate(b), 8)
		}
		if a > b {
			a, b = b, a
		}
		lo, atLo, hi, atHi := Extrema(c, a, b)
		if !finite(c) || !(b-a <= math.MaxFloat64) || math.IsInf(EvalAbs(c, math.Max(math.Abs(a), math.Abs(b))), 0) {
			return
		}
		if !(lo <= hi && atLo >= a && atLo <= b && atHi >= a && atHi <= b) || Eval(c, atLo) != lo || Eval(c, atHi) != hi {
			t.Fatalf("%v on [%v, %v]: %v at %v, %v at %v", c, a, b, lo, atLo, hi, atHi)
		}
		slack := noise(len(c))*EvalAbs(c, math.Max(math.Abs(a), math.Abs(b))) + 0x1p-1000
		for _, x := range between(a, b, 60) {
			v := Eval(c, x)
			if !(v >= lo-slack && v <= hi+slack) {
				t.Fatalf("%v on [%v, %v]: p(%v) = %v outside [%v, %v]", c, a, b, x, v, lo, hi)
			}
		}
	})
}
