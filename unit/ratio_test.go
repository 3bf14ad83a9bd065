package unit

import (
	"errors"
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

// drawInt prefers the edges of the range, where overflow hides.
func drawInt(t *rapid.T, name string) int64 {
	return rapid.OneOf(
		rapid.Int64Range(-200, 200),
		rapid.SampledFrom([]int64{
			0, 1, -1, 127, 63, math.MaxInt64, -math.MaxInt64, math.MinInt64, math.MaxInt32, math.MinInt32, 1 << 31, 1 << 62, -(1 << 62), 3_037_000_500,
		}),
		rapid.Int64(),
	).Draw(t, name)
}

func drawRatio(t *rapid.T, name string) Ratio {
	for {
		r, err := NewRatio(drawInt(t, name+" numerator"), drawInt(t, name+" denominator"))
		if err == nil {
			return r
		}
	}
}

func exact(r Ratio) *big.Rat { return big.NewRat(r.Num(), r.Den()) }

// fits reports whether an exact value can be a Ratio: its numerator and
// denominator in lowest terms within 64 bits, the least integer left out.
func fits(v *big.Rat) bool {
	return v.Num().IsInt64() && v.Num().Int64() != math.MinInt64 && v.Denom().IsInt64()
}

// TestRatioAgainstBigRat holds every operation against exact arithmetic of any
// size: the result is the same, or it does not fit and ErrOverflow says so.
func TestRatioAgainstBigRat(t *testing.T) {
	ops := map[string]struct {
		ours  func(a, b Ratio) (Ratio, error)
		exact func(a, b *big.Rat) *big.Rat
	}{
		"add": {Ratio.Add, func(a, b *big.Rat) *big.Rat { return new(big.Rat).Add(a, b) }},
		"sub": {Ratio.Sub, func(a, b *big.Rat) *big.Rat { return new(big.Rat).Sub(a, b) }},
		"mul": {Ratio.Mul, func(a, b *big.Rat) *big.Rat { return new(big.Rat).Mul(a, b) }},
		"quo": {Ratio.Quo, func(a, b *big.Rat) *big.Rat { return new(big.Rat).Quo(a, b) }},
	}
	for name, op := range ops {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				a, b := drawRatio(t, "a"), drawRatio(t, "b")
				got, err := op.ours(a, b)
				if name == "quo" && b.IsZero() {
					if err == nil {
						t.Fatalf("%v / 0 = %v", a, got)
					}
					return
				}
				want := op.exact(exact(a), exact(b))
				switch {
				case err == nil && exact(got).Cmp(want) != 0:
					t.Fatalf("%v %s %v = %v, want %v", a, name, b, got, want)
				case err == nil && !fits(want):
					t.Fatalf("%v %s %v = %v, which does not fit", a, name, b, got)
				case err != nil && fits(want):
					t.Fatalf("%v %s %v fails (%v), want %v", a, name, b, err, want)
				case err != nil && !errors.Is(err, ErrOverflow):
					t.Fatalf("%v %s %v: error %v is not ErrOverflow", a, name, b, err)
				}
			})
		})
	}
}

func TestRatioOrderAndSign(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawRatio(t, "a"), drawRatio(t, "b")
		ea, eb := exact(a), exact(b)
		if a.Cmp(b) != ea.Cmp(eb) || (a == b) != (ea.Cmp(eb) == 0) {
			t.Fatalf("%v against %v: Cmp %d, == %v", a, b, a.Cmp(b), a == b)
		}
		if a.Sign() != ea.Sign() || a.Neg().Sign() != -ea.Sign() || a.IsZero() != (ea.Sign() == 0) || a.IsWhole() != ea.IsInt() {
			t.Fatalf("%v: sign %d, zero %v, whole %v", a, a.Sign(), a.IsZero(), a.IsWhole())
		}
		if f, _ := ea.Float64(); math.Abs(a.Float()-f) > 4e-16*math.Abs(f) {
			t.Fatalf("%v = %v, want %v", a, a.Float(), f)
		}
		if inv, err := a.Inv(); !a.IsZero() && (err != nil || exact(inv).Cmp(new(big.Rat).Inv(ea)) != 0) {
			t.Fatalf("1 / %v = %v, %v", a, inv, err)
		}
		if a.Den() < 1 || gcd(abs(a.Num()), a.Den()) != 1 {
			t.Fatalf("%d/%d is not in lowest terms", a.Num(), a.Den())
		}
	})
}

func TestRatioTextRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := drawRatio(t, "a")
		text, err := a.MarshalText()
		if err != nil {
			t.Fatal(err)
		}
		var b Ratio
		if err := b.UnmarshalText(text); err != nil || a != b {
			t.Fatalf("%v writes %q, which reads as %v (%v)", a, text, b, err)
		}
	})
}

func TestNewRatio(t *testing.T) {
	for _, c := range []struct{ num, den, wantNum, wantDen int64 }{
		{254, 20, 127, 10}, {6, -4, -3, 2}, {-6, -4, 3, 2}, {0, -7, 0, 1}, {math.MaxInt64, -math.MaxInt64, -1, 1},
	} {
		r, err := NewRatio(c.num, c.den)
		if err != nil || r.Num() != c.wantNum || r.Den() != c.wantDen {
			t.Errorf("%d/%d = %v (%v), want %d/%d", c.num, c.den, r, err, c.wantNum, c.wantDen)
		}
	}
	if _, err := NewRatio(1, 0); err == nil {
		t.Error("1/0 was accepted")
	}
	for _, c := range [][2]int64{{math.MinInt64, 1}, {1, math.MinInt64}} {
		if _, err := NewRatio(c[0], c[1]); !errors.Is(err, ErrOverflow) {
			t.Errorf("%d/%d: error %v", c[0], c[1], err)
		}
	}
	var zero Ratio
	if zero.Num() != 0 || zero.Den() != 1 || zero.String() != "0" || zero != Whole(0) {
		t.Errorf("the zero value is %v", zero)
	}
}

func TestParseRatioSpellings(t *testing.T) {
	for _, c := range []struct {
		text     string
		num, den int64
	}{
		{"3", 3, 1},
		{"1.25", 5, 4},
		{"1,25", 5, 4},
		{".5", 1, 2},
		{"5.", 5, 1},
		{"3/8", 3, 8},
		{" 3 / 8 ", 3, 8},
		{"1-3/8", 11, 8},
		{"1 3/8", 11, 8},
		{"1 - 3/8", 11, 8},
		{"1½", 3, 2},
		{"½", 1, 2},
		{"3⁄8", 3, 8},
		{"+2", 2, 1},
		{"-1-1/2", -3, 2},
		{"−0.5", -1, 2},
		{"- 3/4", -3, 4},
		{"0.000000000001", 1, 1e12},
		{"9223372036854775807", math.MaxInt64, 1},
		{"1\u00a01/2", 3, 2},
		{"0", 0, 1},
		{"-0", 0, 1},
	} {
		r, err := ParseRatio(c.text)
		if err != nil || r.Num() != c.num || r.Den() != c.den {
			t.Errorf("%q = %v (%v), want %d/%d", c.text, r, err, c.num, c.den)
		}
	}
	for _, text := range []string{
		"", " ", ".", ",", "-", "+", "1/0", "a", "1.2.3", "1,2,3", "1/2/3", "1--1/2", "1-", "-1-", "1 2", "1e3", "0x10", "١", "1/-2", "1.5/2", "1-1.5",
		"9223372036854775808", "1/9223372036854775808", "9223372036854775807 1/2", "0.0000000000001", "12345678901234567890123456789012345678901", "∞", "NaN",
	} {
		r, err := ParseRatio(text)
		var in *InputError
		if !errors.As(err, &in) || in.Value != text {
			t.Errorf("%q reads as %v (%v), want a refusal that quotes it", text, r, err)
		}
	}
}

func TestParseRatioDecimals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		num := rapid.Int64Range(-1e12, 1e12).Draw(t, "number / 10^places")
		places := rapid.IntRange(0, 6).Draw(t, "places")
		want := big.NewRat(num, int64(math.Pow10(places)))
		text := want.FloatString(places)
		got, err := ParseRatio(text)
		if err != nil || exact(got).Cmp(want) != 0 {
			t.Fatalf("%q = %v (%v), want %v", text, got, err, want)
		}
	})
}

func FuzzParseRatio(f *testing.F) {
	for _, s := range []string{"1-3/8", "-.5", "1,25", "½", "1/0", "9223372036854775807/9223372036854775806", "--1", "1 - - 2/3", "\xff", "1⁄2"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		r, err := ParseRatio(s)
		if err != nil {
			var in *InputError
			if !errors.As(err, &in) {
				t.Fatalf("%q: %T", s, err)
			}
			return
		}
		again, err := ParseRatio(r.String())
		if err != nil || again != r {
			t.Fatalf("%q = %v, which reads as %v (%v)", s, r, again, err)
		}
	})
}
