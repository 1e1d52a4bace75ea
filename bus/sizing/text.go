package sizing

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"text/tabwriter"

	"example.com/headroom/internal/quantity"
)

// textWidth is the width of the text report [columns].
const textWidth = 100

// show formats a value with three significant digits, halves away from zero. A half in
// decimals mostly is none in binary, and the rounding of the calculation is beside it: so
// the value is taken a little farther from zero, by far less than it shows.
func show(v float64, kind quantity.Kind) string {
	if math.IsInf(v, 0) {
		return "no bound"
	}
	if up := v * (1 + 1e-12); !math.IsInf(up, 0) {
		v = up
	}
	switch {
	case kind == quantity.Temperature:
		return fmt.Sprintf("%.0f °C", v)
	case kind == quantity.Voltage && math.Abs(v) >= 100:
		return quantity.Format(v, kind, 4)
	}
	return quantity.Format(v, kind, 3)
}

// WriteText writes the report for a terminal of 100 columns.
func (a *Assessment) WriteText(w io.Writer) error {
	var b bytes.Buffer
	m := a.Machine
	fmt.Fprintf(&b, "%s\n%s\n", m.Name, strings.Repeat("=", min(textWidth, len([]rune(m.Name)))))
	if m.Note != "" {
		wrap(&b, "", m.Note)
	}
	b.WriteByte('\n')
	if len(a.Parts) > 0 {
		return a.writeParts(w, &b)
	}
	a.writeVerdict(&b)
	for i := range a.Sections {
		if s := &a.Sections[i]; len(s.Figures)+len(s.Checks)+len(s.Notes) > 0 {
			s.writeText(&b)
		}
	}
	writeList(&b, "CAUTIONS", a.Cautions)
	writeList(&b, "WHAT THE FIGURES REST ON", a.Assumptions)
	a.writeWorking(&b)
	_, err := w.Write(b.Bytes())
	return err
}

