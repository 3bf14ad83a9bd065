package bench

import (
	"bufio"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// BenchmarkFirstStart starts the released kind of program where nothing has been kept
// yet, until the example's sheet is on the terminal or its page has come. Wanted: under 3 s.
func BenchmarkFirstStart(b *testing.B) {
	program := filepath.Join(b.TempDir(), "thrum")
	build := exec.Command("go", "build", "-trimpath", "-tags", "nodynamic", "-ldflags", "-s -w", "-o", program, "../cmd/thrum")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	b.Run("sheet", func(b *testing.B) {
		for b.Loop() {
			out, err := exec.Command(program, "sheet", "M20x2.5", "--lathe", "metric-geared", "--length", "30mm", "--material", "1045").CombinedOutput()
			if err != nil || !strings.Contains(string(out), "M20x2.5") {
				b.Fatalf("%v\n%s", err, out)
			}
		}
	})
	b.Run("page", func(b *testing.B) {
		for b.Loop() {
			if err := firstPage(program, b.TempDir()); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// firstPage starts the page on an empty folder, with the examples, and fetches the sheet.
func firstPage(program, data string) error {
	c := exec.Command(program, "demo", "--data", filepath.Join(data, fmt.Sprint(time.Now().UnixNano())), "--address", "127.0.0.1:0")
	out, err := c.StdoutPipe()
	if err != nil {
		return err
	}
	if err := c.Start(); err != nil {
		return err
	}
	defer func() { _ = c.Process.Kill(); _ = c.Wait() }()
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		at := strings.TrimSpace(lines.Text())
		if !strings.HasPrefix(at, "http://") {
			continue
		}
		r, err := http.Get(at + "/sheet?callout=M20x2.5&lathe=metric-geared&length=30mm&material=1045")
		if err != nil {
			return err
		}
		defer r.Body.Close()
		body, err := io.ReadAll(r.Body)
		if err == nil && r.StatusCode != http.StatusOK {
			err = fmt.Errorf("%s: %.2000s", r.Status, body)
		}
		return err
	}
	return fmt.Errorf("no address was printed: %w", lines.Err())
}
