package sizing_test

import (
	"encoding/json"
	"fmt"
	"os"
	"reflect"
	"regexp"
	"sort"
	"strings"
	"testing"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
)

// schema is the published schema, with as much of JSON Schema (2020-12) as it uses:
// type, const, enum, pattern, minimum, items, prefixItems, minItems, maxItems, properties,
// required, additionalProperties, oneOf, anyOf and $ref.
type schema struct {
	root    map[string]any
	offered map[string]map[any]bool // values that it offers of each choice
}

var understood = regexp.MustCompile(`^(\$schema|\$ref|\$defs|title|description|examples|type|const|enum|pattern|minimum|items|prefixItems|minItems|maxItems|properties|required|additionalProperties|oneOf|anyOf)$`)

func readSchema(t testing.TB) schema {
	t.Helper()
	b, err := os.ReadFile("../../examples/assess/machine.schema.json")
	require.NoError(t, err)
	s := schema{offered: map[string]map[any]bool{}}
	require.NoError(t, json.Unmarshal(b, &s.root))
	return s
}

// resolve follows a $ref.
func (s schema) resolve(at string, node map[string]any) (string, map[string]any) {
	ref, ok := node["$ref"].(string)
	if !ok {
		return at, node
	}
	defs := s.root["$defs"].(map[string]any)
	to, ok := defs[strings.TrimPrefix(ref, "#/$defs/")].(map[string]any)
	if !ok {
		panic("no such definition: " + ref)
	}
	return s.resolve(ref, to)
}

// check returns what is wrong with a value, nil when nothing is. visit is called for
// every object whose properties are in the schema, with where in the schema they are.
func (s schema) check(at string, node map[string]any, path string, v any, visit func(at string, node map[string]any, path string)) []string {
	at, node = s.resolve(at, node)
	var bad []string
	fault := func(format string, args ...any) {
		bad = append(bad, path+" ("+at+"): "+fmt.Sprintf(format, args...))
	}
	if want, ok := node["type"]; ok && !isType(want, v) {
		fault("%v is not of type %v", v, want)
		return bad
	}
	if c, ok := node["const"]; ok && !reflect.DeepEqual(c, v) {
		fault("%v is not %v", v, c)
	}
	if e, ok := node["enum"].([]any); ok {
		found := false
		for _, x := range e {
			found = found || reflect.DeepEqual(x, v)
		}
		if !found {
			fault("%v is none of %v", v, e)
		}
	}
	switch x := v.(type) {
	case string:
		if p, ok := node["pattern"].(string); ok && !regexp.MustCompile(p).MatchString(x) {
			fault("%q does not match %s", x, p)
		}
	case float64:
		if m, ok := node["minimum"].(float64); ok && x < m {
			fault("%g is below %g", x, m)
		}
	case []any:
		if m, ok := node["minItems"].(float64); ok && len(x) < int(m) {
			fault("%d items, at least %g", len(x), m)
		}
		if m, ok := node["maxItems"].(float64); ok && len(x) > int(m) {
			fault("%d items, at most %g", len(x), m)
		}
		prefix, _ := node["prefixItems"].([]any)
		for i, item := range x {
			at := fmt.Sprintf("%s/items", at)
			of, ok := node["items"].(map[string]any)
			if i < len(prefix) {
				of, ok = prefix[i].(map[string]any), true
			}
			if ok {
				bad = append(bad, s.check(at, of, fmt.Sprintf("%s[%d]", path, i), item, visit)...)
			}
		}
	case map[string]any:
		bad = append(bad, s.checkObject(at, node, path, x, visit)...)
	}
	for _, key := range []string{"oneOf", "anyOf"} {
		branches, _ := node[key].([]any)
		if branches == nil {
			continue
		}
		fits, last := 0, 0
		var all []string
		for i, b := range branches {
			if wrong := s.check(fmt.Sprintf("%s/%s/%d", at, key, i), b.(map[string]any), path, v, nil); wrong == nil {
				fits, last = fits+1, i
			} else {
				all = append(all, wrong...)
			}
		}
		if fits == 0 || key == "oneOf" && fits != 1 {
			fault("fits %d branches of %s: %v", fits, key, all)
		} else if visit != nil {
			s.check(fmt.Sprintf("%s/%s/%d", at, key, last), branches[last].(map[string]any), path, v, visit)
		}
	}
	return bad
}

