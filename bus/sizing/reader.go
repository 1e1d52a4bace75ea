package sizing

import (
	"encoding/json"
	"regexp"
	"strings"

	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
)

// reader takes typed values out of a document and collects all faults.
type reader struct {
	faults profile.Faults
}

// need says whether a field may be left out.
type need int

const (
	required need = iota
	optional
	// notZero may be left out, but is not zero when it is there: a zero would read as
	// "not given", which is something else than the text says.
	notZero
)

// field returns the field of an object, nil when it is not there, which is a
// fault when it is required. as says what it is read as.
func (r *reader) field(o *object, key string, n need, as string) *node {
	if o == nil {
		return nil
	}
	if _, again := o.read[key]; !again {
		o.read[key] = asked{n, as}
	}
	child := o.fields[key]
	if child == nil && n == required {
		r.faults.Add(profile.JoinPath(o.path, key), nil, "this field")
	}
	return child
}

// quantity reads a quantity with its unit; 0 when it is not there.
func (r *reader) quantity(o *object, key string, kind quantity.Kind, n need) float64 {
	c := r.field(o, key, n, kind.String())
	v, ok := r.read(c, kind)
	if ok && v == 0 && n == notZero {
		r.faults.Add(c.path, c.text(), "a value other than zero, or no such field")
	}
	return v
}

func (r *reader) quantityOf(c *node, kind quantity.Kind) float64 {
	v, _ := r.read(c, kind)
	return v
}

// read returns the quantity that a node holds, and whether it holds one.
func (r *reader) read(c *node, kind quantity.Kind) (float64, bool) {
	if c == nil {
		return 0, false
	}
	text, ok := c.value.(string)
	if num, isNumber := c.value.(json.Number); isNumber && kind.Unit() == "" {
		text, ok = num.String(), true // a dimensionless quantity may go without quotes
	}
	if !ok {
		r.faults.Add(c.path, c.text(), "text with a unit: "+kind.Want())
		return 0, false
	}
	v, err := quantity.Parse(text, kind)
	if err != nil {
		want := kind.Want()
		if e, ok := err.(*quantity.Error); ok && e.Hint != "" {
			want += " (" + e.Hint + ")"
		}
		r.faults.Add(c.path, text, want)
		return 0, false
	}
	if other := namesakes[kind]; other != nil && other.MatchString(text) {
		r.faults.Add(c.path, text, kind.Want()+"; what is given has the same dimensions but is something else")
		return 0, false
	}
	return v, true
}

// namesakes matches units that have the dimensions of a kind but stand for
// something else: joules for a torque, newton metres for an energy, volt seconds
// for a torque constant (with three phases √3 or more away from it), apparent for
// active power.
var namesakes = map[quantity.Kind]*regexp.Regexp{
	quantity.Torque:         regexp.MustCompile(`[JW]`),
	quantity.Energy:         regexp.MustCompile(`N|lbf|ozf`),
	quantity.TorqueConstant: regexp.MustCompile(`V`),
	quantity.ForceConstant:  regexp.MustCompile(`V`),
	quantity.Power:          regexp.MustCompile(`VA`),
}

// count reads a whole number.
func (r *reader) count(o *object, key string, n need) int {
	c := r.field(o, key, n, "number")
	if c == nil {
		return 0
	}
	num, ok := c.value.(json.Number)
	v, err := num.Int64()
	if !ok || err != nil || int64(int32(v)) != v {
		r.faults.Add(c.path, c.text(), "a whole number")
		return 0
	}
	if v == 0 && n == notZero {
		r.faults.Add(c.path, c.text(), "a value other than zero, or no such field")
	}
	return int(v)
}

// text reads a string.
func (r *reader) text(o *object, key string, n need) string {
	return r.textAs(o, key, n, "text")
}

func (r *reader) textAs(o *object, key string, n need, as string) string {
	c := r.field(o, key, n, as)
	if c == nil {
		return ""
	}
	s, ok := c.value.(string)
	if !ok {
		r.faults.Add(c.path, c.text(), "text")
	}
	return s
}

// flag reads true or false.
func (r *reader) flag(o *object, key string) bool {
	c := r.field(o, key, optional, "flag")
	if c == nil {
		return false
	}
	b, ok := c.value.(bool)
	if !ok {
		r.faults.Add(c.path, c.text(), "true or false")
	}
	return b
}

// object reads an object, nil when it is not there.
func (r *reader) object(o *object, key string, n need) *object {
	return r.objectOf(r.field(o, key, n, "object"))
}

func (r *reader) objectOf(c *node) *object {
	if c == nil {
		return nil
	}
	if c.object == nil {
		r.faults.Add(c.path, c.text(), "an object")
	}
	return c.object
}

// list reads a list.
func (r *reader) list(o *object, key string, n need) []*node {
	c := r.field(o, key, n, "list")
	if c == nil {
		return nil
	}
	l, ok := c.value.([]*node)
	if !ok {
		r.faults.Add(c.path, c.text(), "a list")
	}
	return l
}

// choice reads a string that must be one of the given.
func (r *reader) choice(o *object, key string, n need, from ...string) string {
	s := r.textAs(o, key, n, strings.Join(from, ", "))
	for _, k := range from {
		if s == k {
			return s
		}
	}
	if o == nil || o.fields[key] == nil && n != required {
		return ""
	}
	for _, k := range o.keys {
		o.read[k] = asked{} // which fields belong here depends on the choice
	}
	if c := o.fields[key]; c != nil {
		if _, ok := c.value.(string); ok {
			r.faults.Add(c.path, s, "one of "+strings.Join(from, ", ")+didYouMean(s, from))
		}
	}
	return ""
}
