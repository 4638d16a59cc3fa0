package chart

import (
	"bytes"
	"image/color"
	"image/png"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
)

// Paths land where vg's contract puts them: origin at the bottom left, later
// transforms applied first.
func TestCanvas_Transforms_PlacePoints(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(*canvas)
		want string
	}{
		{"none", func(*canvas) {}, `d="m10 95l20 0"`},
		{"moved", func(c *canvas) { c.Translate(vg.Point{X: 5, Y: 10}) }, `d="m15 85l20 0"`},
		{"scaled", func(c *canvas) { c.Scale(2, 3) }, `d="m20 85l40 0"`},
		// A quarter turn against the clock: right becomes up.
		{"turned", func(c *canvas) { c.Rotate(math.Pi / 2) }, `d="m-5 90l0-20"`},
		{"moved, then turned", func(c *canvas) { c.Translate(vg.Point{X: 50}); c.Rotate(math.Pi / 2) }, `d="m45 90l0-20"`},
		// Pop undoes what was done since Push.
		{"popped", func(c *canvas) { c.Push(); c.Scale(9, 9); c.SetLineWidth(0); c.Pop() }, `d="m10 95l20 0"`},
	} {
		cv := newCanvas(100, 100)
		c.do(cv)
		var p vg.Path
		p.Move(vg.Point{X: 10, Y: 5})
		p.Line(vg.Point{X: 30, Y: 5})
		cv.SetLineWidth(1)
		cv.Stroke(p)
		if !strings.Contains(cv.buf.String(), c.want) {
			t.Errorf("%s: %s, want %s", c.name, cv.buf.String(), c.want)
		}
	}
}

// Steps are counted from the rounded place, so that a long path does not drift.
func TestCanvas_LongPath_DoesNotDrift(t *testing.T) {
	cv := newCanvas(1000, 100)
	var p vg.Path
	for i := range 1001 {
		at := vg.Point{X: vg.Length(0.04 * float64(i)), Y: 0}
		if i == 0 {
			p.Move(at)
		} else {
			p.Line(at)
		}
	}
	cv.SetLineWidth(1)
	cv.Stroke(p)
	if n := strings.Count(cv.buf.String(), "l0.1 0"); n != 400 {
		t.Errorf("a line of 40 points is drawn %.1f long", float64(n)/10)
	}
}

func TestCanvas_ClosedPath_GoesOnFromItsStart(t *testing.T) {
	cv := newCanvas(100, 100)
	var p vg.Path
	p.Move(vg.Point{X: 10, Y: 10})
	p.Line(vg.Point{X: 20, Y: 10})
	p.Close()
	p.Move(vg.Point{X: 30, Y: 10})
	p.Line(vg.Point{X: 30, Y: 10})
	cv.Fill(p)
	if want := `d="m10 90l10 0zm20 0h0"`; !strings.Contains(cv.buf.String(), want) {
		t.Errorf("drew %s, want %s", cv.buf.String(), want)
	}
}

// A line of no width is not drawn, and a colour that is no ink of ours is ink.
func TestCanvas_Stroke_OfNoWidthOrForeignColour(t *testing.T) {
	cv := newCanvas(100, 100)
	var p vg.Path
	p.Move(vg.Point{})
	p.Line(vg.Point{X: 1})
	cv.SetLineWidth(0)
	cv.Stroke(p)
	if cv.buf.Len() != 0 {
		t.Errorf("drew %s", cv.buf.String())
	}
	cv.SetLineWidth(1)
	cv.SetColor(color.Black)
	cv.Stroke(p)
	if !strings.Contains(cv.buf.String(), `class="strong"`) {
		t.Errorf("drew %s", cv.buf.String())
	}
}

func TestPicture_PNG_IsInkOnPaper(t *testing.T) {
	var b bytes.Buffer
	if err := pictures()["full"].PNG(&b, Narrow); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	colours := map[color.Color]bool{}
	for x := range img.Bounds().Dx() {
		for y := range img.Bounds().Dy() {
			colours[img.At(x, y)] = true
		}
	}
	if at := color.NRGBAModel.Convert(img.At(1, 1)); at != Paper.light {
		t.Errorf("the corner is %v, want paper", at)
	}
	if len(colours) < 20 {
		t.Errorf("only %d colours: nothing was drawn", len(colours))
	}
}

// Every shape has a glyph of its own for the legend.
func TestShape_Glyphs_AreDistinct(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range Shapes() {
		if seen[s.Glyph()] {
			t.Errorf("two shapes are written %s", s.Glyph())
		}
		seen[s.Glyph()] = true
	}
}
