package trial

import (
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/mat"
)

// Status says what became of a condition between the arms.
type Status string

// Unknown is a legal answer; what was not written down is never taken as held.
const (
	OnPurpose Status = "changed on purpose"
	Held      Status = "held"
	Drifted   Status = "varied"
	Together  Status = "changed together"
	Unknown   Status = "unknown"
)

// Condition is one thing that was recorded, compared between the arms.
type Condition struct {
	Name      string   `json:"name"`
	Baseline  []string `json:"baseline"` // values seen, at most 6
	Changed   []string `json:"changed"`
	Status    Status   `json:"status"`
	R         float64  `json:"r"` // how closely it goes with the arm, within blocks: 0 not at all, 1 wholly
	Inflation float64  `json:"variance_inflation,omitempty"`
	Warning   string   `json:"warning,omitempty"`
}

// Above warnAt a condition goes so closely with the arm that it is named.
const warnAt = .7

const valuesShown = 6

// orderNames are columns that hold the run order; of two bars one is always first.
var orderNames = []string{"run", "order", "run order"}

// linked pairs of conditions change each other by the way a lathe is built.
var linked = [...][2]string{
	{"spindle speed", "cutting speed and, at a fixed pitch, carriage speed"},
	{"diameter", "cutting speed and stiffness of the bar"},
	{"stick-out", "stiffness of the bar"},
	{"infeed", "chip thickness and the load on each flank"},
}

