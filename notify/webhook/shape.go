package webhook

import (
	"bytes"
	"encoding/json"
	"strings"
	"text/template"
	"time"

	"weighbeam/home"
	"weighbeam/notify"

	"golang.org/x/net/http/httpguts"
)

// shape makes the body of a request. Without a template it is the message as
// JSON. A template is of text/template; it is given the message, with a
// function json that writes a value as JSON, so that nothing in a name or a
// sentence can break out of its place:
//
//	{"topic": "cats", "title": {{json .Subject}}, "message": {{json .Body}}}
type shape struct{ template *template.Template }

var functions = template.FuncMap{
	"json": func(v any) (string, error) {
		b, err := json.Marshal(v)
		return string(b), err
	},
	// rank is 1 for mention to 4 for now: services have priorities by number.
	"rank": func(u home.Urgency) int { return u.Rank() },
}

func newShape(text string) (*shape, error) {
	if text == "" {
		return &shape{}, nil
	}
	t, err := template.New("body").Funcs(functions).Option("missingkey=error").Parse(text)
	if err != nil {
		return nil, badShape(err)
	}
	s := &shape{t}
	if _, err := s.of(notify.Trial("trial", time.Unix(0, 0))); err != nil {
		return nil, badShape(err)
	}
	return s, nil
}

func badShape(err error) error {
	return home.Hinted("set up a webhook", `Write the body as JSON with {{json .Subject}} and {{json .Body}} where they belong.`, "the template of the body: %w", err)
}

// of is the body for m. It must be JSON, or the receiver would refuse it after
// a finding was made rather than now.
func (s *shape) of(m notify.Message) ([]byte, error) {
	if s.template == nil {
		return json.Marshal(m)
	}
	var b bytes.Buffer
	if err := s.template.Execute(&b, m); err != nil {
		return nil, err
	}
	var raw json.RawMessage
	err := json.Unmarshal(b.Bytes(), &raw)
	return b.Bytes(), err
}

// validHeaders refuses what would break out of a header, and what is ours.
func validHeaders(h map[string]notify.Secret) error {
	const hint = "Write headers as Name = value, on one line."
	for name, value := range h {
		if !httpguts.ValidHeaderFieldName(name) || !httpguts.ValidHeaderFieldValue(string(value)) {
			return home.Hinted("set up a webhook", hint, "the header %q cannot be sent", name)
		}
		for _, own := range []string{IDHeader, TimeHeader, SignatureHeader, "Host", "Content-Length"} {
			if strings.EqualFold(name, own) {
				return home.Hinted("set up a webhook", hint, "the header %q is set by the program", name)
			}
		}
	}
	return nil
}
