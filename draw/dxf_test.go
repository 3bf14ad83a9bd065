package draw

import (
	"bufio"
	"bytes"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/unit"
)

// entities reads the ENTITIES section as groups by code.
func entities(t interface{ Fatalf(string, ...any) }, data []byte) (all []map[int]string) {
	sc := bufio.NewScanner(bytes.NewReader(data))
	in := false
	for sc.Scan() {
		code, err := strconv.Atoi(sc.Text())
		if err != nil || !sc.Scan() {
			t.Fatalf("not a group: %q", sc.Text())
		}
		v := sc.Text()
		switch {
		case code == 2 && v == "ENTITIES":
			in = true
		case in && code == 0:
			all = append(all, map[int]string{0: v})
		case in:
			all[len(all)-1][code] = v
		}
	}
	return all
}

func number(e map[int]string, code int) float64 {
	v, err := strconv.ParseFloat(e[code], 64)
	if err != nil {
		return math.NaN()
	}
	return v
}

// An arc of the drawing is one ARC of the file: same centre, radius and ends,
// with Y turned up.
func TestDXFArcs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Pt{mm(rapid.Float64Range(-100, 100).Draw(t, "x")), mm(rapid.Float64Range(-100, 100).Draw(t, "y"))}
		r := mm(rapid.Float64Range(0.01, 80).Draw(t, "r"))
		from := unit.Angle(rapid.Float64Range(-7, 7).Draw(t, "from"))
		sweep := unit.Angle(rapid.Float64Range(-6, 6).Draw(t, "sweep"))
		l := New(A4, "arc")
		l.Stroke(new(Path).Arc(c, r, from, sweep), Visible)
		var b bytes.Buffer
		if err := l.DXF(&b, 0, DXFOptions{Origin: Pt{10, 20}}); err != nil {
			t.Fatal(err)
		}
		e := entities(t, b.Bytes())[0]
		if e[0] != "ARC" || e[8] != "VISIBLE" {
			t.Fatalf("an arc became %v", e)
		}
		near := func(what string, got, want float64) {
			if math.Abs(got-want) > 2e-5 {
				t.Fatalf("%s %g, want %g", what, got, want)
			}
		}
		near("centre x", number(e, 10), c.X.MM()-10)
		near("centre y", number(e, 20), 20-c.Y.MM())
		near("radius", number(e, 40), r.MM())
		first, last := c.Polar(r, from), c.Polar(r, from+sweep)
		if sweep < 0 {
			first, last = last, first
		}
		for code, p := range map[int]Pt{50: first, 51: last} {
			a := number(e, code) * math.Pi / 180
			near("end x", number(e, 10)+r.MM()*math.Cos(a), p.X.MM()-10)
			near("end y", number(e, 20)+r.MM()*math.Sin(a), 20-p.Y.MM())
		}
	})
}

func TestDXFText(t *testing.T) {
	if got := dxfText("⌀12 ±0.1 60° 5% µ"); got != `%%c12 %%p0.1 60%%d 5%%% \U+00B5` {
		t.Error(got)
	}
	l := New(A4, "text")
	l.Text(Pt{10, 50}, "M12", Style{Anchor: End, Size: 10})
	l.Stroke(Circle(Pt{20, 30}, 5), Centre)
	var b bytes.Buffer
	if err := l.DXF(&b, 0, DXFOptions{}); err != nil {
		t.Fatal(err)
	}
	var kinds []string
	for _, e := range entities(t, b.Bytes()) {
		kinds = append(kinds, e[0])
	}
	if got := strings.Join(kinds, " "); got != "TEXT CIRCLE ENDSEC EOF" {
		t.Errorf("entities %s", got)
	}
	for _, c := range b.String() {
		if c > 0x7f {
			t.Fatalf("%q is not ASCII", c)
		}
	}
}
