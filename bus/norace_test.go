//go:build !race

package bus_test

const raceDetector = false
