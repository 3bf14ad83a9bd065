package main

import (
	"bufio"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"thrum/internal/pgtest"
)

// process is a running command of this program.
type process struct {
	cmd *exec.Cmd
	url string
}

// begin starts the command in a process of its own and waits for its first line.
func begin(t *testing.T, args ...string) *process {
	t.Helper()
	name := filepath.Join(t.TempDir(), "thrum")
	self, err := os.Executable()
	if err == nil {
		err = os.Symlink(self, name) // by its name the test binary is the command
	}
	if err != nil {
		t.Fatal(err)
	}
	p := &process{cmd: exec.Command(name, args...)}
	p.cmd.Stderr = t.Output()
	out, err := p.cmd.StdoutPipe()
	if err == nil {
		err = p.cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.kill() })
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatalf("%v: no first line: %v", args, err)
	}
	p.url = strings.TrimSpace(line)
	go func() { _, _ = io.Copy(io.Discard, out) }()
	return p
}

// kill ends the process without letting it do anything more.
func (p *process) kill() {
	_ = p.cmd.Process.Signal(syscall.SIGKILL)
	_ = p.cmd.Wait()
}

// A bench and two workers share what is kept. Each of them is killed in the middle of
// the work and another takes its place: every paper that was asked for is written.
func TestBenchAndWorkersAreKilled(t *testing.T) {
	for _, engine := range []string{"sqlite", "postgres"} {
		t.Run(engine, func(t *testing.T) {
			kept := []string{"--data", t.TempDir()}
			if engine == "postgres" {
				kept = append(kept, "--database", pgtest.URL(t))
			}
			bench := begin(t, append([]string{"bench", "--address", "127.0.0.1:0"}, kept...)...)
			workers := []*process{begin(t, append([]string{"work"}, kept...)...), begin(t, append([]string{"work"}, kept...)...)}
			var jobs []string
			ask := func(n int) {
				for range n {
					jobs = append(jobs, askPaper(t, bench.url, len(jobs)))
				}
			}
			ask(4)
			workers[0].kill()
			ask(4)
			bench.kill() // it has jobs of its own in hand
			bench = begin(t, append([]string{"bench", "--address", "127.0.0.1:0"}, kept...)...)
			workers[1].kill()
			begin(t, append([]string{"work", "--at-a-time", "1"}, kept...)...)
			ask(2)
			end := time.Now().Add(90 * time.Second)
			for _, at := range jobs {
				for !written(t, bench.url+at+"/result") {
					if time.Now().After(end) {
						t.Fatalf("%s is not written", at)
					}
					time.Sleep(200 * time.Millisecond)
				}
			}
		})
	}
}

// askPaper asks for the paper of a sheet and returns the address of the job.
func askPaper(t *testing.T, base string, n int) string {
	t.Helper()
	query := fmt.Sprintf("callout=1/2-13+UNC-2A&lathe=inch-bench&material=1018&length=%d.5mm&stickout=60mm", 20+n)
	c := &http.Client{Timeout: 20 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	r, err := c.PostForm(base+"/jobs", url.Values{"query": {query}})
	if err != nil {
		t.Fatal(err)
	}
	r.Body.Close()
	at := r.Header.Get("Location")
	if r.StatusCode != http.StatusSeeOther || !strings.HasPrefix(at, "/jobs/") {
		t.Fatalf("asking: %s", r.Status)
	}
	return at
}

func written(t *testing.T, address string) bool {
	t.Helper()
	r, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	body, err := io.ReadAll(r.Body)
	if err != nil || r.StatusCode != http.StatusOK {
		return false
	}
	if !strings.HasPrefix(string(body), "%PDF") {
		t.Fatalf("%s is no paper: %.40q", address, body)
	}
	return true
}

// The drill: everything is saved while the bench is in use, the computer is lost, and
// a bench on another one, with the other kind of database, shows the same part.
func TestBackupAndRestoreDrill(t *testing.T) {
	from := []string{"--data", t.TempDir()}
	to := []string{"--data", t.TempDir(), "--database", pgtest.URL(t)}
	archive := filepath.Join(t.TempDir(), "shop.zip")
	bench := begin(t, append([]string{"bench", "--address", "127.0.0.1:0"}, from...)...)
	c := &http.Client{Timeout: 20 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	const query = "callout=1/2-13+UNC-2A&lathe=inch-bench&material=1018&length=1in&stickout=2in"
	r, err := c.PostForm(bench.url+"/parts", url.Values{"name": {"Drawbar"}, "query": {query}})
	if err != nil {
		t.Fatal(err)
	}
	r.Body.Close()
	part := r.Header.Get("Location")
	if r.StatusCode != http.StatusSeeOther || part == "" {
		t.Fatalf("keeping a part: %s", r.Status)
	}
	if r, err = c.PostForm(bench.url+part+"/notes", url.Values{"text": {"fresh edge"}}); err != nil || r.StatusCode != http.StatusSeeOther {
		t.Fatal(err, r)
	}
	r.Body.Close()
	before := fetch(t, bench.url+part+"/sheet.json")

	if status, out, errs := thrum("", append([]string{"store", "export", archive}, from...)...); status != 0 {
		t.Fatalf("saving: %d %s %s", status, out, errs)
	}
	bench.kill()
	if err := os.RemoveAll(from[1]); err != nil {
		t.Fatal(err)
	}
	if status, out, errs := thrum("", append([]string{"store", "import", archive}, to...)...); status != 0 {
		t.Fatalf("restoring: %d %s %s", status, out, errs)
	}
	if status, out, errs := thrum("", append([]string{"store", "check"}, to...)...); status != 0 {
		t.Fatalf("checking: %d %s %s", status, out, errs)
	}
	bench = begin(t, append([]string{"bench", "--address", "127.0.0.1:0"}, to...)...)
	if after := fetch(t, bench.url+part+"/sheet.json"); after != before {
		t.Error("the sheet is another after the restoration")
	}
	if page := fetch(t, bench.url+part); !strings.Contains(page, "fresh edge") {
		t.Error("the note is gone")
	}
}

func fetch(t *testing.T, address string) string {
	t.Helper()
	r, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	body, err := io.ReadAll(r.Body)
	if err != nil || r.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s, %v", address, r.Status, err)
	}
	return string(body)
}
