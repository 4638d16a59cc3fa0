package webhook

import (
	"context"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"weighbeam/notify"
)

// From the moment that a message is handed over to the moment that the
// receiver's answer is there, over a real connection on loopback.
func BenchmarkWebhook_Send(b *testing.B) {
	s := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {}))
	defer s.Close()
	w, err := New(Config{URL: notify.Secret(s.URL), Key: key})
	if err != nil {
		b.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	for b.Loop() {
		if err := w.Send(ctx, message()); err != nil {
			b.Fatal(err)
		}
	}
}
