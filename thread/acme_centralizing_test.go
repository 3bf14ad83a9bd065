package thread

import (
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

// Tolerances and allowances of the major diameter of centralizing Acme threads, and the
// bore of the nut, as printed.
func TestCentralizingAcme(t *testing.T) {
	const table = "Machinery's Handbook, 27th ed., p. 1842, table 12 (ASME B1.5-1988)"
	const formulas = "Machinery's Handbook, 27th ed., p. 1837, table 8a (ASME B1.5-1988)"
	for _, c := range []struct {
		size                                      string
		d, p                                      float64
		clear, bore, two, three, nut3, four, nut4 float64
	}{
		{"1/4-16", 0.2500, 1. / 16, 0.0005, 0.0050, 0.0017, 0.0007, 0.0017, 0.0005, 0.0010},
		{"5/16-14", 0.3125, 1. / 14, 0.0006, 0.0050, 0.0020, 0.0008, 0.0020, 0.0006, 0.0011},
		{"3/8-12", 0.3750, 1. / 12, 0.0006, 0.0050, 0.0021, 0.0009, 0.0021, 0.0006, 0.0012},
		{"7/16-12", 0.4375, 1. / 12, 0.0007, 0.0050, 0.0023, 0.0010, 0.0023, 0.0007, 0.0013},
		{"1/2-10", 0.5000, 1. / 10, 0.0007, 0.0050, 0.0025, 0.0011, 0.0025, 0.0007, 0.0014},
		{"5/8-8", 0.6250, 1. / 8, 0.0008, 0.0062, 0.0028, 0.0012, 0.0028, 0.0008, 0.0016},
		{"3/4-6", 0.7500, 1. / 6, 0.0009, 0.0083, 0.0030, 0.0013, 0.0030, 0.0009, 0.0017},
	} {
		check := func(what, source string, published, ours float64) {
			outside.Check(t, outside.Claim{
				What: c.size + " ACME, " + what, Source: source, Status: outside.Read, Published: published, Ours: ours,
				Unit: "in", Tolerance: 0.0001, // one in the last place: the table rounds tolerances, this program limits
			})
		}
		for class, tol := range map[string][2]float64{"2C": {c.two, c.two}, "3C": {c.three, c.nut3}, "4C": {c.four, c.nut4}} {
			screw, nut := mustParse(t, c.size+" ACME-"+class, External).Limits, mustParse(t, c.size+" ACME-"+class, Internal).Limits
			check(class+" screw major max", formulas, c.d, screw.Major.Max.Inches())
			check(class+" screw major tolerance", table, tol[0], screw.Major.Width().Inches())
			check(class+" nut major allowance", table, c.clear, nut.Major.Min.Inches()-c.d)
			check(class+" nut major tolerance", table, tol[1], nut.Major.Width().Inches())
			check(class+" bore of the nut", formulas, c.d-0.9*c.p, nut.Minor.Min.Inches())
			check(class+" tolerance of the bore", table, c.bore, nut.Minor.Width().Inches())
			// Pitch and minor diameter of the screw are those of the general purpose class.
			general := mustParse(t, c.size+" ACME-"+class[:1]+"G", External).Limits
			if screw.Pitch != general.Pitch || screw.Minor != general.Minor {
				t.Errorf("%s %s: pitch and minor diameter %v and %v, of %sG %v and %v", c.size, class, screw.Pitch, screw.Minor, class[:1], general.Pitch, general.Minor)
			}
			if gap := nut.Major.Min - screw.Major.Max; gap <= 0 || gap > 0.002*unit.Inch {
				t.Errorf("%s %s: %v between the crests", c.size, class, gap)
			}
		}
	}
	if th := mustParse(t, "2 1/2-3 ACME-3C-LH", Internal); th.Designation != "2.500-3-ACME-3C-LH INTERNAL" {
		t.Error(th.Designation)
	}
}
