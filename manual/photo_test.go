package manual

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/textproto"
	"net/url"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// half is a picture whose upper half is red and whose lower half is blue.
func half(w, h int) image.Image {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{200, 0, 0, 255}
			if y >= h/2 {
				c = color.RGBA{0, 0, 200, 255}
			}
			img.Set(x, y, c)
		}
	}
	return img
}

func asJPEG(t *testing.T, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// withEXIF puts an APP1 segment behind the start of a JPEG: orientation o, and a GPS
// directory with the latitude 52 30 0 N (EXIF 2.32, JEITA CP-3451: tags 0x0112, 0x8825, 1, 2).
func withEXIF(jpg []byte, o uint16) []byte {
	var tiff bytes.Buffer
	put := func(v ...any) {
		for _, x := range v {
			_ = binary.Write(&tiff, binary.BigEndian, x) // a buffer takes everything
		}
	}
	put([]byte("MM"), uint16(42), uint32(8))
	put(uint16(2), uint16(0x0112), uint16(3), uint32(1), o, uint16(0), uint16(0x8825), uint16(4), uint32(1), uint32(38), uint32(0))
	put(uint16(2), uint16(1), uint16(2), uint32(2), []byte("N\x00\x00\x00"), uint16(2), uint16(5), uint32(3), uint32(68), uint32(0))
	put(uint32(52), uint32(1), uint32(30), uint32(1), uint32(0), uint32(1))
	body := append([]byte("Exif\x00\x00"), tiff.Bytes()...)
	seg := append([]byte{0xff, 0xe1, byte((len(body) + 2) >> 8), byte(len(body) + 2)}, body...)
	return append(append(append([]byte{}, jpg[:2]...), seg...), jpg[2:]...)
}

// A picture is kept upright and sized down, without anything that the camera wrote.
func TestKeepable_StripsTurnsAndSizesDown(t *testing.T) {
	sent := withEXIF(asJPEG(t, half(2400, 1200)), 6) // to be turned a quarter to the right
	if !bytes.Contains(sent, []byte("Exif")) {
		t.Fatal("the planted data are not there")
	}
	p, err := keepable(sent)
	if err != nil {
		t.Fatal(err)
	}
	if p.Width != 800 || p.Height != 1600 || p.ID != home.PhotoID(p.JPEG) {
		t.Errorf("kept %d by %d as %s", p.Width, p.Height, p.ID)
	}
	for _, trace := range []string{"Exif", "GPS", "MM\x00*"} {
		if bytes.Contains(p.JPEG, []byte(trace)) {
			t.Errorf("it still holds %q", trace)
		}
	}
	img, err := jpeg.Decode(bytes.NewReader(p.JPEG))
	if err != nil {
		t.Fatal(err)
	}
	// Turned to the right, what was above is on the right.
	if r, _, b, _ := img.At(700, 800).RGBA(); r < b {
		t.Error("it was not turned upright")
	}
	if again, err := keepable(sent); err != nil || again.ID != p.ID {
		t.Errorf("the same picture again is %s, %v", again.ID, err)
	}
}

func TestKeepable_SmallPNG_IsTaken(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, half(30, 20)); err != nil {
		t.Fatal(err)
	}
	if p, err := keepable(b.Bytes()); err != nil || p.Width != 30 || p.Valid() != nil {
		t.Errorf("got %+v, %v", p, err)
	}
}

// A small file that says it is vast is refused before it is decoded.
func TestKeepable_Bomb_IsRefused(t *testing.T) {
	bomb := func(w, h uint32) []byte {
		chunk := append([]byte("IHDR"), binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)...)
		chunk = append(chunk, 8, 6, 0, 0, 0)
		b := append([]byte("\x89PNG\r\n\x1a\n"), 0, 0, 0, 13)
		return binary.BigEndian.AppendUint32(append(b, chunk...), crc32.ChecksumIEEE(chunk))
	}
	for _, c := range []struct {
		name string
		sent []byte
		want error
	}{
		{"vast", bomb(60000, 60000), errTooWide},
		// One long line has as many points as a square.
		{"long", bomb(1<<31-1, 1), errTooWide},
		// So has one that takes memory to be shortened, point by point.
		{"not so long", bomb(maxSide+1, 1), errTooWide},
		// Four bytes a point: 250 MB, of which the sender pays 200 kB.
		{"64 megapixels", bomb(8000, 8000), errTooWide},
		{"a screen's worth", bomb(4000, 3000), errNoPicture}, // small enough, and cut off
		{"cut off", bomb(100, 100), errNoPicture},
		{"no picture", []byte("hello"), errNoPicture},
		{"nothing", nil, errNoPicture},
		{"a page", []byte("<svg xmlns='http://www.w3.org/2000/svg'/>"), errNoPicture},
		{"a moving picture of another kind", []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"), errNoPicture},
	} {
		if p, err := keepable(c.sent); err != c.want {
			t.Errorf("%s: got %d bytes, %v, want %v", c.name, len(p.JPEG), err, c.want)
		}
	}
}

