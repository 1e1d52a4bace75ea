package crosscheck

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
)

// Stored is a question with what ode.py answered, as it lies in testdata.
type Stored struct {
	Script   string // SHA-256 of ode.py as it was
	Question Question
	Answers  map[string]*Answer // by method
}

func scriptSum() string {
	sum := sha256.Sum256([]byte(odeScript))
	return hex.EncodeToString(sum[:])
}

func storedPath(name string) string { return filepath.Join("testdata", name+".ode.json") }

// AskAll puts a question to several methods.
func AskAll(q Question, methods ...string) (Stored, error) {
	s := Stored{Script: scriptSum(), Question: q, Answers: map[string]*Answer{}}
	for _, m := range methods {
		q.Method = m
		a, err := q.Ask()
		if err != nil {
			return s, err
		}
		s.Answers[m] = a
	}
	return s, nil
}

// Write stores s under a name.
func (s Stored) Write(name string) error {
	text, err := json.Marshal(s)
	if err != nil {
		return err
	}
	return os.WriteFile(storedPath(name), append(text, '\n'), 0o644)
}

// ReadStored reads what lies under a name. It fails when script or question are
// no longer those that were answered.
func ReadStored(name string, now Question) (Stored, error) {
	var s Stored
	text, err := os.ReadFile(storedPath(name))
	if err != nil {
		return s, err
	}
	if err := json.Unmarshal(text, &s); err != nil {
		return s, fmt.Errorf("%s: %w", name, err)
	}
	was, err := json.Marshal(s.Question)
	if err != nil {
		return s, err
	}
	is, err := json.Marshal(now)
	if err != nil {
		return s, err
	}
	if s.Script != scriptSum() || string(was) != string(is) {
		return s, fmt.Errorf("%s: circuit or ode.py changed since the answer was stored: run go test ./internal/crosscheck -update, with scipy", name)
	}
	return s, nil
}
