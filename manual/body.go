package manual

import (
	"errors"
	"io"
	"mime"
	"net/http"
	"net/url"
	"time"

	"weighbeam/home"
)

const (
	// maxFields holds the longest note many times over, so that a note that is too
	// long comes back to its writer instead of being refused unread.
	maxFields = 512 << 10
	// maxBody is the whole of a form with its pictures: over it nothing is read.
	maxBody = (maxPictures + 1) * maxUpload << 20
	// picturesIn is how long a form with pictures may take to come in: six of a telephone,
	// of 6 MB each, over a line of half a megabit a second.
	picturesIn = 10 * time.Minute
)

// sent is a form as it came.
type sent struct {
	typed  url.Values
	photos []home.PhotoFile
	wrong  error // with a picture: a key of the catalogue
}

var errTooLong = &http.MaxBytesError{Limit: maxFields}

// receive reads a form, with or without pictures. The ids of its pictures are put
// among what was typed, under "kept".
func receive(w http.ResponseWriter, r *http.Request) (sent, error) {
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if kind != "multipart/form-data" {
		r.Body = http.MaxBytesReader(w, r.Body, maxFields)
		err := r.ParseForm()
		return sent{typed: r.PostForm}, err
	}
	r.Body = http.MaxBytesReader(w, r.Body, maxBody)
	_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(picturesIn)) // where there was no deadline there need be none
	parts, err := r.MultipartReader()
	if err != nil {
		return sent{}, err
	}
	s := sent{typed: url.Values{}}
	for left := int64(maxFields); ; {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return s, nil
		}
		if err != nil {
			return s, err
		}
		if part.FileName() != "" {
			err = s.picture(part)
		} else if part.FormName() != "photo" { // a field for pictures with none chosen
			var text []byte
			text, err = io.ReadAll(io.LimitReader(part, left+1))
			if left -= int64(len(text)); err == nil && left < 0 {
				err = errTooLong
			}
			s.typed.Add(part.FormName(), string(text))
		}
		if err != nil {
			return s, err
		}
	}
}

// picture takes one picture. Only an error of the connection is returned.
func (s *sent) picture(r io.Reader) error {
	if len(s.photos) == maxPictures {
		s.wrong = errors.New(msgPhotoMany)
		_, err := io.Copy(io.Discard, r)
		return err
	}
	p, err := upload(r)
	for _, ours := range []error{errTooBig, errNoPicture, errTooWide} {
		if errors.Is(err, ours) {
			s.wrong = ours
			return nil
		}
	}
	if err != nil {
		return err
	}
	s.photos = append(s.photos, p)
	s.typed.Add("kept", p.ID)
	return nil
}
