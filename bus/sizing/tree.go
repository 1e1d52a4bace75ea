package sizing

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"example.com/headroom/profile"
)

// maxDocument is the largest document read [bytes], maxDepth how deep it may
// nest.
const (
	maxDocument = 8 << 20
	maxDepth    = 32
)

// node is one value of a JSON document with its path.
type node struct {
	path   string
	value  any // string, json.Number, bool, nil, []*node or *object
	object *object
}

// object is a JSON object whose fields are ticked off as they are read.
type object struct {
	path   string
	keys   []string // in document order
	fields map[string]*node
	read   map[string]asked
}

// asked says how a field was asked for: the published schema is held against it.
type asked struct {
	need need
	as   string // the kind of a quantity, "text", "number", "flag", "list", "object" or the values of a choice
}

// parseTree reads one JSON value. Faults of form that do not stop the reading
// (a field given twice) are recorded in f.
func parseTree(r io.Reader, f *profile.Faults) (*node, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxDocument+1))
	if err != nil {
		return nil, err
	}
	if len(data) > maxDocument {
		f.Add("", fmt.Sprintf("more than %d bytes", maxDocument), "a document of at most that size")
		return nil, f.Err()
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	n, err := parseNode(d, "", 0, f)
	if err == nil {
		if _, extra := d.Token(); extra != io.EOF {
			err = fmt.Errorf("more text after the document")
		}
	}
	if err != nil {
		line := 1 + bytes.Count(data[:min(int64(len(data)), d.InputOffset())], []byte("\n"))
		if err == io.EOF || err == io.ErrUnexpectedEOF {
			err = fmt.Errorf("the text ends early")
		}
		f.Add("", fmt.Sprintf("line %d: %s", line, err), "a JSON document")
		return nil, f.Err()
	}
	return n, nil
}

func parseNode(d *json.Decoder, path string, depth int, f *profile.Faults) (*node, error) {
	if depth > maxDepth {
		return nil, fmt.Errorf("nested deeper than %d", maxDepth)
	}
	token, err := d.Token()
	if err != nil {
		return nil, err
	}
	n := &node{path: path, value: token}
	switch token {
	case json.Delim('['):
		var list []*node
		for d.More() {
			child, err := parseNode(d, fmt.Sprintf("%s[%d]", path, len(list)), depth+1, f)
			if err != nil {
				return nil, err
			}
			list = append(list, child)
		}
		n.value = list
		_, err = d.Token()
	case json.Delim('{'):
		o := &object{path: path, fields: map[string]*node{}, read: map[string]asked{}}
		for d.More() {
			key, err := d.Token()
			if err != nil {
				return nil, err
			}
			name := key.(string)
			child, err := parseNode(d, profile.JoinPath(path, name), depth+1, f)
			if err != nil {
				return nil, err
			}
			if _, twice := o.fields[name]; twice {
				f.Add(child.path, "given twice", "each field once")
				continue
			}
			o.keys = append(o.keys, name)
			o.fields[name] = child
		}
		n.object = o
		_, err = d.Token()
	}
	return n, err
}

// text returns the value as it stands in the document, for messages.
func (n *node) text() any {
	switch v := n.value.(type) {
	case string:
		return v
	case json.Number:
		return "the number " + v.String()
	case bool:
		return fmt.Sprintf("%t", v)
	case []*node:
		return "a list"
	case nil:
		return "null"
	}
	return "an object"
}

// unread records every field that was never asked for.
func (o *object) unread(f *profile.Faults) {
	if o == nil {
		return
	}
	known := sortedKeys(o.read)
	for _, k := range o.keys {
		if _, ok := o.read[k]; !ok {
			f.Add(profile.JoinPath(o.path, k), unknownField, "one of "+strings.Join(known, ", ")+didYouMean(k, known))
		}
	}
}
