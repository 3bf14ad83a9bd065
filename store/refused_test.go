package store

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"
)

func TestBadInputIsRefusedAndLosesNothing(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		part, plan, piece, events := fill(t, s)
		other := must(s.AddPart(ctx, Part{Name: "other"}))(t)
		otherPlan := must(s.AddPlan(ctx, testPlan(other.ID, 1)))(t)
		before := export(t, s)
		bad := func(change func(*Plan)) Plan {
			p := testPlan(part.ID, 9)
			change(&p)
			return p
		}
		cases := []struct {
			name string
			code Code
			do   func() error
		}{
			{"lathe without a name", Invalid, func() error { _, err := s.Lathes().Save(ctx, Text{TOML: "a=1"}); return err }},
			{"lathe with a line break in the name", Invalid, func() error { _, err := s.Lathes().Save(ctx, Text{Name: "a\nb", TOML: "a=1"}); return err }},
			{"empty lathe", Invalid, func() error { _, err := s.Lathes().Save(ctx, Text{Name: "x", TOML: " \n"}); return err }},
			{"lathe that is not UTF-8", Invalid, func() error { _, err := s.Lathes().Save(ctx, Text{Name: "x", TOML: "a\xff"}); return err }},
			{"lathe with a NUL", Invalid, func() error { _, err := s.Lathes().Save(ctx, Text{Name: "x", TOML: "a\x00"}); return err }},
			{"lathe of 2 MB", Invalid, func() error {
				_, err := s.Lathes().Save(ctx, Text{Name: "x", TOML: strings.Repeat("#", 2<<20)})
				return err
			}},
			{"id that is no UUID", Invalid, func() error { _, err := s.AddPart(ctx, Part{Row: Row{ID: "1"}, Name: "x"}); return err }},
			{"id of version 4", Invalid, func() error {
				_, err := s.AddPart(ctx, Part{Row: Row{ID: "3c0a7a0e-8d5b-4c59-8f6e-0c9a2a0f1b2c"}, Name: "x"})
				return err
			}},
			{"id in capitals", Invalid, func() error {
				_, err := s.AddPart(ctx, Part{Row: Row{ID: strings.ToUpper(s.newID())}, Name: "x"})
				return err
			}},
			{"row of another shop", Invalid, func() error { _, err := s.AddPart(ctx, Part{Row: Row{Shop: "next-door"}, Name: "x"}); return err }},
			{"device with a space", Invalid, func() error { _, err := s.AddPart(ctx, Part{Row: Row{Device: "a b"}, Name: "x"}); return err }},
			{"clock before 1970", Invalid, func() error {
				_, err := s.AddPart(ctx, Part{Row: Row{CreatedAt: time.Date(1901, 1, 1, 0, 0, 0, 0, time.UTC)}, Name: "x"})
				return err
			}},
			{"edit of a part that is not there", NotFound, func() error { _, err := s.EditPart(ctx, Part{Row: Row{ID: s.newID()}, Name: "x"}); return err }},
			{"edit from an old copy", Conflict, func() error { p := part; p.Revision = 7; _, err := s.EditPart(ctx, p); return err }},
			{"plan of no part", NotFound, func() error {
				_, err := s.AddPlan(ctx, bad(func(p *Plan) { p.PartID = s.newID() }))
				return err
			}},
			{"plan without a schema", Invalid, func() error { _, err := s.AddPlan(ctx, bad(func(p *Plan) { p.Schema = 0 })); return err }},
			{"plan whose result is cut off", Invalid, func() error { _, err := s.AddPlan(ctx, bad(func(p *Plan) { p.Result = `{"a":` })); return err }},
			{"changed plan under a used id", Conflict, func() error {
				p := plan
				p.Result = `{"passes":[1]}`
				_, err := s.AddPlan(ctx, p)
				return err
			}},
			{"entry for no piece", NotFound, func() error { _, err := s.Append(ctx, s.newID(), Event{PlanID: plan.ID, Kind: "pass"}); return err }},
			{"entry without a plan", NotFound, func() error { _, err := s.Append(ctx, piece.ID, Event{Kind: "pass"}); return err }},
			{"entry with the plan of another part", Invalid, func() error { _, err := s.Append(ctx, piece.ID, Event{PlanID: otherPlan.ID, Kind: "pass"}); return err }},
			{"undo of nothing", NotFound, func() error {
				_, err := s.Append(ctx, piece.ID, Event{PlanID: plan.ID, Kind: "undo", Undoes: s.newID()})
				return err
			}},
			{"good entry before a bad one", Invalid, func() error {
				_, err := s.Append(ctx, piece.ID, Event{PlanID: plan.ID, Kind: "pass"}, Event{PlanID: otherPlan.ID, Kind: "pass"})
				return err
			}},
			{"changed entry under a used id", Conflict, func() error { e := events[0]; e.Kind = "pass"; _, err := s.Append(ctx, piece.ID, e); return err }},
			{"note about nothing", Invalid, func() error { _, err := s.AddNote(ctx, Note{Text: "x"}); return err }},
			{"note about a piece of another part", Invalid, func() error {
				_, err := s.AddNote(ctx, Note{About: About{PartID: other.ID, PieceID: piece.ID}, Text: "x"})
				return err
			}},
			{"empty note", Invalid, func() error { _, err := s.AddNote(ctx, Note{About: About{PartID: part.ID}}); return err }},
			{"measurement that is no number", Invalid, func() error {
				_, err := s.AddMeasurement(ctx, Measurement{About: About{PartID: part.ID}, Quantity: "q", Unit: "mm", Value: math.NaN()})
				return err
			}},
			{"spread below zero", Invalid, func() error {
				_, err := s.AddMeasurement(ctx, Measurement{About: About{PartID: part.ID}, Quantity: "q", Unit: "mm", Spread: -1})
				return err
			}},
			{"file with a media type that is none", Invalid, func() error {
				_, err := s.AddFile(ctx, File{About: About{PartID: part.ID}, Kind: "photo", Name: "x", Media: "/"}, strings.NewReader("x"))
				return err
			}},
			{"file whose content breaks off", "", func() error {
				_, err := s.AddFile(ctx, File{About: About{PartID: part.ID}, Kind: "photo", Name: "x", Media: "image/png"}, io.MultiReader(strings.NewReader("x"), brokenReader{}))
				if err == nil {
					return &Error{Invalid, fmt.Errorf("a broken upload was kept")}
				}
				return err
			}},
			{"file that is not there", NotFound, func() error { return s.RemoveFile(ctx, s.newID()) }},
		}
		for _, c := range cases {
			err := c.do()
			if err == nil || CodeOf(err) != c.code {
				t.Errorf("%s: error %v has the code %q, want %q", c.name, err, CodeOf(err), c.code)
			}
		}
		if after := export(t, s); !bytes.Equal(before, after) {
			t.Error("refused input has changed what is stored")
		}
	})
}

type brokenReader struct{}

func (brokenReader) Read([]byte) (int, error) { return 0, io.ErrUnexpectedEOF }
