package unit

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"math/bits"
	"strconv"
	"strings"
)

// ErrOverflow reports that an exact fraction no longer fits in 64-bit whole
// numbers. Real gear trains stay far below it (six wheels of 200 teeth need 47
// bits); it guards against absurd input.
var ErrOverflow = errors.New("number too large to be kept as an exact fraction")

// Ratio is an exact fraction: a lead in millimetres, a gear ratio, a number of
// turns. It is always in lowest terms with a positive denominator. The zero
// value is 0. Ratios may be compared with ==.
type Ratio struct {
	num    int64
	denom1 int64 // denominator minus one, so that the zero value is 0/1
}

// NewRatio returns num/den in lowest terms. It fails when den is zero or when
// the result cannot be represented.
func NewRatio(num, den int64) (Ratio, error) {
	if den == 0 {
		return Ratio{}, fmt.Errorf("fraction %d/%d: the denominator is zero", num, den)
	}
	if num == math.MinInt64 || den == math.MinInt64 {
		return Ratio{}, ErrOverflow
	}
	if den < 0 {
		num, den = -num, -den
	}
	g := gcd(abs(num), den)
	return Ratio{num / g, den/g - 1}, nil
}

// MustRatio is NewRatio for constants in source code; it panics on a zero
// denominator.
func MustRatio(num, den int64) Ratio {
	r, err := NewRatio(num, den)
	if err != nil {
		panic(err)
	}
	return r
}

// Whole returns n as a Ratio.
func Whole(n int64) Ratio { return MustRatio(n, 1) }

// Num returns the numerator, which carries the sign.
func (r Ratio) Num() int64 { return r.num }

// Den returns the denominator, at least 1.
func (r Ratio) Den() int64 { return r.denom1 + 1 }

// IsZero reports whether r is 0.
func (r Ratio) IsZero() bool { return r.num == 0 }

// IsWhole reports whether r has no fractional part.
func (r Ratio) IsWhole() bool { return r.denom1 == 0 }

// Sign returns -1, 0 or +1.
func (r Ratio) Sign() int {
	switch {
	case r.num < 0:
		return -1
	case r.num > 0:
		return 1
	}
	return 0
}

// Float returns the nearest floating-point value.
func (r Ratio) Float() float64 { return float64(r.num) / float64(r.Den()) }

// Length reads r as a length in millimetres.
func (r Ratio) Length() Length { return Length(r.Float()) }

// Neg returns -r.
func (r Ratio) Neg() Ratio { return Ratio{-r.num, r.denom1} }

// Inv returns 1/r; it fails for zero.
func (r Ratio) Inv() (Ratio, error) { return NewRatio(r.Den(), r.num) }

// Mul returns r x o exactly, or ErrOverflow.
func (r Ratio) Mul(o Ratio) (Ratio, error) {
	if r.num == 0 || o.num == 0 {
		return Ratio{}, nil
	}
	// Cross-reduce first, so that only a result that truly does not fit overflows.
	g1, g2 := gcd(abs(r.num), o.Den()), gcd(abs(o.num), r.Den())
	n, ok1 := mul(r.num/g1, o.num/g2)
	d, ok2 := mul(r.Den()/g2, o.Den()/g1)
	if !ok1 || !ok2 {
		return Ratio{}, ErrOverflow
	}
	return Ratio{n, d - 1}, nil
}

// Quo returns r / o exactly; it fails for a zero divisor or on overflow.
func (r Ratio) Quo(o Ratio) (Ratio, error) {
	inv, err := o.Inv()
	if err != nil {
		return Ratio{}, err
	}
	return r.Mul(inv)
}

// Add returns r + o exactly, or ErrOverflow.
func (r Ratio) Add(o Ratio) (Ratio, error) {
	g := gcd(r.Den(), o.Den())
	a, ok1 := mul(r.num, o.Den()/g)
	b, ok2 := mul(o.num, r.Den()/g)
	d, ok3 := mul(r.Den(), o.Den()/g)
	s := a + b
	if ok1 && ok2 && ok3 && s != math.MinInt64 && ((a > 0) != (b > 0) || (s > 0) == (a > 0)) {
		return NewRatio(s, d)
	}
	// A step ran out of 64 bits; the sum in lowest terms may still fit.
	sum := new(big.Rat).Add(big.NewRat(r.num, r.Den()), big.NewRat(o.num, o.Den()))
	if !sum.Num().IsInt64() || !sum.Denom().IsInt64() {
		return Ratio{}, ErrOverflow
	}
	return NewRatio(sum.Num().Int64(), sum.Denom().Int64())
}

// Sub returns r - o exactly, or ErrOverflow.
func (r Ratio) Sub(o Ratio) (Ratio, error) { return r.Add(o.Neg()) }

