package browsertest

import (
	"context"
	"io"
	"log/slog"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"weighbeam/app/demo"
	"weighbeam/home"
	"weighbeam/store"
)

// printed is what a running demo has said so far.
type printed struct {
	mu   sync.Mutex
	text strings.Builder
}

func (p *printed) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.text.Write(b)
}

func (p *printed) String() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.text.String()
}

// runDemo runs the whole program on the demo's house until end is called, and
// returns the address of its pages.
func runDemo(t *testing.T, folder string) (url string, end func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	out, done := &printed{}, make(chan error, 1)
	go func() {
		done <- demo.Run(ctx, demo.Options{Folder: folder, Listen: "127.0.0.1:0", Speed: 60, Seed: 1, Out: out,
			Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Version: "test"})
	}()
	address := regexp.MustCompile(`pages +(http://\S+)`)
	for deadline := time.Now().Add(30 * time.Second); ; {
		if m := address.FindStringSubmatch(out.String()); m != nil {
			url = m[1]
			break
		}
		select {
		case err := <-done:
			t.Fatalf("the demo ended: %v\n%s", err, out)
		case <-time.After(20 * time.Millisecond):
		}
		if time.Now().After(deadline) {
			t.Fatalf("the demo does not start:\n%s", out)
		}
	}
	var once sync.Once
	end = func() {
		once.Do(func() {
			cancel()
			if err := <-done; err != nil {
				t.Errorf("the demo ended with %v", err)
			}
		})
	}
	t.Cleanup(end)
	return url, end
}

// until reloads a page until it says all the words.
func until(t *testing.T, ctx context.Context, url string, words ...string) {
	t.Helper()
	page := ""
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); <-time.After(200 * time.Millisecond) {
		do(t, ctx, chromedp.Navigate(url))
		page = text(t, ctx)
		missing := false
		for _, w := range words {
			missing = missing || !strings.Contains(page, w)
		}
		if !missing {
			return
		}
	}
	t.Fatalf("%s never said %q; it says:\n%s", url, words, page)
}

// A stranger opens the demo: within a minute the pages show a cat whose weight
// has slipped, one whose breaths rise, and what was told to whom. Then a person
// counts breaths, with script off, and what the page calls stored is in the store.
func TestDemo_InARealBrowser(t *testing.T) {
	folder := t.TempDir()
	ctx := tab(t)
	url, end := runDemo(t, folder)
	screen(t, ctx, 1000, "light")
	until(t, ctx, url, "Weight is falling", "Sleeping breaths are rising", "sent to terminal")
	do(t, ctx, chromedp.EmulateViewport(1000, 1080))
	keepPicture(t, artefacts(t), "demo-house", get(t, ctx, chromedp.CaptureScreenshot()))
	do(t, ctx, chromedp.Navigate(url+"/cats/bramble"))
	has(t, text(t, ctx), "Bramble", "Weight")
	keepPicture(t, artefacts(t), "demo-cat", get(t, ctx, chromedp.FullScreenshot(100)))

	withoutScript(t, ctx)
	do(t, ctx,
		chromedp.Navigate(url+"/check/saffron?open=all"),
		chromedp.SendKeys(chromedp.ID("breaths"), "9"),
		chromedp.Focus(chromedp.CSS("input[name=state][value=asleep]")), chromedp.KeyEvent(" "),
		chromedp.SendKeys(chromedp.ID("note"), "on the chair"),
	)
	press(t, ctx, "button.main")
	has(t, text(t, ctx), "Stored", "18 a minute")
	end()

	db, err := store.Open(t.Context(), filepath.Join(folder, "house.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	checks, err := db.Checks(t.Context(), "saffron", time.Time{}, time.Time{})
	if err != nil || len(checks) != 1 || checks[0].Note != "on the chair" ||
		len(checks[0].Readings) != 1 || checks[0].Readings[0].PerMinute() != 18 || checks[0].Readings[0].State != home.Asleep {
		t.Errorf("stored %+v, %v", checks, err)
	}
}
