package app_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"thrum/app"
)

// One bench and one browser serve all tests of the package; both start when the
// first test asks for them.
var (
	folder  string
	started = sync.OnceValues(start)
	ofPolls []string // pages about polls that no link need lead to
	stop    []func()
)

func TestMain(m *testing.M) {
	var err error
	if folder, err = os.MkdirTemp("", "bench-"); err != nil {
		panic(err)
	}
	code := m.Run()
	for i := len(stop) - 1; i >= 0; i-- {
		stop[i]()
	}
	_ = os.RemoveAll(folder)
	os.Exit(code)
}

// bench is a running bench and a browser beside it.
type bench struct {
	url     string
	browser context.Context
}

var errNoBrowser = errors.New("no browser: chromium is not installed (scripts/deps.sh installs it)")

func start() (*bench, error) {
	path, err := exec.LookPath("chromium")
	if err != nil {
		return nil, errNoBrowser
	}
	b := &bench{}
	if b.url, err = serve(folder + "/data"); err != nil {
		return nil, err
	}
	if err := os.WriteFile(folder+"/microphone.wav", microphone(), 0o600); err != nil {
		return nil, err
	}
	off := func(name string) chromedp.ExecAllocatorOption { return chromedp.Flag(name, true) }
	alloc, cancel := chromedp.NewExecAllocator(context.Background(), append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(folder+"/browser"),
		off("disable-quic"), off("disable-component-update"), off("disable-sync"), off("no-pings"),
		// The browser's own stand-in for a microphone, which it lets every page hear.
		off("use-fake-device-for-media-stream"), off("use-fake-ui-for-media-stream"), chromedp.Flag("use-file-for-fake-audio-capture", folder+"/microphone.wav"))...)
	stop = append(stop, cancel)
	ctx, cancel := chromedp.NewContext(alloc, chromedp.WithErrorf(func(string, ...any) {}))
	stop = append(stop, cancel)
	b.browser = ctx
	return b, chromedp.Do(ctx) // no time limit here: it would end the browser
}

// serve runs a bench with the examples on a free port.
func serve(data string) (url string, err error) {
	ctx, cancel := context.WithCancel(context.Background())
	a, err := app.New(ctx, app.Config{Data: data, Address: "127.0.0.1:0", Public: "127.0.0.1:0", Version: "test", Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		cancel()
		return "", err
	}
	ended := make(chan struct{})
	stop = append(stop, func() { cancel(); <-ended })
	err = a.LoadExamples(ctx)
	if err == nil {
		ofPolls, err = pollStates(ctx, a)
	}
	go func() { defer close(ended); _ = a.Run(ctx) }()
	return a.URL(), err
}

// need skips a test whose tools are absent, and fails it where they must be there.
func need(t *testing.T, err error) {
	t.Helper()
	switch {
	case err == nil:
	case os.Getenv("CI") == "true":
		t.Fatal(err)
	default:
		t.Skip(err)
	}
}

// running returns the bench and its browser.
func running(t *testing.T) *bench {
	t.Helper()
	b, err := started()
	if errors.Is(err, errNoBrowser) {
		need(t, err)
	}
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// tab is a window of its own, with no cookies, of a given width.
type tab struct {
	*testing.T
	ctx  context.Context
	base string

	mu   sync.Mutex
	said []string // errors that the page wrote to the console
}

// open opens a tab. What the page complains of fails the test when it ends: an
// exception, or a script, style or request that the policy did not let through.
func open(t *testing.T, width, height int64) *tab {
	t.Helper()
	b := running(t)
	ctx, cancel := chromedp.NewContext(b.browser, chromedp.WithNewBrowserContext())
	p := &tab{T: t, ctx: ctx, base: b.url}
	if err := chromedp.Do(ctx); err != nil {
		cancel()
		t.Fatal(err)
	}
	messages := chromedp.Console(ctx)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		for m, err := range messages {
			if err != nil {
				return
			}
			if (m.Type == chromedp.ConsoleError || m.IsException()) && m.Source != "network" {
				p.mu.Lock()
				p.said = append(p.said, m.String())
				p.mu.Unlock()
			}
		}
	}()
	t.Cleanup(func() {
		cancel()
		<-ended
		for _, s := range p.said {
			t.Error("the page complains:", s)
		}
	})
	p.size(width, height)
	return p
}

// run runs an action, and fails the test when it does not end.
func run[T any](p *tab, a chromedp.Action[T]) T {
	p.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, 30*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, a)
	if err != nil {
		p.Fatal(err)
	}
	return v
}

