package sizing

import (
	"fmt"
	"strings"

	"example.com/headroom/profile"
)

// didYouMean returns a hint at the known name that is nearest to a misspelt one, "" when
// none is near.
func didYouMean(name string, known []string) string {
	best, least := "", 1+len([]rune(name))/3
	for _, k := range known {
		if d := edits(strings.ToLower(name), strings.ToLower(k)); d <= least && (best == "" || d < least) {
			best, least = k, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("; did you mean %q?", best)
}

// edits counts the letters to insert, drop or replace to make one word of the other
// (Levenshtein's distance).
func edits(a, b string) int {
	x, y := []rune(a), []rune(b)
	if len(x) > 64 || len(y) > 64 {
		return 64
	}
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := range x {
		diagonal := row[0]
		row[0] = i + 1
		for j := range y {
			cost := 1
			if x[i] == y[j] {
				cost = 0
			}
			diagonal, row[j+1] = row[j+1], min(row[j+1]+1, row[j]+1, diagonal+cost)
		}
	}
	return row[len(y)]
}

// unknownField is the value of the fault of a field that the reader does not know.
const unknownField = "an unknown field"

// once reports a misspelt name a single time, where it stands first, with how often it
// comes again: the name of a field, or that of an axis, motor or drive.
func once(err error) error {
	type key struct{ name, want string }
	var f profile.Faults
	all := profile.InputErrors(err)
	times := map[key]int{}
	of := func(e *profile.InputError) (key, bool) {
		name, ok := e.Value.(string)
		if name == unknownField {
			name = e.Path[strings.LastIndexByte(e.Path, '.')+1:]
			return key{name, e.Want}, true
		}
		return key{name, e.Want}, ok && strings.Contains(e.Want, "name")
	}
	for _, e := range all {
		if k, ok := of(e); ok {
			times[k]++
		}
	}
	for _, e := range all {
		want := e.Want
		if k, ok := of(e); ok {
			n := times[k]
			if n == 0 {
				continue // said already
			}
			if times[k] = 0; n > 1 {
				want += fmt.Sprintf(" (and %d more like it)", n-1)
			}
		}
		f.Add(e.Path, e.Value, want)
	}
	return f.Err()
}
