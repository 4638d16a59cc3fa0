package mail

import (
	"bytes"
	"encoding/base64"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	netmail "net/mail"
	"net/textproto"
	"strings"
	"testing"

	"weighbeam/notify"
)

// part is one leaf of a letter.
type part struct {
	header textproto.MIMEHeader
	body   string
}

// leaves takes a letter apart, whatever it is nested in, and notes the kinds of
// what nests.
func leaves(t *testing.T, header textproto.MIMEHeader, body io.Reader) (all []part, nests string) {
	t.Helper()
	kind, params, err := mime.ParseMediaType(header.Get("Content-Type"))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(kind, "multipart/") {
		switch header.Get("Content-Transfer-Encoding") {
		case "base64":
			body = base64.NewDecoder(base64.StdEncoding, body)
		case "quoted-printable":
			body = quotedprintable.NewReader(body)
		}
		text, err := io.ReadAll(body)
		if err != nil {
			t.Fatal(err)
		}
		return []part{{header, string(text)}}, ""
	}
	nests = kind + " "
	for r := multipart.NewReader(body, params["boundary"]); ; {
		p, err := r.NextRawPart()
		if err == io.EOF {
			return all, nests
		}
		if err != nil {
			t.Fatal(err)
		}
		inner, deeper := leaves(t, p.Header, p)
		all, nests = append(all, inner...), nests+deeper
	}
}

// With a chart the letter is complete as text, and once more with the picture,
// which is whole, is inside the letter and says in words what it shows.
func TestMail_Send_Chart(t *testing.T) {
	server := open(t, Plain)
	m := message()
	m.Body = "Juniper <eats> less.\n\nWhere to look: http://cats.lan/findings/x?a=1&b=2\n\nAll the rest.\n"
	m.Chart = notify.Chart{PNG: bytes.Repeat([]byte{0x89, 'P', 'N', 'G', 0, 0xff, '\r', '\n', '.'}, 3000), Words: `Weight of "Juniper", falling.`}
	if err := transport(t, config(server.addr, Plain)).Send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	msg, err := netmail.ReadMessage(strings.NewReader(server.taken()[0].data))
	if err != nil {
		t.Fatal(err)
	}
	parts, nests := leaves(t, textproto.MIMEHeader(msg.Header), msg.Body)
	if len(parts) != 3 || !strings.Contains(nests, "multipart/alternative") || !strings.Contains(nests, "multipart/related") {
		t.Fatalf("%d parts in %s", len(parts), nests)
	}
	text, html, picture := parts[0], parts[1], parts[2]
	if got := strings.ReplaceAll(text.body, "\r\n", "\n"); !strings.HasPrefix(text.header.Get("Content-Type"), "text/plain") || got != m.Body {
		t.Errorf("the text is %q", got)
	}
	for _, want := range []string{
		`alt="Weight of &#34;Juniper&#34;, falling."`, `src="cid:chart.png"`, "Juniper &lt;eats&gt; less.",
		`<a href="http://cats.lan/findings/x?a=1&amp;b=2">`, "All the rest.",
	} {
		if !strings.Contains(html.body, want) {
			t.Errorf("%q is not in\n%s", want, html.body)
		}
	}
	// A letter must not tell anybody that it is read.
	if strings.Contains(html.body, `src="http`) {
		t.Error("it fetches something")
	}
	words, err := new(mime.WordDecoder).DecodeHeader(picture.header.Get("Content-Description"))
	if err != nil || words != m.Chart.Words || picture.header.Get("Content-Id") != "<chart.png>" || !strings.HasPrefix(picture.header.Get("Content-Type"), "image/png") {
		t.Errorf("the picture: %v, %v", picture.header, err)
	}
	if picture.body != string(m.Chart.PNG) {
		t.Errorf("%d bytes arrived of %d", len(picture.body), len(m.Chart.PNG))
	}
}
