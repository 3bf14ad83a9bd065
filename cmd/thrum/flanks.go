package main

import (
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"thrum/draw"
	"thrum/photo"
	"thrum/plan"
	"thrum/render"
	"thrum/unit"
)

type flanksCmd struct {
	Files    []string `arg:"" help:"Photographs of one sample; - reads standard input."`
	Thread   string   `help:"Thread in the picture, as on the drawing." placeholder:"CALLOUT"`
	Form     string   `help:"File that describes a thread no standard names, instead of a callout." placeholder:"FILE"`
	Diameter string   `help:"Outside diameter as a micrometer reads it." placeholder:"DIA"`
	RPM      float64  `name:"rpm" help:"Spindle speed of the pass that left the marks." placeholder:"N"`
	RPMError float64  `name:"rpm-error" help:"The speed is right within this, one standard deviation." placeholder:"N"`
	Feed     string   `help:"Which way the tool travelled in the picture: left or right." placeholder:"SIDE"`
	After    []string `help:"Photograph of a second sample, after a change; may be given several times." placeholder:"FILE"`
	AfterRPM float64  `name:"after-rpm" help:"Spindle speed of the second sample, where it is another." placeholder:"N"`
	Together bool     `help:"All were taken in one go, with lamp, distance and exposure left alone: then how strongly marks show may be compared."`
	Overlay  string   `help:"Write what was made out, drawn over the photo, as PNG; more photos get -2, -3 before the ending." placeholder:"FILE"`
	JSON     bool     `name:"json" help:"Print as JSON."`
}

// mostPhotos of one sample: beyond a dozen nothing more is learned.
const mostPhotos = 12

// Run reads marks per turn from photographs of one sample.
func (c *flanksCmd) Run(s *session) error {
	request, side, err := c.request(s)
	if err != nil {
		return err
	}
	if err := c.checkAfter(); err != nil {
		return err
	}
	th, err := request.Pictured()
	if err != nil {
		return err
	}
	o := photo.Options{Feed: side}
	if c.Together {
		o.Session = "together"
	}
	f, err := c.sample(s, request, c.Files, th, o, 0)
	if err != nil {
		return err
	}
	if len(c.After) == 0 {
		if c.JSON {
			return s.json(f)
		}
		return render.Flanks(s.out, f, render.TextOptions{Bold: s.colour})
	}
	return c.compare(s, f, request, th, o)
}

// sample reads the photographs of one sample; first is how many came before them.
func (c *flanksCmd) sample(s *session, request plan.FlankRequest, files []string, th photo.Thread, o photo.Options, first int) (*plan.Flanks, error) {
	var shots []plan.FlankPhoto
	for i, file := range files {
		shot, img, err := s.flankPhoto(file, th, o)
		if err != nil {
			return nil, err
		}
		shots = append(shots, shot)
		if c.Overlay != "" {
			if err := s.overlay(overlayName(c.Overlay, first+i), img, th, shot.Reading); err != nil {
				return nil, err
			}
		}
	}
	return plan.NewFlanks(request, shots)
}

// checkAfter looks at what is said of the second sample before anything is read.
func (c *flanksCmd) checkAfter() error {
	switch {
	case len(c.After) == 0 && (c.AfterRPM != 0 || c.Together):
		return &unit.InputError{Field: "after", Value: "", Reason: "is missing: there is nothing to compare with", Hint: "give --after and the photograph of the second sample"}
	case len(c.After) > mostPhotos:
		return &unit.InputError{Field: "after", Value: fmt.Sprint(len(c.After)), Reason: "are too many", Hint: fmt.Sprintf("at most %d of one sample", mostPhotos)}
	case !(c.AfterRPM >= 0 && c.AfterRPM <= 1e5):
		return &unit.InputError{Field: "after-rpm", Value: fmt.Sprint(c.AfterRPM), Reason: "is not a spindle speed", Hint: "give revolutions per minute"}
	}
	return nil
}

// compare reads the second sample and says what changed.
func (c *flanksCmd) compare(s *session, before *plan.Flanks, request plan.FlankRequest, th photo.Thread, o photo.Options) error {
	after, err := c.sample(s, request.At(unit.Rotation(c.AfterRPM)), c.After, th, o, len(c.Files))
	if err != nil {
		return err
	}
	words := plan.CompareFlanks(before, after, c.Together)
	if c.JSON {
		return s.json(struct {
			Before     *plan.Flanks `json:"before"`
			After      *plan.Flanks `json:"after"`
			Comparison []string     `json:"comparison"`
		}{before, after, words})
	}
	return render.FlanksCompared(s.out, before, after, words, render.TextOptions{Bold: s.colour})
}

