package sizing_test

import "testing"

// long marks a test that takes too long under the race detector, which looks at what shorter ones
// do too. It runs beside others.
func long(t *testing.T) {
	t.Helper()
	if raceDetector {
		t.Skip("too long under the race detector")
	}
	t.Parallel()
}
