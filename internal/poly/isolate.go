package poly

import "math"

// isolate appends the roots in [lo, hi], 0 <= lo <= hi, given a bound size on
// Σ |c[i]| xⁱ there.
//
// The roots of each derivative cut the interval into pieces on which the next
// lower one is monotone, so that one sign test finds a root or excludes it and a
// bracketed Newton iteration refines it. Leading coefficients are never divided
// by without a check, so they may be tiny. All values are those of the given
// coefficients at the given x: nothing is shifted, so nothing is blurred.
func isolate(dst, c []float64, lo, hi, size float64) []float64 {
	n := len(c)
	if 2*abs(c[0]) > size*(1+2*noise(n)) {
		return dst // c[0] outweighs all the rest
	}
	switch {
	case n <= 2:
		return monotoneRoots(dst, c, nil, lo, hi)
	case n == 3:
		crit, k := vertex(c, lo, hi)
		return monotoneRoots(dst, c, crit[:k], lo, hi)
	case n <= 9: // clearing a large array would cost more than the rest
		var buf [4 * (9 + 2)]float64
		return cascade(dst, c, lo, hi, size, buf[:])
	case n <= maxInline:
		var buf [4 * (maxInline + 2)]float64
		return cascade(dst, c, lo, hi, size, buf[:])
	}
	return cascade(dst, c, lo, hi, size, make([]float64, 4*(n+2)))
}

// cascade is isolate for degree 3 and above. It starts not from the highest
// derivative but from the first whose Bernstein coefficients leave it at most
// one root. buf holds 4 (len(c)+2) numbers.
func cascade(dst, c []float64, lo, hi, size float64, buf []float64) []float64 {
	m := len(c) + 2
	b, d := bernstein(buf[0:0:m], c, lo, hi), buf[m:m:2*m]
	crit, next := buf[2*m:2*m:3*m], buf[3*m:3*m:4*m]

	// Differences of Bernstein coefficients are those of the derivative.
	k, tol := 0, 2*noise(len(c))*size
	for maxSignChanges(b, tol) > 1 && len(b) > 3 {
		b = differences(b)
		tol *= 2
		k++
	}
	for first := true; k > 0; k-- {
		d = nthDerivative(d, c, k)
		if first && len(b) == 3 {
			v, m := vertex(d, lo, hi)
			crit = append(crit, v[:m]...)
		}
		first = false
		next = turns(next[:0], d, crit, lo, hi)
		crit, next = next, crit
	}
	return monotoneRoots(dst, c, crit, lo, hi)
}

// monotoneRoots appends the roots in [lo, hi] of c, which is monotone between
// neighbours in {lo, crit…, hi} or, when crit is empty, has at most one root.
//
// Rounding is smallest at the lower end of a piece. Measured there, two ends that
// are zero within rounding leave no room for anything else between them: they
// belong to the same root.
func monotoneRoots(dst, c, crit []float64, lo, hi float64) []float64 {
	slack := noise(len(c))
	x := lo
	v, size := evalSized(c, x)
	zero, least := abs(v) <= slack*size, abs(v) // zero: x belongs to the last root
	if zero {
		dst = append(dst, x)
	}
	for i := 0; i <= len(crit); i++ {
		y := hi
		if i < len(crit) {
			y = crit[i]
		}
		if y <= x {
			continue
		}
		vy, sizeY := evalSized(c, y)
		crosses := v < 0 && vy > 0 || v > 0 && vy < 0
		switch {
		case zero && abs(vy) <= slack*size:
			if abs(vy) < least {
				dst[len(dst)-1], least = y, abs(vy)
			}
		case zero:
			zero = false
		case abs(vy) <= slack*size, !crosses && abs(vy) <= slack*sizeY:
			dst = append(dst, y)
			zero, least = true, abs(vy)
		case crosses:
			r := bracketed(c, x, y, v, vy)
			dst = append(dst, r)
			if abs(vy) <= slack*sizeY {
				vr, sizeR := evalSized(c, r)
				zero, least = abs(vy) <= slack*sizeR, abs(vr)
			}
		}
		x, v, size = y, vy, sizeY
	}
	return dst
}