// request reads the flags that say what is in the picture.
func (c *flanksCmd) request(s *session) (plan.FlankRequest, photo.Side, error) {
	var r plan.FlankRequest
	if c.Thread == "" && c.Form == "" {
		return r, "", &unit.InputError{Field: "thread", Value: "", Reason: "is missing", Hint: "write --thread M20x2.5: its pitch is the scale of the picture"}
	}
	if len(c.Files) > mostPhotos {
		return r, "", &unit.InputError{Field: "photos", Value: fmt.Sprint(len(c.Files)), Reason: "are too many", Hint: fmt.Sprintf("at most %d of one sample", mostPhotos)}
	}
	_, _, th, err := threadOf(s, c.Thread, c.Form, false)
	if err != nil {
		return r, "", err
	}
	r.Thread = th
	if c.Diameter != "" {
		if r.Diameter, err = named("diameter", c.Diameter, th.System); err != nil {
			return r, "", err
		}
	}
	if r.Speed, r.Doubt, err = c.speed(); err != nil {
		return r, "", err
	}
	switch side := photo.Side(strings.ToLower(c.Feed)); side {
	case photo.NotTold, photo.ToLeft, photo.ToRight:
		return r, side, nil
	}
	return r, "", &unit.InputError{Field: "feed", Value: c.Feed, Reason: "is not a side of the picture", Hint: "write left or right"}
}

func (c *flanksCmd) speed() (speed, doubt unit.Rotation, err error) {
	if !(c.RPM >= 0 && c.RPM <= 1e5) {
		return 0, 0, &unit.InputError{Field: "rpm", Value: fmt.Sprint(c.RPM), Reason: "is not a spindle speed", Hint: "give revolutions per minute"}
	}
	if !(c.RPMError >= 0 && c.RPMError <= c.RPM) {
		return 0, 0, &unit.InputError{Field: "rpm-error", Value: fmt.Sprint(c.RPMError), Reason: "is not an error of this speed", Hint: "give revolutions per minute, together with --rpm"}
	}
	if math.Signbit(c.RPM) {
		c.RPM = 0
	}
	return unit.Rotation(c.RPM), unit.Rotation(c.RPMError), nil
}

// flankPhoto decodes and reads one photograph.
func (s *session) flankPhoto(file string, th photo.Thread, o photo.Options) (plan.FlankPhoto, image.Image, error) {
	shot := plan.FlankPhoto{Name: file}
	img, meta, err := s.picture(file)
	if err != nil {
		return shot, nil, err
	}
	shot.Meta = meta
	p, err := photo.NewPicture(img)
	if err == nil {
		shot.Reading, err = photo.Measure(p, th, o)
	}
	return shot, img, inFile(file, err)
}

func (s *session) picture(file string) (image.Image, photo.Meta, error) {
	r := s.in
	if file != "-" {
		f, err := os.Open(file)
		if err != nil {
			return nil, photo.Meta{}, &unit.InputError{Field: "photo", Value: file, Reason: "cannot be read: " + reasonOf(err), Hint: "check the path"}
		}
		defer f.Close()
		if info, err := f.Stat(); err == nil && info.IsDir() {
			return nil, photo.Meta{}, &unit.InputError{Field: "photo", Value: file, Reason: "is a folder", Hint: "give the photographs in it that show one sample"}
		}
		r = f
	}
	img, meta, err := photo.Decode(r, photo.Limits{})
	return img, meta, inFile(file, err)
}

// inFile names the file in an error about its contents.
func inFile(file string, err error) error {
	var in *unit.InputError
	if !errors.As(err, &in) || in.Field != "photo" && in.Field != "picture" {
		return err
	}
	reason := in.Reason
	if in.Value != "" && !strings.EqualFold(filepath.Ext(file), "."+in.Value) {
		reason = "(" + in.Value + ") " + reason
	}
	return &unit.InputError{Field: "photo", Value: file, Reason: reason, Hint: in.Hint}
}

// overlayName gives the photographs after the first names of their own.
func overlayName(name string, i int) string {
	if i == 0 || name == "-" {
		return name
	}
	ext := filepath.Ext(name)
	return fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, ext), i+1, ext)
}

func (s *session) overlay(name string, img image.Image, th photo.Thread, r *photo.Reading) error {
	l, wide, err := render.FlankOverlay(img, th, r)
	if err != nil {
		return err
	}
	light := draw.Light()
	return s.write(name, func(w io.Writer) error { return l.PNG(w, 0, draw.PNGOptions{Theme: &light, Width: wide}) })
}
