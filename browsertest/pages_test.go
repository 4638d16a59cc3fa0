package browsertest

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"

	"weighbeam/dashboards/fakehouse"
)

// looks are the pages, and the house each is looked at in.
func looks() []look {
	return []look{
		{"house", "/", fakehouse.Lived},
		{"welcome", "/", fakehouse.Empty},
		{"cat-falling", "/cats/mustard", fakehouse.Lived},
		{"cat-all", "/cats/plum?period=all", fakehouse.Lived},
		{"finding-weight", "/findings/" + fakehouse.Falling.ID(), fakehouse.Lived},
		{"finding-breaths", "/findings/" + fakehouse.Rising.ID(), fakehouse.Lived},
		{"set-aside", "/set-aside", fakehouse.Lived},
		{"missing", "/nowhere", fakehouse.Lived},
		{"choose", "/check", fakehouse.Lived},
		{"form", "/check/plum", fakehouse.Lived},
		{"now", "/check/plum/now?flag=straining-without-urine&flag=collapse&stored=1", fakehouse.Lived},
	}
}

type look struct {
	name, path string
	house      func() *fakehouse.House
}

// Every page fits every width without sideways scrolling, loads all it names
// and asks for nothing elsewhere.
func TestPages_AtEveryWidth_FitAndLoad(t *testing.T) {
	ctx := tab(t)
	dir := artefacts(t)
	for _, l := range looks() {
		url := serve(t, l.house()) + l.path
		for _, width := range []int64{320, 768, 1280} {
			for _, scheme := range []string{"light", "dark"} {
				screen(t, ctx, width, scheme)
				do(t, ctx, chromedp.Navigate(url))
				name := fmt.Sprintf("%s-%d-%s", l.name, width, scheme)
				if over := get(t, ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth - innerWidth`)); over > 0 {
					t.Errorf("%s: the page is %d px wider than the window", name, over)
				}
				if broken := get(t, ctx, chromedp.Evaluate[int](`[...document.images].filter(i => !i.complete || !i.naturalWidth).length`)); broken > 0 {
					t.Errorf("%s: %d pictures did not load", name, broken)
				}
				if away := get(t, ctx, chromedp.Evaluate[string](`performance.getEntriesByType("resource").map(e => e.name).filter(n => !n.startsWith(location.origin)).join(" ")`)); away != "" {
					t.Errorf("%s: asked another host for %s", name, away)
				}
				keepPicture(t, dir, name, get(t, ctx, chromedp.FullScreenshot(100)))
			}
		}
	}
}

func keepPicture(t *testing.T, dir, name string, png []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		t.Fatal(err)
	}
}