// turns appends the places in [lo, hi] between which the antiderivative of d is
// monotone: the changes of sign of d and, to hit multiple roots well, the places
// in crit where d is zero within rounding. d and crit are as in monotoneRoots.
func turns(dst, d, crit []float64, lo, hi float64) []float64 {
	x, v := lo, Eval(d, lo)
	for i := 0; i <= len(crit); i++ {
		y := hi
		if i < len(crit) {
			y = crit[i]
		}
		if y <= x {
			continue
		}
		vy, size := evalSized(d, y)
		switch {
		case v < 0 && vy > 0 || v > 0 && vy < 0:
			dst = append(dst, bracketed(d, x, y, v, vy))
		case abs(vy) <= noise(len(d))*size:
			dst = append(dst, y)
		}
		x, v = y, vy
	}
	return dst
}

// vertex returns the place inside (lo, hi) where the quadratic c turns, if k is
// 1.
func vertex(c []float64, lo, hi float64) (x [1]float64, k int) {
	x[0] = -c[1] / (2 * c[2])
	if x[0] > lo && x[0] < hi {
		k = 1
	}
	return x, k
}

// bracketed returns the root in [lo, hi], 0 <= lo < hi, at whose ends d has the
// values vlo and vhi of opposite sign.
func bracketed(d []float64, lo, hi, vlo, vhi float64) float64 {
	switch len(d) {
	case 2:
		return clamp(-d[0]/d[1], lo, hi)
	case 3:
		// Of the two roots (-d1 ± s)/(2 d2), s² = d1² - 4 d0 d2, the one at which
		// the slope ±s has the sign of vhi, without cancellation.
		s2 := d[1]*d[1] - 4*d[0]*d[2]
		if !(s2 >= 0x1p-900 && s2 <= 0x1p900) {
			break
		}
		s := math.Sqrt(s2)
		if vhi < 0 {
			s = -s
		}
		if (d[1] < 0) == (s < 0) {
			return clamp(-2*d[0]/(d[1]+s), lo, hi)
		}
		return clamp((s-d[1])/(2*d[2]), lo, hi)
	}
	return newton(d, lo, hi, vlo, vhi)
}

// newton is bracketed by Newton steps, replaced by bisection when they leave the
// bracket or stop halving.
func newton(d []float64, lo, hi, vlo, vhi float64) float64 {
	x := lo - vlo*(hi-lo)/(vhi-vlo)
	if !(x > lo && x < hi) {
		x = lo + (hi-lo)/2
	}
	prev := hi - lo
	for i := 0; ; i++ {
		v, dv := EvalBoth(d, x)
		if v == 0 {
			return x
		}
		if (v < 0) == (vlo < 0) {
			lo = x
		} else {
			hi = x
		}
		step := -v / dv
		y := x + step
		if !(y > lo && y < hi) || abs(step) > prev/2 || i > 40 {
			if abs(v) <= 2*epsilon*EvalAbs(d, x) {
				return x // rounding alone moves it now
			}
			y = middle(lo, hi, i > 40)
			step = y - x
		}
		if y == lo || y == hi || abs(step) <= epsilon/2*x {
			return y
		}
		prev = abs(step)
		x = y
	}
}

// middle halves the bracket, or with floats the count of numbers in it, which
// ends after 64 steps wherever the root lies.
func middle(lo, hi float64, floats bool) float64 {
	if floats {
		a, b := math.Float64bits(lo), math.Float64bits(hi)
		return math.Float64frombits(a + (b-a)/2)
	}
	return lo + (hi-lo)/2
}

// nthDerivative returns the k-th derivative divided by k!.
func nthDerivative(dst, c []float64, k int) []float64 {
	out := resize(dst, len(c)-k)
	w := 1.0 // C(i+k, k)
	for i := range out {
		out[i] = c[i+k] * w
		w = w * float64(i+k+1) / float64(i+1) // exact while below 2⁵³
	}
	return out
}

func clamp(x, lo, hi float64) float64 { return max(lo, min(hi, x)) }
