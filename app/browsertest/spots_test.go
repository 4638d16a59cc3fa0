package browsertest

import (
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"weighbeam/dashboards/fakehouse"
)

// A value is read out of a chart by pointing at it, and by keys alone; the dot lies
// on the mark.
func TestCat_Chart_ReadsOut(t *testing.T) {
	ctx := tab(t)
	screen(t, ctx, 1280, "light")
	do(t, ctx, chromedp.Navigate(serve(t, fakehouse.Lived())+"/cats/mustard"))
	const words = `document.querySelector(".readout span").textContent`
	box := get(t, ctx, chromedp.Evaluate[[]float64](`(() => { const p = document.querySelector(".plot"); p.scrollIntoView(); const b = p.getBoundingClientRect(); return [b.left, b.top, b.width, b.height]; })()`))
	do(t, ctx, chromedp.MouseEvent("mouseMoved", box[0]+box[2]*0.6, box[1]+box[3]/2))
	comesTrue(t, ctx, words+`.includes(" kg, ")`)
	keepPicture(t, artefacts(t), "chart-read-out", get(t, ctx, chromedp.CaptureScreenshot()))
	off := get(t, ctx, chromedp.Evaluate[float64](`(() => { const d = document.querySelector(".dot").getBoundingClientRect(), p = document.querySelector(".plot").getBoundingClientRect();
		return Math.abs((d.left + d.width / 2 - p.left) / p.width - 0.6); })()`))
	if off > 0.02 {
		t.Errorf("the dot is %.3f of the width away from the pointer", off)
	}
	before := get(t, ctx, chromedp.Evaluate[string](words))
	do(t, ctx, chromedp.Focus(chromedp.CSS(".readout input")), chromedp.KeyEvent(kb.ArrowLeft))
	comesTrue(t, ctx, words+` !== `+"`"+before+"`")
	comesTrue(t, ctx, `document.querySelector(".readout input").getAttribute("aria-valuetext") === `+words)
	do(t, ctx, chromedp.KeyEvent(kb.End))
	comesTrue(t, ctx, `+document.querySelector(".readout input").value === +document.querySelector(".readout input").max`)
}