func (s schema) checkObject(at string, node map[string]any, path string, v map[string]any, visit func(at string, node map[string]any, path string)) []string {
	var bad []string
	properties, known := node["properties"].(map[string]any)
	if known && visit != nil {
		visit(at, node, path)
	}
	needed, _ := node["required"].([]any)
	for _, k := range needed {
		if _, ok := v[k.(string)]; !ok {
			bad = append(bad, fmt.Sprintf("%s (%s): %s is missing", path, at, k))
		}
	}
	for k, x := range v {
		if p, ok := properties[k].(map[string]any); ok {
			bad = append(bad, s.check(at+"/"+k, p, profile.JoinPath(path, k), x, visit)...)
		} else if of, ok := node["additionalProperties"].(map[string]any); ok {
			bad = append(bad, s.check(at+"/*", of, profile.JoinPath(path, k), x, visit)...)
		} else if node["additionalProperties"] == false {
			bad = append(bad, fmt.Sprintf("%s (%s): %s is unknown", path, at, k))
		}
	}
	return bad
}

func isType(want, v any) bool {
	if list, ok := want.([]any); ok {
		for _, w := range list {
			if isType(w, v) {
				return true
			}
		}
		return false
	}
	switch x := v.(type) {
	case string:
		return want == "string"
	case bool:
		return want == "boolean"
	case float64:
		return want == "number" || want == "integer" && x == float64(int(x))
	case []any:
		return want == "array"
	case map[string]any:
		return want == "object"
	}
	return false
}

// seen is what the reader asked for at one object of the schema, over all documents.
type seen struct {
	node     map[string]any
	fields   map[string]map[string]bool // how each field was read
	required map[string]bool            // of those that every document was asked for
}

// TestSchemaIsTheReader holds the published schema against the reader: every document is
// valid, and each object of the schema has the fields that the reader asks for there, no
// more and no fewer, required where the reader requires them, of the reader's kind.
func TestSchemaIsTheReader(t *testing.T) {
	s := readSchema(t)
	objects := map[string]*seen{}
	docs := variants(t)
	docs["schema named"] = replaced(t, `{
  "machine"`, `{ "$schema": "machine.schema.json",
  "machine"`)
	for name, doc := range docs {
		asked, err := sizing.AskedFields(doc)
		require.NoError(t, err, name)
		var root any
		require.NoError(t, json.Unmarshal([]byte(doc), &root))
		bad := s.check("#", s.root, "", root, func(at string, node map[string]any, path string) {
			o := objects[at]
			if o == nil {
				o = &seen{node, map[string]map[string]bool{}, nil}
				objects[at] = o
			}
			needed := map[string]bool{}
			for key, a := range asked[path] {
				if o.fields[key] == nil {
					o.fields[key] = map[string]bool{}
				}
				o.fields[key][a.As] = true
				if a.Required && (o.required == nil || o.required[key]) {
					needed[key] = true
				}
			}
			o.required = needed
		})
		require.Empty(t, bad, name)
	}

	ignored := map[string]bool{}
	for at, o := range objects {
		var have, want []string
		for key := range o.node["properties"].(map[string]any) {
			have = append(have, key)
		}
		for key := range o.fields {
			want = append(want, key)
		}
		sort.Strings(have)
		sort.Strings(want)
		if d := cmp.Diff(want, have); d != "" {
			t.Errorf("fields at %s (-reader +schema):\n%s", at, d)
		}
		have, want = nil, nil
		for _, key := range o.node["required"].([]any) {
			have = append(have, key.(string))
		}
		for key := range o.required {
			want = append(want, key)
		}
		for key, p := range o.node["properties"].(map[string]any) {
			if p.(map[string]any)["const"] == true {
				want = append(want, key) // what tells a branch from the others
			}
		}
		sort.Strings(have)
		sort.Strings(want)
		if d := cmp.Diff(want, have); d != "" {
			t.Errorf("required at %s (-reader +schema):\n%s", at, d)
		}
		for key, as := range o.fields {
			if p, ok := o.node["properties"].(map[string]any)[key].(map[string]any); ok {
				s.compareKinds(t, at+"/"+key, p, as)
			}
		}
		ignored[at] = true
	}

	for from, values := range s.offered {
		require.Len(t, values, len(strings.Split(from, ", ")), "the schema offers %v of %s", values, from)
	}

	// No object of the schema is without a document, and every field says what it is.
	var walk func(at string, v any)
	walk = func(at string, v any) {
		switch v := v.(type) {
		case []any:
			for i, x := range v {
				walk(fmt.Sprintf("%s/%d", at, i), x)
			}
		case map[string]any:
			if p, ok := v["properties"].(map[string]any); ok {
				require.True(t, ignored[at], "no document reaches %s", at)
				for key, x := range p {
					field := x.(map[string]any)
					_, there := field["description"]
					_, of := s.resolve("", field)
					_, behind := of["description"]
					require.True(t, there || behind, "%s/%s has no description", at, key)
					walk(at+"/"+key, x)
				}
			}
			for key, x := range v {
				switch key {
				case "$defs":
					for name, def := range x.(map[string]any) {
						walk("#/$defs/"+name, def)
					}
				case "oneOf", "anyOf":
					walk(at+"/"+key, x)
				case "items":
					walk(at+"/items", x)
				case "additionalProperties":
					walk(at+"/*", x)
				}
				require.Regexp(t, understood, key, at)
			}
		}
	}
	walk("#", s.root)
}

