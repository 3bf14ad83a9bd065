package sound

import (
	"encoding/csv"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

var knockFolder = flag.String("knock-folder", "", "folder made by knock_make.py FOLDER snr SEED COUNT; prints the table of errors and coverage")

// truthOf reads truth.csv: for each file the true modes.
type trueMode struct {
	level      int
	freq, zeta float64
	file       string
}

func truths(t testing.TB, path string) []trueMode {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	col := func(name string) int { return slices.Index(rows[0], name) }
	num := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	var out []trueMode
	for _, r := range rows[1:] {
		m := trueMode{file: r[0], freq: num(r[col("damped_hz")]), zeta: num(r[col("damping")])}
		if c := col("level_db"); c >= 0 {
			m.level = int(num(r[c]))
		}
		out = append(out, m)
	}
	return out
}

// tally collects how measured modes compare with the truth.
type tally struct {
	sought, found, spurious    int
	freqIn, dampIn             int
	freqErr, dampErr, freqHalf []float64
}

// add compares modes with the truth of one recording.
func (y *tally) add(modes []Mode, truth []trueMode) {
	used := make([]bool, len(modes))
	for _, m := range truth {
		y.sought++
		best := -1
		for i := range modes {
			d := math.Abs(modes[i].Freq.Value.Hz() - m.freq)
			if !used[i] && d < 0.1*m.freq && (best < 0 || d < math.Abs(modes[best].Freq.Value.Hz()-m.freq)) {
				best = i
			}
		}
		if best < 0 {
			continue
		}
		used[best] = true
		y.found++
		g := modes[best]
		if g.Freq.Low.Hz() <= m.freq && m.freq <= g.Freq.High.Hz() {
			y.freqIn++
		}
		if g.Damping.Contains(Damping(m.zeta)) {
			y.dampIn++
		}
		y.freqErr = append(y.freqErr, math.Abs(g.Freq.Value.Hz()-m.freq)/m.freq)
		y.dampErr = append(y.dampErr, math.Abs(float64(g.Damping.Value)-m.zeta)/m.zeta)
		y.freqHalf = append(y.freqHalf, (g.Freq.High-g.Freq.Low).Hz()/2/m.freq)
	}
	for _, u := range used {
		if !u {
			y.spurious++
		}
	}
}

func (y *tally) String() string {
	median := func(x []float64) float64 {
		if len(x) == 0 {
			return math.NaN()
		}
		slices.Sort(x)
		return 100 * x[len(x)/2]
	}
	pc := func(n, of int) string { return fmt.Sprintf("%.1f %%", 100*float64(n)/math.Max(float64(of), 1)) }
	return fmt.Sprintf("%d | %s | %d | %.4f | %.4f | %s | %.2f | %s", y.sought, pc(y.found, y.sought), y.spurious,
		median(y.freqErr), median(y.freqHalf), pc(y.freqIn, y.found), median(y.dampErr), pc(y.dampIn, y.found))
}

// TestKnockTable prints the table of docs/validation/sound.md. It needs recordings
// that are too many to keep.
func TestKnockTable(t *testing.T) {
	if *knockFolder == "" {
		t.Skip("no -knock-folder: see docs/validation/sound.md for how the table is made")
	}
	byFile := map[string][]trueMode{}
	for _, m := range truths(t, filepath.Join(*knockFolder, "truth.csv")) {
		byFile[m.file] = append(byFile[m.file], m)
	}
	perTap, average := map[int]*tally{}, map[int]*tally{}
	taps, rejected := map[int]int{}, map[int]int{}
	for file, modes := range byFile {
		level := modes[0].level
		if perTap[level] == nil {
			perTap[level], average[level] = &tally{}, &tally{}
		}
		k := knockFile(t, filepath.Join(*knockFolder, file))
		for _, tap := range k.Taps {
			taps[level]++
			if tap.Rejected != "" {
				rejected[level]++
				continue
			}
			perTap[level].add(tap.Modes, modes)
		}
		average[level].add(k.Modes, modes)
	}
	var b strings.Builder
	head := "| SNR dB | modes | found | not there | error of f, % | half interval of f, % | f inside | error of damping, % | damping inside |\n|---|---|---|---|---|---|---|---|---|\n"
	for _, part := range []struct {
		title string
		rows  map[int]*tally
	}{{"One tap", perTap}, {"Average over taps", average}} {
		fmt.Fprintf(&b, "\n%s\n\n%s", part.title, head)
		for _, level := range sortedKeys(part.rows) {
			fmt.Fprintf(&b, "| %d | %s |\n", level, part.rows[level])
		}
	}
	fmt.Fprintf(&b, "\nTaps found and rejected: ")
	for _, level := range sortedKeys(taps) {
		fmt.Fprintf(&b, "%d dB %d/%d; ", level, taps[level], rejected[level])
	}
	t.Log(b.String())
}

func sortedKeys[V any](m map[int]V) []int {
	var k []int
	for i := range m {
		k = append(k, i)
	}
	slices.Sort(k)
	return k
}
