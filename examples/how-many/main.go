// Command how-many finds how many copies of one station a supply carries when nobody controls
// how their cycles line up, and sets that beside the usual check, in which all begin together.
//
//	go -C examples run ./how-many             the row of invented picking stations
//	go -C examples run ./how-many -o FOLDER   and a plot as SVG into FOLDER
package main

import (
	"context"
	_ "embed"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"example.com/headroom/bus/sizing"
)

//go:embed station.json
var document string

// upTo is the highest number of stations to look at, and beyond how many more than fit are shown.
const (
	upTo   = 40
	beyond = 3
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	folder := flag.String("o", "", "write a plot as SVG into this folder")
	flag.Parse()
	if err := run(ctx, *folder, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "how-many:", err)
		os.Exit(1)
	}
}

// row is the machine with one number of stations.
type row struct {
	number   int
	bound    float64 // on the sag [V]; NaN: none
	witness  float64 // lowest that was found to happen [V]; NaN: the bus collapses
	together float64 // lowest when all begin together [V]; NaN: not computed
	peaks    float64 // highest powers of the stations added up [W]
	fits     bool
}

func run(ctx context.Context, folder string, out io.Writer) error {
	m, err := sizing.Parse(strings.NewReader(document))
	if err != nil {
		return err
	}
	station := m.Stations[0].Name
	c, err := m.Carries(ctx, sizing.Copies{Station: station, UpTo: upTo})
	if err != nil {
		return err
	}
	rows, err := table(ctx, m, station, min(c.Most+beyond, upTo))
	if err != nil {
		return err
	}
	if err := write(out, m, c, rows); err != nil {
		return err
	}
	if folder == "" {
		return nil
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	return plotRows(filepath.Join(folder, "how-many.svg"), m, rows)
}

// table assesses the machine with every number of the station.
func table(ctx context.Context, m *sizing.Machine, station string, most int) ([]row, error) {
	var rows []row
	for n := 1; n <= most; n++ {
		with, err := m.WithCopies(station, n)
		if err != nil {
			return nil, err
		}
		a, err := sizing.Assess(ctx, with)
		if err != nil {
			return nil, err
		}
		r := row{number: n, bound: math.NaN(), witness: math.NaN(), together: math.NaN(), peaks: a.Bus.PeakDemand, fits: a.Fits}
		if g := a.Bus.Guarantee.Sag; g.Exists {
			r.bound, r.witness = g.Voltage, g.WitnessVoltage
		}
		if t := a.CommonStart; t != nil {
			r.together = t.Lowest
		}
		rows = append(rows, r)
	}
	return rows, nil
}

func write(out io.Writer, m *sizing.Machine, c *sizing.Carried, rows []row) error {
	fmt.Fprintf(out, "%s\n\n", m.Name)
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "stations\tbound, any phase\tworst line-up found\tall begin together\tpeaks added up\tall limits kept\t")
	low := m.Supply.Source.Low()
	gives := low.Current(low.NoLoadVoltage()) * low.NoLoadVoltage()
	usual, added := 0, 0
	for _, r := range rows {
		kept := "no"
		if r.fits {
			kept = "yes"
		}
		fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%.0f W\t%s\t\n", r.number, volts(r.bound, "none"), volts(r.witness, "collapses"), volts(r.together, "-"), r.peaks, kept)
		if r.together >= m.UnderVoltage {
			usual = r.number
		}
		if r.peaks <= gives {
			added = r.number
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(out, "\nLowest bus voltage; drives trip below %.4g V. At the lowest supply voltage, least capacitance\nand hot copper.\n", m.UnderVoltage)
	if c.Most == c.UpTo {
		fmt.Fprintf(out, "\n%d stations keep every limit, however their cycles line up; more were not looked at.\n", c.Most)
		return nil
	}
	fmt.Fprintf(out, "\n%d stations keep every limit, however their cycles line up. %d break:\n", c.Most, c.Most+1)
	for _, l := range c.Limits {
		word := "at most"
		if l.AtLeast {
			word = "at least"
		}
		fmt.Fprintf(out, "  %s: %.4g %s, %s %.4g %s\n", l.Name, l.Value, l.Unit, word, l.Limit, l.Unit)
	}
	fmt.Fprintf(out, "To add up the peaks against the %.0f W that the supply gives would allow %d.\n", gives, added)
	switch {
	case usual > c.Most:
		fmt.Fprintf(out, "To let all begin together, the usual check, would pass %d as far as the sag goes.\n", usual)
	case usual < c.Most:
		fmt.Fprintf(out, "To let all begin together, the usual check, would refuse %d, though they break no limit.\n", c.Most)
	}
	fmt.Fprintln(out, "\nA bank stays charged after power is removed. This is arithmetic, not a safety function: local codes\nand persons licensed to decide come first.")
	return nil
}

func volts(v float64, none string) string {
	if math.IsNaN(v) {
		return none
	}
	return fmt.Sprintf("%.2f V", v)
}
