// Command assess sizes a machine whose servo axes share one DC bus: it reads the
// machine's document and prints the assessment.
//
//	go -C examples run ./assess                         the demonstration machine
//	go -C examples run ./assess -o FOLDER               and plots as SVG into FOLDER
//	go -C examples run ./assess /path/to/machine.json   your own machine
//	go -C examples run ./assess -schema                 the JSON Schema of a machine's document
//
// Exit status: 0 the machine fits, 1 it does not fit, 2 the input is bad or the
// assessment could not be made. "go run" makes 1 of both; build the program for use in
// scripts.
package main

import (
	"bytes"
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"

	"github.com/alecthomas/kong"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/profile"
)

//go:embed transplanter.json
var transplanter []byte

// schema is the JSON Schema of a machine's document: for editors, and the reference of
// its fields. The tests of package sizing hold it against the reader.
//
//go:embed machine.schema.json
var schema []byte

const (
	fits       = 0
	doesNotFit = 1
	badInput   = 2
)

type options struct {
	Document string `arg:"" optional:"" help:"Machine document (JSON); \"-\" reads standard input. Without it the demonstration machine, a greenhouse seedling transplanter with invented figures, is assessed. A relative path is relative to the folder the program runs in: with \"go -C examples run\" that is examples."`
	Format   string `short:"f" enum:"text,json" default:"text" help:"Form of the report: text or json."`
	Schema   bool   `name:"schema" help:"Print the JSON Schema of a machine document, the reference of its fields, and do nothing else."`
	Plots    string `short:"o" name:"plots" placeholder:"FOLDER" help:"Write plots of voltage, power and torque over time into this folder, as SVG."`
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	var opt options
	exit := -1
	parser, err := kong.New(&opt,
		kong.Name("assess"),
		kong.Description("Size a machine whose servo axes share one DC bus. Exit status: 0 fits, 1 does not fit, 2 bad input."),
		kong.Writers(stdout, stderr),
		kong.Exit(func(status int) { exit = status }),
	)
	if err != nil {
		return fail(stderr, err)
	}
	_, err = parser.Parse(singleDash(args))
	if exit >= 0 {
		return exit // help was asked for and printed
	}
	if err != nil {
		return fail(stderr, err)
	}

	if opt.Schema {
		if _, err := stdout.Write(schema); err != nil {
			return fail(stderr, err)
		}
		return fits
	}
	document, err := open(opt.Document, stdin)
	if err != nil {
		return fail(stderr, err)
	}
	defer document.Close()
	machine, err := sizing.Parse(document)
	if err != nil {
		return fail(stderr, err)
	}
	a, err := sizing.Assess(ctx, machine)
	if err != nil {
		return fail(stderr, err)
	}
	write := a.WriteText
	if opt.Format == "json" {
		write = a.WriteJSON
	}
	if err := write(stdout); err != nil {
		return fail(stderr, err)
	}
	if opt.Plots != "" {
		if len(a.Parts) == 0 {
			err = writePlots(opt.Plots, a)
		}
		for i, part := range a.Parts {
			if err == nil {
				err = writePlots(filepath.Join(opt.Plots, fmt.Sprintf("bus-%d", i+1)), part)
			}
		}
		if err != nil {
			return fail(stderr, err)
		}
	}
	if !a.Fits {
		return doesNotFit
	}
	return fits
}

// singleDash lets the long options be written with one dash, as Go programs do.
func singleDash(args []string) []string {
	out := append([]string(nil), args...)
	for i, a := range out {
		for _, name := range []string{"-format", "-plots", "-schema", "-help"} {
			if a == name || len(a) > len(name) && a[:len(name)+1] == name+"=" {
				out[i] = "-" + a
			}
		}
	}
	return out
}

func open(path string, stdin io.Reader) (io.ReadCloser, error) {
	switch path {
	case "":
		return io.NopCloser(bytes.NewReader(transplanter)), nil
	case "-":
		return io.NopCloser(stdin), nil
	}
	return os.Open(path)
}

// fail prints an error, a line for each fault of the input.
func fail(stderr io.Writer, err error) int {
	faults := profile.InputErrors(err)
	for _, f := range faults {
		fmt.Fprintln(stderr, f)
	}
	if len(faults) == 0 {
		if errors.Is(err, context.Canceled) {
			err = errors.New("interrupted")
		}
		fmt.Fprintln(stderr, "assess:", err)
	} else if len(faults) > 1 {
		fmt.Fprintf(stderr, "assess: %d faults in the document\n", len(faults))
	}
	return badInput
}
