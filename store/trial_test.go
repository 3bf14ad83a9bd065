package store

import (
	"strings"
	"sync"
	"testing"
)

func testSamples() []Sample {
	return []Sample{
		{Block: 1, Arm: "centre", Code: "T0002"},
		{Block: 1, Arm: "no centre", Code: "T0004"},
		{Block: 2, Arm: "no centre", Code: "T0001"},
		{Block: 2, Arm: "centre", Code: "T0003"},
	}
}

// fillTrial keeps a question, a trial that answers it, and evidence of every kind
// about one of its samples.
func fillTrial(t testing.TB, s *Store, plan Plan, piece Piece) (Question, Trial, []Sample) {
	t.Helper()
	ctx := t.Context()
	q := must(s.AddQuestion(ctx, Question{Asks: "Does a centre help? ≥ 5 ⌀", Detail: "asked twice\nby letter"}))(t)
	tr, samples, err := s.AddTrial(ctx, Trial{QuestionID: q.ID, Name: "Centre", Design: `{"seed":7, "runs":[ ]}`}, testSamples())
	if err != nil {
		t.Fatal(err)
	}
	one := samples[0].ID
	must(s.AddSampleEntry(ctx, SampleEntry{SampleID: one, Kind: "cut-as", PlanID: plan.ID, PieceID: piece.ID}))(t)
	must(s.AddSampleEntry(ctx, SampleEntry{SampleID: one, Kind: "conditions", Facts: `{"edge":"3"}`}))(t)
	must(s.AddNote(ctx, Note{About: About{SampleID: one}, Text: "sang at pass 6"}))(t)
	must(s.AddMeasurement(ctx, Measurement{About: About{SampleID: one}, Quantity: "over-wires", Value: 13.1, Unit: "mm", Detail: `{"place":1,"angle":0}`}))(t)
	must(s.AddFile(ctx, File{About: About{SampleID: one}, Kind: "photo", Name: "flank.jpg", Media: "image/jpeg"}, strings.NewReader("another picture")))(t)
	return q, tr, samples
}

func TestTrials(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		_, plan, piece, _ := fill(t, s)
		q, tr, samples := fillTrial(t, s, plan, piece)

		t.Log("what was drawn is read back in the order drawn")
		back := must(s.Samples(ctx, tr.ID))(t)
		for i, want := range testSamples() {
			if got := back[i]; got.Run != i+1 || got.Block != want.Block || got.Arm != want.Arm || got.Code != want.Code {
				t.Errorf("sample %d: %+v, want %+v", i, got, want)
			}
		}
		if got := must(s.Trial(ctx, tr.ID))(t); got.Name != "Centre" || got.QuestionID != q.ID || got.Design != tr.Design {
			t.Errorf("trial %+v", got)
		}

		t.Log("sent again it is the same; another draw under its id is refused")
		if _, again, err := s.AddTrial(ctx, tr, testSamples()); err != nil || len(again) != 4 || again[0].ID != samples[0].ID {
			t.Errorf("again: %v %+v", err, again)
		}
		other := testSamples()
		other[0].Arm, other[1].Arm = other[1].Arm, other[0].Arm
		_, _, err := s.AddTrial(ctx, tr, other)
		wantCode(t, err, Conflict)
		_, _, err = s.AddTrial(ctx, Trial{Row: tr.Row, QuestionID: q.ID, Name: "Centre", Design: `{"seed":8}`}, testSamples())
		wantCode(t, err, Conflict)

		t.Log("evidence is found by its sample")
		about := About{SampleID: samples[0].ID}
		if n := must(s.Notes(ctx, about))(t); len(n) != 1 || n[0].Text != "sang at pass 6" {
			t.Errorf("notes %+v", n)
		}
		if m := must(s.Measurements(ctx, about))(t); len(m) != 1 || m[0].Value != 13.1 {
			t.Errorf("measurements %+v", m)
		}
		if f := must(s.Files(ctx, about))(t); len(f) != 1 || f[0].Name != "flank.jpg" {
			t.Errorf("files %+v", f)
		}
		if e := must(s.SampleEntries(ctx, tr.ID))(t); len(e) != 2 || e[0].PieceID != piece.ID || e[1].Seq != 2 {
			t.Errorf("entries %+v", e)
		}
		if e := must(s.TrialEvidence(ctx, tr.ID))(t); len(e.Entries) != 2 || len(e.Notes) != 1 || len(e.Measurements) != 1 || len(e.Files) != 1 {
			t.Errorf("evidence %+v", e)
		}
		if e := must(s.Check(ctx))(t); len(e) != 0 {
			t.Errorf("problems %v", e)
		}

		t.Log("an edit of a question from an old copy is refused")
		q.Closed = true
		closed := must(s.EditQuestion(ctx, q))(t)
		_, err = s.EditQuestion(ctx, q)
		wantCode(t, err, Conflict)
		for _, open := range must(s.Questions(ctx, false))(t) {
			if open.ID == closed.ID {
				t.Error("a closed question is still in the queue")
			}
		}
	})
}

