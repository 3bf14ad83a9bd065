package app

import (
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"testing"
	"time"
)

// running is a bench that serves until the test ends.
func running(t *testing.T) *App {
	t.Helper()
	a, err := New(t.Context(), Config{Data: t.TempDir(), Address: "127.0.0.1:0"})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- a.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return a
}

// A sheet is written as PDF by the queue: asked for on the page, done by the worker,
// fetched from the job's page.
func TestPaperThroughTheQueue(t *testing.T) {
	a := running(t)
	jar, _ := cookiejar.New(nil)
	c := &http.Client{Jar: jar, Timeout: 20 * time.Second}
	const query = "callout=1/2-13+UNC-2A&lathe=inch-bench&material=1018&length=1in&stickout=2in"
	r, err := c.PostForm(a.URL()+"/jobs", url.Values{"query": {query}})
	if err != nil {
		t.Fatal(err)
	}
	r.Body.Close()
	if r.StatusCode != http.StatusOK || !strings.HasPrefix(r.Request.URL.Path, "/jobs/") {
		t.Fatalf("asking: %s at %s", r.Status, r.Request.URL)
	}
	at := r.Request.URL.String()
	for wait := time.Now().Add(30 * time.Second); ; time.Sleep(100 * time.Millisecond) {
		r, err := c.Get(at + "/result")
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(r.Body)
		r.Body.Close()
		if err == nil && r.StatusCode == http.StatusOK {
			if !strings.HasPrefix(string(body), "%PDF") || r.Header.Get("Content-Type") != "application/pdf" {
				t.Errorf("the result is %.40q, %s", body, r.Header.Get("Content-Type"))
			}
			break
		}
		if time.Now().After(wait) {
			t.Fatalf("the paper is not there after 30 s: %s", r.Status)
		}
	}
	page, err := c.Get(at)
	if err != nil {
		t.Fatal(err)
	}
	body, _ := io.ReadAll(page.Body)
	page.Body.Close()
	if !strings.Contains(string(body), "It is ready") {
		t.Errorf("the job's page says %.300q", body)
	}
	for _, c2 := range []struct {
		address string
		status  int
	}{{"/jobs/nothing", 404}, {"/jobs/01890000-0000-7000-8000-000000000000", 404}} {
		r, err := c.Get(a.URL() + c2.address)
		if err != nil {
			t.Fatal(err)
		}
		r.Body.Close()
		if r.StatusCode != c2.status {
			t.Errorf("%s: %s", c2.address, r.Status)
		}
	}
}