// Cmp returns -1, 0 or +1 as r is less than, equal to or greater than o. It
// never overflows.
func (r Ratio) Cmp(o Ratio) int {
	if s, t := r.Sign(), o.Sign(); s != t || s == 0 {
		return sign(s - t)
	}
	h1, l1 := bits.Mul64(uint64(abs(r.num)), uint64(o.Den()))
	h2, l2 := bits.Mul64(uint64(abs(o.num)), uint64(r.Den()))
	c := 0
	switch {
	case h1 != h2:
		c = 1
		if h1 < h2 {
			c = -1
		}
	case l1 != l2:
		c = 1
		if l1 < l2 {
			c = -1
		}
	}
	return c * r.Sign()
}

// String prints "3", "127/40" or "-2/3".
func (r Ratio) String() string {
	if r.IsWhole() {
		return strconv.FormatInt(r.num, 10)
	}
	return strconv.FormatInt(r.num, 10) + "/" + strconv.FormatInt(r.Den(), 10)
}

// MarshalText writes the form that ParseRatio reads.
func (r Ratio) MarshalText() ([]byte, error) { return []byte(r.String()), nil }

// UnmarshalText reads what ParseRatio accepts.
func (r *Ratio) UnmarshalText(b []byte) error {
	v, err := ParseRatio(string(b))
	if err == nil {
		*r = v
	}
	return err
}

var vulgar = strings.NewReplacer("½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8",
	"⁄", "/", "−", "-")

// ParseRatio reads an exact number as drawings write it: 3, 1.25, 1,25, .5,
// 3/8, 1-3/8, 1 3/8, 1½, each with an optional sign. A comma is a decimal comma.
// At most 12 digits may follow the decimal point.
func ParseRatio(s string) (Ratio, error) {
	bad := func(why string) (Ratio, error) {
		return Ratio{}, &InputError{Field: "number", Value: s, Reason: why, Hint: "write 1.25, 3/8 or 1-3/8"}
	}
	t := strings.TrimSpace(s)
	if len(t) == 0 {
		return bad("is empty")
	}
	if len(t) > 40 {
		return bad("is longer than any dimension")
	}
	t = strings.TrimSpace(vulgar.Replace(t))
	if n, d, ok := strings.Cut(t, "/"); ok { // 3 / 8
		t = strings.TrimSpace(n) + "/" + strings.TrimSpace(d)
	}
	neg := false
	switch t[0] {
	case '-':
		neg, t = true, strings.TrimSpace(t[1:])
	case '+':
		t = strings.TrimSpace(t[1:])
	}
	whole, frac, mixed := strings.Cut(t, "-")
	if !mixed {
		if i := strings.IndexFunc(t, func(r rune) bool { return r == ' ' || r == '\t' || r == '\u00a0' }); i >= 0 {
			whole, frac, mixed = t[:i], t[i:], true
		}
	}
	if !mixed {
		whole, frac = "", t
	}
	frac = strings.TrimSpace(frac)
	var sum Ratio
	if mixed {
		n, err := digits(strings.TrimSpace(whole))
		if err != nil || !strings.Contains(frac, "/") {
			return bad("is not a number")
		}
		sum = Whole(n)
	}
	part, err := parsePart(frac)
	if err != nil {
		if errors.Is(err, errNotNumber) {
			return bad("is not a number")
		}
		return bad(err.Error())
	}
	sum, err = sum.Add(part)
	if err != nil {
		return bad(err.Error())
	}
	if neg {
		sum = sum.Neg()
	}
	return sum, nil
}

var errNotNumber = errors.New("not a number")

func parsePart(s string) (Ratio, error) {
	if n, d, ok := strings.Cut(s, "/"); ok {
		num, err1 := digits(strings.TrimSpace(n))
		den, err2 := digits(strings.TrimSpace(d))
		if err1 != nil || err2 != nil {
			return Ratio{}, errNotNumber
		}
		if den == 0 {
			return Ratio{}, errors.New("has a zero denominator")
		}
		return NewRatio(num, den)
	}
	ip, fp, point := strings.Cut(strings.Replace(s, ",", ".", 1), ".")
	if ip == "" && fp == "" || point && ip == "" && fp == "" {
		return Ratio{}, errNotNumber
	}
	if len(fp) > 12 {
		return Ratio{}, errors.New("has more than 12 decimal places")
	}
	den := int64(1)
	for range fp {
		den *= 10
	}
	num, err := digits("0" + ip + fp)
	if err != nil {
		return Ratio{}, err
	}
	return NewRatio(num, den)
}

func digits(s string) (int64, error) {
	if s == "" {
		return 0, errNotNumber
	}
	for _, c := range s {
		if c < '0' || c > '9' {
			return 0, errNotNumber
		}
	}
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil {
		return 0, ErrOverflow
	}
	return n, nil
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	if a == 0 {
		return 1
	}
	return a
}

// mul multiplies; ok is false when the product, or its negative, has no int64.
func mul(a, b int64) (p int64, ok bool) {
	if a == 0 || b == 0 {
		return 0, true
	}
	p = a * b
	return p, p != math.MinInt64 && a != math.MinInt64 && b != math.MinInt64 && p/b == a
}

func abs(a int64) int64 {
	if a < 0 {
		return -a
	}
	return a
}

func sign(a int) int {
	switch {
	case a < 0:
		return -1
	case a > 0:
		return 1
	}
	return 0
}
