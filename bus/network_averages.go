package bus

import "context"

// Averages does what [Bus.Averages] does for a network, with g the guarantee of
// [Network.AnyPhase] for the same stations: what the feeders burn counts as drawn, as
// there, and the capacitors behind them as part of the bank. Where such a capacitor
// follows its feeder slowly only V²/R is given of the resistors.
func (n Network) Averages(ctx context.Context, stations, returning []Station, g *Guarantee, windows []float64) (*Averages, error) {
	returning, err := n.checkBoth(stations, returning)
	if err != nil {
		return nil, err
	}
	d, err := n.settleEnds(ctx, stations, returning)
	if err != nil {
		return nil, err
	}
	return d.bus.Averages(ctx, d.drawing, d.returning, g, windows)
}
