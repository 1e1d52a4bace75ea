package bus

import (
	"math"

	"example.com/headroom/profile"
)

// DCFuse is what a fuse in the bus or in a feeder has to be and to bear.
type DCFuse struct {
	Rating      float64 // least rated current [A]
	Voltage     float64 // least rated direct voltage [V]
	MeltingI2t  float64 // melting I²t must lie above that of the pulses of normal running [A² s]
	LetThrough  float64 // total clearing I²t must lie below what the cable stands [A² s]
	Prospective float64 // I²t that the bank can deliver into a short through the loop [A² s]
	Clears      bool    // the bank alone can blow it: Prospective is above MeltingI2t
}

// fuseContinuous is the part of its rating that a fuse carries for hours (NEC
// 210.20(A) and 215.3 have 80 %, FROM MEMORY; other codes differ).
const fuseContinuous = 0.8

// pulseMargin is by how much the melting I²t is to lie above the pulses of normal
// running, which age it (common practice, no source).
const pulseMargin = 2

// CopperWithstand is k in I²t = k² S² for copper conductors with PVC insulation, from
// 70 °C to 160 °C [A √s/m²] (IEC 60364-4-43, table 43A: 115 A √s/mm², FROM MEMORY).
const CopperWithstand = 115e6

// Fuse returns the figures of a fuse for the current of a feeder over a cycle, in a
// cable whose conductors have a section, on a bus of at most voltage [V], with a
// short circuit at its end. The pulses of normal running are taken by the greatest
// ∫ i² dt between zeros of the current. A fuse of a higher rating than the cable
// carries protects it against a short at most, not against overload. Local codes
// decide.
func (c Cable) Fuse(current profile.Curve, voltage float64, short ShortCircuit) (DCFuse, error) {
	var f profile.Faults
	f.Under("cable", c.Validate())
	f.Positive("voltage", voltage, "V")
	f.NonNegative("short.i2t", short.I2t, "A² s")
	if current.Pieces() == 0 {
		f.Add("current", "an empty curve", "a curve of current over a cycle")
	}
	if err := f.Err(); err != nil {
		return DCFuse{}, err
	}
	pulses, err := pulses(current)
	if err != nil {
		return DCFuse{}, err
	}
	section := c.Wire.Section * c.conductors()
	fuse := DCFuse{
		Rating:      current.RMS() / fuseContinuous,
		Voltage:     voltage,
		MeltingI2t:  pulseMargin * pulses,
		LetThrough:  math.Pow(CopperWithstand*section, 2),
		Prospective: short.I2t,
	}
	fuse.Clears = fuse.Prospective > fuse.MeltingI2t
	return fuse, nil
}

// pulses returns the greatest integral of the squared current between two zeros of
// it, as the current goes on from the end of the cycle to its start [A² s].
func pulses(current profile.Curve) (float64, error) {
	square, err := profile.Product(current, current)
	if err != nil {
		return 0, err
	}
	zeros := current.Crossings(nil, 0)
	start, end := current.Start(), current.End()
	if len(zeros) == 0 {
		return square.Integral(), nil
	}
	most := square.IntegralBetween(start, zeros[0]) + square.IntegralBetween(zeros[len(zeros)-1], end)
	for i := 1; i < len(zeros); i++ {
		most = math.Max(most, square.IntegralBetween(zeros[i-1], zeros[i]))
	}
	return most, nil
}
