package main

import (
	"fmt"
	"reflect"
	"strings"

	"github.com/alecthomas/kong"

	"thrum/unit"
)

// figure reads the options of one kind of number, so that what is no number is answered
// like any other input: by what was typed, what was expected, and an example.
func figure(what, such string, set func(text string, to reflect.Value) error) kong.MapperFunc {
	return func(ctx *kong.DecodeContext, to reflect.Value) error {
		t, err := ctx.Scan.PopValue(what)
		if err != nil {
			return err
		}
		text := fmt.Sprint(t.Value)
		if set(text, to) != nil {
			name := "--" + ctx.Value.Name
			return &unit.InputError{Field: name, Value: text, Reason: "is not " + what, Hint: "write a figure such as " + name + " " + such}
		}
		return nil
	}
}

// signed ties a figure below zero to the option before it, so that the option's own
// check answers for it: the parser would take "-3" for an option.
func signed(args []string) ([]string, error) {
	var all []string
	for i, a := range args {
		if a == "--" {
			return append(all, args[i:]...), nil
		}
		switch n := len(all); {
		case len(a) < 2 || a[0] != '-' || !strings.ContainsRune(".0123456789", rune(a[1])):
			all = append(all, a)
		case n > 0 && strings.HasPrefix(all[n-1], "--") && !strings.Contains(all[n-1], "="):
			all[n-1] += "=" + a
		default:
			return nil, &unit.InputError{Field: "argument", Value: a, Reason: "is below zero", Hint: "write it without the minus sign: a thread, a lead or a size is above zero"}
		}
	}
	return all, nil
}
