package mail

import (
	"bytes"
	"html/template"
	"regexp"

	"weighbeam/notify"

	"github.com/wneessen/go-mail"
)

// chartID is by which the letter names its picture.
const chartID = "chart.png"

// illustrated is the letter once more, with its picture. Nothing is fetched from
// elsewhere: a mail program would tell when the letter is read.
var illustrated = template.Must(template.New("").Parse(`<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{{.Subject}}</title></head>
<body style="font-family:sans-serif;max-width:45rem">
<p><img src="cid:` + chartID + `" alt="{{.Words}}" style="max-width:100%;height:auto"></p>
<p style="white-space:pre-line">{{range .Text}}{{if .Link}}<a href="{{.Link}}">{{.Link}}</a>{{else}}{{.Words}}{{end}}{{end}}</p>
</body></html>
`))

// piece is some words of a text, or a link in it.
type piece struct{ Words, Link string }

var link = regexp.MustCompile(`https?://[^\s<>"]+`)

// pieces cuts a text at its links.
func pieces(text string) (all []piece) {
	at := 0
	for _, found := range link.FindAllStringIndex(text, -1) {
		all = append(all, piece{Words: text[at:found[0]]}, piece{Link: text[found[0]:found[1]]})
		at = found[1]
	}
	return append(all, piece{Words: text[at:]})
}

// illustrate adds to a letter, which is complete as text, the same with its
// picture, and what the picture shows in words.
func illustrate(l *mail.Msg, msg notify.Message) error {
	err := l.AddAlternativeHTMLTemplate(illustrated, struct {
		Subject, Words string
		Text           []piece
	}{msg.Subject, msg.Chart.Words, pieces(msg.Body)})
	if err != nil {
		return err
	}
	return l.EmbedReader(chartID, bytes.NewReader(msg.Chart.PNG), mail.WithFileContentType("image/png"),
		mail.WithFileContentID("<"+chartID+">"), mail.WithFileDescription(msg.Chart.Words))
}
