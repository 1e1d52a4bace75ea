package bus_test

import (
	"context"
	"fmt"

	"example.com/headroom/bus"
)

// A transformer, a bridge and a bank that feed the axes of a seedling
// transplanter with 300 W: what the bus looks like, what the transformer has to
// bear, what the mains deliver, and what the fuse has to stand. All figures are
// invented.
func ExampleTransformer() {
	ctx := context.Background()
	t := bus.Transformer{
		Mains:     bus.Mains{Phases: 1, Voltage: 230, Frequency: 50, Tolerance: 0.1},
		Secondary: 50, Rating: 630, ShortCircuit: 0.07, CopperLoss: 35, NoLoadLoss: 12, MagnetisingRMS: 0.2,
	}
	r, err := t.Rectifier(bus.Bridge, 0.8, 0.01)
	if err != nil {
		fmt.Println(err)
		return
	}
	bank := bus.Bank{Capacitance: 15e-3, RatedVoltage: 100, ToleranceHigh: 0.2}
	p, err := r.Settle(ctx, bank, bus.SteadyLoad{Power: 300})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("bus %.1f V, between %.1f V and %.1f V\n", p.Mean, p.Lowest, p.Highest)
	size := t.Size(p.Secondary)
	fmt.Printf("transformer %.0f VA with crests of %.1f A\n", size.Apparent, size.Crest)
	mains := t.Primary(p.Secondary)
	fmt.Printf("mains %.2f A, power factor %.2f\n", mains.RMS, mains.PowerFactor)
	inrush, err := r.Inrush(ctx, bank, 0)
	if err != nil {
		fmt.Println(err)
		return
	}
	fuse, err := mains.Fuse(t.PrimaryInrush(inrush))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("fuse from %.1f A, melting I²t above %.1f A²s\n", fuse.Rating, fuse.MeltingI2t)
	// Output:
	// bus 60.7 V, between 59.7 V and 61.8 V
	// transformer 442 VA with crests of 20.4 A
	// mains 1.93 A, power factor 0.76
	// fuse from 2.4 A, melting I²t above 7.5 A²s
}
