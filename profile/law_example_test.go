package profile_test

import (
	"errors"
	"fmt"
	"log"

	"example.com/headroom/profile"
)

// An invented seedling transplanter has 0.9 s to bring its carriage 0.6 m on. A
// third of the time goes into speeding up, and half of that into rounding.
func ExampleShares() {
	law, err := profile.Shares{Accel: 1. / 3, Decel: 1. / 3, AccelRounding: 0.5, DecelRounding: 0.5}.Law()
	if err != nil {
		log.Fatal(err)
	}
	m, err := law.Motion(0, 0.6, 0.9)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("up to %.2f m/s and %.2f m/s²\n", m.Speed().Max().V, m.Accel().Max().V)

	// Its drive allows 4 m/s² only.
	_, err = law.MotionWithin(0, 0.6, 0.9, profile.Limits{Speed: 2, Accel: 4})
	var in *profile.InputError
	if errors.As(err, &in) {
		fmt.Println("refused:", in.Path)
	}
	shortest, err := law.Shortest(0.6, profile.Limits{Speed: 2, Accel: 4})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.3f s at least\n", shortest)
	// Output:
	// up to 1.00 m/s and 4.44 m/s²
	// refused: duration
	// 0.949 s at least
}

// How much copper loss a smoother move costs, over the same way in the same
// time.
func ExampleLaw() {
	loss := func(l profile.Law) float64 {
		m, err := l.Motion(0, 0.6, 0.9)
		if err != nil {
			log.Fatal(err)
		}
		rms := m.Accel().RMS()
		return rms * rms * m.Duration()
	}
	least := loss(profile.LeastLoss())
	for _, l := range []struct {
		name string
		law  profile.Law
	}{{"least loss", profile.LeastLoss()}, {"3-4-5", profile.Polynomial345()}, {"cycloidal", profile.Cycloidal()}} {
		f := l.law.Factors()
		fmt.Printf("%-10s  loss %.2f  speed %.3f  acceleration %.3f\n", l.name, loss(l.law)/least, f.Speed, f.Accel)
	}
	// Output:
	// least loss  loss 1.00  speed 1.500  acceleration 6.000
	// 3-4-5       loss 1.43  speed 1.875  acceleration 5.774
	// cycloidal   loss 1.64  speed 2.000  acceleration 6.283
}

// A carriage that has time may as well take it.
func ExampleMove_Stretch() {
	move, err := profile.Plan(0, 0.6, profile.Limits{Speed: 1, Accel: 5, Jerk: 100})
	if err != nil {
		log.Fatal(err)
	}
	slow, err := move.Stretch(1.2)
	if err != nil {
		log.Fatal(err)
	}
	fast, gentle := move.Motion(), slow.Motion()
	fmt.Printf("%.2f s: %.2f m/s, %.2f m/s²\n", fast.Duration(), fast.Speed().Max().V, fast.Accel().Max().V)
	fmt.Printf("%.2f s: %.2f m/s, %.2f m/s²\n", gentle.Duration(), gentle.Speed().Max().V, gentle.Accel().Max().V)
	// Output:
	// 0.85 s: 1.00 m/s, 5.00 m/s²
	// 1.20 s: 0.71 m/s, 2.51 m/s²
}

// The gripper of an invented transplanter turns while its carriage travels.
func ExampleSynchronise() {
	carriage, err := profile.Plan(0, 0.6, profile.Limits{Speed: 1, Accel: 5}) // m
	if err != nil {
		log.Fatal(err)
	}
	turn, err := profile.Plan(0, 1.5, profile.Limits{Speed: 6, Accel: 40}) // rad
	if err != nil {
		log.Fatal(err)
	}
	both, err := profile.Synchronise(nil, []profile.Move{carriage, turn})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("alone   %.2f s and %.2f s\n", carriage.Duration(), turn.Duration())
	fmt.Printf("matched %.2f s and %.2f s\n", both[0].Duration(), both[1].Duration())
	// Output:
	// alone   0.80 s and 0.40 s
	// matched 0.80 s and 0.80 s
}

// An invented gantry goes straight from the tray to the pot: its gripper may not
// go faster than 0.8 m/s in space, and the slow vertical axis limits the rest.
func ExampleLine() {
	axes := []profile.Limits{
		{Speed: 1.5, Accel: 8, Jerk: 200},           // along the bench
		{Speed: 0.5, Accel: 4, Decel: 3, Jerk: 100}, // up and down
	}
	moves, err := profile.Line(nil, []float64{0, 0.1}, []float64{0.4, 0.4}, axes, profile.Limits{Speed: 0.8})
	if err != nil {
		log.Fatal(err)
	}
	for i, name := range []string{"along", "up"} {
		m := moves[i].Motion()
		fmt.Printf("%-5s %.3f s, up to %.2f m/s, %.2f m/s², %.2f m/s²\n",
			name, m.Duration(), m.Speed().Max().V, m.Accel().Max().V, -m.Accel().Min().V)
	}
	// Output:
	// along 0.800 s, up to 0.64 m/s, 5.33 m/s², 4.00 m/s²
	// up    0.800 s, up to 0.48 m/s, 4.00 m/s², 3.00 m/s²
}
