package browsertest

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

type violation struct {
	ID, Impact, Help string
	Nodes            []struct{ HTML string }
}

// violations runs axe-core, with its rules for WCAG 2.0 to 2.2 A and AA and for
// best practice, on the page in the tab.
func violations(t *testing.T, ctx context.Context, js string) []violation {
	t.Helper()
	do(t, ctx, chromedp.Evaluate[chromedp.Void](js+";undefined"))
	const run = `axe.run(document, {runOnly: ["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa","best-practice"]})
		.then(r => JSON.stringify(r.violations.map(v => ({ID: v.id, Impact: v.impact, Help: v.help, Nodes: v.nodes.map(n => ({HTML: n.html}))}))))`
	text := get(t, ctx, chromedp.Evaluate[string](run, chromedp.EvalAwaitPromise))
	var found []violation
	if err := json.Unmarshal([]byte(text), &found); err != nil {
		t.Fatalf("axe-core answered %q: %v", text, err)
	}
	return found
}

func report(t *testing.T, name string, found []violation) {
	t.Helper()
	for _, v := range found {
		var where []string
		for _, n := range v.Nodes {
			where = append(where, n.HTML)
		}
		t.Errorf("%s: %s (%s): %s\n\t%s", name, v.ID, v.Impact, v.Help, strings.Join(where, "\n\t"))
	}
}

// The pages have no fault that axe-core can see, in either scheme, narrow or wide.
func TestPages_ByAxe_HaveNoViolations(t *testing.T) {
	ctx := tab(t)
	js := string(npmFile(t, axeCore))
	for _, l := range looks() {
		url := serve(t, l.house()) + l.path
		for _, s := range []struct {
			width  int64
			scheme string
		}{{320, "dark"}, {1280, "light"}} {
			screen(t, ctx, s.width, s.scheme)
			do(t, ctx, chromedp.Navigate(url))
			report(t, l.name+" "+s.scheme, violations(t, ctx, js))
		}
	}
}

// axe-core is running at all: a page with two planted faults has both found.
func TestAxe_OnPlantedFaults_FindsThem(t *testing.T) {
	ctx := tab(t)
	js := string(npmFile(t, axeCore))
	do(t, ctx, chromedp.Navigate(`data:text/html,<html lang="en"><title>x</title><main><h1>x</h1><img src="x.png"><p style="color:%23ccc;background:%23fff">pale</p></main>`))
	found := map[string]bool{}
	for _, v := range violations(t, ctx, js) {
		found[v.ID] = true
	}
	for _, id := range []string{"image-alt", "color-contrast"} {
		if !found[id] {
			t.Errorf("axe-core did not find the planted %s", id)
		}
	}
}
