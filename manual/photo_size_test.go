package manual

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"runtime"
	"testing"
)

// frame is the head of a JPEG with one sampling factor a component (ITU-T T.81, B.2.2),
// behind a comment.
func frame(marker byte, factors ...byte) []byte {
	b := []byte{0xff, 0xd8, 0xff, 0xfe, 0, 4, 'h', 'i', 0xff, marker, 0, byte(8 + 3*len(factors)), 8, 0x17, 0x70, 0x1f, 0x40, byte(len(factors))}
	for i, f := range factors {
		b = append(b, byte(i), f, 0)
	}
	return b
}

// What a picture takes is reckoned from its head, and never too little.
func TestDecoded_ByTheHead(t *testing.T) {
	for _, row := range []struct {
		name, format string
		sent         []byte
		model        color.Model
		want         float64 // bytes a point
	}{
		{"as telephones write it", "jpeg", frame(0xc0, 0x22, 0x11, 0x11), nil, 1.5},
		{"with whole colours", "jpeg", frame(0xc1, 0x11, 0x11, 0x11), nil, 3},
		{"grey", "jpeg", frame(0xc0, 0x11), nil, 1},
		// what comes in scans is gathered in four bytes a sample
		{"progressive", "jpeg", frame(0xc2, 0x22, 0x11, 0x11), nil, 7.5},
		{"four colours", "jpeg", frame(0xc0, 0x11, 0x11, 0x11, 0x11), nil, 8},
		// what is not as it should be is taken for the worst
		{"cut off in the frame", "jpeg", frame(0xc0, 0x22, 0x11, 0x11)[:20], nil, worstPoint},
		{"cut off before it", "jpeg", []byte{0xff, 0xd8}, nil, worstPoint},
		{"rubbish between", "jpeg", append([]byte{0xff, 0xd8, 7}, frame(0xc0, 0x11)[2:]...), nil, worstPoint},
		{"five components", "jpeg", frame(0xc0, 0x11, 0x11, 0x11, 0x11, 0x11), nil, worstPoint},
		{"PNG", "png", make([]byte, 40), color.NRGBAModel, 4},
		{"PNG of 16 bits", "png", make([]byte, 40), color.NRGBA64Model, 8},
		{"PNG of a palette", "png", make([]byte, 40), color.Palette{}, 1},
		{"PNG in passes", "png", append(make([]byte, 28), 1), color.NRGBAModel, 8},
		{"WebP", "webp", nil, color.YCbCrModel, 2},
		{"WebP that one sees through", "webp", nil, color.NYCbCrAModel, 3},
		{"WebP without loss", "webp", nil, color.NRGBAModel, 8},
		{"what is not known", "webp", nil, color.CMYKModel, 8},
	} {
		if got := decoded(row.sent, row.format, image.Config{ColorModel: row.model, Width: 20, Height: 5}); got != 100*row.want {
			t.Errorf("%s: %g bytes a point, want %g", row.name, got/100, row.want)
		}
	}
}

// A large picture that is to be turned takes no more memory than one that is not: it
// is made small first.
func TestKeepable_LargeAndTurned_TakesLittleMore(t *testing.T) {
	const w, h = 6000, 4000
	sent := withEXIF(asJPEG(t, image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)), 6)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	p, err := keepable(sent)
	runtime.ReadMemStats(&after)
	if err != nil || p.Width >= p.Height {
		t.Fatalf("kept %d by %d, %v", p.Width, p.Height, err)
	}
	if took := float64(after.TotalAlloc-before.TotalAlloc) / (w * h); took > 4 {
		t.Errorf("%.1f bytes a point", took)
	}
}

// However the camera was held, the picture stands upright.
func TestKeepable_EveryTurn(t *testing.T) {
	const w, h = 64, 32
	for o, want := range map[uint16]struct{ right, below, high bool }{
		1: {false, false, false}, 2: {true, false, false}, 3: {true, true, false}, 4: {false, true, false},
		5: {false, false, true}, 6: {true, false, true}, 7: {true, true, true}, 8: {false, true, true},
		9: {false, false, false}, // there is no such
	} {
		img := image.NewGray(image.Rect(0, 0, w, h))
		for y := range h / 2 {
			for x := range w / 2 {
				img.SetGray(x, y, color.Gray{255}) // what the camera saw first
			}
		}
		p, err := keepable(withEXIF(asJPEG(t, img), o))
		if err != nil {
			t.Fatal(err)
		}
		got, err := jpeg.Decode(bytes.NewReader(p.JPEG))
		if err != nil {
			t.Fatal(err)
		}
		x, y := p.Width/4, p.Height/4
		if want.right {
			x *= 3
		}
		if want.below {
			y *= 3
		}
		if v, _, _, _ := got.At(x, y).RGBA(); v < 0x8000 || (p.Height > p.Width) != want.high {
			t.Errorf("held as %d: %d by %d, and %x where it should be white", o, p.Width, p.Height, v)
		}
	}
}
