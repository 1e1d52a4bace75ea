//go:build race

package sizing_test

const raceDetector = true