// Compare says of each condition whether it was held, varied, changed together
// with the arm, or is unknown. A condition is confounded with the arm when its
// columns (the value itself where all are numbers, else one a value) span the arm
// column once means of blocks are taken off: then no analysis can tell the two
// apart. R is the square root of the share of the arm that the columns explain and
// 1/(1-R^2) the inflation of variance.
func (t Trial) Compare() []Condition {
	names := map[string]bool{}
	for _, s := range t.Samples {
		for n := range s.Conditions {
			names[n] = true
		}
	}
	var out []Condition
	for n := range names {
		if !t.isFactor(n) {
			out = append(out, t.compareOne(n))
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	if c, ok := t.compareTogether(out); ok {
		out = append(out, c)
	}
	f := Condition{
		Name: t.Factor.Name, Baseline: []string{t.Factor.Baseline}, Changed: []string{t.Factor.Changed}, Status: OnPurpose, R: 1,
	}
	for _, l := range linked {
		if strings.EqualFold(strings.TrimSpace(t.Factor.Name), l[0]) {
			f.Warning = "by itself this also changes " + l[1]
		}
	}
	return append([]Condition{f}, out...)
}

// isFactor reports whether a column of that name is the factor itself.
func (t Trial) isFactor(name string) bool {
	return strings.EqualFold(strings.TrimSpace(name), strings.TrimSpace(t.Factor.Name))
}

func (t Trial) compareOne(name string) Condition {
	c := Condition{Name: name}
	missing, all := false, []string{}
	for _, s := range t.Samples {
		v := strings.TrimSpace(s.Conditions[name])
		if v == "" {
			missing = true
			continue
		}
		all = appendNew(all, v, len(t.Samples))
		if s.Arm == t.Factor.Changed {
			c.Changed = appendNew(c.Changed, v, valuesShown)
		} else {
			c.Baseline = appendNew(c.Baseline, v, valuesShown)
		}
	}
	switch {
	case missing:
		c.Status, c.Warning = Unknown, "not written down for every sample"
		return c
	case len(all) < 2:
		c.Status = Held
		return c
	}
	c.Status = Drifted
	if slices.ContainsFunc(t.Same, func(s string) bool { return strings.EqualFold(strings.TrimSpace(s), strings.TrimSpace(name)) }) {
		cols, _ := t.columns(name)
		c.Status, c.R, c.Warning = OnPurpose, t.explained(cols), "part of what was changed on purpose"
		return c
	}
	// A text that differs on every sample is its name, not a condition, unless
	// there is one sample an arm: then anything that differs goes with the arm.
	cols, numeric := t.columns(name)
	if !numeric && len(all) == len(t.Samples) && len(all) > 2 {
		return c
	}
	c.R = t.explained(cols)
	if len(t.Samples) == 2 && slices.Contains(orderNames, strings.ToLower(name)) {
		c.Warning = "one was cut after the other, as any two are: drift cannot be told from the change"
		return c
	}
	if c.R > 1-1e-6 {
		c.R, c.Status = 1, Together
		c.Warning = "changed together with " + t.Factor.Name + ": the two cannot be told apart"
		return c
	}
	if c.R < 1e-6 {
		c.R, c.Warning = 0, "varied, but alike in both arms"
	}
	if c.Inflation = 1 / (1 - c.R*c.R); c.R > warnAt {
		c.Warning = "goes closely with " + t.Factor.Name + " (r = " + strconv.FormatFloat(c.R, 'f', 2, 64) + "): hard to tell apart"
	}
	return c
}

// compareTogether looks for conditions that fix the arm jointly though none does
// alone. It needs spare samples, since enough columns span anything.
func (t Trial) compareTogether(cs []Condition) (Condition, bool) {
	var cols [][]float64
	var names []string
	for _, c := range cs {
		if c.Status == Together {
			return Condition{}, false
		}
		if c.Status != Drifted || c.R == 0 {
			continue
		}
		own, _ := t.columns(c.Name)
		cols = append(cols, own...)
		names = append(names, c.Name)
	}
	if len(names) < 2 || len(cols)+len(t.blocks())+1 >= len(t.Samples) || t.explained(cols) < 1-1e-6 {
		return Condition{}, false
	}
	return Condition{
		Name: strings.Join(names, " with "), Status: Together, R: 1,
		Warning: "jointly changed with " + t.Factor.Name + ": cannot be told apart from it",
	}, true
}

func appendNew(list []string, v string, most int) []string {
	if len(list) >= most || slices.Contains(list, v) {
		return list
	}
	return append(list, v)
}

// maxLevels bounds the columns of one condition.
const maxLevels = 40

// columns codes a condition: itself where it is a number everywhere, else one
// column a value.
func (t Trial) columns(name string) (cols [][]float64, numeric bool) {
	xs := make([]float64, len(t.Samples))
	var levels []string
	numeric = true
	for i, s := range t.Samples {
		v := strings.TrimSpace(s.Conditions[name])
		levels = appendNew(levels, v, maxLevels)
		x, err := strconv.ParseFloat(v, 64)
		if err != nil || math.IsNaN(x) || math.Abs(x) > 1e12 {
			numeric = false
			continue
		}
		xs[i] = x
	}
	if numeric {
		return [][]float64{xs}, true
	}
	for _, l := range levels {
		col := make([]float64, len(t.Samples))
		for i, s := range t.Samples {
			if strings.TrimSpace(s.Conditions[name]) == l {
				col[i] = 1
			}
		}
		cols = append(cols, col)
	}
	return cols, false
}

// explained returns R of the arm on the columns, all less the means of their blocks.
func (t Trial) explained(cols [][]float64) float64 {
	arm := make([]float64, len(t.Samples))
	for i, s := range t.Samples {
		if s.Arm == t.Factor.Changed {
			arm[i] = 1
		}
	}
	arm = t.within(arm)
	total := dot(arm, arm)
	if total < 1e-12 {
		return 0
	}
	// Gram-Schmidt: what is left of the arm after each column in turn.
	var basis [][]float64
	for _, c := range cols {
		v := t.within(c)
		size := math.Sqrt(dot(v, v))
		if size < 1e-9*(1+math.Sqrt(dot(c, c))) {
			continue
		}
		scaled(v, 1/size)
		for range 2 {
			for _, b := range basis {
				add(v, b, -dot(v, b))
			}
		}
		if left := math.Sqrt(dot(v, v)); left > 1e-7 {
			scaled(v, 1/left)
			basis = append(basis, v)
			add(arm, v, -dot(arm, v))
		}
	}
	return math.Sqrt(max(0, 1-dot(arm, arm)/total))
}

// within takes off the mean of each block.
func (t Trial) within(x []float64) []float64 {
	sum, n := map[string]float64{}, map[string]float64{}
	for i, s := range t.Samples {
		sum[s.Block] += x[i]
		n[s.Block]++
	}
	out := make([]float64, len(x))
	for i, s := range t.Samples {
		out[i] = x[i] - sum[s.Block]/n[s.Block]
	}
	return out
}

func dot(a, b []float64) float64 {
	return mat.Dot(mat.NewVecDense(len(a), a), mat.NewVecDense(len(b), b))
}

func add(dst, b []float64, k float64) {
	for i := range dst {
		dst[i] += k * b[i]
	}
}

func scaled(x []float64, k float64) {
	for i := range x {
		x[i] *= k
	}
}
