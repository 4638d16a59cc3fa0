package browsertest

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"weighbeam/dashboards/fakehouse"
)

// looks are the pages, and the house each is looked at in.
func looks() []look {
	return []look{
		{"house", "/", fakehouse.Lived},
		{"welcome", "/", fakehouse.Empty},
		{"crowd", "/", fakehouse.Crowd},
		{"cat-long-name", "/cats/cat-00", fakehouse.Crowd},
		{"cat-one-reading", "/cats/cat-02", fakehouse.Crowd},
		{"cat-gap", "/cats/cat-03?period=all", fakehouse.Crowd},
		{"choose-crowd", "/check", fakehouse.Crowd},
		{"cat-falling", "/cats/mustard", fakehouse.Lived},
		{"household", "/household", fakehouse.Crowd},
		{"household-cat", "/household/cat?id=cat-01", fakehouse.Crowd},
		{"household-scale", "/household/scale", fakehouse.Crowd},
		{"household-contact", "/household/contact?id=ben", fakehouse.Crowd},
		{"household-contact-new", "/household/contact", fakehouse.Crowd},
		{"household-ways", "/household/ways", fakehouse.Crowd},
		{"cat-kept", "/cats/plum", fakehouse.Kept},
		{"sheet-kept", "/cats/plum/sheet", fakehouse.Kept},
		{"cat-all", "/cats/plum?period=all", fakehouse.Lived},
		{"finding-weight", "/findings/" + fakehouse.Falling.ID(), fakehouse.Lived},
		{"finding-breaths", "/findings/" + fakehouse.Rising.ID(), fakehouse.Lived},
		{"finding-closed", "/findings/" + fakehouse.Gone.ID(), fakehouse.Lived},
		{"finding-scale", "/findings/" + fakehouse.Silent.ID(), fakehouse.Lived},
		{"scale", "/sources/hall-box", fakehouse.Lived},
		{"scale-visit", fmt.Sprintf("/sources/hall-box/visits/%d", fakehouse.Now.Add(-5*time.Hour).UnixMicro()), fakehouse.Lived},
		{"calibrate-empty", "/sources/hall-box/calibrate", fakehouse.Lived},
		{"calibrate-wrong", "/sources/hall-box/calibrate?p=0,0,1745000000000000,1745000006000000,6.2&mass=two&unit=kg&kind=pack&read=1", fakehouse.Lived},
		{"calibrate", "/sources/hall-box/calibrate?p=0,0,1745000000000000,1745000006000000,6.2&p=5,0.0012,1745000060000000,1745000066000000,11.1505", fakehouse.Lived},
		{"sheet", "/cats/mustard/sheet", fakehouse.Lived},
		{"set-aside", "/set-aside", fakehouse.Lived},
		{"notices", "/notices?tried=mail", fakehouse.Lived},
		{"listen", "/listen", fakehouse.Listened},
		{"missing", "/nowhere", fakehouse.Lived},
		{"choose", "/check", fakehouse.Lived},
		{"form", "/check/plum", fakehouse.Lived},
		{"form-all", "/check/plum?open=all", fakehouse.Lived},
		{"answer", "/answer?finding=" + fakehouse.Falling.ID(), fakehouse.Lived},
		{"answer-link", "/answer/" + fakehouse.Token, fakehouse.Lived},
		{"whose", fmt.Sprintf("/whose/hall-box/%d", fakehouse.Now.Add(-5*time.Hour).UnixMicro()), fakehouse.Lived},
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
		for _, s := range screens() {
			screen(t, ctx, s.width, s.scheme)
			do(t, ctx, chromedp.Navigate(url))
			name := fmt.Sprintf("%s-%d-%s", l.name, s.width, s.scheme)
			sound(t, ctx, name)
			keepPicture(t, dir, name, get(t, ctx, chromedp.FullScreenshot(100)))
		}
	}
}

type size struct {
	width  int64
	scheme string
}

// screens are all six where pictures are kept, and the two that differ most on
// an everyday run.
func screens() []size {
	if os.Getenv("WEIGHBEAM_ARTEFACTS") == "" && os.Getenv("CI") == "" {
		return []size{{320, "light"}, {1280, "dark"}}
	}
	return []size{{320, "light"}, {320, "dark"}, {768, "light"}, {1280, "light"}, {1280, "dark"}, {1920, "light"}}
}

// sound checks what can be measured of a page in the tab.
func sound(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	comesTrue(t, ctx, `[...document.images].every(i => i.complete)`) // another source is taken for another width, at a time of its own
	for what, script := range map[string]string{
		"pixels wider than the window":  `String(Math.max(0, document.documentElement.scrollWidth - innerWidth) || "")`,
		"pictures that did not load":    `[...document.images].filter(i => !i.complete || !i.naturalWidth).map(i => i.currentSrc).join(" ")`,
		"requests to another host":      `performance.getEntriesByType("resource").map(e => e.name).filter(n => !n.startsWith(location.origin)).join(" ")`,
		"controls lower than 24 pixels": `[...document.querySelectorAll("a,button,summary,select,input:not([type=hidden])")].filter(e => e.offsetParent && e.getBoundingClientRect().height < 24 && getComputedStyle(e).display != "inline" && !e.closest("label")).map(e => e.outerHTML).join(" ")`,
		"buttons lower than 44 pixels":  `[...document.querySelectorAll(".button,button,summary,select,nav a,label.pick,input[type=text]")].filter(e => e.offsetParent && e.getBoundingClientRect().height < 43.5).map(e => e.outerHTML).join(" ")`,
	} {
		if found := get(t, ctx, chromedp.Evaluate[string](script)); found != "" {
			t.Errorf("%s: %s: %s", name, what, found)
		}
	}
}

func keepPicture(t *testing.T, dir, name string, png []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		t.Fatal(err)
	}
}

// With letters of twice the size on half the width, as zoom makes it, nothing
// hangs over.
func TestPages_AtTwiceTheLetters_Fit(t *testing.T) {
	ctx := tab(t)
	for _, l := range looks() {
		screen(t, ctx, 640, "light")
		do(t, ctx, chromedp.Navigate(serve(t, l.house())+l.path))
		over := get(t, ctx, chromedp.Evaluate[int](`(document.documentElement.style.fontSize = "200%", document.documentElement.scrollWidth - innerWidth)`))
		if over > 0 {
			t.Errorf("%s: %d pixels wider than the window", l.name, over)
		}
	}
}
