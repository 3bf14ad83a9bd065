package trial

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"thrum/unit"
)

// MaxTable is the largest table that is read, in bytes.
const MaxTable = 4 << 20

// ReadCSV reads a table of samples: columns sample, arm, score, if wanted pair or
// block and undersize_mm, and any others as conditions. The first arm in the table
// is the baseline unless baseline names one. Lines that begin with # are left out.
func ReadCSV(r io.Reader, baseline string) (*Trial, error) {
	raw, err := io.ReadAll(io.LimitReader(bufio.NewReader(r), MaxTable+1))
	if err != nil {
		return nil, err
	}
	if len(raw) > MaxTable {
		return nil, &unit.InputError{Field: "table", Value: itoa(len(raw)) + " bytes or more", Reason: "is too large", Hint: "at most 4 MB"}
	}
	c := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(raw, []byte("\ufeff"))))
	c.Comment, c.TrimLeadingSpace, c.ReuseRecord = '#', true, false
	head, err := c.Read()
	if err == io.EOF {
		return nil, &unit.InputError{Field: "table", Value: "", Reason: "is empty", Hint: "first line: sample,arm,score and conditions"}
	}
	if err != nil {
		return nil, lineFault(err)
	}
	cols, err := readHead(head, c)
	if err != nil {
		return nil, err
	}
	t := &Trial{Factor: Factor{Name: "arm", Baseline: strings.TrimSpace(baseline)}}
	for {
		rec, err := c.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, lineFault(err)
		}
		if len(t.Samples) == MaxSamples {
			return nil, at(c, 0, "table", itoa(MaxSamples+1)+" samples", "has too many", "at most 10000")
		}
		s, err := cols.sample(rec, c)
		if err != nil {
			return nil, err
		}
		if err := t.takeArm(s, c, cols); err != nil {
			return nil, err
		}
		t.Samples = append(t.Samples, s)
	}
	if t.Factor.Changed == "" {
		return nil, &unit.InputError{Field: "arm", Value: t.Factor.Baseline, Reason: "has nothing to be compared with", Hint: "the column arm needs two different values"}
	}
	return t, t.check()
}

// takeArm learns the names of the arms as they come.
func (t *Trial) takeArm(s Sample, c *csv.Reader, cols columns) error {
	f := &t.Factor
	switch {
	case s.Arm == f.Baseline || s.Arm == f.Changed:
	case f.Baseline == "":
		f.Baseline = s.Arm
	case f.Changed == "":
		f.Changed = s.Arm
	default:
		return at(c, cols.arm, "arm", s.Arm, "is a third arm beside "+unit.Quote(f.Baseline)+" and "+unit.Quote(f.Changed), "compare two at a time")
	}
	return nil
}

type columns struct {
	head                               []string
	name, arm, score, block, undersize int
}

func readHead(head []string, c *csv.Reader) (columns, error) {
	k := columns{name: -1, arm: -1, score: -1, block: -1, undersize: -1}
	if len(head) > MaxConditions {
		return k, at(c, 0, "table", itoa(len(head))+" columns", "has too many", "at most 60")
	}
	for i, h := range head {
		h = strings.TrimSpace(h)
		if h == "" || slices.Contains(k.head, strings.ToLower(h)) {
			return k, at(c, i, "column", h, "has no name, or that of another column", "give each column its own name")
		}
		k.head = append(k.head, strings.ToLower(h))
		for _, own := range []struct {
			to    *int
			names string
		}{{&k.name, "sample"}, {&k.arm, "arm"}, {&k.score, "score"}, {&k.block, "pair block"}, {&k.undersize, "undersize_mm"}} {
			if !slices.Contains(strings.Fields(own.names), strings.ToLower(h)) {
				continue
			}
			if *own.to >= 0 {
				return k, at(c, i, "column", h, "stands beside pair or block", "keep one of the two")
			}
			*own.to = i
		}
	}
	for _, need := range []struct {
		at   int
		name string
	}{{k.name, "sample"}, {k.arm, "arm"}, {k.score, "score"}} {
		if need.at < 0 {
			return k, &unit.InputError{Field: "line 1", Value: strings.Join(head, ","), Reason: "has no column " + need.name, Hint: "columns sample, arm and score are needed; pair or block, and conditions, if there are any"}
		}
	}
	return k, nil
}

func (k columns) sample(rec []string, c *csv.Reader) (Sample, error) {
	s := Sample{Name: strings.TrimSpace(rec[k.name]), Arm: strings.TrimSpace(rec[k.arm])}
	if s.Arm == "" {
		return s, at(c, k.arm, "arm", "", "is missing", "name the arm of every sample")
	}
	var err error
	if s.Score, err = k.number(rec, k.score, c); err != nil {
		return s, err
	}
	if k.undersize >= 0 && strings.TrimSpace(rec[k.undersize]) != "" {
		v, err := k.number(rec, k.undersize, c)
		if err != nil {
			return s, err
		}
		if v < 0 || v > 1000 {
			return s, at(c, k.undersize, "undersize_mm", rec[k.undersize], "is not a loss of size", "0 when within limits, else millimetres beyond the limit")
		}
		s.Undersize = unit.Length(v)
	}
	if k.block >= 0 {
		if s.Block = strings.TrimSpace(rec[k.block]); s.Block == "" {
			return s, at(c, k.block, k.head[k.block], "", "is missing", "name the pair or block of every sample, or leave the column out")
		}
	}
	s.Conditions = map[string]string{}
	for i, h := range k.head {
		if i != k.name && i != k.arm && i != k.score && i != k.block && i != k.undersize {
			s.Conditions[h] = strings.TrimSpace(rec[i])
		}
	}
	return s, nil
}

func (k columns) number(rec []string, i int, c *csv.Reader) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(rec[i]), 64)
	if err != nil || math.IsNaN(v) || math.Abs(v) > 1e12 {
		return 0, at(c, i, k.head[i], rec[i], "is not a number", "digits, with a point for decimals")
	}
	return v, nil
}

// at names the line and column of what was just read; columns count from 1 by bytes.
func at(c *csv.Reader, field int, name, value, reason, hint string) error {
	line, col := c.FieldPos(field)
	return &unit.InputError{Field: fmt.Sprintf("line %d, column %d: %s", line, col, name), Value: value, Reason: reason, Hint: hint}
}

func lineFault(err error) error {
	var p *csv.ParseError
	if !errors.As(err, &p) {
		return err
	}
	reason := "is not a line of a table"
	if errors.Is(p.Err, csv.ErrFieldCount) {
		reason = "has another number of columns than the first line"
	}
	return &unit.InputError{Field: fmt.Sprintf("line %d, column %d", p.Line, p.Column), Value: p.Err.Error(), Reason: reason, Hint: "commas between columns, text with commas in double quotes"}
}
