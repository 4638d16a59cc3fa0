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
	// maxPixels is how many points a picture may have before it is decoded. A small
	// file can say that it is vast; decoding takes 4 bytes a point.
	maxPixels = 64e6
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
// thousands. Only cameras turn pictures, so only JPEG is turned upright.
var decoders = map[string]func(io.Reader) (image.Image, error){
	"jpeg": func(r io.Reader) (image.Image, error) {
		return imaging.Decode(r, imaging.AutoOrientation(true), imaging.Backends(imaging.GO_IMAGE))
	},
	"png":  png.Decode,
	"webp": webp.Decode,
}

// keepable makes a picture what is kept of it: upright, at most keptSide long, and
// nothing but what is to be seen. The error is a key of the catalogue.
func keepable(sent []byte) (home.PhotoFile, error) {
	config, format, err := image.DecodeConfig(bytes.NewReader(sent))
	switch {
	case err != nil || decoders[format] == nil:
		return home.PhotoFile{}, errNoPicture
	case config.Width <= 0 || config.Height <= 0 || float64(config.Width)*float64(config.Height) > maxPixels:
		return home.PhotoFile{}, errTooWide
	}
	decoding <- struct{}{}
	defer func() { <-decoding }()
	img, err := decoders[format](bytes.NewReader(sent))
	if err != nil {
		return home.PhotoFile{}, errNoPicture
	}
	if b := img.Bounds(); max(b.Dx(), b.Dy()) > keptSide {
		img = imaging.Fit(img, keptSide, keptSide, imaging.Linear)
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
