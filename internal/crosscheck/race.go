package crosscheck

import _ "embed"

//go:embed race.py
var raceScript string

// Race is a question to race.py: a bus without series resistance, with a
// regulated source that it starts at, a brake resistor and one load.
type Race struct {
	Circuit  Plain     `json:"circuit"`
	Times    []float64 `json:"times"`
	Settings [][2]any  `json:"settings"` // method of solve_ivp, relative tolerance
	Repeats  int       `json:"repeats"`
}

// Lap is what scipy did with one setting.
type Lap struct {
	Voltages []float64 `json:"voltages"` // at Times [V]
	Switched []float64 `json:"switched"` // when the brake resistor did [s]
	Slopes   int       `json:"slopes"`   // evaluations of the right-hand side
	Steps    int       `json:"steps"`
	Seconds  float64   `json:"seconds"` // the least of Repeats
}

// Ask runs it.
func (r Race) Ask() ([]Lap, error) {
	var laps []Lap
	err := runPython(raceScript, r, &laps)
	return laps, err
}
