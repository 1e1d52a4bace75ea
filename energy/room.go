package energy

import "example.com/headroom/profile"

const (
	speedOut = iota
	torqueOut
	ratedOut
	shaftOut
	copperOut
	busOut
	outputs
)

// room is the memory that a pass writes to.
type room struct {
	block  []float64          // all of it
	breaks []float64          // the start and the ends of the pieces written so far
	out    [outputs][]float64 // width coefficients for each of the pieces that there is room for
	width  [outputs]int
	tails  *tails // what the forms need that have any
}

// lay makes room for a number of pieces, of the given widths, none of them written.
func (r *room) lay(width [outputs]int, pieces int) {
	if width == r.width && cap(r.breaks) > pieces {
		r.breaks = r.breaks[:1] // laid out like this already
		return
	}
	r.width = width
	each := 1
	for _, w := range width {
		each += w
	}
	if size := 1 + pieces*each; cap(r.block) < size {
		r.block = make([]float64, size)
	}
	block := r.block[:cap(r.block)]
	pieces = (len(block) - 1) / each
	r.breaks, block = append(block[:0:pieces+1], 0), block[pieces+1:]
	for k, w := range width {
		r.out[k], block = block[:pieces*w:pieces*w], block[pieces*w:]
	}
}

// grow doubles the room.
func (r *room) grow() {
	old := *r
	r.block = nil
	r.lay(old.width, 2*len(old.breaks))
	r.breaks = append(r.breaks[:0], old.breaks...)
	for k := range r.out {
		copy(r.out[k], old.out[k])
	}
}

// next returns the room for the next piece of an output. The piece is there once its end
// is among the breaks.
func (r *room) next(k int) []float64 {
	w := r.width[k]
	at := (len(r.breaks) - 1) * w
	return r.out[k][at : at+w : at+w]
}

// curve sets c to an output, and reports whether it is within the range of numbers.
func (r *room) curve(c *profile.Curve, k int) bool {
	var err error
	n := (len(r.breaks) - 1) * r.width[k]
	*c, err = profile.FromFlat(r.breaks, r.out[k][:n:n], r.width[k])
	return err == nil
}
