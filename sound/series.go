package sound

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"thrum/unit"
)

// A log of an accelerometer: one instant a line, the time first (in seconds,
// milliseconds, microseconds or nanoseconds, told from the steps between lines), then one to several
// axes. Telephones time their samples by the operating system, so the steps
// waver; the log is put on an even grid at the median rate by straight lines
// between its points. That dulls what lies above a quarter of the rate, which is
// said in a note.

const (
	seriesLine  = 4 << 10 // longest line in bytes
	seriesLook  = 4096    // lines from which the rate is found
	seriesGap   = 20      // a gap of so many steps is a break in the log
	seriesAxes  = 16      // most columns
	seriesJumps = 0.2     // largest waver of the steps (coefficient of variation) that passes without a note
)

type seriesStream struct {
	lines  *lineReader
	info   Info
	timed  bool
	scale  float64 // seconds per unit of the time column
	first  [][]float64
	prev   []float64 // row before the grid point
	next   []float64 // row at or after it
	origin float64
	count  int64 // grid points handed out
	err    error
}

// looksLikeSeries tells text of numbers: within the first lines there must be one
// that is nothing but numbers, and no byte that text does not hold.
func looksLikeSeries(head []byte) bool {
	text := strings.TrimPrefix(string(head), "\ufeff")
	for _, b := range []byte(text) {
		if b < 9 || (b > 13 && b < 32) || b == 127 {
			return false
		}
	}
	lines := strings.Split(text, "\n")
	if len(lines) > 1 {
		lines = lines[:len(lines)-1] // the last may be cut
	}
	for i, l := range lines {
		if i > 40 {
			break
		}
		if _, ok := numbers(l); ok {
			return true
		}
	}
	return false
}

// numbers splits a line at commas, semicolons, tabs or spaces; ok is false when a
// field is not a number or there is none. A comma within a number is understood
// when fields are separated by semicolons or tabs.
func numbers(line string) (row []float64, ok bool) {
	line = strings.TrimSpace(line)
	decimalComma := strings.ContainsAny(line, ";\t") && !strings.Contains(line, ".")
	fields := strings.FieldsFunc(line, func(r rune) bool {
		return r == ';' || r == '\t' || r == ' ' || (r == ',' && !decimalComma)
	})
	if len(fields) == 0 || len(fields) > seriesAxes {
		return nil, false
	}
	for _, f := range fields {
		if decimalComma {
			f = strings.Replace(f, ",", ".", 1)
		}
		v, err := strconv.ParseFloat(strings.Trim(f, `"`), 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, false
		}
		row = append(row, v)
	}
	return row, true
}

// lineReader hands out rows of numbers and remembers the line.
type lineReader struct {
	r    *bufio.Reader
	line int
	want int // columns; 0 until known
}

// titles returns the names of the columns if the next line is a heading, skipping
// remarks and empty lines.
func (l *lineReader) titles() []string {
	var names []string
	for range 40 {
		head, _ := l.r.Peek(seriesLine)
		end := strings.IndexByte(string(head), '\n')
		if end < 0 {
			return names
		}
		text := strings.TrimSpace(strings.TrimPrefix(string(head[:end]), "\ufeff"))
		if _, ok := numbers(text); ok {
			return names
		}
		if text != "" && text[0] != '#' {
			names = strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == '\t' })
			for i := range names {
				names[i] = strings.Trim(strings.TrimSpace(names[i]), `"`)
			}
		}
		l.line++
		if _, err := l.r.Discard(end + 1); err != nil {
			return names
		}
	}
	return names
}

// row returns the next row of numbers.
func (l *lineReader) row() ([]float64, error) {
	for {
		raw, err := l.r.ReadSlice('\n')
		if errors.Is(err, bufio.ErrBufferFull) {
			return nil, damaged(Series, fmt.Sprintf("line %d is longer than %d bytes", l.line+1, l.r.Size()), "")
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return nil, fmt.Errorf("reading the recording: %w", err)
		}
		text := strings.TrimSpace(strings.TrimPrefix(string(raw), "\ufeff"))
		if text == "" && err != nil {
			return nil, io.EOF
		}
		l.line++
		if text == "" || text[0] == '#' {
			continue
		}
		v, ok := numbers(text)
		if !ok {
			return nil, damaged(Series, fmt.Sprintf("line %d, %s, is not a row of numbers", l.line, unit.Quote(text)), "one instant a line: time,value or time,x,y,z")
		}
		if l.want == 0 {
			l.want = len(v)
		}
		if len(v) != l.want {
			return nil, damaged(Series, fmt.Sprintf("line %d has %d columns where the lines before have %d", l.line, len(v), l.want), "")
		}
		return v, nil
	}
}

func openSeries(r *bufio.Reader, o OpenOptions) (Stream, error) {
	s := &seriesStream{lines: &lineReader{r: r}}
	names := s.lines.titles()
	for len(s.first) < seriesLook {
		row, err := s.lines.row()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		s.first = append(s.first, row)
	}
	if len(s.first) < 2 {
		return nil, damaged(Series, "holds fewer than two rows", "")
	}
	s.timed = s.lines.want > 1 && increasing(s.first)
	axes := s.lines.want
	s.info = Info{Container: Series, Encoding: "text", Frames: -1}
	if s.timed {
		axes--
		if err := s.findRate(names); err != nil {
			return nil, err
		}
		s.origin = s.first[0][0]
	} else {
		if !(o.Rate > 0) {
			return nil, damaged(Series, "has no column of times that only grows", "state the samples per second")
		}
		s.info.Rate = o.Rate
	}
	s.info.Channels = axes
	if len(names) == s.lines.want {
		s.info.Names = names[s.lines.want-axes:]
	}
	return s, nil
}

