//go:build !race

package sizing_test

// raceDetector tells whether the tests run under the race detector, many times slower.
const raceDetector = false
