package energy

import "example.com/headroom/profile"

// Magnitudes outside this range are taken for a slip of units: no machine has
// them, and their products could leave the range of float64.
const (
	smallest = 1e-15
	largest  = 1e12
)

// The checks are small enough to be compiled in place: every trace validates its axis.

func checkPositive(f *profile.Faults, path string, v float64, unit string) {
	if !(v >= smallest && v <= largest) {
		notPositive(f, path, v, unit)
	}
}

func notPositive(f *profile.Faults, path string, v float64, unit string) {
	if f.Positive(path, v, unit) {
		f.Within(path, v, smallest, largest, unit)
	}
}

func checkNonNegative(f *profile.Faults, path string, v float64, unit string) {
	if !(v >= 0 && v <= largest) {
		negative(f, path, v, unit)
	}
}

func negative(f *profile.Faults, path string, v float64, unit string) {
	if f.NonNegative(path, v, unit) {
		f.Within(path, v, 0, largest, unit)
	}
}

func checkFinite(f *profile.Faults, path string, v float64, unit string) {
	checkWithin(f, path, v, -largest, largest, unit)
}

// checkWithin is Faults.Within without the cost of wording a message that is not
// needed: every trace validates its axis.
func checkWithin(f *profile.Faults, path string, v, lo, hi float64, unit string) {
	if !(v >= lo && v <= hi) {
		f.Within(path, v, lo, hi, unit)
	}
}
