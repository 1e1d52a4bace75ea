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
	switch n {
	case 1, 2:
		return monotoneRoots(dst, c, nil, lo, hi)
	case 3:
		crit, k := vertex(c, lo, hi)
		return monotoneRoots(dst, c, crit[:k], lo, hi)
	}
	var buf [maxInline]float64
	b, tol := bernstein(buf[:0], c, lo, hi), 2*noise(n)*size
	switch maxSignChanges(b, tol) {
	case 0:
		return dst
	case 1:
		return monotoneRoots(dst, c, nil, lo, hi)
	}
	switch m := 3 * (n + 2); {
	case n <= 9: // clearing a large array would cost more than the rest
		var work [3 * (9 + 2)]float64
		return cascade(dst, c, b, lo, hi, tol, work[:m])
	case n <= maxInline:
		var work [3 * (maxInline + 2)]float64
		return cascade(dst, c, b, lo, hi, tol, work[:m])
	default:
		return cascade(dst, c, b, lo, hi, tol, make([]float64, m))
	}
}

// cascade is isolate for what has more than one root or is not certain, given
// the Bernstein coefficients b, which are lost, and their rounding tol. It starts
// not from the highest derivative but from the first that b leaves at most one
// root. work holds 3 (len(c)+2) numbers.
func cascade(dst, c, b []float64, lo, hi, tol float64, work []float64) []float64 {
	m := len(c) + 2
	d, crit, next := work[0:0:m], work[m:m:2*m], work[2*m:2*m:3*m]

	// Differences of Bernstein coefficients are those of the derivative.
	k, changes := 0, 2
	for changes > 1 && len(b) > 3 {
		b = differences(b)
		tol *= 2
		k++
		changes = maxSignChanges(b, tol)
	}
	if changes > 1 { // then it is a quadratic
		x, turning := vertex(nthDerivative(d, c, k), lo, hi)
		crit = append(crit, x[:turning]...)
	}
	for ; k > 0; k-- {
		d = nthDerivative(d, c, k)
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
// belong to the same root. Of the derivatives, though, the turns are only known
// within rounding: when p is not zero half way between the two, it turned there
// unseen, and they are two roots.
func monotoneRoots(dst, c, crit []float64, lo, hi float64) []float64 {
	slack := noise(len(c))
	x := lo
	v, size := evalSized(c, x)
	zero := abs(v) <= slack*size // x belongs to the last root
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
		case zero:
			zero = abs(vy) <= slack*size
			if between, _ := evalSized(c, x+(y-x)/2); zero && abs(between) > slack*size {
				dst = append(dst, y)
			}
		case abs(vy) <= slack*size, !crosses && abs(vy) <= slack*sizeY:
			dst = append(dst, y)
			zero = true
		case crosses:
			r := bracketed(c, x, y, v, vy, epsilon/4)
			dst = append(dst, r)
			if abs(vy) <= slack*sizeY {
				_, sizeR := evalSized(c, r)
				zero = abs(vy) <= slack*sizeR
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
	x := lo
	v, _ := evalSized(d, x)
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
			dst = append(dst, bracketed(d, x, y, v, vy, 0x1p-40))
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
func bracketed(d []float64, lo, hi, vlo, vhi, tol float64) float64 {
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
	return newton(d, lo, hi, vlo, vhi, tol)
}

// newton is bracketed by Newton steps, replaced by bisection when they leave the
// bracket or stop halving. It ends when what a step leaves is below tol x, by the
// second-order estimate step² times half the second derivative over the first.
func newton(d []float64, lo, hi, vlo, vhi, tol float64) float64 {
	x := lo - vlo*(hi-lo)/(vhi-vlo)
	if !(x > lo && x < hi) {
		x = lo + (hi-lo)/2
	}
	prev := hi - lo
	for i := 0; ; i++ {
		v, slope, curve := 0.0, 0.0, 0.0 // the derivatives, curve halved
		for k := len(d) - 1; k >= 0; k-- {
			curve = curve*x + slope
			slope = slope*x + v
			v = v*x + d[k]
		}
		if v == 0 {
			return x
		}
		if (v < 0) == (vlo < 0) {
			lo = x
		} else {
			hi = x
		}
		step := -v / slope
		y := x + step
		if y > lo && y < hi && abs(step) <= prev/2 && i <= 40 {
			if abs(step) <= 0x1p-20*x && abs(curve*step*step) <= tol*x*abs(slope) {
				return y
			}
		} else {
			if abs(v) <= 2*epsilon*EvalAbs(d, x) {
				return x // rounding alone moves it now
			}
			y = middle(lo, hi, i > 40)
			step = y - x
		}
		if y == lo || y == hi || abs(step) <= tol*x {
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