func TestTrialRefuses(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		part, plan, _, _ := fill(t, s)
		other := must(s.AddPart(ctx, Part{Name: "Another"}))(t)
		piece := must(s.AddPiece(ctx, Piece{PartID: other.ID, Name: "1"}))(t)
		add := func(tr Trial, samples []Sample) error { _, _, err := s.AddTrial(ctx, tr, samples); return err }
		twice := testSamples()
		twice[1].Code = twice[0].Code
		wantCode(t, add(Trial{Name: "x", Design: "{}"}, twice), Invalid)
		wantCode(t, add(Trial{Name: "x", Design: "{}"}, testSamples()[:1]), Invalid)
		wantCode(t, add(Trial{Name: "x", Design: "not json"}, testSamples()), Invalid)
		wantCode(t, add(Trial{Name: "", Design: "{}"}, testSamples()), Invalid)
		wantCode(t, add(Trial{QuestionID: part.ID, Name: "x", Design: "{}"}, testSamples()), NotFound)
		if n := must(s.Trials(ctx))(t); len(n) != 1 {
			t.Errorf("a refused trial was kept: %+v", n)
		}
		_, err := s.AddSampleEntry(ctx, SampleEntry{SampleID: part.ID, Kind: "conditions"})
		wantCode(t, err, NotFound)
		_, err = s.AddNote(ctx, Note{About: About{SampleID: part.ID}, Text: "x"})
		wantCode(t, err, NotFound)
		trials := must(s.Trials(ctx))(t)
		samples := must(s.Samples(ctx, trials[0].ID))(t)
		_, err = s.AddSampleEntry(ctx, SampleEntry{SampleID: samples[1].ID, Kind: "cut-as", PlanID: plan.ID, PieceID: piece.ID})
		wantCode(t, err, Invalid)

		t.Log("another shop sees none of it")
		as := must(s.As("other", "phone"))(t)
		if n := must(as.Trials(ctx))(t); len(n) != 0 {
			t.Errorf("another shop sees %+v", n)
		}
		_, err = as.AddSampleEntry(ctx, SampleEntry{SampleID: samples[0].ID, Kind: "conditions"})
		wantCode(t, err, NotFound)
	})
}

// Two phones that write about one sample at once lose nothing.
func TestSampleEntriesAtOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		_, tr, samples := fillTrialAlone(t, s)
		var wg sync.WaitGroup
		for range 8 {
			wg.Go(func() {
				if _, err := s.AddSampleEntry(t.Context(), SampleEntry{SampleID: samples[0].ID, Kind: "conditions", Facts: `{"oil":"yes"}`}); err != nil {
					t.Error(err)
				}
			})
		}
		wg.Wait()
		entries := must(s.SampleEntries(t.Context(), tr.ID))(t)
		if len(entries) != 10 || entries[9].Seq != 10 {
			t.Errorf("%d entries", len(entries))
		}
	})
}

func fillTrialAlone(t testing.TB, s *Store) (Question, Trial, []Sample) {
	t.Helper()
	part := must(s.AddPart(t.Context(), Part{Name: "Bar"}))(t)
	plan := must(s.AddPlan(t.Context(), testPlan(part.ID, 1)))(t)
	piece := must(s.AddPiece(t.Context(), Piece{PartID: part.ID, Name: "1"}))(t)
	return fillTrial(t, s, plan, piece)
}
