package mirror

import (
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/store"
	"weighbeam/store/mirror/influxtest"
)

// picky is an engine that answers each request with what refuse says of its lines;
// "" takes them. It counts the lines that it took.
func picky(t *testing.T, refuse func(lines string) string) (address string, took map[string]bool) {
	t.Helper()
	took = map[string]bool{}
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		text, err := io.ReadAll(r.Body)
		if err != nil {
			t.Error(err)
		}
		if why := refuse(string(text)); why != "" {
			w.Header().Set("Content-Type", "application/json")
			w.WriteHeader(http.StatusBadRequest)
			_, _ = io.WriteString(w, `{"code":"invalid","message":"`+why+`"}`)
			return
		}
		for line := range strings.Lines(string(text)) {
			took[line] = true
		}
		w.WriteHeader(http.StatusNoContent)
	}))
	t.Cleanup(srv.Close)
	return srv.URL, took
}

// followed is how far a mirror of db came, and how much of it the engine refused.
func followed(t *testing.T, db *store.DB, m *Mirror) (behind, refused int64, err error) {
	t.Helper()
	for more := true; more && err == nil; {
		more, err = m.Round(t.Context())
	}
	c, cursorErr := db.Cursor(t.Context(), CursorName)
	end, endErr := db.JournalEnd(t.Context())
	if cursorErr != nil || endErr != nil {
		t.Fatal(cursorErr, endErr)
	}
	return end - c.Journal, m.counted.refused, err
}

// What an engine will never take holds nothing else up; what is wrong with the
// settings holds everything up.
func TestMirror_Round_GoesOnWithoutWhatIsRefused(t *testing.T) {
	holds := func(sick, why string) func(string) string {
		return func(lines string) string {
			if strings.Contains(lines, sick) {
				return why
			}
			return ""
		}
	}
	once := false
	for _, row := range []struct {
		name    string
		refuse  func(lines string) string
		refused int64
		stands  bool
	}{
		// the engine took the rest of the request, and says how many it did not take
		{"in part", func(lines string) string {
			if once || lines == "" {
				return ""
			}
			once = true
			return "partial write: points beyond retention policy dropped=3"
		}, 3, false},
		{"in part, of an unknown number", holds("finding,", "partial write: field type conflict"), 1, false},
		// the engine took nothing of the request: it is looked for
		{"one point", holds("weighing,cat=juniper", "unable to parse"), 1, false},
		// a request of nothing is refused as well
		{"everything", func(string) string { return "no such bucket" }, 0, true},
	} {
		t.Run(row.name, func(t *testing.T) {
			db := house(t)
			address, took := picky(t, row.refuse)
			m := mirrorTo(t, db, Config{URL: address, Bucket: "home", Log: slog.New(slog.DiscardHandler)})
			behind, refused, err := followed(t, db, m)
			if (err != nil) != row.stands || (behind > 0) != row.stands || refused != row.refused {
				t.Errorf("%d behind, %d refused, %v", behind, refused, err)
			}
			if want := 100; row.name == "one point" && len(took) < want {
				t.Errorf("%d lines arrived, want those beside it, more than %d", len(took), want)
			}
		})
	}
}

// Against a real engine whose bucket keeps a month: a weight of long ago is left out,
// one of today arrives.
func TestMirror_RealInfluxDB_OldReadings(t *testing.T) {
	e := influxtest.Start(t)
	month, err := http.NewRequestWithContext(t.Context(), http.MethodPost, e.URL+"/query?"+url.Values{"q": {"ALTER RETENTION POLICY autogen ON home DURATION 30d"}}.Encode(), nil)
	if err != nil {
		t.Fatal(err)
	}
	user, password, _ := strings.Cut(influxtest.Token, ":")
	month.SetBasicAuth(user, password)
	resp, err := http.DefaultClient.Do(month)
	if err != nil || resp.StatusCode != http.StatusOK {
		t.Fatal(resp, err)
	}
	resp.Body.Close()
	db, err := store.Open(t.Context(), t.TempDir()+"/house.db")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	now := time.Now().UTC().Truncate(time.Second)
	for _, at := range []time.Time{now.AddDate(0, -6, 0), now} {
		r := home.Reading{Source: "clinic", Quantity: home.Weight, Time: at, Value: 4.5, SD: 0.01, Cat: "juniper", Clock: home.ByHand}
		if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{r}}); err != nil {
			t.Fatal(err)
		}
	}
	m := mirrorTo(t, db, Config{URL: e.URL, Token: influxtest.Token, Bucket: influxtest.Bucket, Log: slog.New(slog.DiscardHandler)})
	if behind, refused, err := followed(t, db, m); err != nil || behind != 0 || refused != 1 {
		t.Errorf("%d behind, %d refused, %v", behind, refused, err)
	}
	if n, _ := found(t, e, `from(bucket:"home/autogen") |> range(start: -60d) |> filter(fn: (r) => r._measurement == "reading" and r._field == "value")`); n != 1 {
		t.Errorf("%d readings in the engine, want the one of today", n)
	}
}
