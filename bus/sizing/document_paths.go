package sizing

import (
	"regexp"
	"strings"

	"example.com/headroom/profile"
)

// origins maps paths of a machine to the paths of the document that they were
// read from, where a value stands in another place: a motor under motors.
type origins [][2]string

// renamed maps names of Go fields within a path to the document's, where the two
// differ.
var renamed = []struct {
	from *regexp.Regexp
	to   string
}{
	{regexp.MustCompile(`\.parts(\[\d+\])(\.shape)?`), "$1"},
	{regexp.MustCompile(`\.externalByPosition\.position(\[\d+\])`), ".externalByPosition$1[0]"},
	{regexp.MustCompile(`\.externalByPosition\.force(\[\d+\])`), ".externalByPosition$1[1]"},
	{regexp.MustCompile(`\.rod\.(whirling|buckling)\.diameter$`), ".rod.rootDiameter"},
	{regexp.MustCompile(`\.rod\.(whirling|buckling)\.(bore|elasticity)$`), ".rod.$2"},
	{regexp.MustCompile(`\.lim\.`), ".limits."},
	{regexp.MustCompile(`\.thread\.lead$`), ".lead"},
	{regexp.MustCompile(`\.on(\[\d+\])\.from$`), ".on$1[0]"},
	{regexp.MustCompile(`\.on(\[\d+\])\.to$`), ".on$1[1]"},
	{regexp.MustCompile(`^source\.`), "supply."},
	{regexp.MustCompile(`\.thermal\.rule\.`), ".thermal."},
	{regexp.MustCompile(`\.joint\.diameter$`), ".joint.shaftDiameter"},
	{regexp.MustCompile(`\.joint\.effectiveLength$`), ".joint.length"},
}

// restore puts the document's paths into the input errors of err and drops those
// that say the same twice.
func (o origins) restore(err error) error {
	var f profile.Faults
	seen := map[string]bool{}
	for _, e := range profile.InputErrors(err) {
		path := e.Path
		for _, p := range o {
			if rest, ok := strings.CutPrefix(path, p[0]); ok && (rest == "" || rest[0] == '.') {
				path = p[1] + rest
				break
			}
		}
		for _, r := range renamed {
			path = r.from.ReplaceAllString(path, r.to)
		}
		again := profile.InputError{Path: path, Value: e.Value, Want: e.Want}
		if text := again.Error(); !seen[text] {
			seen[text] = true
			f.Add(path, e.Value, e.Want)
		}
	}
	return once(f.Err())
}
