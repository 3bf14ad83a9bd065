// Command thrum makes set-up sheets for single-point screw cutting on a manual
// lathe, and keeps, measures and compares what was cut.
//
//	thrum sheet "1/2-13 UNC-2A" --lathe examples/lathes/inch-bench.toml --material 1018 --length 1in --stickout 2in
//
// Rules of its conversation: results on standard output, faults on standard
// error as "error:" lines with a "hint:" where there is one, no capitals, no full
// stops. Exit status 0 for success, 1 when the work could not be done (a blocked
// plan included), 2 for input that cannot be used.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"reflect"
	"strconv"
	"strings"

	"github.com/alecthomas/kong"
	"github.com/willabides/kongplete"

	"thrum/unit"
)

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

type commands struct {
	Sheet       sheetCmd                     `cmd:"" help:"Set-up sheet for one threaded part."`
	Limits      limitsCmd                    `cmd:"" help:"Limits of size of a thread, or which thread a measured one is."`
	Gears       gearsCmd                     `cmd:"" help:"Levers, change gears and dial lines for a thread on a lathe."`
	Wires       wiresCmd                     `cmd:"" help:"Wires, readings over them, and the verdict on a reading."`
	Passes      passesCmd                    `cmd:"" help:"The infeed passes alone; re-planned after a measurement."`
	Knock       knockCmd                     `cmd:"" help:"Natural frequencies of a part, tool or tailstock, from tapping it."`
	Listen      listenCmd                    `cmd:"" help:"What a recording of cutting holds: passes, speed, tones."`
	Flanks      flanksCmd                    `cmd:"" help:"Marks per turn, read from photographs of a thread."`
	Trial       trialCmd                     `cmd:"" help:"What trial cuts show: seen, measured, caused."`
	Lathe       latheCmd                     `cmd:"" help:"Check and describe a lathe file."`
	Bench       benchCmd                     `cmd:"" help:"The bench: everything on a page in the browser, and a place to keep it."`
	Work        workCmd                      `cmd:"" help:"Background jobs of one or more benches, without pages."`
	Demo        demoCmd                      `cmd:"" hidden:"" help:"The bench with examples."`
	Poll        pollCmd                      `cmd:"" help:"Blind comparisons by votes."`
	Store       storeCmd                     `cmd:"" help:"Save, restore and check what the bench keeps."`
	Completions kongplete.InstallCompletions `cmd:"" help:"Print the line that gives your shell completions."`
	Manual      manualCmd                    `cmd:"" help:"Print the manual page, for man."`
	Version     versionCmd                   `cmd:"" help:"Print the version."`
}

// session carries what commands need of the outside world.
type session struct {
	ctx    context.Context
	in     io.Reader
	out    io.Writer
	err    io.Writer
	colour bool
}

// exit is panicked by the parser's exit hook and caught by run, so that run can
// be called from tests.
type exit int

func run(args []string, in io.Reader, out, errw io.Writer) (status int) {
	defer func() {
		switch e := recover().(type) {
		case nil:
		case exit:
			status = int(e)
		default:
			panic(e)
		}
	}()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	s := &session{ctx: ctx, in: in, out: out, err: errw, colour: isTerminal(out) && os.Getenv("NO_COLOR") == ""}

	var cmds commands
	parser, err := kong.New(&cmds,
		kong.Name("thrum"),
		kong.Description("Set-up sheets for single-point screw cutting on a manual lathe."),
		kong.Writers(out, errw),
		kong.Exit(func(code int) { panic(exit(code)) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		kong.KindMapper(reflect.Float64, figure("a number", "0.5", func(text string, to reflect.Value) error {
			v, err := strconv.ParseFloat(text, 64)
			to.SetFloat(v)
			return err
		})),
		kong.KindMapper(reflect.Int, figure("a whole number", "3", func(text string, to reflect.Value) error {
			v, err := strconv.ParseInt(text, 10, 64)
			to.SetInt(v)
			return err
		})),
		kong.KindMapper(reflect.Uint64, figure("a whole number from 0 up", "3", func(text string, to reflect.Value) error {
			v, err := strconv.ParseUint(text, 10, 64)
			to.SetUint(v)
			return err
		})),
	)
	if err != nil {
		return s.fail(err)
	}
	kongplete.Complete(parser)
	for _, a := range args {
		if strings.ContainsRune(a, 0) {
			return s.fail(&unit.InputError{Field: "argument", Value: a, Reason: "contains a NUL byte", Hint: "type it again by hand"})
		}
	}
	args, err = signed(args)
	if err != nil {
		return s.fail(err)
	}
	kctx, err := parser.Parse(args)
	if err != nil {
		return s.usage(err)
	}
	if err := kctx.Run(s); err != nil {
		return s.fail(err)
	}
	return 0
}

// errBlocked ends a command whose sheet was printed but may not be cut.
var errBlocked = errors.New("this set-up is blocked; the sheet says why")

// usage prints a fault in how the command was called.
func (s *session) usage(err error) int {
	var in *unit.InputError
	if errors.As(err, &in) {
		return s.fail(in)
	}
	fmt.Fprintf(s.err, "error: %s\n", lowerFirst(err.Error()))
	fmt.Fprintln(s.err, `hint: "thrum --help" lists the commands, "thrum COMMAND --help" its options`)
	return 2
}

// fail prints err, one line a fault, and returns the exit status: 2 when the
// input cannot be used, 1 otherwise.
func (s *session) fail(err error) int {
	status := 1
	for _, e := range flatten(err) {
		var in *unit.InputError
		if errors.As(e, &in) {
			status = 2
			fmt.Fprintf(s.err, "error: %s %s: %s\n", in.Field, unit.Quote(in.Value), in.Reason)
			if in.Hint != "" {
				fmt.Fprintf(s.err, "hint: %s\n", in.Hint)
			}
			continue
		}
		fmt.Fprintf(s.err, "error: %s\n", e)
	}
	return status
}

// flatten lists the errors joined in err.
func flatten(err error) []error {
	if j, ok := err.(interface{ Unwrap() []error }); ok {
		var all []error
		for _, e := range j.Unwrap() {
			all = append(all, flatten(e)...)
		}
		return all
	}
	return []error{err}
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok || reflect.ValueOf(f).IsNil() {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
