package httpapi_test

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/httpapi"
	"weighbeam/store"
)

// storing is a handler over a real store.
func storing(t *testing.T) *httpapi.Handler {
	t.Helper()
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "house.db"))
	if err != nil {
		t.Fatal(err)
	}
	router, err := ingest.NewRouter(home.Household{})
	if err != nil {
		t.Fatal(err)
	}
	a := ingest.NewAppender(db, router, ingest.Options{Log: slog.New(slog.DiscardHandler)})
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { a.Run(ctx); close(done) }()
	t.Cleanup(func() { cancel(); <-done; db.Close() })
	h, err := httpapi.New(httpapi.Config{Devices: devices}, a, router, db)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// weights is a body with a weight for each second from a moment on.
func weights(kg ...float64) string {
	var records []string
	for i, v := range kg {
		records = append(records, fmt.Sprintf(`{"n":"box-1:weight","u":"kg","v":%g,"t":%d}`, v, 1741003200+i))
	}
	return "[" + strings.Join(records, ",") + "]"
}

// What contradicts the store is not answered as taken, and the answer that is kept for a
// request sent again says the same.
func TestHandler_ServeHTTP_Contradicts(t *testing.T) {
	h := storing(t)
	const already = "the same source, time and sequence number already said "
	for _, tt := range []struct {
		name   string
		body   string
		status int
		want   string
	}{
		{"new", weights(4.5, 4.6), 200, `{"taken":2}`},
		{"known", weights(4.5, 4.6), 200, `{"taken":2}`},
		{"one contradicts", weights(4.5, 4.9, 4.7), 200, `{"taken":2,"set_aside":"box-1 weight at 2025-03-03T12:00:01Z: ` + already + `4.6"}`},
		{"all contradict", weights(4.8), 422, `"detail":"box-1 weight at 2025-03-03T12:00:00Z: ` + already + `4.5"`},
		{"many, as one and a count", weights(1, 1, 1), 422, already + `4.6\nbox-1 weight at 2025-03-03T12:00:02Z: ` + already + `4.7"`},
		{"more than are named", weights(4.5, 4.6, 4.7, 4.8, 4.9, 5), 200, `{"taken":6}`},
		{"and more", weights(1, 1, 1, 1, 1, 1), 422, already + `4.7\nand 3 more"`},
		{"in part unreadable", strings.Replace(weights(4.5, 1), "[", `[{"n":"box-1:weight","u":"kg","v":"x"},{"n":"box-1:weight","u":"kg","v":450},`, 1), 422, `no number`},
		{"in part out of range", strings.Replace(weights(4.5, 1), "[", `[{"n":"box-1:weight","u":"kg","v":450},`, 1), 200, already + `4.6"`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for _, again := range []string{"", ", sent again"} {
				got := post(h, boxToken, senml, tt.body, key(tt.name))
				if body := bodyOf(t, got); got.StatusCode != tt.status || !strings.Contains(body, tt.want) {
					t.Errorf("%d %s%s, want %d with %s", got.StatusCode, body, again, tt.status, tt.want)
				}
			}
		})
	}
	if got := post(h, boxToken, senml, weights(4.5)); got.StatusCode != http.StatusOK {
		t.Errorf("without a key: %d", got.StatusCode)
	}
}
