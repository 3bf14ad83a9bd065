package unit

import (
	"testing"

	"thrum/internal/outside"
)

// A pound-force is the weight of the international pound under standard gravity.
func TestPoundForce(t *testing.T) {
	outside.Check(t, outside.Claim{
		What: "newtons in a pound-force", Source: "international pound of 1959, 0.45359237 kg, times standard gravity of the CGPM of 1901, 9.80665 m/s2", Status: outside.Computed,
		Published: 0.45359237 * 9.80665, Ours: PoundForce.N(), Unit: "N", Tolerance: 1e-9,
	})
	for _, c := range []struct {
		sys  System
		want string
	}{{Metric, "1000 N"}, {Inches, "225 lbf"}} {
		if got := Force(1000).Format(c.sys); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}
