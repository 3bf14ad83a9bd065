package sound

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

func knockFile(t testing.TB, path string) *KnockTest {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Open(bytes.NewReader(b), OpenOptions{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := Load(s, Pick{}, 0)
	if err != nil {
		t.Fatal(err)
	}
	k, err := Knock(r, KnockOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func TestTry(t *testing.T) {
	for _, f := range []string{"bar", "centre", "close", "faults"} {
		k := knockFile(t, filepath.Join("testdata", "knock", f+".wav"))
		t.Log(f)
		for _, tap := range k.Taps {
			t.Logf("  tap %.4f snr %.1f %s", tap.At, tap.SNR, tap.Rejected)
			for _, m := range tap.Modes {
				t.Logf("      %8.2f ±%.3f  %.3f%% [%.3f %.3f] %.1f dB df %.0f", m.Freq.Value, m.Freq.SE, m.Damping.Value.Percent(), m.Damping.Low.Percent(), m.Damping.High.Percent(), m.Level, m.Freq.DF)
			}
		}
		for _, m := range k.Modes {
			t.Logf("   MODE   %8.2f [%.3f %.3f]  %.3f%% [%.3f %.3f] %.1f dB taps %d", m.Freq.Value, m.Freq.Low, m.Freq.High, m.Damping.Value.Percent(), m.Damping.Low.Percent(), m.Damping.High.Percent(), m.Level, m.Taps)
		}
		t.Log(k.Notes)
	}
}
