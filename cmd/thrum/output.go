package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"thrum/draw"
	"thrum/plan"
	"thrum/render"
	"thrum/thread"
	"thrum/unit"
)

// fileFlags say into which files the sheet is set.
type fileFlags struct {
	PDF   string `name:"pdf" help:"Write the sheet as PDF; - is standard output." placeholder:"FILE"`
	SVG   string `name:"svg" help:"Write page one of the sheet as SVG." placeholder:"FILE"`
	PNG   string `name:"png" help:"Write page one of the sheet as PNG." placeholder:"FILE"`
	Paper string `help:"Paper of these files: a4 or letter; by the units when left out." placeholder:"SIZE"`
}

// any reports whether a file is asked for.
func (f *fileFlags) any() bool { return f.PDF != "" || f.SVG != "" || f.PNG != "" }

// check finds faults in the flags before anything is computed.
func (f *fileFlags) check() error {
	if f.Paper != "" && !f.any() {
		return &unit.InputError{Field: "paper", Value: f.Paper, Reason: "is of no use without a file", Hint: "add --pdf FILE, --svg FILE or --png FILE"}
	}
	if _, err := paperNamed(f.Paper, unit.Metric); err != nil {
		return err
	}
	dashes := 0
	for _, name := range []string{f.PDF, f.SVG, f.PNG} {
		if name == "-" {
			dashes++
		}
	}
	if dashes > 1 {
		return &unit.InputError{Field: "file", Value: "-", Reason: "is given more than once", Hint: "only one file can go to standard output"}
	}
	return nil
}

// paperNamed returns a paper by its name; by the units when there is none.
func paperNamed(name string, sys unit.System) (draw.Size, error) {
	switch strings.ToLower(name) {
	case "a4":
		return draw.A4, nil
	case "letter":
		return draw.Letter, nil
	case "":
		if sys == unit.Inches {
			return draw.Letter, nil
		}
		return draw.A4, nil
	}
	return draw.Size{}, &unit.InputError{Field: "paper", Value: name, Reason: "is not a paper that the sheet is set for", Hint: "write a4 or letter"}
}

// write sets the plan on paper and writes every file that is asked for.
func (f *fileFlags) write(s *session, p *plan.Plan) error {
	paper, err := paperNamed(f.Paper, p.Request.Units)
	if err != nil {
		return err
	}
	l, err := render.Page(p, render.PageOptions{Paper: paper})
	if err != nil {
		return err
	}
	light := draw.Light()
	for _, out := range []struct {
		name string
		set  func(io.Writer) error
	}{
		{f.PDF, l.PDF},
		{f.SVG, func(w io.Writer) error { return l.SVG(w, 0, draw.SVGOptions{Theme: &light}) }},
		{f.PNG, func(w io.Writer) error { return l.PNG(w, 0, draw.PNGOptions{Theme: &light}) }},
	} {
		if out.name == "" {
			continue
		}
		if err := s.write(out.name, out.set); err != nil {
			return err
		}
	}
	return nil
}

// write writes a file whole or not at all: it is made beside its place and then
// takes the name. "-" is standard output.
func (s *session) write(name string, set func(io.Writer) error) error {
	var b bytes.Buffer
	if err := set(&b); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if name == "-" {
		_, err := s.out.Write(b.Bytes())
		return err
	}
	if info, err := os.Stat(name); err == nil && !info.Mode().IsRegular() {
		if info.IsDir() {
			return cannotWrite(name, "is a folder")
		}
		return asFault(name, os.WriteFile(name, b.Bytes(), 0o644)) // a device or pipe has no name to take over
	}
	tmp, err := os.CreateTemp(filepath.Dir(name), ".thrum-*")
	if err != nil {
		return cannotWrite(name, "cannot be written: "+reasonOf(err))
	}
	defer func() { _ = os.Remove(tmp.Name()) }()
	_, err = tmp.Write(b.Bytes())
	if err == nil {
		err = tmp.Chmod(0o644)
	}
	if cerr := tmp.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(tmp.Name(), name)
	}
	return asFault(name, err)
}

func asFault(name string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("file %s: cannot be written: %w", unit.Quote(name), err)
}

func cannotWrite(name, reason string) error {
	return &unit.InputError{Field: "file", Value: name, Reason: reason, Hint: "name a file in a folder that exists and may be written"}
}

// profileFlags say where the outline of groove and tool goes.
type profileFlags struct {
	DXF     string  `name:"dxf" help:"Write the groove's outline as DXF, in millimetres at true size." placeholder:"FILE"`
	ToolDXF string  `name:"tool-dxf" help:"Write the outline of the tool's tip as DXF." placeholder:"FILE"`
	Profile string  `help:"Write groove and tool enlarged true to scale: FILE.pdf, .svg or .png." placeholder:"FILE"`
	Scale   float64 `help:"Scale of --profile, such as 10 or 20; 10:1 and 20:1 when left out." placeholder:"N"`
	Paper   string  `help:"Paper of --profile: a4 or letter." placeholder:"SIZE"`
}

func (f *profileFlags) any() bool {
	return f.DXF != "" || f.ToolDXF != "" || f.Profile != "" || f.Scale != 0 || f.Paper != ""
}

// write writes the files that are asked for; faults are found before the first.
func (f *profileFlags) write(s *session, th thread.Thread, sys unit.System) error {
	th.System = sys
	groove, tip := render.ThreadProfile(th), render.TipProfile(th)
	prints, err := f.prints([]render.Profile{groove, tip}, sys)
	if err != nil {
		return err
	}
	for _, out := range []struct {
		name string
		p    render.Profile
	}{{f.DXF, groove}, {f.ToolDXF, tip}} {
		if out.name == "" {
			continue
		}
		l, o := render.ProfileDXF(out.p)
		if err := s.write(out.name, func(w io.Writer) error { return l.DXF(w, 0, o) }); err != nil {
			return err
		}
	}
	if prints == nil {
		return nil
	}
	return s.write(f.Profile, prints)
}

// prints returns what writes the enlarged profiles, in the form that the name of
// the file asks for; nil when no file is asked for.
func (f *profileFlags) prints(all []render.Profile, sys unit.System) (func(io.Writer) error, error) {
	if f.Profile == "" {
		if f.Scale != 0 || f.Paper != "" {
			return nil, &unit.InputError{Field: "scale or paper", Value: strings.TrimSpace(fmt.Sprint(f.Scale, " ", f.Paper)), Reason: "is of no use without --profile", Hint: "add --profile FILE.pdf"}
		}
		return nil, nil
	}
	paper, err := paperNamed(f.Paper, sys)
	if err != nil {
		return nil, err
	}
	l, err := render.Profiles(paper, all, f.Scale)
	if err != nil {
		return nil, err
	}
	light := draw.Light()
	switch strings.ToLower(filepath.Ext(f.Profile)) {
	case ".svg":
		return func(w io.Writer) error { return l.SVG(w, 0, draw.SVGOptions{Theme: &light}) }, nil
	case ".png":
		return func(w io.Writer) error {
			return l.PNG(w, 0, draw.PNGOptions{Theme: &light, Width: int(paper.W * 12)})
		}, nil
	case ".pdf":
		return l.PDF, nil
	}
	if f.Profile == "-" {
		return l.PDF, nil
	}
	return nil, &unit.InputError{Field: "profile", Value: f.Profile, Reason: "does not say what kind of file it is to be", Hint: "let the name end in .pdf, .svg or .png; - is a PDF"}
}
