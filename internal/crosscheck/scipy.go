package crosscheck

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"os/exec"
	"sync"
	"time"
)

//go:embed ode.py
var odeScript string

// Methods of scipy.integrate.solve_ivp, and Extended for the extrapolated
// midpoint rule in 80-bit arithmetic.
const (
	DOP853   = "DOP853"
	Radau    = "Radau"
	LSODA    = "LSODA"
	Extended = "extended"
)

// Question is what ode.py is asked.
type Question struct {
	Circuit  Plain     `json:"circuit"`
	Times    []float64 `json:"times"`
	Method   string    `json:"method"`
	Relative float64   `json:"rtol"` // tolerance of solve_ivp; the absolute one is the same part of the start voltage
}

// Answer is what it replies.
type Answer struct {
	Version  string      `json:"version"`
	Voltages []float64   `json:"voltages"` // of the distribution point at Times [V]
	Currents []float64   `json:"currents"` // of the source [A]
	Ends     [][]float64 `json:"ends"`     // voltages of the feeders' ends [V]
	Events   []Switching `json:"events"`
	Energies struct {
		Source   float64 `json:"source"`
		Drawn    float64 `json:"drawn"`
		Returned float64 `json:"returned"`
		Switched float64 `json:"switched"`
		Resistor float64 `json:"resistor"`
		Bleeder  float64 `json:"bleeder"`
		Series   float64 `json:"series"`
		Cables   float64 `json:"cables"`
	} `json:"energies"` // [J]
	End     []float64 `json:"end"`              // voltages of bank and ends at the end [V]
	Lowest  float64   `json:"lowest,omitzero"`  // of the distribution point [V]; not with Extended
	Highest float64   `json:"highest,omitzero"` // likewise
	Steps   int       `json:"steps"`
	Slopes  int       `json:"slopes"` // evaluations of the right-hand side; not with Extended
}

// Switching is a change of mode, in the words of [bus.EventKind].
type Switching struct {
	Time  float64 // [s]
	What  string
	Index int // of the brake resistor
}

// UnmarshalJSON reads a switching from a list of three.
func (s *Switching) UnmarshalJSON(text []byte) error {
	list := []any{&s.Time, &s.What, &s.Index}
	return json.Unmarshal(text, &list)
}

// MarshalJSON writes it so.
func (s Switching) MarshalJSON() ([]byte, error) {
	return json.Marshal([]any{s.Time, s.What, s.Index})
}

// python is the interpreter that Debian's package of scipy belongs to.
const python = "/usr/bin/python3"

// HaveScipy returns why scipy cannot be run, or nil.
var HaveScipy = sync.OnceValue(func() error {
	out, err := exec.Command(python, "-c", "import scipy.integrate").CombinedOutput()
	if err != nil {
		return fmt.Errorf("no scipy in %s: %w: %s", python, err, lastLine(out))
	}
	return nil
})

// Ask puts a question to scipy.
func (q Question) Ask() (*Answer, error) {
	var a Answer
	if err := runPython(odeScript, q, &a); err != nil {
		return nil, err
	}
	return &a, nil
}

// patience is how long a program may take.
const patience = 2 * time.Minute

// runPython runs a script on a question, both through JSON.
func runPython(script string, question, answer any) error {
	text, err := json.Marshal(question)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	cmd := exec.CommandContext(ctx, python, "-c", script)
	cmd.Stdin = bytes.NewReader(text)
	var faults bytes.Buffer
	cmd.Stderr = &faults
	out, err := cmd.Output()
	if err != nil {
		return fmt.Errorf("python: %w: %s", err, lastLine(faults.Bytes()))
	}
	return json.Unmarshal(out, answer)
}

func lastLine(text []byte) []byte {
	text = bytes.TrimSpace(text)
	return text[bytes.LastIndexByte(text, '\n')+1:]
}
