package browsertest

import (
	"context"
	"testing"

	"github.com/chromedp/chromedp"

	"weighbeam/home"
)

// typed types a note and a count of breaths into the form as it stands.
func typed(t *testing.T, ctx context.Context) {
	t.Helper()
	do(t, ctx,
		chromedp.SendKeys(chromedp.CSS("#note"), "hid under the bed"),
		chromedp.SendKeys(chromedp.CSS("#breaths"), "11"))
}

// What was typed is there again after a reload in the middle.
func TestCheck_ReloadInTheMiddle_KeepsWhatWasTyped(t *testing.T) {
	ctx, c := tab(t), serveChecks(t, "kg")
	do(t, ctx, chromedp.Navigate(c.url+"/check/plum?open=all"))
	typed(t, ctx)
	do(t, ctx, chromedp.Navigate(c.url+"/check/plum"))
	kept := get(t, ctx, chromedp.Evaluate[string](`document.getElementById("note").value + "/" + document.getElementById("breaths").value`))
	if kept != "hid under the bed/11" {
		t.Errorf("after the reload the form has %q", kept)
	}
}

// What is sent while the house cannot be reached waits on the phone, is stored
// when it can, once, even where the answer to the first sending is lost.
func TestCheck_OfflineAndBack_IsStoredOnce(t *testing.T) {
	ctx, c := tab(t), serveChecks(t, "kg")
	do(t, ctx, chromedp.Navigate(c.url+"/check/plum?open=all"))
	typed(t, ctx)
	do(t, ctx, chromedp.Focus(chromedp.CSS("input[name=state][value=asleep]")), chromedp.KeyEvent(" "))
	c.away.Store(true)
	do(t, ctx, chromedp.Click(chromedp.CSS("button.main")))
	shows(t, ctx, "cannot be reached")
	c.away.Store(false)
	c.answerLost.Store(true)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`dispatchEvent(new Event("online"))`))
	await(t, func() bool { return len(c.checks(t, "plum")) == 1 })
	c.answerLost.Store(false)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`dispatchEvent(new Event("online"))`))
	shows(t, ctx, "stored")
	if all := c.checks(t, "plum"); len(all) != 1 || all[0].Note != "hid under the bed" {
		t.Errorf("stored %+v", all)
	}
}

// What the house will not take when it can be reached again comes back into the
// form as it was typed, with the word that it was refused.
func TestCheck_OfflineAndRefused_ComesBack(t *testing.T) {
	ctx, c := tab(t), serveChecks(t, "kg")
	do(t, ctx, chromedp.Navigate(c.url+"/check/plum?open=all"))
	typed(t, ctx) // breaths without saying whether she slept
	c.away.Store(true)
	do(t, ctx, chromedp.Click(chromedp.CSS("button.main")))
	shows(t, ctx, "cannot be reached")
	c.away.Store(false)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`dispatchEvent(new Event("online"))`))
	comesTrue(t, ctx, `document.getElementById("note").value + "/" + document.getElementById("breaths").value === "hid under the bed/11"`)
	shows(t, ctx, "could not be stored as it is")
	if all := c.checks(t, "plum"); len(all) != 0 {
		t.Errorf("stored %+v", all)
	}
}

// The page that says to go stands before anything is sent, and says when it is stored.
func TestCheck_RedFlag_SaysWhenItIsStored(t *testing.T) {
	ctx, c := tab(t), serveChecks(t, "kg")
	do(t, ctx, chromedp.Navigate(c.url+"/check/plum?open=all"))
	do(t, ctx, chromedp.Focus(chromedp.CSS("input[value="+string(home.OpenMouth)+"]")), chromedp.KeyEvent(" "))
	c.away.Store(true)
	do(t, ctx, chromedp.Click(chromedp.CSS(".flags button")))
	shows(t, ctx, "kept on this phone")
	c.away.Store(false)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`dispatchEvent(new Event("online"))`))
	comesTrue(t, ctx, `document.querySelector(".keeping").textContent === "What you saw is stored."`)
	if all := c.checks(t, "plum"); len(all) != 1 || len(all[0].RedFlags) != 1 {
		t.Errorf("stored %+v", all)
	}
}
