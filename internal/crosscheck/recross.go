package crosscheck

import _ "embed"

//go:embed recross.py
var recrossScript string

// Recrossing is a bank with a threshold, for recross.py: the power of its load is
// Power[0] + Power[1] t + Power[2] t².
type Recrossing struct {
	Capacitance float64    `json:"capacitance"`
	Conductance float64    `json:"conductance"` // across the bank [S]
	Power       [3]float64 `json:"power"`
	Start       float64    `json:"start"` // [V]
	End         float64    `json:"end"`   // [s]
	Threshold   float64    `json:"threshold"`
	Direction   int        `json:"direction"`
	Settings    [][3]any   `json:"settings"` // method, relative tolerance, longest step or 0
}

// Recrossed tells what solve_ivp found with one setting.
type Recrossed struct {
	Found bool    `json:"found"`
	Time  float64 `json:"time"`
	Steps int     `json:"steps"`
}

// Ask puts it to scipy.
func (r Recrossing) Ask() ([]Recrossed, error) {
	var a []Recrossed
	err := runPython(recrossScript, r, &a)
	return a, err
}
