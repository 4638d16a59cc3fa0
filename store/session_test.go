package store

import (
	"testing"
	"time"
)

// A session is kept until its time is over or it is dropped, and the file forgets
// those that are over.
func TestDB_Session_EndsInTime(t *testing.T) {
	db := fresh(t)
	now := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	for hash, until := range map[string]time.Time{"long": now.Add(time.Hour), "short": now.Add(time.Minute), "dropped": now.Add(time.Hour)} {
		if err := db.KeepSession(t.Context(), hash, []byte(hash), until, now); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.DropSession(t.Context(), "dropped"); err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		hash string
		at   time.Time
		want bool
	}{
		{"long", now, true}, {"short", now, true}, {"dropped", now, false}, {"unknown", now, false},
		{"short", now.Add(time.Minute), false}, {"long", now.Add(time.Minute), true},
	} {
		body, found, err := db.Session(t.Context(), row.hash, row.at)
		if err != nil || found != row.want || found && string(body) != row.hash {
			t.Errorf("%s at %s: %q, %v, %v", row.hash, row.at, body, found, err)
		}
	}
	if err := db.KeepSession(t.Context(), "new", []byte("new"), now.Add(3*time.Hour), now.Add(2*time.Hour)); err != nil {
		t.Fatal(err)
	}
	var n int
	if err := db.read.QueryRowContext(t.Context(), `SELECT count(*) FROM session`).Scan(&n); err != nil || n != 1 {
		t.Errorf("%d sessions are left, %v", n, err)
	}
}
