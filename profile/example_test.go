package profile_test

import (
	"fmt"
	"log"

	"example.com/headroom/profile"
)

// The carriage of an invented seedling transplanter travels 0.6 m along its
// tray, starting briskly and settling gently.
func ExamplePlan() {
	move, err := profile.Plan(0, 0.6, profile.Limits{
		Speed: 1.0,         // m/s
		Accel: 5, Decel: 4, // m/s²
		Jerk: 100, DecelJerk: 40, // m/s³
	})
	if err != nil {
		log.Fatal(err)
	}
	motion := move.Motion()
	fmt.Printf("%.3f s, up to %.2f m/s\n", move.Duration(), motion.Speed().Max().V)
	fmt.Printf("half-way in time: %.3f m\n", move.At(move.Duration()/2).Position)
	fmt.Printf("RMS acceleration: %.2f m/s²\n", motion.Accel().RMS())
	// Output:
	// 0.900 s, up to 1.00 m/s
	// half-way in time: 0.325 m
	// RMS acceleration: 2.99 m/s²
}

// One cycle of an invented gripper: down to the plug tray, a pause to close, and
// up again.
func ExampleSequence() {
	lim := profile.Limits{Speed: 0.8, Accel: 6, Jerk: 150}
	down, err := profile.Plan(0.12, 0, lim)
	if err != nil {
		log.Fatal(err)
	}
	up, err := profile.Plan(0, 0.12, lim)
	if err != nil {
		log.Fatal(err)
	}
	grip, err := profile.Dwell(0, 0.15)
	if err != nil {
		log.Fatal(err)
	}
	cycle, err := profile.Sequence(down.Motion(), grip, up.Motion())
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.3f s a cycle, at the tray from %.3f s\n", cycle.Duration(), down.Duration())
	fmt.Println("repeats:", cycle.Closes() == nil)

	// A cycle that does not come back is told where it fails to.
	half, err := profile.Sequence(down.Motion(), grip)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(half.Closes())
	// Output:
	// 0.801 s a cycle, at the tray from 0.326 s
	// repeats: true
	// position = 0: want 0.12 m, where the cycle starts, 0.12 m away
}
