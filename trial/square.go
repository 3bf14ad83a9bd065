package trial

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"thrum/unit"
)

// Square is a Latin square: each treatment once on every bar and once in every place
// of the run, so that a bad bar and a wearing edge fall on all treatments alike.
type Square struct {
	Treatments []string `json:"treatments"`
	Rows       [][]int  `json:"rows"` // of each bar: the treatment at each place of the run, from 0
}

// Sizes of a square that can be cut.
const (
	leastSquare = 3 // a smaller one leaves nothing to judge by
	mostSquare  = 12
)

// DrawSquare draws one by lot from a seed: rows, columns and treatments of a cyclic
// square are shuffled. Valid: 3 to 12 treatments, no two of one name.
func DrawSquare(treatments []string, seed uint64) (Square, error) {
	n := len(treatments)
	if n < leastSquare || n > mostSquare {
		return Square{}, &unit.InputError{Field: "treatments", Value: strings.Join(treatments, ", "), Reason: "do not make a square that can be judged", Hint: fmt.Sprintf("%d to %d treatments, separated by commas", leastSquare, mostSquare)}
	}
	for i, a := range treatments {
		for _, b := range treatments[:i] {
			if a == b || a == "" {
				return Square{}, &unit.InputError{Field: "treatments", Value: a, Reason: "is named twice or empty", Hint: "each its own name"}
			}
		}
	}
	return Square{Treatments: treatments, Rows: latin(n, rand.New(rand.NewPCG(seed, drawStream)))}, nil
}

func latin(size int, r *rand.Rand) [][]int {
	rows, cols, names := r.Perm(size), r.Perm(size), r.Perm(size)
	sq := make([][]int, size)
	for i := range sq {
		sq[i] = make([]int, size)
		for j := range sq[i] {
			sq[i][j] = names[(rows[i]+cols[j])%size]
		}
	}
	return sq
}

// SquareFinding is what a Latin square showed.
type SquareFinding struct {
	Means      []float64 `json:"means"`               // of the treatments
	Mean       float64   `json:"mean"`                // of all cuts
	Treatments float64   `json:"treatments"`          // sum of squares between treatments
	Bars       float64   `json:"bars"`                // between bars
	Places     float64   `json:"places"`              // between places of the run
	Rest       float64   `json:"rest"`                // what none of them accounts for
	RestDF     int       `json:"rest_df"`             // its degrees of freedom
	F          float64   `json:"f,omitempty"`         // of the treatments
	P          float64   `json:"p"`                   // chance of such an F, or more, from equal treatments
	Smallest   float64   `json:"smallest_difference"` // of two means that would be significant at 5 % if it alone were looked at
	Words      string    `json:"words"`
}

// Read compares the treatments: one result for each cut, bar by bar in the order of the
// places. It takes the effects of bar, place and treatment to add up, and what is left
// over to be alike everywhere.
//
//	F = [SS_treatments/(n-1)] / [SS_rest/((n-1)(n-2))]
//
// Source: Montgomery, Design and Analysis of Experiments, section on the Latin square.
func (q Square) Read(results []float64) (*SquareFinding, error) {
	n := len(q.Treatments)
	if err := q.check(results); err != nil {
		return nil, err
	}
	size := float64(n)
	bars, places := make([]float64, n), make([]float64, n)
	f := &SquareFinding{Means: make([]float64, n), RestDF: (n - 1) * (n - 2)}
	for k, y := range results {
		bar, place := k/n, k%n
		f.Mean += y / (size * size)
		bars[bar] += y / size
		places[place] += y / size
		f.Means[q.Rows[bar][place]] += y / size
	}
	total := 0.0
	for _, y := range results {
		total += square(y - f.Mean)
	}
	for i := range n {
		f.Bars += size * square(bars[i]-f.Mean)
		f.Places += size * square(places[i]-f.Mean)
		f.Treatments += size * square(f.Means[i]-f.Mean)
	}
	f.Rest = max(0, total-f.Bars-f.Places-f.Treatments)
	f.judge(total)
	f.Words = f.wording(q)
	return f, nil
}

func square(x float64) float64 { return x * x }

func (q Square) check(results []float64) error {
	n := len(q.Treatments)
	if n < leastSquare || len(q.Rows) != n || len(results) != n*n {
		return &unit.InputError{Field: "results", Value: itoa(len(results)), Reason: fmt.Sprintf("are not one for each of the %d cuts", n*n), Hint: "bar by bar, in the order of the places"}
	}
	return checkScores(results)
}

// judge sets F and what follows from it. A rest that is nothing but rounding gives no
// yardstick.
func (f *SquareFinding) judge(total float64) {
	n := len(f.Means)
	if total == 0 || f.Rest < 1e-12*total {
		f.P, f.Rest = 1, 0
		return
	}
	left := f.Rest / float64(f.RestDF)
	f.F = f.Treatments / float64(n-1) / left
	f.P = distuv.F{D1: float64(n - 1), D2: float64(f.RestDF)}.Survival(f.F)
	f.Smallest = tQuantile(.975, float64(f.RestDF)) * math.Sqrt(2*left/float64(n))
}

func (f *SquareFinding) wording(q Square) string {
	high, low := 0, 0
	for i, m := range f.Means {
		if m > f.Means[high] {
			high = i
		}
		if m < f.Means[low] {
			low = i
		}
	}
	means := fmt.Sprintf("highest %s with %.4g, lowest %s with %.4g", q.Treatments[high], f.Means[high], q.Treatments[low], f.Means[low])
	switch {
	case f.F == 0:
		return "Nothing is left over to judge by: " + means + "."
	case f.P < .05:
		return fmt.Sprintf("The treatments differ (p = %.2g): %s. Two means that lie less than %.3g apart cannot be told from each other.", f.P, means, f.Smallest)
	}
	return fmt.Sprintf("The treatments cannot be told apart (p = %.2g): %s.", f.P, means)
}