// compareKinds holds what a field of the schema may be against what the reader takes.
func (s schema) compareKinds(t *testing.T, at string, field map[string]any, as map[string]bool) {
	t.Helper()
	options := []any{field}
	if any, ok := field["anyOf"].([]any); ok {
		options = any
	}
	have := map[string]bool{}
	for _, o := range options {
		ref, node := s.resolve("", o.(map[string]any))
		name := strings.TrimPrefix(ref, "#/$defs/")
		_, constant := node["const"]
		switch {
		case name == "inertia":
			have[quantity.Inertia.String()] = true
		case node["examples"] != nil:
			have[words(name)] = true
		case node["enum"] != nil || constant && node["const"] != true && node["const"] != false:
			have["choice"] = true
		case constant || node["type"] == "boolean":
			have["flag"] = true
		case node["type"] == "string":
			have["text"] = true
		case node["type"] == "integer":
			have["number"] = true
		case node["type"] == "array":
			have["list"] = true
		default:
			have["object"] = true
		}
	}
	want := map[string]bool{}
	for k := range as {
		if strings.Contains(k, ", ") {
			s.compareChoice(t, at, field, k)
			k = "choice"
		}
		want[k] = true
	}
	if d := cmp.Diff(want, have); d != "" {
		t.Errorf("%s (-reader +schema):\n%s", at, d)
	}
}

// compareChoice sees that every value the schema offers is one of the reader's.
func (s schema) compareChoice(t *testing.T, at string, field map[string]any, from string) {
	t.Helper()
	known := strings.Split(from, ", ")
	values, ok := field["enum"].([]any)
	if !ok {
		values = []any{field["const"]}
	}
	if s.offered[from] == nil {
		s.offered[from] = map[any]bool{}
	}
	for _, v := range values {
		require.Contains(t, known, v, at)
		s.offered[from][v] = true
	}
}

// words turns the name of a definition into that of a kind: "angularSpeed" into "angular
// speed".
func words(name string) string {
	var b strings.Builder
	for _, c := range name {
		if unicode.IsUpper(c) {
			b.WriteByte(' ')
		}
		b.WriteRune(unicode.ToLower(c))
	}
	return b.String()
}

// The schema refuses what the reader refuses: fields that nobody knows, wherever they
// stand, and text without a number.
func TestSchemaRefuses(t *testing.T) {
	long(t)
	s := readSchema(t)
	for name, doc := range variants(t) {
		var root any
		require.NoError(t, json.Unmarshal([]byte(doc), &root))
		var walk func(path string, v any)
		walk = func(path string, v any) {
			switch v := v.(type) {
			case map[string]any:
				if last := path[strings.LastIndexByte(path, '.')+1:]; !strings.Contains(" motors drives to by payload force ", " "+last+" ") {
					v["nonsense"] = "1 m"
					require.NotEmpty(t, s.check("#", s.root, "", root, nil), "%s: %s", name, path)
					delete(v, "nonsense")
				}
				for k, x := range v {
					walk(profile.JoinPath(path, k), x)
				}
			case []any:
				for i, x := range v {
					walk(fmt.Sprintf("%s[%d]", path, i), x)
				}
			}
		}
		walk("", root)
	}
	for _, pair := range [][2]string{{`"mass": "10 kg"`, `"mass": 10`}, {`"mass": "10 kg"`, `"mass": "ten kg"`}, {`"kind": "belt"`, `"kind": "rope"`}, {`"kind": "belt", `, ``}, {`"mass": "10 kg"`, `"coulomb": "1 N"`}} {
		var root any
		require.NoError(t, json.Unmarshal([]byte(replaced(t, pair[0], pair[1])), &root))
		require.NotEmpty(t, s.check("#", s.root, "", root, nil), pair[1])
	}
}

// Examples of the schema's quantities are those that faults name, and are read.
func TestSchemaExamples(t *testing.T) {
	s := readSchema(t)
	kinds := map[string]quantity.Kind{}
	for k := quantity.Kind(1); k.Example() != ""; k++ {
		kinds[k.String()] = k
	}
	count := 0
	for name, def := range s.root["$defs"].(map[string]any) {
		examples, ok := def.(map[string]any)["examples"].([]any)
		if !ok {
			continue
		}
		kind, known := kinds[words(name)]
		require.True(t, known, name)
		require.Equal(t, []any{kind.Example()}, examples)
		require.Contains(t, def.(map[string]any)["description"], kind.Unit())
		require.Empty(t, s.check("", def.(map[string]any), "", examples[0], nil), name)
		count++
	}
	require.Greater(t, count, 30)
}
