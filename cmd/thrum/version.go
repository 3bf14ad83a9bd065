package main

import (
	"fmt"
	"runtime"
	"strings"

	"thrum/plan"
	"thrum/unit"
)

// release is set by the release build.
var release = "development"

// version names the release for people.
func version() string { return release }

type versionCmd struct{}

// Run prints the version of the program and of its calculation.
func (versionCmd) Run(s *session) error {
	_, err := fmt.Fprintf(s.out, "thrum %s, calculation %s, plan schema %d, %s %s/%s\n",
		version(), plan.Engine, plan.Schema, runtime.Version(), runtime.GOOS, runtime.GOARCH)
	return err
}

// pitchOf reads a pitch as a length, or threads per inch as "13tpi".
func pitchOf(text string, sys unit.System) (unit.Length, error) {
	low := strings.ToLower(strings.TrimSpace(text))
	if n, ok := strings.CutSuffix(low, "tpi"); ok {
		r, err := unit.ParseRatio(n)
		if err == nil && r.Sign() > 0 {
			p, err := unit.MustRatio(127, 5).Quo(r)
			return p.Length(), err
		}
		return 0, &unit.InputError{Field: "pitch", Value: text, Reason: "is not a number of threads per inch", Hint: "write 13tpi or 1.5mm"}
	}
	return named("pitch", text, sys)
}
