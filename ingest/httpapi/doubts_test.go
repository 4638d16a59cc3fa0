package httpapi_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"weighbeam/ingest"
	"weighbeam/ingest/httpapi"
)

// What a device sends once more because it was told that nothing is confirmed is marked
// as that, until it has an answer: it may be stored after all. What was not handed over,
// and what another device sends, is new.
func TestHandler_ServeHTTP_SentAgainInDoubt(t *testing.T) {
	s := &sink{err: ingest.ErrClosed}
	h := newHandler(t, httpapi.Config{Devices: devices, Wait: time.Millisecond}, s)
	body := `[{"n":"box-1:seq","v":7},{"n":"box-1:weight","u":"kg","v":4.5}]`
	send := func(token string, status int) {
		t.Helper()
		if got := post(h, token, senml, body).StatusCode; got != status {
			t.Errorf("%d, want %d", got, status)
		}
	}
	set := func(err error, hold chan struct{}) {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.err, s.hold = err, hold
	}
	send(boxToken, 503) // no room: not handed over
	held := make(chan struct{})
	set(nil, held)
	send(boxToken, 503)
	send(boxToken, 503)
	send(bothToken, 503)
	close(held)
	set(nil, nil)
	answered := func(token string) {
		t.Helper()
		for end := time.Now().Add(10 * time.Second); post(h, token, senml, body).StatusCode != 200; { // a millisecond may be short
			if time.Now().After(end) {
				t.Fatal("it is never answered")
			}
		}
	}
	answered(boxToken)
	got := ""
	for _, d := range s.deliveries() {
		got += fmt.Sprintf(" %s:%t", strings.TrimPrefix(d.Topic, httpapi.Path+"#"), d.Ready.Readings[0].Resent)
	}
	if want := " box:false box:true both:false box:true"; !strings.HasPrefix(got, want) {
		t.Errorf("delivered%s, want%s", got, want)
	}
	before := len(s.deliveries())
	answered(boxToken) // after an answer the same is new: it is another weighing
	if s.deliveries()[before].Ready.Readings[0].Resent {
		t.Error("what was answered is in doubt still")
	}
}
