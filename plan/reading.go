package plan

import (
	"errors"
	"strings"

	"thrum/gauge"
	"thrum/thread"
	"thrum/unit"
)

// mostRepeats bounds how many readings of one place are taken.
const mostRepeats = 50

// ParseReading reads a measurement as it was typed, for gauge.Judge. typed gives the
// text of a field, empty when there is none; lengths without a unit are in the
// thread's own. All faults are reported together, each under its field's name. The
// fields are
//
//	measured             what the micrometer showed; several of one place with semicolons between
//	again                further readings of the same place, in the same way
//	method               how; three wires, or balls inside, when empty
//	wire                 size of the wires; the advised one of those owned when empty
//	major                measured major diameter, for one wire
//	accuracy             the micrometer and its reading are right within this
//	wire-accuracy        the wires are of their size within this
//	major-accuracy       the measured major diameter is right within this
//	flank-accuracy       each flank angle is right within this, degrees
//	part-temperature     of the part as it was measured
//	made-of              its material, one of gauge.Materials
//	gauge-temperature    of wires and micrometer, taken as steel; 20 °C when empty
//	temperature-accuracy the temperatures are right within this
//	lead-error           largest between any two ridges in engagement
//	leading-error        leading flank angle less nominal, degrees
//	trailing-error       the same of the trailing flank
func ParseReading(typed func(field string) string, th thread.Thread, owned []unit.Length) (gauge.Reading, error) {
	p := readingText{typed: typed, sys: th.System}
	r := gauge.Reading{
		Method: p.method(th.Side),
		Wire:   p.length("wire"), Major: p.length("major"),
		ReadError: p.length("accuracy"), WireError: p.length("wire-accuracy"), MajorError: p.length("major-accuracy"),
		FlankError: p.degrees("flank-accuracy"),
		LeadError:  p.length("lead-error"), LeadingError: p.degrees("leading-error"), TrailingError: p.degrees("trailing-error"),
	}
	p.readings(&r)
	p.warmth(&r)
	if err := errors.Join(p.faults...); err != nil {
		return gauge.Reading{}, err
	}
	if r.Wire == 0 && r.Method != gauge.ThreadMicrometer {
		w, err := gauge.ForThread(th, gauge.Choice{Method: r.Method, Owned: owned, Major: r.Major})
		if err != nil {
			return gauge.Reading{}, err
		}
		r.Wire = w.Size
	}
	return r, nil
}

// ParseWires reads wires at hand: sizes, and sets by their names.
func ParseWires(texts []string, sys unit.System) ([]unit.Length, error) {
	var sizes []unit.Length
	var faults []error
	for _, text := range texts {
		if set, err := gauge.SetByName(strings.TrimSpace(text)); err == nil {
			sizes = append(sizes, set.Sizes...)
			continue
		}
		d, err := unit.ParseLength(text, sys)
		if err == nil && d <= 0 {
			err = &unit.InputError{Value: text, Reason: "is not a diameter above zero"}
		}
		if err != nil {
			faults = append(faults, wireFault(err))
			continue
		}
		sizes = append(sizes, d)
	}
	return sizes, errors.Join(faults...)
}

func wireFault(err error) error {
	var in *unit.InputError
	if errors.As(err, &in) {
		var sets []string
		for _, s := range gauge.Sets() {
			sets = append(sets, s.Name)
		}
		in.Field, in.Hint = "wire", "give the diameter of each wire, or a set by its name: "+strings.Join(sets, ", ")
	}
	return err
}

// readingText gathers what is wrong while it reads.
type readingText struct {
	typed  func(field string) string
	sys    unit.System
	faults []error
}

func (p *readingText) text(field string) string { return strings.TrimSpace(p.typed(field)) }

func (p *readingText) fault(field string, err error) {
	var in *unit.InputError
	if errors.As(err, &in) {
		in.Field = field
	}
	p.faults = append(p.faults, err)
}

func (p *readingText) length(field string) unit.Length {
	text := p.text(field)
	if text == "" {
		return 0
	}
	l, err := unit.ParseLength(text, p.sys)
	if err == nil && l <= 0 {
		err = &unit.InputError{Value: text, Reason: "is not above zero", Hint: "leave it out, or give a length"}
	}
	if err != nil {
		p.fault(field, err)
	}
	return l
}

func (p *readingText) degrees(field string) unit.Angle {
	text := p.text(field)
	if text == "" {
		return 0
	}
	r, err := unit.ParseRatio(strings.TrimSuffix(text, "°"))
	if err != nil {
		p.fault(field, &unit.InputError{Value: text, Reason: "is not an angle in degrees", Hint: "write it like 0.5 or -0.25"})
	}
	return unit.Angle(r.Float()) * unit.Degree
}

func (p *readingText) method(side thread.Side) gauge.Method {
	if text := p.text("method"); text != "" {
		m, err := gauge.ParseMethod(text)
		if err != nil {
			p.fault("method", err)
		}
		return m
	}
	if side == thread.Internal {
		return gauge.Balls
	}
	return gauge.ThreeWires
}

func (p *readingText) readings(r *gauge.Reading) {
	texts := strings.Split(p.text("measured")+";"+p.text("again"), ";")
	if len(texts) > mostRepeats {
		p.fault("measured", &unit.InputError{Value: p.text("measured"), Reason: "has too many readings", Hint: "at most 50 of one place"})
		return
	}
	for _, text := range texts {
		if text = strings.TrimSpace(text); text == "" {
			continue
		}
		l, err := unit.ParseLength(text, p.sys)
		if err != nil {
			p.fault("measured", err)
			return
		}
		r.Repeats = append(r.Repeats, l)
	}
	switch len(r.Repeats) {
	case 0:
		p.fault("measured", &unit.InputError{Reason: "is missing", Hint: "give what the micrometer showed"})
	case 1:
		r.Value, r.Repeats = r.Repeats[0], nil
	}
}

// warmth reads the temperatures. Wires and micrometer are taken as steel; where theirs is
// not given, gauge.Judge says what it assumes.
func (p *readingText) warmth(r *gauge.Reading) {
	if text := p.text("temperature-accuracy"); text != "" {
		e, err := unit.ParseTemperatureError(text)
		if err != nil {
			p.fault("temperature-accuracy", err)
		}
		r.TemperatureError = e
	}
	if p.text("part-temperature") == "" {
		for _, field := range []string{"made-of", "gauge-temperature"} {
			if text := p.text(field); text != "" {
				p.fault(field, &unit.InputError{Value: text, Reason: "tells nothing without the temperature of the part", Hint: "give that too, or leave this out"})
			}
		}
		return
	}
	r.Part = gauge.Warmth{Known: true, At: p.temperature("part-temperature")}
	var err error
	if r.Part.Expansion, err = gauge.ExpansionOf(p.text("made-of")); err != nil {
		p.fault("made-of", err)
	}
	if p.text("gauge-temperature") == "" {
		return
	}
	steel := gauge.Warmth{Known: true, At: p.temperature("gauge-temperature")}
	if steel.Expansion, err = gauge.ExpansionOf("gauge steel"); err != nil {
		p.faults = append(p.faults, err)
	}
	r.Micrometer = steel
	if r.Method != gauge.ThreadMicrometer {
		r.Wires = steel
	}
}

func (p *readingText) temperature(field string) unit.Temperature {
	t, err := unit.ParseTemperature(p.text(field))
	if err != nil {
		p.fault(field, err)
	}
	return t
}
