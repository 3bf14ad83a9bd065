package main

import (
	"fmt"
	"runtime"

	"thrum/plan"
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
