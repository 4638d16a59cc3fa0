package browsertest

import (
	"testing"

	"github.com/chromedp/chromedp"

	"weighbeam/dashboards/fakehouse"
	"weighbeam/home"
)

// A topic that nobody claims becomes a new scale on a phone with script switched
// off: a mistake is said beside the form, which keeps what was typed.
func TestClaim_WithoutScript_MakesAScale(t *testing.T) {
	ctx, h := tab(t), fakehouse.Lived()
	withoutScript(t, ctx)
	screen(t, ctx, 320, "dark")
	do(t, ctx,
		chromedp.Navigate(serve(t, h)+"/set-aside"),
		chromedp.Click(chromedp.CSS("details summary")),
		chromedp.Focus(chromedp.CSS("input[name=scale][value='+']")), chromedp.KeyEvent(" "),
		chromedp.SetValue(chromedp.ID("unit-1"), "g"),
	)
	sound(t, ctx, "claim-open")
	press(t, ctx, "details button")
	has(t, text(t, ctx), "Give the new scale a short name.")
	keepPicture(t, artefacts(t), "claim-wrong-320-dark", get(t, ctx, chromedp.FullScreenshot(100)))
	report(t, "claim with a complaint", violationsWithScript(t, ctx))
	withoutScript(t, ctx)
	do(t, ctx, chromedp.SendKeys(chromedp.ID("id-1"), "cellar"), chromedp.SetValue(chromedp.ID("kind-1"), "floor"))
	press(t, ctx, "details button")
	has(t, text(t, ctx), "belongs to cellar now", "1 read")
	if s, ok := h.Home.Scale("cellar"); !ok || s.Topic != "house/cellar/scale" || s.Unit != "g" || s.Kind != home.Floor || s.Payload != "number" {
		t.Errorf("the house has %+v", s)
	}
}
