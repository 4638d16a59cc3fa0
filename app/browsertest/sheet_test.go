package browsertest

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/chromedp/chromedp"

	"weighbeam/dashboards/fakehouse"
)

var pdfPage = regexp.MustCompile(`/Type\s*/Page[^s]`)

// The sheet for the practice is two pages of A4 or of Letter, with text that
// can be selected and a chart that is drawn and not a picture of dots.
func TestSheet_Printed_IsTwoPages(t *testing.T) {
	ctx := tab(t)
	dir := artefacts(t)
	base := serve(t, fakehouse.Lived())
	for _, paper := range []struct {
		name string
		size chromedp.PaperSize
	}{{"a4", chromedp.PaperA4}, {"letter", chromedp.PaperLetter}} {
		for _, cat := range []string{"mustard", "plum"} {
			do(t, ctx, chromedp.Navigate(base+"/cats/"+cat+"/sheet"))
			pdf := get(t, ctx, chromedp.PrintToPDF(chromedp.PDFPaper(paper.size), chromedp.PDFPreferCSSPageSize()))
			name := "sheet-" + cat + "-" + paper.name + ".pdf"
			if n := len(pdfPage.FindAll(pdf, -1)); n < 1 || n > 2 {
				t.Errorf("%s has %d pages, want at most 2", name, n)
			}
			if bytes.Contains(pdf, []byte("/Subtype /Image")) {
				t.Errorf("%s holds a picture of dots", name)
			}
			if !bytes.Contains(pdf, []byte("/Font")) {
				t.Errorf("%s has no text", name)
			}
			if err := os.WriteFile(filepath.Join(dir, name), pdf, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}
