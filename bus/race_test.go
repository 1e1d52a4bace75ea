//go:build race

package bus_test

// raceDetector tells whether the tests run under the race detector, many times
// slower.
const raceDetector = true