// increasing reports whether the first column never falls and mostly rises.
func increasing(rows [][]float64) bool {
	rises := 0
	for i := 1; i < len(rows); i++ {
		d := rows[i][0] - rows[i-1][0]
		if d < 0 {
			return false
		}
		if d > 0 {
			rises++
		}
	}
	return 4*rises >= 3*(len(rows)-1)
}

// findRate takes the median step between lines. Its size tells the unit of time:
// no telephone samples slower than 5 Hz or faster than 200 kHz.
func (s *seriesStream) findRate(names []string) error {
	steps := make([]float64, 0, len(s.first))
	for i := 1; i < len(s.first); i++ {
		if d := s.first[i][0] - s.first[i-1][0]; d > 0 {
			steps = append(steps, d)
		}
	}
	slices.Sort(steps)
	median := steps[len(steps)/2]
	title := ""
	if len(names) == s.lines.want {
		title = names[0]
	}
	unitName := ""
	s.scale, unitName = timeUnit(title, median)
	if s.scale == 0 {
		return damaged(Series, fmt.Sprintf("has steps of %g between its times, which is no step of a sensor in s, ms, us or ns", median), "put the time in seconds in the first column, or give values only and state the samples per second")
	}
	s.info.Rate = unit.Frequency(1 / (median * s.scale))
	mean, sd := meanSD(steps)
	if rel := sd / mean; rel > 0.001 {
		s.info.Notes = append(s.info.Notes, fmt.Sprintf("times in %s; the steps waver by %.1f %%, so the log was put on an even grid of %.4g per second by straight lines between its points; tones above %.3g Hz are dulled",
			unitName, 100*rel, s.info.Rate.Hz(), s.info.Rate.Hz()/4))
		if rel > seriesJumps {
			s.info.Notes = append(s.info.Notes, "the times are very uneven: trust frequencies only")
		}
	} else {
		s.info.Notes = append(s.info.Notes, fmt.Sprintf("times in %s, %.4g rows per second", unitName, s.info.Rate.Hz()))
	}
	return nil
}

// timeUnit returns the seconds in one unit of the time column: as its title says
// in brackets, else the largest unit that gives a believable rate.
func timeUnit(title string, median float64) (scale float64, name string) {
	units := []struct {
		name  string
		scale float64
	}{{"s", 1}, {"ms", 1e-3}, {"us", 1e-6}, {"ns", 1e-9}}
	t := strings.ToLower(strings.NewReplacer("µ", "u", "μ", "u", "(", " ", ")", " ", "[", " ", "]", " ", "_", " ").Replace(title))
	for _, u := range units {
		if slices.Contains(strings.Fields(t), u.name) {
			return u.scale, u.name
		}
	}
	for _, u := range units {
		if step := median * u.scale; step <= 0.2 && step >= 5e-6 {
			return u.scale, u.name
		}
	}
	return 0, ""
}

func (s *seriesStream) Info() Info { return s.info }

func (s *seriesStream) Read(dst []float64) (int, error) {
	n := len(dst) / s.info.Channels
	if n == 0 {
		return 0, io.ErrShortBuffer
	}
	for i := range n {
		if s.err == nil {
			s.err = s.point(dst[i*s.info.Channels : (i+1)*s.info.Channels])
		}
		if s.err != nil {
			if i == 0 {
				return 0, s.err
			}
			return i, nil
		}
	}
	return n, nil
}

// row returns the next row, from those read while the rate was found first.
func (s *seriesStream) row() ([]float64, error) {
	if len(s.first) > 0 {
		v := s.first[0]
		s.first = s.first[1:]
		return v, nil
	}
	return s.lines.row()
}

// point writes the values at the next point of the grid.
func (s *seriesStream) point(dst []float64) error {
	if !s.timed {
		v, err := s.row()
		copy(dst, v)
		return err
	}
	step := 1 / (s.info.Rate.Hz() * s.scale) // in the file's unit
	t := s.origin + float64(s.count)*step
	for s.next == nil || s.next[0] < t-1e-9*step {
		v, err := s.row()
		if err != nil {
			return err
		}
		if s.next != nil {
			switch gap := v[0] - s.next[0]; {
			case gap < 0:
				return damaged(Series, fmt.Sprintf("line %d lies before the line above it in time", s.lines.line-len(s.first)), "sort the lines by time")
			case gap > seriesGap*step:
				return damaged(Series, fmt.Sprintf("has a gap of %.3g s at line %d", gap*s.scale, s.lines.line-len(s.first)), "cut the log into pieces without gaps")
			}
		}
		s.prev, s.next = s.next, v
	}
	s.count++
	w := 0.0
	if s.prev != nil && s.next[0] > s.prev[0] {
		w = math.Max(0, (s.next[0]-t)/(s.next[0]-s.prev[0])) // weight of prev
	}
	for i := range dst {
		dst[i] = s.next[i+1]
		if w > 0 {
			dst[i] = w*s.prev[i+1] + (1-w)*s.next[i+1]
		}
		dst[i] = finite(dst[i])
	}
	return nil
}

func meanSD(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	for _, v := range x {
		sd += (v - mean) * (v - mean)
	}
	return mean, math.Sqrt(sd / math.Max(float64(len(x)-1), 1))
}
