package bus

import "context"

// SimulateRipple with a budget of steps, for tests that must end soon.
func (b Bus) SimulateRippleWithin(ctx context.Context, r Rectifier, load RippleLoad, start RippleState, steps int) (*RippleResult, error) {
	return b.simulateRipple(ctx, r, load, start, steps)
}
