package draw

import (
	"fmt"
	"image/color"
)

// Theme gives each ink its looks.
type Theme struct {
	Ink, Grey, Rule, Shade, Paper, Accent, Wash color.RGBA
}

// Light is for paper and for light screens. The accent is the violet-blue of
// marking-out dye on steel.
func Light() Theme {
	return Theme{
		Ink: rgb(0x15191e), Grey: rgb(0x59626c), Rule: rgb(0xb8c0c8), Shade: rgb(0xeaedf0), Paper: rgb(0xffffff),
		Accent: rgb(0x2a3bb8), Wash: rgb(0xdde2fa),
	}
}

// Dark is for dark screens; the accent is lighter so that it stays as legible.
func Dark() Theme {
	return Theme{
		Ink: rgb(0xe9edf1), Grey: rgb(0xa6b0ba), Rule: rgb(0x4b545d), Shade: rgb(0x252b31), Paper: rgb(0x14181c),
		Accent: rgb(0xa3b4ff), Wash: rgb(0x28315c),
	}
}

func rgb(v uint32) color.RGBA { return color.RGBA{byte(v >> 16), byte(v >> 8), byte(v), 255} }

// Of returns the look of an ink.
func (t Theme) Of(c Colour) color.RGBA {
	switch c {
	case Ink:
		return t.Ink
	case Grey:
		return t.Grey
	case Rule:
		return t.Rule
	case Shade:
		return t.Shade
	case Paper:
		return t.Paper
	case Accent:
		return t.Accent
	case Wash:
		return t.Wash
	}
	return mix(t.Paper, t.Accent, (float64(c-heat0)+0.5)/HeatSteps)
}

// mix goes from a to b by fraction f.
func mix(a, b color.RGBA, f float64) color.RGBA {
	m := func(x, y uint8) uint8 { return uint8(float64(x) + (float64(y)-float64(x))*f + 0.5) }
	return color.RGBA{m(a.R, b.R), m(a.G, b.G), m(a.B, b.B), 255}
}

func hexString(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

// name is the ink's name in the classes and custom properties of an SVG.
func (c Colour) name() string {
	if c >= heat0 {
		return fmt.Sprintf("heat%d", c-heat0)
	}
	return [...]string{"ink", "grey", "rule", "shade", "paper", "accent", "wash"}[c]
}

// inks lists every ink once, in order.
func inks() []Colour {
	all := make([]Colour, 0, int(heat0)+HeatSteps)
	for c := range heat0 + HeatSteps {
		all = append(all, c)
	}
	return all
}
