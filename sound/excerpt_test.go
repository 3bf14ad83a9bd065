package sound

import (
	"bytes"
	"math"
	"testing"

	"thrum/unit"
)

// two is a stereo of two tones, the second channel the louder.
func two(t *testing.T, seconds int) Stream {
	t.Helper()
	const rate = 8000
	r := &Recording{Rate: rate}
	for i := range rate * seconds {
		at := 2 * math.Pi * float64(i) / rate
		r.Samples = append(r.Samples, 0.3*math.Sin(430*at)+0.02*math.Sin(1000*at))
	}
	var b bytes.Buffer
	if err := r.WriteWAV(&b); err != nil {
		t.Fatal(err)
	}
	s, err := Open(&b, OpenOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestExcerpt(t *testing.T) {
	r, err := Excerpt(two(t, 3), Span{Start: 1.25, End: 2.5})
	if err != nil || math.Abs(r.Duration().S()-1.25) > 0.001 {
		t.Fatalf("%v, %v", r, err)
	}
	for _, i := range []int{0, 77, 4000} { // what was written, to a sixteenth bit
		at := 2 * math.Pi * (1.25 + float64(i)/8000)
		if want := 0.3*math.Sin(430*at) + 0.02*math.Sin(1000*at); math.Abs(r.Samples[i]-want) > 1e-4 {
			t.Errorf("sample %d is %.5f, written as %.5f", i, r.Samples[i], want)
		}
	}
	r.Alone(1000, 20)
	rest, tone := 0.0, 0.0
	for i, v := range r.Samples {
		if i < 2000 || i > 8000 {
			continue
		}
		want := 0.2 * math.Sin(2*math.Pi*1000*(1.25+float64(i)/8000))
		tone, rest = tone+want*want, rest+(v-want)*(v-want)
	}
	if rest > tone/100 { // 23 dB louder beside it before
		t.Errorf("beside the tone alone there is %.1f dB", 10*math.Log10(rest/tone))
	}
	if long, err := Excerpt(two(t, 3), Span{Start: 2, End: 1e9}); err != nil || math.Abs(long.Duration().S()-1) > 0.001 {
		t.Errorf("to the end: %v", err)
	}
	for _, at := range []Span{{Start: 4, End: 5}, {Start: 2, End: 2}, {Start: -1, End: 2}, {Start: unit.Time(math.NaN()), End: 2}, {Start: 0, End: unit.Time(math.Inf(1))}} {
		_, err := Excerpt(two(t, 3), at)
		wantInputError(t, "a stretch that is none", err, "")
	}
}