// writeParts writes the reports of a machine on several buses, one after another.
func (a *Assessment) writeParts(w io.Writer, b *bytes.Buffer) error {
	verdict := "FIT"
	if !a.Fits {
		verdict = "DO NOT FIT"
	}
	var names []string
	for _, p := range a.Parts {
		names = append(names, fmt.Sprintf("%q", p.Machine.Name))
	}
	wrap(b, "", fmt.Sprintf("The stations are on %d buses with a supply each. ALL TOGETHER THEY %s: %s.", len(a.Parts), verdict, strings.Join(names, ", ")))
	for _, p := range a.Parts {
		b.WriteByte('\n')
		if err := p.WriteText(b); err != nil {
			return err
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

func (a *Assessment) writeVerdict(b *bytes.Buffer) {
	var broken, caution, total int
	var lines []string
	for _, s := range a.Sections {
		for _, c := range s.Checks {
			total++
			if c.OK {
				continue
			}
			mark := "FAILS"
			if c.Caution {
				caution++
				mark = "Caution"
			} else {
				broken++
			}
			lines = append(lines, mark+": "+c.sentence())
		}
	}
	if a.Fits {
		fmt.Fprintf(b, "THE MACHINE FITS: all %d limits that were checked are kept", total-caution)
	} else {
		fmt.Fprintf(b, "THE MACHINE DOES NOT FIT: limits broken: %d of %d that were checked", broken, total)
	}
	if caution > 0 {
		fmt.Fprintf(b, "; %s to heed", count(caution, "caution"))
	}
	b.WriteString(".\n")
	for _, l := range lines {
		wrap(b, "  - ", l)
	}
	b.WriteString("What can hurt somebody stands under CAUTIONS below: read it before you go near the machine.\n")
	b.WriteString("Not checked:\n")
	for _, l := range a.Unchecked {
		wrap(b, "  - ", l+".")
	}
}

func count(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// sentence says in words what is wrong, by how much, and what would help.
func (c Check) sentence() string {
	var b strings.Builder
	relation := "above"
	if c.AtLeast {
		relation = "below"
	}
	switch {
	case math.IsInf(c.Value, 0):
		fmt.Fprintf(&b, "%s has no bound (limit %s)", c.subject(), c.show(c.Limit))
	case c.Margin == 0:
		fmt.Fprintf(&b, "%s of %s is not clear of its limit", c.subject(), c.show(c.Value))
	default:
		fmt.Fprintf(&b, "%s of %s is %s %s the limit of %s", c.subject(), c.show(c.Value), c.margin(-c.Margin), relation, c.show(c.Limit))
	}
	if c.Reason != "" {
		b.WriteString(": " + c.Reason)
	}
	b.WriteString(". Cure: " + c.Cure + ".")
	return b.String()
}

// margin formats a distance to the limit, with its share of the limit.
func (c Check) margin(d float64) string {
	kind := c.kind
	text := c.show(d)
	if kind == quantity.Temperature {
		return fmt.Sprintf("%.0f K", d)
	}
	if c.Limit != 0 {
		text += fmt.Sprintf(" (%.0f %%)", 100*d/math.Abs(c.Limit))
	}
	return text
}

func (s *Section) writeText(b *bytes.Buffer) {
	title := s.Title
	if title == "" {
		title = s.Key
	}
	fmt.Fprintf(b, "\n%s: %s\n", strings.ToUpper(title), s.Question)
	s.writeFigures(b)
	// Checks of which more is known stand in a table of their own, which has those columns.
	wide := 0
	for i, c := range s.Checks {
		if len(c.More) > 0 {
			wide = i + 1
		}
	}
	writeChecks(b, s.Checks[:wide])
	writeChecks(b, s.Checks[wide:])
	for _, n := range s.Notes {
		wrap(b, "  ", n)
	}
}

func writeChecks(b *bytes.Buffer, checks []Check) {
	if len(checks) == 0 {
		return
	}
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	more := columns(checks)
	head := "  held against its limit\tvalue\tlimit\tmargin\t"
	for _, name := range more {
		head += name + "\t"
	}
	fmt.Fprintln(t, head)
	for _, c := range checks {
		relation, margin, mark := "at most", c.margin(c.Margin), "ok"
		if c.AtLeast {
			relation = "at least"
		}
		if math.IsInf(c.Margin, 0) {
			margin = "none"
		}
		if !c.OK {
			mark = "FAILS"
			if c.Caution {
				mark = "caution"
			}
		}
		fmt.Fprintf(t, "  %s\t%s\t%s %s\t%s\t", c.subject(), c.show(c.Value), relation, c.show(c.Limit), margin)
		for _, name := range more {
			fmt.Fprintf(t, "%s\t", c.more(name))
		}
		fmt.Fprintln(t, mark)
	}
	t.Flush()
}

// columns returns the names of what else is known of the parts in the table of checks.
func columns(checks []Check) []string {
	var names []string
	for _, c := range checks {
		for _, f := range c.More {
			if !slices.Contains(names, f.Name) {
				names = append(names, f.Name)
			}
		}
	}
	return names
}

// more returns the text of a further column, "" where the part has none.
func (c Check) more(name string) string {
	for _, f := range c.More {
		if f.Name == name {
			return f.show(f.Value)
		}
	}
	return ""
}

// writeFigures writes figures of the same subject as one row of a table, those of
// the machine as a list.
func (s *Section) writeFigures(b *bytes.Buffer) {
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	header := ""
	for i := 0; i < len(s.Figures); {
		f := s.Figures[i]
		if f.Of == "" {
			if header != "" { // a list after a table is not aligned with it
				t.Flush()
				header = ""
			}
			fmt.Fprintf(t, "  %s\t%s\n", f.Name, f.show(f.Value))
			i++
			continue
		}
		names, values := "  ", "  "+f.Of
		for ; i < len(s.Figures) && s.Figures[i].Of == f.Of; i++ {
			names += "\t" + s.Figures[i].Name
			values += "\t" + s.Figures[i].show(s.Figures[i].Value)
			if c := s.Figures[i].Corner; c != "" {
				values += " [" + c + "]"
			}
		}
		if names != header {
			t.Flush()
			fmt.Fprintln(t, names)
			header = names
		}
		fmt.Fprintln(t, values)
	}
	t.Flush()
}

func writeList(b *bytes.Buffer, title string, items []string) {
	fmt.Fprintf(b, "\n%s\n", title)
	for _, s := range items {
		wrap(b, "  - ", s)
	}
}

// writeWorking says for every figure, once for each name, how it was obtained.
func (a *Assessment) writeWorking(b *bytes.Buffer) {
	b.WriteString("\nHOW THE FIGURES WERE OBTAINED\n")
	seen := map[string]bool{}
	line := func(f Figure) {
		name, _, _ := strings.Cut(f.Name, " / ")
		if text := name + ": " + f.How + "."; !seen[text] {
			seen[text] = true
			wrap(b, "  - ", text)
		}
	}
	for _, s := range a.Sections {
		for _, f := range s.Figures {
			line(f)
		}
		for _, c := range s.Checks {
			line(c.Figure)
			for _, f := range c.More {
				line(f)
			}
		}
	}
}

// wrap writes text after a prefix, broken at the width of the report and
// indented below the prefix.
func wrap(b *bytes.Buffer, prefix, text string) {
	indent := strings.Repeat(" ", len([]rune(prefix)))
	line, room := prefix, len([]rune(prefix))
	start := true
	for _, word := range strings.Fields(text) {
		n := len([]rune(word))
		if !start && room+1+n > textWidth {
			b.WriteString(line + "\n")
			line, room, start = indent, len([]rune(indent)), true
		}
		if !start {
			line += " "
			room++
		}
		line += word
		room += n
		start = false
	}
	b.WriteString(line + "\n")
}
