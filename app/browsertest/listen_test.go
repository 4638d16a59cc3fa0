package browsertest

import (
	"context"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"weighbeam/dashboards/fakehouse"
	"weighbeam/home"
)

// A message stands on top of the page as it arrives, as text whatever it holds, until
// the page is held still.
func TestListen_Live_ShowsEachMessageAsItArrives(t *testing.T) {
	ctx, h := tab(t), fakehouse.Listened()
	screen(t, ctx, 320, "light")
	do(t, ctx, chromedp.Navigate(serve(t, h)+"/listen"))
	comesTrue(t, ctx, `document.querySelector("#live p").textContent.startsWith("Live")`)
	h.Ear.Say(home.Heard{Time: fakehouse.Now, Topic: "new", Payload: []byte("<img src=x onerror=document.title='stolen'>"), Bytes: 43, Why: "no scale claims this topic"})
	comesTrue(t, ctx, `document.querySelector("#heard li").textContent.includes("onerror")`)
	sound(t, ctx, "listen-live")
	if title := get(t, ctx, chromedp.Title()); title != "Listen · Weighbeam" {
		t.Errorf("a payload ran: the title is %q", title)
	}
	keepPicture(t, artefacts(t), "listen-live-320-light", get(t, ctx, chromedp.FullScreenshot(100)))
	do(t, ctx, chromedp.Click(chromedp.CSS("#live button")))
	comesTrue(t, ctx, `document.querySelector("#live p").textContent.startsWith("Held")`)
	h.Ear.Say(home.Heard{Time: fakehouse.Now, Topic: "later", Payload: []byte("kept back"), Bytes: 9})
	do(t, ctx, chromedp.Click(chromedp.CSS("#live button")))
	comesTrue(t, ctx, `document.querySelector("#heard li").textContent.includes("kept back")`)
	report(t, "listen", violations(t, ctx, string(npmFile(t, axeCore))))
}

// comesTrue waits for an expression of the page to be true, as long as the tab lives.
func comesTrue(t *testing.T, ctx context.Context, expression string) {
	t.Helper()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for !get(t, ctx, chromedp.Evaluate[bool](expression)) {
		select {
		case <-tick.C:
		case <-ctx.Done():
			t.Fatalf("never: %s", expression)
		}
	}
}

// Without script the page shows what was heard up to now, and no button that does nothing.
func TestListen_WithoutScript_ShowsWhatWasHeard(t *testing.T) {
	ctx, h := tab(t), fakehouse.Listened()
	withoutScript(t, ctx)
	screen(t, ctx, 320, "dark")
	do(t, ctx, chromedp.Navigate(serve(t, h)+"/listen"))
	has(t, text(t, ctx), "house/hall/box", "9.441", "no scale claims this topic", "every 10.0 s")
	if n := get(t, ctx, chromedp.Text(chromedp.ID("live"))); n != "" {
		t.Errorf("it says %q", n)
	}
	keepPicture(t, artefacts(t), "listen-still-320-dark", get(t, ctx, chromedp.FullScreenshot(100)))
}
