package browsertest

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
)

// located is a JPEG as a phone makes it: with a segment that says where it was taken.
func located(t *testing.T) string {
	t.Helper()
	var plain bytes.Buffer
	if err := jpeg.Encode(&plain, image.NewGray(image.Rect(0, 0, 60, 40)), nil); err != nil {
		t.Fatal(err)
	}
	body := "Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x00\x00\x00\x00\x00GPS 52 30 N"
	segment := append([]byte{0xff, 0xe1, 0, byte(len(body) + 2)}, body...)
	path := filepath.Join(t.TempDir(), "eye.jpg")
	if err := os.WriteFile(path, append(append(append([]byte{}, plain.Bytes()[:2]...), segment...), plain.Bytes()[2:]...), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// A difference weighing in pounds and a picture from a phone are stored, the
// picture without its place; a correction replaces the entry, keeps the picture,
// and the history shows both.
func TestCheck_PoundsAndPicture_StoredThenCorrected(t *testing.T) {
	ctx, c := tab(t), serveChecks(t, "lb")
	do(t, ctx,
		chromedp.Navigate(c.url+"/check/plum?open=all"),
		chromedp.SendKeys(chromedp.ID("with"), "160.2"),
		chromedp.SendKeys(chromedp.ID("without"), "150.6"),
		chromedp.SetUploadFiles(chromedp.ID("photo"), []string{located(t)}))
	press(t, ctx, "button.main")
	has(t, text(t, ctx), "Stored", "9.60 lb (9 lb 9.6 oz)")
	first := c.checks(t, "plum")
	if len(first) != 1 || len(first[0].Readings) != 1 || len(first[0].Photos) != 1 {
		t.Fatalf("stored %+v", first)
	}
	// A pound is 0.45359237 kg (NIST Handbook 44, appendix C); the step is a tenth of one.
	const lb = 0.45359237
	if w := first[0].Readings[0]; math.Abs(w.Value-9.6*lb) > 1e-6 || math.Abs(w.SD-0.1*lb/math.Sqrt(6)) > 1e-6 {
		t.Errorf("weight is %v kg ± %v", w.Value, w.SD)
	}
	photo, err := c.Photo(ctx, first[0].Photos[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(photo.JPEG, []byte("GPS")) || bytes.Contains(photo.JPEG, []byte("Exif")) {
		t.Error("the picture still says where it was taken")
	}

	do(t, ctx, chromedp.Navigate(c.url+"/check/plum/correct/"+first[0].ID),
		chromedp.WaitVisible(chromedp.ID("with")), // as it was typed; with one slip of the finger
		chromedp.SetValue(chromedp.ID("with"), "160.0"),
		chromedp.SendKeys(chromedp.ID("why"), "read it wrong"))
	press(t, ctx, "button.main")
	has(t, text(t, ctx), "9.40 lb")
	after := c.checks(t, "plum")
	if len(after) != 1 || len(after[0].Photos) != 1 || math.Abs(after[0].Readings[0].Value-9.4*lb) > 1e-3 {
		t.Errorf("after the correction %+v", after)
	}
	do(t, ctx, chromedp.Navigate(c.url+"/check/plum/history"))
	has(t, text(t, ctx), "read it wrong", "9.40 lb", "160.0 lb less 150.6 lb", "9.60 lb", "160.2 lb less 150.6 lb")
	keepPicture(t, artefacts(t), "history-corrected", get(t, ctx, chromedp.FullScreenshot(100)))
}
