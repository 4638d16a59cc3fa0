package browsertest

import (
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"weighbeam/dashboards"
	"weighbeam/dashboards/fakehouse"
	"weighbeam/manual"
)

// browser is the one chromium of all tests; each test opens a tab of its own.
var browser context.Context

func TestMain(m *testing.M) {
	ctx, stop := start()
	browser = ctx
	code := m.Run()
	stop()
	os.Exit(code)
}

// chromium is the browser's program, "" where there is none.
func chromium() string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

func start() (context.Context, func()) {
	path := chromium()
	if path == "" {
		return nil, func() {}
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true),
		chromedp.Flag("hide-scrollbars", true),
		// A click goes to where its target was when it was looked for: while a page
		// scrolls smoothly, which it does for readers who mind no motion, it misses.
		chromedp.Flag("force-prefers-reduced-motion", true),
		// A page taken whole from that cache fires no load event to wait for.
		chromedp.Flag("disable-back-forward-cache", true),
	)
	alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), opts...)
	ctx, stop := chromedp.NewContext(alloc)
	return ctx, func() { stop(); stopAlloc() }
}

// absent skips a test for want of a program, or fails it where nothing may be skipped.
func absent(t *testing.T, what, how string) {
	t.Helper()
	if os.Getenv("CI") != "" {
		t.Fatalf("%s is missing, and CI is set: %s", what, how)
	}
	t.Skipf("SKIPPED, %s is missing: %s", what, how)
}

// tab opens a tab that lives as long as the test, at most five minutes.
func tab(t *testing.T) context.Context {
	t.Helper()
	if browser == nil {
		absent(t, "chromium", "apt-get install chromium")
	}
	if err := chromedp.Do(browser); err != nil {
		t.Fatalf("start chromium: %v", err)
	}
	ctx, closeTab := chromedp.NewContext(browser)
	t.Cleanup(closeTab)
	ctx, cancel := context.WithTimeout(ctx, 5*time.Minute)
	t.Cleanup(cancel)
	return ctx
}

// serve puts both rooms behind one loopback address, as the program does.
func serve(t *testing.T, h *fakehouse.House) string {
	t.Helper()
	now := func() time.Time { return fakehouse.Now }
	pages := dashboards.Options{Now: now, Zone: time.UTC, Version: "test", Reactions: h.Reactions, Naming: true, Claimer: h, Householder: h, Bench: h}
	if h.Ear != nil {
		pages.Hearing = h.Ear
	}
	mux := http.NewServeMux()
	mux.Handle("/", dashboards.New(h, h, pages))
	form := manual.New(h, manual.Options{Now: now, Zone: time.UTC, Frame: dashboards.NewFrame(pages), Answers: h, Namer: h, Traces: true, Vet: func() (string, string) { return "Mill Lane practice", "+44 20 7946 0000" }})
	mux.Handle("/check", form)
	mux.Handle("/check/", form)
	mux.Handle("/answer", form)
	mux.Handle("/answer/", form)
	mux.Handle("/whose/", form)
	mux.Handle("/notices", told(dashboards.NewFrame(pages)))
	mux.Handle("/notices/", asking(t))
	srv := httptest.NewServer(mux)
	t.Cleanup(srv.Close)
	if h.Ear != nil {
		t.Cleanup(h.Ear.Close) // first, or the server would wait for pages that follow
	}
	return srv.URL
}

// screen sets the width of the window and the reader's preference.
func screen(t *testing.T, ctx context.Context, width int64, scheme string) {
	t.Helper()
	_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}},
	})
	if err != nil {
		t.Fatalf("set %s: %v", scheme, err)
	}
	do(t, ctx, chromedp.EmulateViewport(width, 900))
}

func do(t *testing.T, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatalf("browser: %v", err)
	}
}

func get[T any](t *testing.T, ctx context.Context, action chromedp.Action[T]) T {
	t.Helper()
	v, err := chromedp.Run(ctx, action)
	if err != nil {
		t.Fatalf("browser: %v", err)
	}
	return v
}

// artefacts is the folder that keeps the pictures.
func artefacts(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("WEIGHBEAM_ARTEFACTS")
	if dir == "" {
		return t.TempDir()
	}
	dir = filepath.Join(dir, "pages")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}