func eval[T any](p *tab, script string) T {
	p.Helper()
	return run(p, chromedp.Evaluate[T](script))
}

// await waits until a condition holds on the page.
func (p *tab) await(condition string) {
	p.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, 15*time.Second)
	defer cancel()
	for {
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("!!("+condition+")"))
		if err == nil && ok {
			return
		}
		select {
		case <-ctx.Done():
			at, _ := chromedp.Run(p.ctx, chromedp.Location())
			p.Fatalf("at %s never came true: %s (%v)", at, condition, err)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

func (p *tab) visit(address string) {
	p.Helper()
	run(p, chromedp.Navigate(p.base+address))
}

func (p *tab) size(width, height int64) {
	p.Helper()
	run(p, chromedp.EmulateViewport(width, height))
}

// looks sets light or dark as the reader's device asks for it, screen or print, and
// little motion.
func (p *tab) looks(scheme, media string) {
	p.Helper()
	if _, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Media: media, Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}},
	}); err != nil {
		p.Fatal(err)
	}
}

// write replaces what stands in a text field, key by key.
func (p *tab) write(id, text string) {
	p.Helper()
	eval[chromedp.Void](p, fmt.Sprintf("document.getElementById(%q).select()", id))
	run(p, chromedp.KeyEvent(text))
}

// choose picks an entry of a list, as a click on it does.
func (p *tab) choose(id, value string) {
	p.Helper()
	if !eval[bool](p, fmt.Sprintf(`(() => { const s = document.getElementById(%q);
		if (![...s.options].some(o => o.value === %q)) return false;
		s.focus(); s.value = %q;
		s.dispatchEvent(new Event("input", {bubbles: true})); s.dispatchEvent(new Event("change", {bubbles: true})); return true })()`, id, value, value)) {
		p.Fatalf("%s cannot be chosen in %s", value, id)
	}
}

// click presses what a selector finds, and waits for the page that follows.
func (p *tab) click(selector string) {
	p.Helper()
	var err error
	for range 3 { // a page that moves just then makes the finger miss; a reader presses again
		ctx, cancel := context.WithTimeout(p.ctx, 25*time.Second)
		_, err = chromedp.RunResponse(ctx, chromedp.Click(chromedp.CSS(selector), chromedp.NodeVisible))
		cancel()
		if !errors.Is(err, context.DeadlineExceeded) || !eval[bool](p, fmt.Sprintf("!!document.querySelector(%q)", selector)) {
			break
		}
	}
	if err != nil && (!errors.Is(err, context.DeadlineExceeded) || eval[bool](p, fmt.Sprintf("!!document.querySelector(%q)", selector))) {
		p.Fatalf("%s: %v", selector, err)
	}
}

// figures reads every figure of the page by its key.
func (p *tab) figures() map[string]string {
	p.Helper()
	return eval[map[string]string](p, `Object.fromEntries([...document.querySelectorAll("[data-v]")].map(e => [e.dataset.v, e.textContent.trim()]))`)
}

func (p *tab) text(selector string) string {
	p.Helper()
	return strings.Join(strings.Fields(eval[string](p, fmt.Sprintf(`[...document.querySelectorAll(%q)].map(e => e.innerText).join("\n")`, selector))), " ")
}
