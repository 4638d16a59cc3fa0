package webhook

import (
	"encoding/json"
	"strings"
	"testing"

	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/notify/internal/catcher"

	"pgregory.net/rapid"
)

const push = `{"topic": "cats", "title": {{json .Subject}}, "message": {{json .Body}}, "priority": {{rank .Urgency}}}`

// A service with a format of its own gets that format, and the headers it wants.
func TestWebhook_Send_OwnShape(t *testing.T) {
	c := catcher.Serve(t, catcher.OK)
	w, err := New(Config{URL: notify.Secret(planted(c.URL)), Key: key, Body: push,
		Header: map[string]notify.Secret{"X-Api-Key": token}})
	if err != nil {
		t.Fatal(err)
	}
	shy(t, w, Config{Header: map[string]notify.Secret{"X-Api-Key": token}})
	if err := w.Send(t.Context(), message()); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Topic, Title, Message string
		Priority              int
	}
	if err := json.Unmarshal([]byte(c.Caught()[0].Body), &got); err != nil {
		t.Fatal(err)
	}
	if got.Topic != "cats" || got.Title != message().Subject || got.Message != message().Body || got.Priority != home.Book.Rank() {
		t.Errorf("%+v", got)
	}
	r := c.Caught()[0]
	if r.Header.Get("X-Api-Key") != token || r.Header.Get(SignatureHeader) != Sign(key, r.Header.Get(TimeHeader), []byte(c.Caught()[0].Body)) {
		t.Errorf("headers %v", r.Header)
	}
}

func TestNew_RefusesShape(t *testing.T) {
	tests := []struct {
		name   string
		body   string
		header map[string]notify.Secret
	}{
		// Said when it is set up, not when a cat is unwell.
		{"no template", "{{", nil},
		{"no such field", `{"a": {{json .Nothing}}}`, nil},
		{"no such function", `{"a": {{shell .Body}}}`, nil},
		// Without json a line break in a sentence breaks the body.
		{"not escaped", `{"a": "{{.Body}}"}`, nil},
		{"no JSON", `title={{.Subject}}`, nil},
		// A header must not carry a second one.
		{"smuggle", "", map[string]notify.Secret{"X-A": "a\r\nX-B: b"}},
		{"bad name", "", map[string]notify.Secret{"X A": "a"}},
		// The id is ours.
		{"own", "", map[string]notify.Secret{strings.ToLower(IDHeader): "a"}},
	}
	for _, tt := range tests {
		_, err := New(Config{URL: "http://h", Body: tt.body, Header: tt.header})
		if err == nil || home.Hint(err) == "" {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
}

// Whatever is in a message, its body stays JSON and says the same.
func TestShape_Of_NothingBreaksOut(t *testing.T) {
	s, err := newShape(push)
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		m := message()
		m.Subject, m.Body = rapid.String().Draw(t, "subject"), rapid.String().Draw(t, "body")
		b, err := s.of(m)
		if err != nil {
			t.Fatal(err)
		}
		var got map[string]any
		if err := json.Unmarshal(b, &got); err != nil || len(got) != 4 || got["title"] != m.Subject || got["message"] != m.Body {
			t.Fatalf("%s: %v", b, err)
		}
	})
}
