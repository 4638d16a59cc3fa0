package manual

import (
	"encoding/binary"
	"image"
	"image/color"
)

const (
	// maxDecoded is how many bytes the points of a picture may take in memory, reckoned
	// from its head: a small file can say that it is vast. It lets through 50 megapixels as
	// telephones write JPEG, 12 of a progressive JPEG, and 25 of PNG.
	maxDecoded = 100 << 20
	// maxSide is the longest side of a picture, as JPEG knows them: what it costs to make a
	// line shorter grows with it.
	maxSide = 1<<16 - 1
)

// decoded is how many bytes decoding a picture takes, by what is known before.
func decoded(sent []byte, format string, c image.Config) float64 {
	points := float64(c.Width) * float64(c.Height)
	switch format {
	case "jpeg":
		return points * jpegPoint(sent)
	case "png":
		const interlace = 28 // where a file says that it comes in passes, each of which is a picture
		if len(sent) > interlace && sent[interlace] != 0 {
			return 2 * points * point(c.ColorModel)
		}
		return points * point(c.ColorModel)
	}
	if c.ColorModel == color.NRGBAModel { // WebP without loss is unpacked beside what it becomes
		return 2 * points * point(c.ColorModel)
	}
	return points * point(c.ColorModel)
}

// point is how many bytes a point takes.
func point(m color.Model) float64 {
	switch m {
	case color.GrayModel:
		return 1
	case color.YCbCrModel, color.Gray16Model: // WebP has a quarter of the colours, rounded up
		return 2
	case color.NYCbCrAModel:
		return 3
	case color.RGBAModel, color.NRGBAModel:
		return 4
	}
	if _, ok := m.(color.Palette); ok {
		return 1
	}
	return 8
}

// worstPoint is a point of a progressive JPEG with four full components.
const worstPoint = 4*5 + 4

// jpegPoint is how many bytes a point of a JPEG takes. Where the head is not as it
// should be up to the frame (ITU-T T.81, section B.2.2), the worst is assumed.
func jpegPoint(sent []byte) float64 {
	for at := 2; at+10 <= len(sent) && sent[at] == 0xff; {
		marker, length := sent[at+1], int(binary.BigEndian.Uint16(sent[at+2:]))
		if marker < 0xc0 || marker > 0xc2 {
			at += 2 + length
			continue
		}
		return framePoint(sent[at+10:], int(sent[at+9]), marker == 0xc2)
	}
	return worstPoint
}

// framePoint is a point of a frame with n components: one byte a sample, and where they
// come in several scans, the four bytes that each is gathered in.
func framePoint(components []byte, n int, progressive bool) float64 {
	if n < 1 || n > 4 || len(components) < 3*n {
		return worstPoint
	}
	samples, h, v := 0, 1, 1
	for i := range n {
		across, down := int(components[3*i+1]>>4), int(components[3*i+1]&15)
		samples += across * down
		h, v = max(h, across), max(v, down)
	}
	bytes := float64(samples) / float64(h*v)
	if progressive {
		bytes *= 5
	}
	if n == 4 { // it becomes a picture of other colours, beside the first
		bytes += 4
	}
	return bytes
}
