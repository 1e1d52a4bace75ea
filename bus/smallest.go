package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

const (
	smallestWithin = 0.005 // how closely the smallest bank is found, relative
	smallestRange  = 1024  // how many times the present bank is tried at most, and how small a part of it
)

// BankForSag returns the smallest nominal capacitance [F] with which the sag
// bound of [Bus.AnyPhase] does not fall below lowest [V], all else on the bus as
// it is: found to half a percent, on the safe side, between 1/1024 and 1024 times
// the present bank. enough is false when no bank of that range is enough, as when
// the stations draw more than the source delivers on average.
func (b Bus) BankForSag(ctx context.Context, stations, returning []Cycle, lowest float64) (capacitance float64, enough bool, err error) {
	return b.smallestBank(ctx, stations, returning, lowest, func(b Bus, returning []Cycle, d demand) (bool, error) {
		bound, _, err := b.Low().sagBound(ctx, stations, d)
		return bound.Exists && bound.Voltage >= lowest, err
	})
}

// BankForRise does the same for the rise bound, which is not to exceed highest
// [V].
func (b Bus) BankForRise(ctx context.Context, stations, returning []Cycle, highest float64) (capacitance float64, enough bool, err error) {
	return b.smallestBank(ctx, stations, returning, highest, func(b Bus, returning []Cycle, d demand) (bool, error) {
		bound, _, err := b.High().riseBound(ctx, returning, d)
		return bound.Exists && bound.Voltage <= highest, err
	})
}

func (b Bus) smallestBank(ctx context.Context, stations, returning []Cycle, limit float64, keeps func(b Bus, returning []Cycle, d demand) (bool, error)) (float64, bool, error) {
	if err := b.checkStations(stations); err != nil {
		return 0, false, err
	}
	if returning == nil {
		returning = stations
	} else if err := checkReturning(stations, returning); err != nil {
		return 0, false, err
	}
	d := peaks(stations).or(peaks(returning))
	var f profile.Faults
	if !f.Positive("limit", limit, "V") {
		return 0, false, f.Err()
	}
	if _, heats := b.SourceHeatsResistor(); heats {
		return 0, false, nil
	}
	return smallest(b.Bank.Capacitance, func(c float64) (bool, error) {
		b.Bank.Capacitance = c
		return keeps(b, returning, d)
	})
}

// smallest returns the smallest capacitance that is enough.
func smallest(present float64, enoughWith func(c float64) (bool, error)) (float64, bool, error) {
	try := func(c float64) (bool, error) {
		ok, err := enoughWith(c)
		if err != nil {
			return false, fmt.Errorf("smallest bank: %w", err)
		}
		return ok, nil
	}
	// A larger bank never sags lower or rises higher, so that between one that is
	// too small and one that is enough there is one border.
	high := present
	low, enough := 0.0, false
	for c, ok := present, false; ; {
		var err error
		if ok, err = try(c); err != nil {
			return 0, false, err
		}
		if ok {
			high, enough = c, true
			if low > 0 || c <= present/smallestRange {
				break
			}
			c /= 4
			continue
		}
		low = c
		if enough {
			break
		}
		if c >= present*smallestRange {
			return 0, false, nil
		}
		c *= 4
	}
	for low > 0 && high > low*(1+smallestWithin) {
		c := math.Sqrt(low * high)
		ok, err := try(c)
		if err != nil {
			return 0, false, err
		}
		if ok {
			high = c
		} else {
			low = c
		}
	}
	return high, true, nil
}

// BankForSag returns the smallest nominal capacitance of the bank [F] with which neither
// the distribution point nor any end of a feeder falls below lowest [V] at any phase; see
// [Bus.BankForSag].
func (n Network) BankForSag(ctx context.Context, stations, returning []Station, lowest float64) (capacitance float64, enough bool, err error) {
	return n.smallestBank(stations, returning, lowest, func(n Network, returning []Station) (bool, error) {
		d, err := n.settleEnds(ctx, stations, returning)
		if err != nil || !d.confirmed {
			return false, err
		}
		ok := d.sag.Voltage >= lowest
		for _, e := range d.ends(&Guarantee{Sag: d.sag}) {
			ok = ok && e.Lowest >= lowest
		}
		return ok, nil
	})
}

// BankForRise does the same for the rise, which is not to exceed highest [V].
func (n Network) BankForRise(ctx context.Context, stations, returning []Station, highest float64) (capacitance float64, enough bool, err error) {
	return n.smallestBank(stations, returning, highest, func(n Network, returning []Station) (bool, error) {
		d, err := n.settleEnds(ctx, stations, returning)
		if err != nil {
			return false, err
		}
		rise, _, err := d.bus.High().riseBound(ctx, d.returning, d.peaks())
		if err != nil || !rise.Exists {
			return false, err
		}
		ok := rise.Voltage <= highest
		for _, e := range d.ends(&Guarantee{Rise: rise}) {
			ok = ok && e.Highest <= highest
		}
		return ok, nil
	})
}

func (n Network) smallestBank(stations, returning []Station, limit float64, keeps func(n Network, returning []Station) (bool, error)) (float64, bool, error) {
	returning, err := n.checkBoth(stations, returning)
	if err != nil {
		return 0, false, err
	}
	var f profile.Faults
	if !f.Positive("limit", limit, "V") {
		return 0, false, f.Err()
	}
	if _, heats := n.SourceHeatsResistor(); heats {
		return 0, false, nil
	}
	return smallest(n.Bank.Capacitance, func(c float64) (bool, error) {
		n.Bank.Capacitance = c
		return keeps(n, returning)
	})
}
