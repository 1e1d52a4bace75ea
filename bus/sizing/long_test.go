package sizing_test

import "testing"

// long marks a test that takes long and has nothing to race with. It runs beside others.
func long(t *testing.T) {
	t.Helper()
	if raceDetector {
		t.Skip("nothing runs at the same time here: not under the race detector, which takes many times as long")
	}
	t.Parallel()
}
