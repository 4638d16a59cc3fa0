package browsertest

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"weighbeam/dashboards/fakehouse"
	"weighbeam/home"
)

// withoutScript switches script off in the pages of the tab.
func withoutScript(t *testing.T, ctx context.Context) {
	t.Helper()
	if _, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
}

// Pages do not scroll under the clicks of these tests, nor for a reader who asked for
// no motion.
func TestPages_ReducedMotion_DoNotScrollSmoothly(t *testing.T) {
	ctx := tab(t)
	screen(t, ctx, 768, "dark")
	do(t, ctx, chromedp.Navigate(serve(t, fakehouse.Lived())+"/check/plum"))
	if how := get(t, ctx, chromedp.Evaluate[string](`getComputedStyle(document.documentElement).scrollBehavior`)); how != "auto" {
		t.Errorf("it scrolls %s", how)
	}
}

// press sends the form by its button and waits for the page that follows.
func press(t *testing.T, ctx context.Context, button string) {
	t.Helper()
	if _, err := chromedp.RunResponse(ctx, chromedp.Click(chromedp.CSS(button))); err != nil {
		t.Fatalf("press %s: %v", button, err)
	}
}

func text(t *testing.T, ctx context.Context) string {
	t.Helper()
	return get(t, ctx, chromedp.Text(chromedp.CSS("main")))
}

func has(t *testing.T, page string, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(page, w) {
			t.Errorf("the page does not say %q; it says:\n%s", w, page)
		}
	}
}

// A difference weighing and a sleeping count, typed on a phone with script
// switched off, are in the store, and the page shows them from there.
func TestForm_WithoutScript_StoresAndShows(t *testing.T) {
	ctx, h := tab(t), fakehouse.Lived()
	withoutScript(t, ctx)
	screen(t, ctx, 320, "light")
	do(t, ctx,
		chromedp.Navigate(serve(t, h)+"/check/mustard?open=all"),
		chromedp.SendKeys(chromedp.ID("with"), "71,3"),
		chromedp.SendKeys(chromedp.ID("without"), "67.0"),
		chromedp.SendKeys(chromedp.ID("breaths"), "12"),
		chromedp.Focus(chromedp.CSS("input[name=state][value=asleep]")), chromedp.KeyEvent(" "),
		chromedp.SendKeys(chromedp.ID("note"), "<b>Ate</b> half."),
	)
	before := len(h.Checked)
	press(t, ctx, "button.main")
	if len(h.Checked) != before+1 {
		t.Fatalf("stored %d checks, want 1", len(h.Checked)-before)
	}
	c := h.Checked[before]
	if w := c.Readings[0]; w.Quantity != home.Weight || math.Abs(w.Value-4.3) > 1e-9 || math.Abs(w.SD-0.1/math.Sqrt(6)) > 1e-9 {
		t.Errorf("weight is %v kg ± %v, want 4.3 ± 0.0408", w.Value, w.SD)
	}
	if b := c.Readings[1]; b.PerMinute() != 24 || b.State != home.Asleep || b.Window != 30*time.Second {
		t.Errorf("breaths are %+v, want 12 in 30 s asleep", b)
	}
	page := text(t, ctx)
	has(t, page, "Stored", "4.30 kg", "0.041 kg", "24 a minute", "<b>Ate</b> half.")
	keepPicture(t, artefacts(t), "stored-320-light", get(t, ctx, chromedp.FullScreenshot(100)))
}

// What cannot be read is said beside the field, and everything stays as typed.
func TestForm_WithBadInput_SaysSoAndKeepsIt(t *testing.T) {
	ctx, h := tab(t), fakehouse.Lived()
	withoutScript(t, ctx)
	screen(t, ctx, 320, "dark")
	do(t, ctx,
		chromedp.Navigate(serve(t, h)+"/check/plum?open=all"),
		chromedp.SendKeys(chromedp.ID("weight"), "four"),
		chromedp.SendKeys(chromedp.ID("breaths"), "-3"),
		chromedp.SendKeys(chromedp.ID("note"), "kept as typed"),
	)
	before := len(h.Checked)
	press(t, ctx, "button.main")
	if len(h.Checked) != before {
		t.Error("something was stored")
	}
	has(t, text(t, ctx), "Nothing was stored yet", "not a number", "cannot be negative", "Choose how the cat was")
	for id, want := range map[string]string{"weight": "four", "breaths": "-3", "note": "kept as typed"} {
		if got := get(t, ctx, chromedp.Value(chromedp.ID(id))); got != want {
			t.Errorf("%s holds %q, want %q", id, got, want)
		}
	}
	keepPicture(t, artefacts(t), "form-wrong-320-dark", get(t, ctx, chromedp.FullScreenshot(100)))
	report(t, "form with complaints", violationsWithScript(t, ctx))
}

// violationsWithScript looks at the page as it stands with axe-core, which
// needs script itself.
func violationsWithScript(t *testing.T, ctx context.Context) []violation {
	t.Helper()
	if _, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{}); err != nil {
		t.Fatal(err)
	}
	return violations(t, ctx, string(npmFile(t, axeCore)))
}

// A red flag leads to the page that says to go now, though the rest of the form
// cannot be read, and what was typed is kept in the note.
func TestForm_WithRedFlag_SaysGoNow(t *testing.T) {
	ctx, h := tab(t), fakehouse.Lived()
	withoutScript(t, ctx)
	screen(t, ctx, 320, "light")
	do(t, ctx,
		chromedp.Navigate(serve(t, h)+"/check/plum?open=all"),
		chromedp.Focus(chromedp.CSS("input[value="+string(home.OpenMouth)+"]")), chromedp.KeyEvent(" "),
		chromedp.SendKeys(chromedp.ID("weight"), "ab"),
	)
	before := len(h.Checked)
	press(t, ctx, ".flags button")
	has(t, text(t, ctx), "Go to a vet now", "breathing with an open mouth", "Mill Lane practice", "What to say on the phone", "stored")
	if len(h.Checked) != before+1 || len(h.Checked[before].RedFlags) != 1 || !strings.Contains(h.Checked[before].Note, "ab") {
		t.Errorf("stored %+v, want one check with the flag and the unread weight in its note", h.Checked[before:])
	}
}

// Sending the same form twice, by the browser's own way back, stores it once.
func TestForm_SentTwice_IsStoredOnce(t *testing.T) {
	ctx, h := tab(t), fakehouse.Lived()
	screen(t, ctx, 768, "light")
	do(t, ctx,
		chromedp.Navigate(serve(t, h)+"/check/barnaby?open=all"),
		chromedp.SendKeys(chromedp.ID("weight"), "5.20"),
	)
	before := len(h.Checked)
	press(t, ctx, "button.main")
	has(t, text(t, ctx), "5.20 kg")
	do(t, ctx, chromedp.NavigateBack())
	press(t, ctx, "button.main")
	has(t, text(t, ctx), "This was stored already")
	if got := len(h.Checked) - before; got != 1 {
		t.Errorf("stored %d checks, want 1", got)
	}
}
