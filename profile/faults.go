package profile

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// InputError reports one input value that is outside its documented domain.
type InputError struct {
	Path  string // dotted path of the field, e.g. "axes[2].load.mass"
	Value any    // the rejected value: a float64 in SI units, or the text as read
	Want  string // what was expected, e.g. "finite and > 0 kg"
}

// Error returns "path = value: want what was expected".
func (e *InputError) Error() string {
	var v string
	switch x := e.Value.(type) {
	case nil:
		v = "missing"
	case float64:
		v = strconv.FormatFloat(x, 'g', -1, 64)
	case string:
		v = strconv.Quote(x)
	default:
		v = fmt.Sprint(x)
	}
	if e.Path == "" {
		return v + ": want " + e.Want
	}
	return e.Path + " = " + v + ": want " + e.Want
}

// Faults collects the faults found in one value, so that all are reported
// together. The zero value is ready to use.
type Faults struct {
	errs []error
}

// Add records that the field at path has a value other than what is wanted.
func (f *Faults) Add(path string, value any, want string) {
	f.errs = append(f.errs, &InputError{Path: path, Value: value, Want: want})
}

// Positive records a fault unless v is finite and > 0, and reports whether it
// is. unit names the unit for the message.
func (f *Faults) Positive(path string, v float64, unit string) bool {
	return f.check(v > 0 && !math.IsInf(v, 0), path, v, "finite and > 0", unit)
}

// NonNegative records a fault unless v is finite and >= 0.
func (f *Faults) NonNegative(path string, v float64, unit string) bool {
	return f.check(v >= 0 && !math.IsInf(v, 0), path, v, "finite and >= 0", unit)
}

// Finite records a fault unless v is finite.
func (f *Faults) Finite(path string, v float64, unit string) bool {
	return f.check(!math.IsNaN(v) && !math.IsInf(v, 0), path, v, "finite", unit)
}

// Within records a fault unless lo <= v <= hi.
func (f *Faults) Within(path string, v, lo, hi float64, unit string) bool {
	if v >= lo && v <= hi {
		return true
	}
	return f.check(false, path, v, fmt.Sprintf("from %g to %g", lo, hi), unit)
}

func (f *Faults) check(ok bool, path string, v float64, want, unit string) bool {
	if !ok {
		if unit != "" {
			want += " " + unit
		}
		f.Add(path, v, want)
	}
	return ok
}

// Under records every fault in err below path: an [*InputError] for "mass"
// found under "axes[2].load" becomes one for "axes[2].load.mass". Errors of
// other kinds are wrapped with the path. A nil err records nothing.
func (f *Faults) Under(path string, err error) {
	if err != nil {
		f.under(path, err)
	}
}

func (f *Faults) under(path string, err error) {
	for _, e := range flatten(nil, err) {
		in := InputErrors(e)
		for _, x := range in {
			f.errs = append(f.errs, &InputError{Path: JoinPath(path, x.Path), Value: x.Value, Want: x.Want})
		}
		if len(in) == 0 {
			f.errs = append(f.errs, fmt.Errorf("%s: %w", path, e))
		}
	}
}

// Err returns nil when nothing was recorded, or one error that joins all
// faults in the order they were found.
func (f *Faults) Err() error {
	if f.errs == nil {
		return nil
	}
	return errors.Join(f.errs...)
}

// JoinPath joins two field paths with a dot, or without one before an index.
func JoinPath(parent, child string) string {
	switch {
	case parent == "":
		return child
	case child == "":
		return parent
	case strings.HasPrefix(child, "["):
		return parent + child
	}
	return parent + "." + child
}

// InputErrors returns the input errors joined or wrapped in err, in order.
func InputErrors(err error) []*InputError {
	switch e := err.(type) {
	case *InputError:
		return []*InputError{e}
	case interface{ Unwrap() []error }:
		var out []*InputError
		for _, x := range e.Unwrap() {
			out = append(out, InputErrors(x)...)
		}
		return out
	case interface{ Unwrap() error }:
		return InputErrors(e.Unwrap())
	}
	return nil
}

// flatten appends the errors joined in err to dst.
func flatten(dst []error, err error) []error {
	if err == nil {
		return dst
	}
	if j, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range j.Unwrap() {
			dst = flatten(dst, e)
		}
		return dst
	}
	return append(dst, err)
}
