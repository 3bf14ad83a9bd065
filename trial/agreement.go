package trial

import (
	"math"
	"slices"

	"thrum/unit"
)

// Cohen returns kappa of two raters from their table of counts, row by rater one:
// (seen - chance) / (1 - chance). Valid: a square table of 2 to 50 grades; ok is
// false where both gave one grade only, for then nothing can be said.
// Source: Cohen, Educ. Psychol. Meas. 20 (1960) 37.
func Cohen(table [][]float64) (kappa float64, ok bool) {
	k := len(table)
	if k < 2 || k > 50 {
		return 0, false
	}
	rows, cols := make([]float64, k), make([]float64, k)
	n, same := 0.0, 0.0
	for i, r := range table {
		if len(r) != k {
			return 0, false
		}
		for j, v := range r {
			if !(v >= 0 && v < 1e12) {
				return 0, false
			}
			rows[i] += v
			cols[j] += v
			n += v
		}
		same += r[i]
	}
	chance := 0.0
	for i := range rows {
		chance += rows[i] * cols[i]
	}
	return chanceCorrected(same/n, chance/n/n)
}

// Fleiss returns kappa of many raters: one row a subject, one column a grade, the
// cells how many raters gave it; every row has the same sum, 2 or more.
// Source: Fleiss, Psychol. Bull. 76 (1971) 378.
func Fleiss(table [][]int) (kappa float64, ok bool) {
	if len(table) < 2 || len(table[0]) < 2 {
		return 0, false
	}
	grades := make([]float64, len(table[0]))
	raters, agree := 0, 0.0
	for i, r := range table {
		sum, sq := 0, 0.0
		if len(r) != len(grades) {
			return 0, false
		}
		for j, v := range r {
			if v < 0 || v > 1e6 {
				return 0, false
			}
			sum += v
			sq += float64(v) * float64(v)
			grades[j] += float64(v)
		}
		if i == 0 {
			raters = sum
		}
		if sum != raters || sum < 2 {
			return 0, false
		}
		agree += (sq - float64(sum)) / float64(sum) / float64(sum-1)
	}
	chance := 0.0
	for _, g := range grades {
		share := g / float64(len(table)*raters)
		chance += share * share
	}
	return chanceCorrected(agree/float64(len(table)), chance)
}

func chanceCorrected(seen, chance float64) (float64, bool) {
	if !(chance < 1-1e-12) {
		return 0, false
	}
	return (seen - chance) / (1 - chance), true
}

// Scale says what differences between grades mean.
type Scale int

// Grades of finish from 1 to 5 are ordinal.
const (
	Nominal Scale = iota
	Ordinal
	IntervalScale
	RatioScale
)

// Krippendorff returns alpha, 1 for full agreement and 0 for chance, of any number
// of raters with gaps. ratings[r][u] is rater r's grade of unit u, NaN for none.
//
//	alpha = 1 - (n-1) sum o_ck d_ck / sum n_c n_k d_ck
//
// Units that fewer than two graded are left out. Valid: up to 100 different grades.
// Source: Krippendorff, Content Analysis, 2nd ed. 2004, ch. 11.
func Krippendorff(ratings [][]float64, s Scale) (alpha float64, err error) {
	grades, units, err := unitsOf(ratings)
	if err != nil {
		return 0, err
	}
	k := len(grades)
	o := make([]float64, k*k)
	nc := make([]float64, k)
	n := 0.0
	for _, u := range units {
		m := 0.0
		for _, c := range u {
			m += c
		}
		if m < 2 {
			continue
		}
		n += m
		for c := range k {
			nc[c] += u[c]
			for d := range k {
				pairs := u[c] * u[d]
				if c == d {
					pairs = u[c] * (u[c] - 1)
				}
				o[c*k+d] += pairs / (m - 1)
			}
		}
	}
	seen, chance := 0.0, 0.0
	for c := range k {
		for d := range k {
			w := apart(grades, nc, c, d, s)
			seen += o[c*k+d] * w
			chance += nc[c] * nc[d] * w
		}
	}
	if chance == 0 || math.IsNaN(chance) {
		return 0, &unit.InputError{Field: "ratings", Value: itoa(int(n)) + " grades", Reason: "do not vary, so agreement cannot be told from habit", Hint: "grade samples that differ"}
	}
	return 1 - (n-1)*seen/chance, nil
}

// unitsOf counts, for each unit, how often each grade was given.
func unitsOf(ratings [][]float64) (grades []float64, units [][]float64, err error) {
	for r, row := range ratings {
		if len(row) != len(ratings[0]) {
			return nil, nil, &unit.InputError{Field: "rater " + itoa(r+1), Value: itoa(len(row)) + " grades", Reason: "graded another number of units than rater 1", Hint: "leave gaps as gaps"}
		}
		for _, v := range row {
			if !math.IsNaN(v) && !slices.Contains(grades, v) {
				grades = append(grades, v)
			}
			if len(grades) > 100 || math.IsInf(v, 0) {
				return nil, nil, &unit.InputError{Field: "ratings", Value: ftoa(v), Reason: "is beyond what can be graded", Hint: "at most 100 different grades"}
			}
		}
	}
	slices.Sort(grades)
	if len(grades) == 0 {
		return grades, nil, nil
	}
	for u := range ratings[0] {
		count := make([]float64, len(grades))
		for _, row := range ratings {
			if i, ok := slices.BinarySearch(grades, row[u]); ok {
				count[i]++
			}
		}
		units = append(units, count)
	}
	return grades, units, nil
}

// apart is the squared distance between grades c and d.
func apart(grades, nc []float64, c, d int, s Scale) float64 {
	if c == d {
		return 0
	}
	x, y := grades[c], grades[d]
	switch s {
	case Ordinal:
		g := -(nc[c] + nc[d]) / 2
		for i := min(c, d); i <= max(c, d); i++ {
			g += nc[i]
		}
		return g * g
	case IntervalScale:
		return (x - y) * (x - y)
	case RatioScale:
		return (x - y) * (x - y) / (x + y) / (x + y)
	}
	return 1
}
