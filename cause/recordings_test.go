package cause

import (
	"flag"
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"thrum/internal/outside"
	"thrum/sound"
	"thrum/unit"
)

var recordingsFolder = flag.String("recordings", "", "folder that docs/validation/cause/recordings.py has filled")

// madeCut is one recording whose cause is known.
type madeCut struct {
	file, detail, codec string
	cause               Kind
	level               int
	given, mains        float64
	lines               []sound.Line
}

func madeCuts(t testing.TB, folder string) []madeCut {
	t.Helper()
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	lines := map[string][]sound.Line{}
	for _, r := range outside.Named(t, filepath.Join(folder, "lines.csv")) {
		lines[r["file"]] = append(lines[r["file"]], sound.Line{
			Name: r["name"], Kind: sound.MeshLine, PerTurn: unit.MustRatio(int64(number(r["num"])), int64(number(r["den"]))), Harmonics: 4,
		})
	}
	var out []madeCut
	for _, r := range outside.Named(t, filepath.Join(folder, "truth.csv")) {
		m := madeCut{file: filepath.Join(folder, r["file"]), detail: r["detail"], codec: r["codec"], cause: Kind(r["cause"]), level: int(number(r["snr_db"])), given: number(r["given_rpm"]), mains: number(r["mains_hz"])}
		m.lines = append(lines[r["file"]], MainsLines(unit.Frequency(m.mains))...)
		out = append(out, m)
	}
	return out
}

// tally counts the answers for one cause, or for a level.
type tally struct{ all, right, cannot, sureWrong int }

func (n *tally) add(m madeCut, f *Finding) {
	n.all++
	switch {
	case !f.Told:
		n.cannot++
	case f.Cause == m.cause:
		n.right++
	case f.Confidence >= 0.8:
		n.sureWrong++
	}
}

// TestRecordings judges the 240 recordings of one set and prints the table of
// docs/validation/cause. It needs the folder, which make validate makes.
func TestRecordings(t *testing.T) {
	if *recordingsFolder == "" {
		t.Skip("needs -args -recordings FOLDER, which docs/validation/cause/recordings.py fills")
	}
	tallies := map[string]*tally{}
	confusion := map[string]int{}
	var bins [10]tally
	for _, r := range judgeAll(t, madeCuts(t, *recordingsFolder)) {
		m, h, f := r.cut, r.heard, r.finding
		for _, key := range []string{fmt.Sprintf("%d,all", m.level), fmt.Sprintf("%d,%s", m.level, m.cause)} {
			if tallies[key] == nil {
				tallies[key] = &tally{}
			}
			tallies[key].add(m, f)
		}
		confusion[fmt.Sprintf("%d %-8s as %s", m.level, m.cause, f.Cause)]++
		bins[min(int(f.Confidence*10), 9)].add(m, f)
		if f.Cause != m.cause || !f.Told {
			t.Log(explain(m, h, f))
		}
	}
	fmt.Println("level_db,cause,recordings,right,cannot_tell,wrong_at_80")
	for _, level := range []int{20, 10} {
		for _, k := range append([]Kind{"all"}, Kinds()[:6]...) {
			if n := tallies[fmt.Sprintf("%d,%s", level, k)]; n != nil {
				fmt.Printf("%d,%s,%d,%d,%d,%d\n", level, k, n.all, n.right, n.cannot, n.sureWrong)
			}
		}
	}
	for i, n := range bins {
		if n.all > 0 {
			t.Logf("stated %d to %d %%: %d recordings, %d right", 10*i, 10*i+10, n.all, n.right)
		}
	}
	for what, n := range confusion {
		t.Log(n, what)
	}
}

// judged is a recording with the answer.
type judged struct {
	cut     madeCut
	heard   *sound.Heard
	finding *Finding
}

// judgeAll judges each recording by itself, several at a time.
func judgeAll(t *testing.T, cuts []madeCut) []judged {
	out := make([]judged, len(cuts))
	var work sync.WaitGroup
	slots := make(chan bool, 8)
	for i, m := range cuts {
		slots <- true
		work.Go(func() {
			defer func() { <-slots }()
			h := hear(t, m.file, sound.ListenOptions{Given: unit.Rotation(m.given), Lines: m.lines})
			f, err := Judge(Case{Cuts: []Cut{{Name: m.file, Heard: h}}, Lines: m.lines})
			if err != nil {
				t.Error(err)
			}
			out[i] = judged{m, h, f}
		})
	}
	work.Wait()
	return out
}

// explain tells in one line why a recording was taken for something else.
func explain(m madeCut, h *sound.Heard, f *Finding) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %d %s %s %s: %s\n   passes %d speed %.1f of %g;", filepath.Base(m.file), m.level, m.cause, m.detail, m.codec, f.Sentence, len(h.Passes), h.Speed.Heard.Value.RPM(), m.given)
	crackle := 0.0
	for _, p := range h.Passes {
		crackle += p.Crackle / float64(len(h.Passes))
	}
	fmt.Fprintf(&b, " crackle %.1f", crackle)
	for _, v := range f.Tones[:min(3, len(f.Tones))] {
		g := math.NaN()
		if v.Growth != nil {
			g = float64(v.Growth.Value)
		}
		fmt.Fprintf(&b, "; %.1f Hz share %.3f weight %.2f %s %s growth %.2f %s", v.Freq.Hz(), v.Share, v.Weight, v.Line, v.InAir, g, v.Likely)
	}
	return b.String()
}
