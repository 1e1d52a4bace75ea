package thermal

import "math"

// decayed fills dst with the integrals
//
//	I[k] = ∫ e^(-x(1-v)) v^k dv over v from 0 to 1
//
// for x >= 0, with which dq/dt = -λ q + Σ p[k] t^k has the exact step
//
//	q(h) = q(0) e^(-x) + h Σ p[k] h^k I[k],    x = λ h
//
// By parts, I[k] = (1 - k I[k-1])/x. That is used upward while k <= x, and
// downward from a series above: each loses nothing there.
func decayed(dst []float64, x float64) {
	top := len(dst) - 1
	up := 0
	if x >= 1 {
		dst[0] = -math.Expm1(-x) / x
		for up = 1; up <= top && float64(up) <= x; up++ {
			dst[up] = (1 - float64(up)*dst[up-1]) / x
		}
		if up > top {
			return
		}
	}
	// Σ (-x)^j / ((top+1)…(top+1+j)), whose terms shrink from the first.
	term, sum := 1/float64(top+1), 0.0
	for j := 2; sum+term != sum; j++ {
		sum += term
		term *= -x / float64(top+j)
	}
	dst[top] = sum
	for k := top; k > up; k-- {
		dst[k-1] = (1 - x*dst[k]) / float64(k)
	}
}

// step returns by how much q changes over a time h, and the forced part alone
// (what it would be from q = 0). scratch holds len(p) values.
func step(q, decay, h float64, p, scratch []float64) (change, forced float64) {
	x := decay * h
	decayed(scratch, x)
	power := h
	for k, c := range p {
		forced += c * power * scratch[k]
		power *= h
	}
	return q*math.Expm1(-x) + forced, forced
}
