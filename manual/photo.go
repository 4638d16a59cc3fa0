package manual

import (
	"bytes"
	"errors"
	"image"
	"image/png"
	"io"
	"net/http"

	"github.com/kovidgoyal/imaging"
	"golang.org/x/image/webp"

	"weighbeam/home"
)

const (
	// maxUpload is how large one picture may be as it is sent, in MB: a telephone's
	// largest JPEG takes half of it.
	maxUpload = 20
	// maxPictures at a time.
	maxPictures = 6
	// keptSide is the longest side of a kept picture, in points: enough to see a lump on.
	keptSide    = 1600
	keptQuality = 82
)

var (
	errNoPicture = errors.New(msgPhoto)
	errTooBig    = errors.New(msgPhotoBig)
	errTooWide   = errors.New(msgPhotoPixels)
)

// decoding lets one picture be decoded at a time: it takes memory, and a house
// machine has little.
var decoding = make(chan struct{}, 1)

// decoders take the first picture of a file and no more: one that moves may hold
// thousands. Each makes it no longer than what is kept.
var decoders = map[string]func([]byte) (image.Image, error){
	"jpeg": photograph,
	"png":  func(sent []byte) (image.Image, error) { return shrunk(png.Decode(bytes.NewReader(sent))) },
	"webp": func(sent []byte) (image.Image, error) { return shrunk(webp.Decode(bytes.NewReader(sent))) },
}

// shrunk is a picture that was decoded, no longer than what is kept.
func shrunk(img image.Image, err error) (image.Image, error) {
	if err != nil {
		return nil, err
	}
	if b := img.Bounds(); max(b.Dx(), b.Dy()) > keptSide {
		img = imaging.Fit(img, keptSide, keptSide, imaging.Linear)
	}
	return img, nil
}

// turns bring a picture upright, by what a camera wrote of how it was held (EXIF 2.32,
// JEITA CP-3451, tag 0x0112).
var turns = map[int]func(image.Image) image.Image{
	2: imaging.FlipH, 3: imaging.Rotate180, 4: imaging.FlipV, 5: imaging.Transpose,
	6: imaging.Rotate270, 7: imaging.Transverse, 8: imaging.Rotate90,
}

// photograph decodes a JPEG. It is made small first, then given the colours and the turn
// that its camera wrote: each of those takes as much again as the picture.
func photograph(sent []byte) (image.Image, error) {
	whole, _, err := imaging.DecodeAll(bytes.NewReader(sent), imaging.Backends(imaging.GO_IMAGE),
		imaging.AutoOrientation(false), imaging.ColorSpace(imaging.NO_CHANGE_OF_COLORSPACE))
	if err != nil {
		return nil, err
	}
	said := whole.Metadata
	img, err := shrunk(whole.SingleFrame(), nil)
	if err != nil || said == nil {
		return img, err
	}
	if profile, err := said.ICCProfile(); err == nil && profile != nil {
		if img, err = imaging.ConvertToSRGB(profile, imaging.Relative, true, img); err != nil {
			return nil, err
		}
	}
	exif, err := said.Exif()
	if err != nil || exif == nil {
		return img, nil // how it was held is not known
	}
	tag, err := exif.Get("Orientation")
	if err != nil {
		return img, nil
	}
	if o, err := tag.Int(0); err == nil && turns[o] != nil {
		img = turns[o](img)
	}
	return img, nil
}

// keepable makes a picture what is kept of it: upright, at most keptSide long, and
// nothing but what is to be seen. The error is a key of the catalogue.
func keepable(sent []byte) (home.PhotoFile, error) {
	config, format, err := image.DecodeConfig(bytes.NewReader(sent))
	switch {
	case err != nil || decoders[format] == nil:
		return home.PhotoFile{}, errNoPicture
	case config.Width <= 0 || config.Height <= 0 || max(config.Width, config.Height) > maxSide || decoded(sent, format, config) > maxDecoded:
		return home.PhotoFile{}, errTooWide
	}
	decoding <- struct{}{}
	defer func() { <-decoding }()
	img, err := decoders[format](sent)
	if err != nil {
		return home.PhotoFile{}, errNoPicture
	}
	var out bytes.Buffer
	if err := imaging.Encode(&out, img, imaging.JPEG, imaging.JPEGQuality(keptQuality)); err != nil || out.Len() > home.MaxPhoto {
		return home.PhotoFile{}, errTooWide
	}
	f := home.PhotoFile{ID: home.PhotoID(out.Bytes()), Width: img.Bounds().Dx(), Height: img.Bounds().Dy(), JPEG: out.Bytes()}
	return f, f.Valid()
}

// upload reads one picture of a form. What is too large is read to its end, so that
// the fields after it are not lost, and not kept.
func upload(r io.Reader) (home.PhotoFile, error) {
	sent, err := io.ReadAll(io.LimitReader(r, maxUpload<<20+1))
	if err != nil {
		return home.PhotoFile{}, err
	}
	if len(sent) > maxUpload<<20 {
		_, err := io.Copy(io.Discard, r)
		return home.PhotoFile{}, errors.Join(errTooBig, err)
	}
	return keepable(sent)
}

// photos puts the pictures that are kept with the form into the check.
func (f *form) photos() {
	caption := f.get("caption")
	if len(caption) > 200 {
		f.fail("caption", msgGivenLong)
		caption = ""
	}
	for _, id := range f.ticked("kept") {
		if home.ValidID("picture", id) == nil && len(f.check.Photos) < maxPictures {
			f.check.Photos = append(f.check.Photos, home.Photo{ID: id, Caption: caption})
		}
	}
}

// photo answers with a picture. Its name says what is in it, so it never changes.
func (m *room) photo(w http.ResponseWriter, r *http.Request) {
	p, err := m.opts.Diary.Photo(r.Context(), r.PathValue("id"))
	if err != nil {
		m.fail(w, r, err)
		return
	}
	guarded(w.Header(), "image/jpeg")
	w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	_, _ = w.Write(p.JPEG) // a reader that left is no fault of the program
}
