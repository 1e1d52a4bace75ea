package profile_test

import (
	"fmt"

	"example.com/headroom/profile"
)

// An axis at 0.8 m/s that is already slowing down is sent to another place, which
// it has to pass at 0.3 m/s. Invented figures.
func ExamplePlanBetween() {
	lim := profile.Limits{Speed: 1.2, Accel: 6, Decel: 4, Jerk: 80, DecelJerk: 50}
	from := profile.State{Position: 0.2, Speed: 0.8, Accel: -2}
	to := profile.State{Position: 1, Speed: 0.3}
	m, err := profile.PlanBetween(from, to, lim)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f s, highest speed %.2f m/s\n", m.Duration(), m.Motion().Speed().Max().V)

	_, err = profile.PlanBetween(from, profile.State{Position: 1, Speed: 1.5}, lim)
	fmt.Println(err)
	// Output:
	// 0.822 s, highest speed 1.20 m/s
	// to.speed = 1.5: want from -1.2 to 1.2 m/s, the speed limit
}

// How far an axis goes and how long it takes if it has to stop now, while it still
// speeds up. Invented figures.
func ExampleHalt() {
	from := profile.State{Position: 0.2, Speed: 0.8, Accel: 3}
	m, err := profile.Halt(from, profile.Limits{Speed: 1.2, Accel: 6, Decel: 4, Jerk: 80, DecelJerk: 50})
	if err != nil {
		fmt.Println(err)
		return
	}
	end := m.At(m.Duration())
	fmt.Printf("%.0f mm in %.0f ms\n", 1e3*(end.Position-from.Position), 1e3*m.Duration())
	// Output: 157 mm in 332 ms
}
