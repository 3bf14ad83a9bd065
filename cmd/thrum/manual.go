package main

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"github.com/alecthomas/kong"
)

type manualCmd struct{}

// Run prints the manual page, to be read with man: thrum manual > thrum.1.
func (manualCmd) Run(s *session, k *kong.Kong) error { return writeManual(s.out, k.Model.Node) }

// writeManual writes the page in the language of man(7).
func writeManual(w io.Writer, root *kong.Node) error {
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, ".TH THRUM 1 \"\" \"thrum %s\" \"User Commands\"\n.SH NAME\nthrum \\- %s\n", roff(version()), roff(strings.TrimSuffix(root.Help, ".")))
	fmt.Fprint(b, ".SH SYNOPSIS\n.B thrum\n.I command\n[arguments]\n.SH COMMANDS\n")
	for _, n := range root.Leaves(true) {
		fmt.Fprintf(b, ".SS \"%s\"\n%s\n", roff(strings.TrimPrefix(n.FullPath(), "thrum ")), roff(n.Help))
		fmt.Fprintf(b, ".PP\n.B %s", roff(n.FullPath()))
		for _, p := range n.Positional {
			fmt.Fprintf(b, "\n.I %s", roff(p.Summary()))
		}
		fmt.Fprintln(b)
		for _, p := range n.Positional {
			fmt.Fprintf(b, ".TP\n.I %s\n%s\n", roff(p.Summary()), roff(p.Help))
		}
		for _, f := range n.Flags {
			if f.Hidden {
				continue
			}
			fmt.Fprintf(b, ".TP\n.B \\-\\-%s", roff(f.Name))
			if !f.IsBool() {
				fmt.Fprintf(b, " \\fI%s\\fR", roff(f.FormatPlaceHolder()))
			}
			fmt.Fprintf(b, "\n%s\n", roff(f.Help))
		}
	}
	fmt.Fprint(b, ".SH EXIT STATUS\n0 for success, 1 when the work could not be done (a blocked plan included), 2 for input that cannot be used.\n")
	fmt.Fprint(b, ".SH CAUTION\nA lathe maims. Check every sheet against your machine's manual and local rules; for pressure, lifting or vehicle parts ask a qualified person.\n")
	return b.Flush()
}

// roff keeps a text from being taken for commands of man(7).
func roff(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`, "\n", " ").Replace(s)
	if strings.HasPrefix(s, ".") || strings.HasPrefix(s, "'") {
		s = `\&` + s
	}
	return s
}
