package crosscheck

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
)

// Stored is a question to a script of Python with what it answered, as it lies in
// testdata.
type Stored[Q, A any] struct {
	Script   string // SHA-256 of the script as it was
	Question Q
	Answers  map[string]A // by method
}

func sum(script string) string {
	sum := sha256.Sum256([]byte(script))
	return hex.EncodeToString(sum[:])
}

func storedPath(name string) string { return filepath.Join("testdata", name+".scipy.json") }

// AskAll puts a question to several methods.
func AskAll(q Question, methods ...string) (Stored[Question, *Answer], error) {
	s := Stored[Question, *Answer]{sum(odeScript), q, map[string]*Answer{}}
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

// AskRipple puts a question to rectify.py.
func AskRipple(q RippleQuestion) (Stored[RippleQuestion, *RippleAnswer], error) {
	a, err := q.Ask()
	return Stored[RippleQuestion, *RippleAnswer]{sum(rectifyScript), q, map[string]*RippleAnswer{q.Method: a}}, err
}

// Write stores s under a name.
func (s Stored[Q, A]) Write(name string) error {
	text, err := json.Marshal(s)
	if err != nil {
		return err
	}
	return os.WriteFile(storedPath(name), append(text, '\n'), 0o644)
}

// ReadStored reads what ode.py answered under a name. It fails when script or
// question are no longer those that were answered.
func ReadStored(name string, now Question) (Stored[Question, *Answer], error) {
	return readStored[Question, *Answer](name, odeScript, now)
}

// ReadRipple does the same for rectify.py.
func ReadRipple(name string, now RippleQuestion) (Stored[RippleQuestion, *RippleAnswer], error) {
	return readStored[RippleQuestion, *RippleAnswer](name, rectifyScript, now)
}

func readStored[Q, A any](name, script string, now Q) (Stored[Q, A], error) {
	var s Stored[Q, A]
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
	if s.Script != sum(script) || string(was) != string(is) {
		return s, fmt.Errorf("%s: circuit or script changed since the answer was stored: run go test ./internal/crosscheck -update, with scipy", name)
	}
	return s, nil
}