func FuzzKeepable(f *testing.F) {
	f.Add([]byte("\x89PNG\r\n\x1a\n"))
	f.Add([]byte{0xff, 0xd8, 0xff, 0xe0})
	f.Add([]byte("RIFF\x00\x00\x00\x00WEBPVP8 "))
	f.Fuzz(func(t *testing.T, sent []byte) {
		if p, err := keepable(sent); err == nil && p.Valid() != nil {
			t.Errorf("kept what is not valid: %v", p.Valid())
		}
	})
}

// formWith is a form with files, in the order of a browser, and its content type.
func formWith(t *testing.T, form url.Values, files ...[]byte) (body *bytes.Buffer, kind string) {
	t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	file := func(i int, content []byte) {
		w, err := m.CreatePart(textproto.MIMEHeader{"Content-Disposition": {fmt.Sprintf(`form-data; name="photo"; filename="%d.jpg"`, i)}})
		if err == nil {
			_, err = w.Write(content)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	for i, content := range files {
		file(i, content)
	}
	for name, values := range form { // after the files, to see that they are not lost
		for _, v := range values {
			if err := m.WriteField(name, v); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := m.Close(); err != nil {
		t.Fatal(err)
	}
	return &b, m.FormDataContentType()
}

// sendFiles posts a form with files.
func sendFiles(t *testing.T, h http.Handler, form url.Values, files ...[]byte) *httptest.ResponseRecorder {
	t.Helper()
	b, kind := formWith(t, form, files...)
	r := httptest.NewRequest("POST", "/check", b)
	r.Header.Set("Content-Type", kind)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// padded is a JPEG of at least so many bytes: a picture and what follows its end.
func padded(t *testing.T, n int) []byte {
	t.Helper()
	return append(asJPEG(t, half(40, 30)), make([]byte, n)...)
}

func TestPost_Photo_IsKeptWithTheCheck(t *testing.T) {
	m := lived()
	w := sendFiles(t, newRoom(m), filled(url.Values{"caption": {"left eye"}}), asJPEG(t, half(40, 30)))
	if w.Code != http.StatusSeeOther || len(m.checks) != 1 || len(m.photos) != 1 {
		t.Fatalf("status %d, stored %+v and %d photos:\n%s", w.Code, m.checks, len(m.photos), w.Body)
	}
	if p := m.checks[0].Photos; len(p) != 1 || p[0].ID != m.photos[0].ID || p[0].Caption != "left eye" {
		t.Errorf("the check names %+v", p)
	}
}

// What is wrong with a picture is said beside its field; the rest stays as typed,
// and good pictures are not asked for again.
func TestPost_BadPhoto_SaysSoAndKeepsTheRest(t *testing.T) {
	good, huge := asJPEG(t, half(40, 30)), bytes.Repeat([]byte{0xff}, 30<<20)
	many := [][]byte{good, good, good, good, good, good, good}
	for _, c := range []struct {
		name    string
		files   [][]byte
		message string
	}{
		{"30 MB", [][]byte{huge, good}, en(msgPhotoBig, "mb", maxUpload)},
		{"no picture", [][]byte{[]byte("hello"), good}, en(msgPhoto)},
		{"seven", many, en(msgPhotoMany, "n", maxPictures)},
	} {
		m := lived()
		w := sendFiles(t, newRoom(m), filled(url.Values{"note": {"kept & whole"}}), c.files...)
		says(t, w, http.StatusUnprocessableEntity, c.message, "kept &amp; whole", `value="4.2"`, `name="kept" value="`+m.photos[0].ID)
		if len(m.checks) != 0 {
			t.Errorf("%s: something was stored", c.name)
		}
	}
}

// A form with pictures may take longer to come in than others: a telephone is far
// from the house, or its line is slow.
func TestPost_Photo_MayTakeItsTime(t *testing.T) {
	m := lived()
	check := newRoom(m)
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := http.NewResponseController(w).SetReadDeadline(time.Now()); err != nil { // the time of other forms is over
			t.Error(err)
		}
		check.ServeHTTP(w, r)
	}))
	t.Cleanup(srv.Close)
	body, kind := formWith(t, filled(nil), padded(t, 1<<20))
	client := srv.Client()
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	resp, err := client.Post(srv.URL+"/check", kind, body)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusSeeOther || len(m.photos) != 1 {
		t.Errorf("%s, %d pictures", resp.Status, len(m.photos))
	}
}

// More than the whole of a form may hold is not read, unless a red flag came before.
func TestPost_BodyWithoutEnd_IsRefused(t *testing.T) {
	body := func(first string) *http.Request {
		text := "--x\r\nContent-Disposition: form-data; name=\"flag\"\r\n\r\n" + first + "\r\n--x\r\nContent-Disposition: form-data; name=\"note\"\r\n\r\n" + strings.Repeat("y", maxFields+1)
		r := httptest.NewRequest("POST", "/check", strings.NewReader(text+"\r\n--x--\r\n"))
		r.Header.Set("Content-Type", "multipart/form-data; boundary=x")
		return r
	}
	w := httptest.NewRecorder()
	newRoom(lived()).ServeHTTP(w, body(""))
	says(t, w, http.StatusRequestEntityTooLarge, "shorten the note")
	w = httptest.NewRecorder()
	newRoom(lived()).ServeHTTP(w, body(string(home.Collapse)))
	says(t, w, 200, "Go to a vet now", "collapse")
}
